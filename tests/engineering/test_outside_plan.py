"""Areas, volumes, planes and the tap grid against libraries that our own geometry does not use.

Our plans are shapely's polygons, so shapely proves nothing about them; areas and volumes come from Qhull here.
"""

import math

import numpy as np
import pytest
import shapely
from scipy.optimize import curve_fit
from scipy.spatial import ConvexHull, HalfspaceIntersection

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.levelling import best_fit_plane
from groutjobs.engineering.outlines import area_m2
from groutjobs.engineering.survey import bed_over, survey_surface
from groutjobs.engineering.takeoff import take_off
from groutjobs.engineering.tap_grid import hit_probability
from tests.engineering.plates import plate_case, rectangle

TOP_MM = 200.0


def convex_outline(rng: np.random.Generator) -> Floats:
    """Corners on an ellipse of up to 3 × 1.5 m, counter-clockwise; none under 23°, where forms are cut off."""
    count = int(rng.integers(4, 12))
    angles = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2 * math.pi / count
    half = rng.uniform([600.0, 500.0], [1500.0, 750.0])
    return np.column_stack([half[0] * np.cos(angles), half[1] * np.sin(angles)])


def hull_area_m2(corners: Floats) -> float:
    return float(ConvexHull(corners).volume) / 1e6


@pytest.mark.parametrize("seed", range(60))
def test_areas_of_random_outlines_agree(seed: int) -> None:
    """Reference: scipy.spatial, convex hull. Range: sixty convex outlines of 4 to 11 corners, 1.2 to 3 m long.
    Tolerance: 1e-9, sums of a dozen products in double precision."""
    corners = convex_outline(np.random.default_rng(seed))
    outline = [(float(x), float(y)) for x, y in corners]
    assert area_m2("plate", outline) == pytest.approx(hull_area_m2(corners), rel=1e-9)


@pytest.mark.parametrize("seed", range(60))
def test_the_shoulder_around_a_plate_agrees(seed: int) -> None:
    """Reference: scipy.spatial, the half planes of all edges moved out by the clearance. Range: sixty convex
    plates, forms 25 to 150 mm off: a ring, which is a polygon with a hole. Tolerance: 1e-9, rounding of the
    corners of the forms."""
    rng = np.random.default_rng(seed)
    corners, clearance_mm = convex_outline(rng), float(rng.uniform(25.0, 150.0))
    hull = ConvexHull(corners)
    moved = hull.equations - np.array([0.0, 0.0, clearance_mm])
    forms = HalfspaceIntersection(moved, np.zeros(2)).intersections
    block = rectangle(-4000.0, -3000.0, 8000.0, 6000.0)
    survey = tuple((x, y, 100.0) for x, y in block)
    outline = tuple((float(x), float(y)) for x, y in corners)
    found = take_off(
        plate_case(
            plate_outline=outline, block_outline=block, compartments=(), survey=survey, clearance_mm=clearance_mm
        )
    )
    assert found.shoulder is not None
    expected = hull_area_m2(forms) - hull_area_m2(corners)
    assert found.shoulder.bed.area_m2 == pytest.approx(expected, rel=1e-9)
    assert found.shoulder.bed.volume_m3 == pytest.approx(expected * 0.075, rel=1e-9)


@pytest.mark.parametrize("seed", range(60))
def test_the_volume_over_a_surveyed_hollow_agrees(seed: int) -> None:
    """Reference: scipy.spatial, convex hull in three dimensions. Range: sixty hollows of 8 to 60 surveyed points,
    tilted. On a bowl x² + y² the hull from below is the triangulation of the survey, so its volume is that of
    the grout. Tolerance: 1e-9, rounding of a hundred pieces."""
    rng = np.random.default_rng(seed)
    length, width = rng.uniform([1000.0, 500.0], [6000.0, 2500.0])
    corners = np.array(rectangle(0.0, 0.0, length, width))
    places = np.vstack([corners, rng.uniform([0.0, 0.0], [length, width], (int(rng.integers(4, 57)), 2))])
    middle, slopes = rng.uniform([0.0, 0.0], [length, width]), rng.uniform(-0.005, 0.005, 2)
    heights = 60.0 * ((places - middle) ** 2).sum(axis=1) / (length**2 + width**2) + 60.0 + places @ slopes
    points = [(float(x), float(y), float(z)) for (x, y), z in zip(places, heights, strict=True)]
    block = shapely.Polygon(corners)
    bed = bed_over(survey_surface(points, block), block, TOP_MM)
    solid = np.vstack([np.array(points), np.column_stack([corners, np.full(4, TOP_MM)])])
    assert bed.volume_m3 == pytest.approx(float(ConvexHull(solid).volume) / 1e9, rel=1e-9)
    assert bed.min_depth_mm == pytest.approx(TOP_MM - heights.max(), rel=1e-9)


