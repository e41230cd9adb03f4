"""Best-fit plane, steepest pair, twist and verdict."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs import units
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.levelling import (
    LEVEL_LIMITS,
    LevelLimit,
    best_fit_plane,
    level_findings,
    level_survey,
    reading_sd_mm,
)
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Level
from groutjobs.sources import sources

GOLDEN = tomllib.loads((Path(__file__).parents[2] / "fixtures" / "golden" / "levelling.toml").read_text("utf-8"))
X = np.array([0.0, 3000.0, 3000.0, 0.0, 1500.0])
Y = np.array([0.0, 0.0, 1500.0, 1500.0, 750.0])
seeds = st.integers(0, 2**32 - 1)
tilts = st.floats(-5.0, 5.0)


def plane_mm(along: float, across: float, height: float = 250.0) -> Floats:
    return np.asarray(height + along * X / 1000.0 + across * Y / 1000.0)


def scattered(seed: int) -> tuple[Floats, Floats, Floats]:
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 3000, 8), rng.uniform(0, 1500, 8), rng.normal(250.0, 0.2, 8)


def test_golden_conversions_of_printed_limits() -> None:
    """Source and tolerance stand in fixtures/golden/levelling.toml."""
    book = GOLDEN["conversion"]
    for in_ft, mm_m in book["rows"]:
        assert units.to_si(in_ft, "mm_m", "in_ft") == pytest.approx(mm_m, abs=book["tolerance_mm_m"])
    limits = [LEVEL_LIMITS["soleplate"], LEVEL_LIMITS["pump"], LEVEL_LIMITS["small_process_pump"]]
    assert [limit.tilt_mm_m for limit in limits] == pytest.approx([0.0416667, 0.1666667, 0.4166667], abs=1e-7)


def test_golden_the_printed_metric_limit_stands_beside_the_exact_one() -> None:
    book = GOLDEN["printed"]
    assert LEVEL_LIMITS["machined_pads"].tilt_mm_m == book["printed_mm_m"]
    assert LEVEL_LIMITS["pump"].tilt_mm_m == pytest.approx(book["exact_mm_m"], abs=book["tolerance_mm_m"])


def test_every_limit_has_a_known_source() -> None:
    assert {limit.source for limit in LEVEL_LIMITS.values()} <= set(sources())


@given(along=tilts, across=tilts)
def test_a_true_plane_comes_back(along: float, across: float) -> None:
    plane = best_fit_plane(X, Y, plane_mm(along, across), resolution_mm=0.01)
    assert plane.tilt_along_mm_m == pytest.approx(along, abs=1e-9)
    assert plane.tilt_across_mm_m == pytest.approx(across, abs=1e-9)
    assert plane.elevation_at_mm(0.0, 0.0) == pytest.approx(250.0, abs=1e-9)
    assert np.abs(plane.residuals_mm).max() < 1e-9


@given(seed=seeds)
def test_the_plane_agrees_with_a_polynomial_fit_of_numpy(seed: int) -> None:
    """Reference: the normal equations in x, y, 1, uncentred, solved by numpy.linalg.lstsq in metres."""
    x, y, z = scattered(seed)
    plane = best_fit_plane(x, y, z, resolution_mm=0.01)
    reference = np.linalg.lstsq(np.column_stack([x / 1e3, y / 1e3, np.ones(8)]), z, rcond=None)[0]
    assert [plane.tilt_along_mm_m, plane.tilt_across_mm_m] == pytest.approx(reference[:2], abs=1e-8)
    assert plane.elevation_at_mm(0.0, 0.0) == pytest.approx(reference[2], abs=1e-8)


@given(seed=seeds, shift_x=st.floats(-3e4, 3e4), shift_y=st.floats(-3e4, 3e4), lift=st.floats(-100.0, 100.0))
def test_the_tilt_does_not_depend_on_origin_or_datum(seed: int, shift_x: float, shift_y: float, lift: float) -> None:
    x, y, z = scattered(seed)
    before = level_survey(x, y, z, resolution_mm=0.01)
    after = level_survey(x + shift_x, y + shift_y, z + lift, resolution_mm=0.01)
    assert after.plane.tilt_along_mm_m == pytest.approx(before.plane.tilt_along_mm_m, abs=1e-7)
    assert after.plane.elevation_mm == pytest.approx(before.plane.elevation_mm + lift, abs=1e-7)
    assert after.coplanarity_mm == pytest.approx(before.coplanarity_mm, abs=1e-7)
    assert after.steepest.slope_mm_m == pytest.approx(before.steepest.slope_mm_m, rel=1e-6)


@given(seed=seeds)
def test_residuals_are_square_to_every_plane(seed: int) -> None:
    x, y, z = scattered(seed)
    residuals = best_fit_plane(x, y, z, resolution_mm=0.01).residuals_mm
    scale = np.abs(residuals).sum()
    for direction in (np.ones(8), x - x.mean(), y - y.mean()):
        assert abs(float(residuals @ direction)) < 1e-9 * scale * np.abs(direction).max() + 1e-9


@given(seed=seeds, angle=st.floats(-3.0, 3.0))
def test_a_turned_plan_keeps_the_slope_of_the_plane(seed: int, angle: float) -> None:
    x, y, z = scattered(seed)
    turned_x, turned_y = np.cos(angle) * x - np.sin(angle) * y, np.sin(angle) * x + np.cos(angle) * y
    one = best_fit_plane(x, y, z, resolution_mm=0.01)
    other = best_fit_plane(turned_x, turned_y, z, resolution_mm=0.01)
    slope = math.hypot(one.tilt_along_mm_m, one.tilt_across_mm_m)
    assert math.hypot(other.tilt_along_mm_m, other.tilt_across_mm_m) == pytest.approx(slope, abs=1e-8)


def test_the_covariance_agrees_with_simulated_rounding() -> None:
    """2000 plates read to 0.05 mm; the sd of a simulated sd is 1.6 %, four of them are allowed."""
    rng = np.random.default_rng(3)
    fits = []
    for _ in range(2000):
        along, across, height = rng.uniform([-1, -1, 200], [1, 1, 300])
        true_mm = plane_mm(along, across, height)
        fit = best_fit_plane(X, Y, np.round(true_mm / 0.05) * 0.05, resolution_mm=0.05)
        truth = best_fit_plane(X, Y, true_mm, resolution_mm=0.05)
        fits.append(
            [
                fit.elevation_mm - truth.elevation_mm,
                fit.tilt_along_mm_m - truth.tilt_along_mm_m,
                fit.tilt_across_mm_m - truth.tilt_across_mm_m,
            ]
        )
    predicted = np.sqrt(np.diag(fit.covariance))
    assert np.std(np.array(fits), axis=0) / predicted == pytest.approx([1.0] * 3, abs=0.065)


def test_the_covariance_of_four_corners_by_hand() -> None:
    """Corners 1.5 m and 0.75 m from the middle: variances of the mean, Σx² = 9 m² and Σy² = 2.25 m² share 0.1²/12."""
    plane = best_fit_plane(X[:4], Y[:4], plane_mm(0.3, -0.2)[:4], resolution_mm=0.1)
    assert plane.covariance == pytest.approx(np.diag([1 / 4, 1 / 9, 1 / 2.25]) * 0.1**2 / 12.0, abs=1e-12)
    assert plane.tilt_sd_mm_m == pytest.approx((0.1 / math.sqrt(12.0) / 3.0, 0.1 / math.sqrt(12.0) / 1.5))
    assert (plane.centroid_x_mm, plane.centroid_y_mm) == (1500.0, 750.0)
    assert plane.elevation_mm == pytest.approx(250.0 + 0.3 * 1.5 - 0.2 * 0.75)
    assert plane.elevation_at_mm(3500.0, 750.0) == pytest.approx(plane.elevation_mm + 0.3 * 2.0)
    assert plane.elevation_at_mm(1500.0, -250.0) == pytest.approx(plane.elevation_mm + 0.2 * 1.0)


def test_the_steepest_pair_by_hand() -> None:
    """Reading 4 stands 0.4 mm above reading 1, 0.5 m away: 0.8 mm/m, told as lower 0 and higher 3, either way up."""
    x, y = np.array([0.0, 2000.0, 2000.0, 300.0]), np.array([0.0, 0.0, 1000.0, 400.0])
    z = np.array([100.0, 100.1, 100.2, 100.4])
    for sign, lower, higher in ((1.0, 0, 3), (-1.0, 3, 0)):
        survey = level_survey(x, y, sign * z, resolution_mm=0.01)
        assert (survey.steepest.lower, survey.steepest.higher) == (lower, higher)
        assert survey.steepest.distance_mm == pytest.approx(500.0)
        assert survey.steepest.slope_mm_m == pytest.approx(0.8)
        assert survey.steepest.sd_mm_m == pytest.approx(0.01 / math.sqrt(6.0) / 0.5)
        assert survey.reading_sd_mm == pytest.approx(0.01 / math.sqrt(12.0))
        assert survey.elevation_range_mm == pytest.approx(0.4)


def test_the_sd_of_a_rounded_reading() -> None:
    """GUM F.2.2.1: a step of δx has the standard uncertainty 0.29 δx."""
    assert reading_sd_mm(1.0) == pytest.approx(0.29, abs=0.005)


def test_the_steepest_pair_is_found() -> None:
    survey = level_survey(X, Y, plane_mm(0.2, 0.0), resolution_mm=0.01)
    assert survey.steepest.slope_mm_m == pytest.approx(0.2)
    assert X[survey.steepest.lower] < X[survey.steepest.higher]
    assert survey.steepest.sd_mm_m == pytest.approx(math.sqrt(2 / 12) * 0.01 / survey.steepest.distance_mm * 1000)
    assert survey.elevation_range_mm == pytest.approx(0.6)


def test_twist_by_hand() -> None:
    """One corner 0.4 mm high: its diagonal crosses 0.2 mm above the other one."""
    z = plane_mm(0.3, -0.2)
    z[2] += 0.4
    assert level_survey(X, Y, z, resolution_mm=0.01).twist_mm == pytest.approx(0.2)
    z[2] -= 0.8
    assert level_survey(X, Y, z, resolution_mm=0.01).twist_mm == pytest.approx(-0.2)


def test_the_corners_of_a_twist_are_the_readings_farthest_out_both_ways() -> None:
    """Beside each corner stand two readings 30 mm farther out one way and 50 mm farther in the other: none is it."""
    x, y, z = list(X[:4]), list(Y[:4]), [250.0, 250.0, 250.4, 250.0]
    for corner_x, corner_y in zip(X[:4], Y[:4], strict=True):
        out_x, out_y = math.copysign(1.0, corner_x - 1500.0), math.copysign(1.0, corner_y - 750.0)
        for along_mm, across_mm in ((30.0, -50.0), (-50.0, 30.0)):
            x.append(corner_x + out_x * along_mm)
            y.append(corner_y + out_y * across_mm)
            z.append(260.0 + len(z))
    assert level_survey(np.array(x), np.array(y), np.array(z), resolution_mm=0.01).twist_mm == pytest.approx(0.2)


@given(along=tilts, across=tilts)
def test_a_plane_has_no_twist_whatever_its_corners(along: float, across: float) -> None:
    x, y = np.array([0.0, 2900.0, 3100.0, 100.0]), np.array([10.0, -20.0, 1400.0, 1600.0])
    z = along * x / 1000.0 + across * y / 1000.0
    assert level_survey(x, y, z, resolution_mm=0.01).twist_mm == pytest.approx(0.0, abs=1e-9)


def test_three_readings_have_no_twist() -> None:
    survey = level_survey(X[:3], Y[:3], plane_mm(0.1, 0.1)[:3], resolution_mm=0.01)
    assert survey.twist_mm is None
    assert survey.coplanarity_mm == pytest.approx(0.0, abs=1e-9)


def test_a_level_plate_passes() -> None:
    survey = level_survey(X, Y, plane_mm(0.05, -0.05), resolution_mm=0.01)
    assert level_findings(survey, LEVEL_LIMITS["pump"]) == []


def test_each_way_to_be_out_is_told() -> None:
    z = plane_mm(0.3, -0.3)
    z[4] += 0.2
    found = level_findings(level_survey(X, Y, z, resolution_mm=0.01), LEVEL_LIMITS["pump"])
    assert [finding.code for finding in found] == [
        "level.tilt_along",
        "level.tilt_across",
        "level.two_points",
        "level.coplanarity",
    ]
    assert {finding.level for finding in found} == {Level.BLOCKER}
    assert {finding.source for finding in found} == {"PPH"}


def test_readings_too_coarse_to_tell_are_a_warning() -> None:
    survey = level_survey(X, Y, plane_mm(0.0, 0.0), resolution_mm=1.0)
    found = level_findings(survey, LEVEL_LIMITS["soleplate"])
    assert {finding.level for finding in found} == {Level.WARNING}
    assert "the readings tell it to ±" in found[0].message


def test_a_us_reader_sees_inches_per_foot() -> None:
    survey = level_survey(X, Y, plane_mm(1.0, 0.0), resolution_mm=0.001)
    found = level_findings(survey, LEVEL_LIMITS["pump"], system="us")
    assert found[0].message == "Tilt along the machine 0.0120 in/ft, limit 0.0020 in/ft."


@pytest.mark.parametrize(
    ("x", "y", "z"),
    [
        (X[:2], Y[:2], Y[:2]),
        (X, Y, Y[:4]),
        (X, X / 2.0, Y),
        (np.zeros(5), Y, Y),
    ],
)
def test_readings_without_a_plane_are_refused(x: Floats, y: Floats, z: Floats) -> None:
    with pytest.raises(Unusable):
        best_fit_plane(x, y, z, resolution_mm=0.01)


def test_two_readings_at_one_place_are_refused() -> None:
    with pytest.raises(Unusable, match="same place"):
        level_survey(np.append(X, 0.0), np.append(Y, 0.0), np.append(Y, 1.0), resolution_mm=0.01)


def test_numbers_that_are_none_are_refused() -> None:
    broken = plane_mm(0.0, 0.0)
    broken[1] = math.nan
    with pytest.raises(OutOfRange, match="level reading"):
        best_fit_plane(X, Y, broken, resolution_mm=0.01)
    with pytest.raises(OutOfRange, match="reading resolution"):
        best_fit_plane(X, Y, Y, resolution_mm=0.0)
    bare = LevelLimit(label="none", tilt_mm_m=0.0, coplanarity_mm=None, source="GROUTJOBS")
    with pytest.raises(OutOfRange, match="limit of level"):
        level_findings(level_survey(X, Y, plane_mm(0, 0), resolution_mm=0.01), bare)


@settings(max_examples=30)
@given(seed=seeds)
def test_readings_in_any_order_say_the_same(seed: int) -> None:
    x, y, z = scattered(seed)
    order = np.random.default_rng(seed).permutation(8)
    one = level_survey(x, y, z, resolution_mm=0.01)
    other = level_survey(x[order], y[order], z[order], resolution_mm=0.01)
    assert other.steepest.slope_mm_m == pytest.approx(one.steepest.slope_mm_m, rel=1e-12)
    assert other.plane.tilt_along_mm_m == pytest.approx(one.plane.tilt_along_mm_m, abs=1e-9)
    assert other.twist_mm == pytest.approx(one.twist_mm, abs=1e-9)
