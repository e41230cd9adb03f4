"""Jackscrew moves, checked against a search over all heights."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs.engineering.jackscrews import Correction, Jackscrew, Target, jackscrew_moves
from groutjobs.engineering.levelling import Plane, best_fit_plane
from groutjobs.errors import OutOfRange, Unusable

PLACES = [(100.0, 100.0), (2900.0, 100.0), (2900.0, 1400.0), (100.0, 1400.0), (1500.0, 750.0)]
X, Y = (np.array(row) for row in zip(*PLACES, strict=True))
TEN_PER_INCH_MM = 2.54
tilts = st.floats(-3.0, 3.0)


def plate(along: float, across: float) -> Plane:
    return best_fit_plane(X, Y, np.asarray(250.0 + along * X / 1e3 + across * Y / 1e3), resolution_mm=0.01)


def screws(gap_mm: float = 50.0, **changes: Any) -> list[Jackscrew]:
    return [
        replace(Jackscrew(name=f"J{i}", x_mm=x, y_mm=y, pitch_mm=TEN_PER_INCH_MM, gap_mm=gap_mm), **changes)
        for i, (x, y) in enumerate(PLACES, start=1)
    ]


def moves_of(correction: Correction) -> np.ndarray:
    return np.array([move.move_mm for move in correction.moves])


def test_a_level_plate_stays() -> None:
    correction = jackscrew_moves(plate(0.0, 0.0), screws(), Target(min_gap_mm=38.0))
    assert correction.total_move_mm == pytest.approx(0.0, abs=1e-9)


def test_turns_and_flats_of_ten_threads_per_inch() -> None:
    """Bloch and Geitner, p. 98: 10 threads per inch give 0.100 in a turn; a sixth of it, 0.0167 in, is one flat."""
    correction = jackscrew_moves(plate(1.0, 0.0), screws(), Target(min_gap_mm=38.0, raise_only=True))
    lowest = correction.moves[0]
    assert lowest.move_mm == pytest.approx(2.8)
    assert lowest.turns == pytest.approx(2.8 / 2.54)
    assert lowest.flats == pytest.approx(2.8 / (0.1 / 6 * 25.4))


@settings(max_examples=40, deadline=None)
@given(along=tilts, across=tilts)
def test_the_plate_comes_level_with_the_least_sum_of_moves(along: float, across: float) -> None:
    """Reference: the sum of distances from one level is least at the median of the heights."""
    plane = plate(along, across)
    correction = jackscrew_moves(plane, screws(), Target(min_gap_mm=0.0))
    heights = np.array([plane.elevation_at_mm(x, y) for x, y in PLACES])
    after = heights + moves_of(correction)
    assert after == pytest.approx(np.full(5, after[0]), abs=1e-7)
    assert correction.total_move_mm == pytest.approx(np.abs(heights - np.median(heights)).sum(), abs=1e-7)
    assert (correction.tilt_along_mm_m, correction.tilt_across_mm_m) == pytest.approx((0.0, 0.0), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(along=tilts, across=tilts)
def test_raising_only_keeps_the_highest_screw(along: float, across: float) -> None:
    correction = jackscrew_moves(plate(along, across), screws(), Target(min_gap_mm=0.0, raise_only=True))
    assert moves_of(correction).min() == pytest.approx(0.0, abs=1e-7)


@settings(max_examples=40, deadline=None)
@given(along=tilts, across=tilts, gap=st.floats(30.0, 60.0))
def test_the_least_gap_is_kept(along: float, across: float, gap: float) -> None:
    for raise_only in (False, True):
        target = Target(min_gap_mm=45.0, raise_only=raise_only)
        moved = gap + moves_of(jackscrew_moves(plate(along, across), screws(gap), target))
        assert moved.min() >= 45.0 - 1e-6


def test_a_tilt_that_may_remain_saves_movement() -> None:
    exact = jackscrew_moves(plate(1.0, 0.5), screws(), Target(min_gap_mm=38.0))
    loose = jackscrew_moves(plate(1.0, 0.5), screws(), Target(min_gap_mm=38.0, tilt_mm_m=0.1))
    assert loose.total_move_mm < exact.total_move_mm
    assert max(abs(loose.tilt_along_mm_m), abs(loose.tilt_across_mm_m)) <= 0.1 + 1e-9


def test_an_elevation_is_reached() -> None:
    target = Target(min_gap_mm=38.0, lowest_elevation_mm=253.0, highest_elevation_mm=254.0)
    correction = jackscrew_moves(plate(0.0, 0.0), screws(), target)
    assert correction.elevation_mm == pytest.approx(253.0)
    assert moves_of(correction) == pytest.approx(np.full(5, 3.0))
    assert correction.total_move_mm == pytest.approx(15.0)


def test_targets_that_exclude_each_other_are_refused() -> None:
    target = Target(min_gap_mm=60.0, highest_elevation_mm=251.0)
    with pytest.raises(Unusable, match="no move"):
        jackscrew_moves(plate(0.0, 0.0), screws(50.0), target)


def test_bad_screws_and_targets_are_refused() -> None:
    plane, good = plate(0.0, 0.0), Target(min_gap_mm=38.0)
    with pytest.raises(Unusable):
        jackscrew_moves(plane, screws()[:2], good)
    with pytest.raises(Unusable):
        jackscrew_moves(plane, screws(y_mm=0.0), good)
    for changes in ({"pitch_mm": 0.0}, {"gap_mm": -1.0}, {"x_mm": math.nan}):
        with pytest.raises(OutOfRange):
            jackscrew_moves(plane, screws(**{"gap_mm": 50.0} | changes), good)
    for target in (Target(min_gap_mm=math.nan), Target(min_gap_mm=38.0, tilt_mm_m=-0.1)):
        with pytest.raises(OutOfRange):
            jackscrew_moves(plane, screws(), target)