@pytest.mark.parametrize("seed", range(60))
def test_the_best_plane_and_its_covariance_agree(seed: int) -> None:
    """Reference: scipy.optimize, curve_fit with the error of one reading, and numpy.linalg, lstsq without
    centring. Range: sixty plates of 4 to 40 readings up to 8 × 3 m, tilts to 5 mm/m, resolutions 0.005 to 0.5
    mm. Tolerance: 1e-7 of elevation and tilt and 1e-9 of covariance, steps of curve_fit in double precision."""
    rng = np.random.default_rng(seed)
    size, count = rng.uniform([500.0, 300.0], [8000.0, 3000.0]), int(rng.integers(4, 41))
    x, y = (rng.uniform(0.0, side, count) for side in size)
    tilts, resolution_mm = rng.uniform(-5.0, 5.0, 2), float(rng.uniform(0.005, 0.5))
    z = 250.0 + tilts[0] * x / 1000 + tilts[1] * y / 1000 + rng.normal(0.0, 0.2, count)
    plane = best_fit_plane(x, y, z, resolution_mm=resolution_mm)
    metres = np.column_stack([np.ones(count), (x - x.mean()) / 1000, (y - y.mean()) / 1000])

    def height(rows: Floats, level: float, along: float, across: float) -> Floats:
        return np.asarray(rows @ np.array([level, along, across]))

    sd = np.full(count, resolution_mm / math.sqrt(12.0))
    begin = (250.0, 0.0, 0.0)
    best, covariance = curve_fit(height, metres, z, p0=begin, sigma=sd, absolute_sigma=True, jac=lambda rows, *_: rows)
    found = np.array([plane.elevation_mm, plane.tilt_along_mm_m, plane.tilt_across_mm_m])
    assert found == pytest.approx(best, abs=1e-7)
    spread = np.sqrt(np.diag(covariance))
    assert plane.covariance / np.outer(spread, spread) == pytest.approx(covariance / np.outer(spread, spread), abs=1e-9)
    uncentred = np.column_stack([x / 1000, y / 1000, np.ones(count)])
    assert found[1:] == pytest.approx(np.linalg.lstsq(uncentred, z, rcond=None)[0][:2], abs=1e-8)


@pytest.mark.parametrize("seed", range(6))
def test_the_covariance_agrees_with_simulated_readings(seed: int) -> None:
    """Reference: numpy.random. Range: six plates of 4 to 12 readings, 1500 times each read to a step of 0.05 mm.
    Tolerance: four standard deviations of a simulated one, 1/√3000 each: 7.3 %."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(4, 13))
    x, y = rng.uniform(0.0, 3000.0, count), rng.uniform(0.0, 1500.0, count)
    found = []
    for _ in range(1500):
        true_mm = 250.0 + rng.uniform(-1.0, 1.0) * x / 1000 + rng.uniform(-1.0, 1.0) * y / 1000 + rng.uniform(0.0, 1.0)
        fit = best_fit_plane(x, y, np.round(true_mm / 0.05) * 0.05 - true_mm, resolution_mm=0.05)
        found.append([fit.elevation_mm, fit.tilt_along_mm_m, fit.tilt_across_mm_m])
    ratio = np.std(np.array(found), axis=0) / np.sqrt(np.diag(fit.covariance))
    assert ratio == pytest.approx(np.ones(3), abs=0.073)


@pytest.mark.parametrize("share", np.linspace(0.02, 1.42, 36).tolist())
def test_the_odds_of_a_tap_agree(share: float) -> None:
    """Reference: shapely, the grid square within reach of its four corners; our own odds are a formula. Range:
    voids of 0.02 to 1.42 of the spacing. Tolerance: 1e-5, circles of 4000 corners."""
    square = shapely.box(0.0, 0.0, 1.0, 1.0)
    reach = shapely.union_all(
        [shapely.Point(corner).buffer(share / 2, quad_segs=1000) for corner in square.exterior.coords]
    )
    assert hit_probability(share, 1.0) == pytest.approx(square.intersection(reach).area, abs=1e-5)
