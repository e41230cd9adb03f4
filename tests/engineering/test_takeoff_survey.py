"""The surveyed surface beyond its points: the nearest edge value, checked against a search along the hull."""

import numpy as np
import pytest
import shapely
import shapely.ops
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import LinearNDInterpolator

from groutjobs.engineering.survey import bed_over, survey_surface
from tests.engineering.plates import rectangle, scattered_case, surveyed, tilted

BLOCK = shapely.Polygon(rectangle(-75, -75, 3150, 1650))


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), x=st.floats(-70.0, 3060.0), y=st.floats(-70.0, 1560.0))
def test_every_place_has_the_value_of_the_nearest_surveyed_place(seed: int, x: float, y: float) -> None:
    """The nearest place of the hull by shapely, its value by scipy: two libraries that know nothing of the pieces."""
    points = np.array(scattered_case(seed).survey)
    hull = shapely.MultiPoint(points[:, :2]).convex_hull
    spot = shapely.Point(x, y)
    nearest = hull.buffer(-1e-6).exterior if not hull.contains(spot) else spot
    place = shapely.ops.nearest_points(nearest, spot)[0]
    expected = float(LinearNDInterpolator(points[:, :2], points[:, 2])(place.x, place.y))
    bed = bed_over(survey_surface(points.tolist(), BLOCK), spot.buffer(0.01), 200.0)
    assert 200.0 - bed.mean_depth_mm == pytest.approx(expected, abs=0.05)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_the_pieces_cover_the_block_once(seed: int) -> None:
    surface = survey_surface(scattered_case(seed).survey, BLOCK)
    assert bed_over(surface, BLOCK, 200.0).area_m2 == pytest.approx(3.15 * 1.65, rel=1e-9)


@pytest.mark.parametrize("angle", [0.0, 0.3, 1.0, 2.2])
def test_a_square_grid_is_covered_once_at_any_angle(angle: float) -> None:
    """Straight borders of a turned grid round to flat triangles, which must neither count nor leave gaps."""
    grid = np.array(surveyed(tilted, [0.0, 500.0, 1000.0, 1500.0, 2000.0], [0.0, 500.0, 1000.0]))
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    grid[:, :2] = (grid[:, :2] + 1e4 / 3) @ turn
    block = shapely.MultiPoint(grid[:, :2]).convex_hull.buffer(75.0, join_style="mitre")
    surface = survey_surface([tuple(row) for row in grid.tolist()], block)
    bed = bed_over(surface, block, 200.0)
    assert bed.area_m2 == pytest.approx(block.area / 1e6, rel=1e-9)
    assert surface.spacing_m == pytest.approx(0.5, rel=1e-6)
    assert bed.outside_survey_share == pytest.approx(1.0 - 2.0 / (block.area / 1e6), rel=1e-6)


def test_beyond_a_tilted_survey_the_elevation_stays_at_its_edge() -> None:
    """By hand: 75 mm beyond the low end of a 4 mm/m fall the depth is the one at the end, not 0.3 mm more."""
    surface = survey_surface(surveyed(tilted, [0.0, 3000.0], [0.0, 1500.0]), BLOCK)
    beyond = shapely.Polygon(rectangle(-75, 600, 75, 300))
    bed = bed_over(surface, beyond, 200.0)
    assert bed.mean_depth_mm == pytest.approx(200.0 - tilted(0.0, 750.0), abs=1e-9)
    assert bed.max_depth_mm == pytest.approx(200.0 - tilted(0.0, 900.0), abs=1e-9)
    assert bed.outside_survey_share == 1.0
