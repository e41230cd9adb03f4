"""Change between two level surveys: against differences made on purpose, numpy's own plane, and simulated readings."""

import numpy as np
import pytest

from groutjobs.engineering.level_change import level_change
from groutjobs.errors import OutOfRange, Unusable

X = np.array([0.0, 2000.0, 2000.0, 0.0])
Y = np.array([0.0, 0.0, 1000.0, 1000.0])
FLAT = np.zeros(4)
STEP = 0.01


def test_another_datum_moves_nothing_but_the_mean() -> None:
    found = level_change(X, Y, FLAT, FLAT + 3.2, before_resolution_mm=STEP, after_resolution_mm=STEP)
    assert found.mean_rise_mm == pytest.approx(3.2)
    assert found.shape_mm == pytest.approx(FLAT)
    assert not any(found.is_sure(number) for number in range(4))


def test_one_corner_that_sank_is_found_and_sure() -> None:
    found = level_change(X, Y, FLAT, np.array([-0.4, 0, 0, 0]), before_resolution_mm=STEP, after_resolution_mm=STEP)
    assert found.rise_mm == pytest.approx([-0.4, 0, 0, 0])
    # by hand: mean -0.1, so the corner sank 0.3 against the mean and the others stand 0.1 above it
    assert found.shape_mm == pytest.approx([-0.3, 0.1, 0.1, 0.1])
    assert [found.is_sure(number) for number in range(4)] == [True] * 4


def test_the_turn_of_the_plane_is_the_difference_of_two_fits_of_numpy() -> None:
    """Reference: numpy.linalg.lstsq on the differences; least squares is linear, so both ways agree to rounding."""
    rng = np.random.default_rng(4)
    before, after = rng.normal(0, 0.3, 4), rng.normal(0, 0.3, 4)
    found = level_change(X, Y, before, after, before_resolution_mm=STEP, after_resolution_mm=STEP)
    design = np.column_stack([np.ones(4), X / 1000, Y / 1000])
    turn, *_ = np.linalg.lstsq(design, after - before, rcond=None)
    assert (found.tilt_along_mm_m, found.tilt_across_mm_m) == pytest.approx(tuple(turn[1:]))


def test_the_spread_is_that_of_simulated_readings() -> None:
    """20 000 surveys rounded to the step; 3 % is five standard errors of their spread."""
    rng, step = np.random.default_rng(11), 0.05
    truth = rng.uniform(-1, 1, (20_000, 4))
    before, after = (np.round((truth + rng.uniform(0, 1, (20_000, 1))) / step) * step - truth for _ in range(2))
    rises = after - before - (after - before).mean(axis=1, keepdims=True)
    found = level_change(X, Y, FLAT, FLAT, before_resolution_mm=step, after_resolution_mm=step)
    assert rises.std() == pytest.approx(found.shape_sd_mm, rel=0.03)


def test_places_must_belong_together() -> None:
    with pytest.raises(Unusable, match="not of one length"):
        level_change(X, Y, FLAT[:3], FLAT, before_resolution_mm=STEP, after_resolution_mm=STEP)
    with pytest.raises(OutOfRange, match="later level reading"):
        level_change(X, Y, FLAT, FLAT + np.nan, before_resolution_mm=STEP, after_resolution_mm=STEP)
