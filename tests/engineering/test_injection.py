"""Holes of an injection against their rule, looked at with shapely, and volumes by hand."""

import math

import pytest
import shapely

from groutjobs.engineering.injection import FARTHEST_APART_MM, MOST_HOLES, VENT, injection_holes, resin_need_l
from groutjobs.errors import Unusable
from tests.engineering.plates import rectangle

CELL = rectangle(0.0, 0.0, 150.0, 150.0)
STRIP = rectangle(0.0, 0.0, 1500.0, 150.0)
ELL = [(0.0, 0.0), (900.0, 0.0), (900.0, 150.0), (150.0, 150.0), (150.0, 900.0), (0.0, 900.0)]


def test_a_small_void_gets_two_holes_in_opposite_corners() -> None:
    """BLOCH-MCM p. 135: two holes in opposite corners, one to inject, one to vent."""
    holes = injection_holes(CELL)
    assert [hole.use for hole in holes] == ["inject", "vent"]
    # corners drawn in by 25 mm: the diagonal of a square of 100 mm
    way = math.dist((holes[0].x_mm, holes[0].y_mm), (holes[1].x_mm, holes[1].y_mm))
    assert way == pytest.approx(100 * math.sqrt(2))


@pytest.mark.parametrize("outline", [CELL, STRIP, ELL, rectangle(0.0, 0.0, 900.0, 600.0)])
def test_every_place_is_near_a_hole_and_every_hole_is_in_the_void(outline: list[tuple[float, float]]) -> None:
    """Shapely as reference: the void less the circles about its holes leaves only what 25 mm of grid may miss."""
    holes = injection_holes(outline)
    shape = shapely.Polygon(outline)
    points = [shapely.Point(hole.x_mm, hole.y_mm) for hole in holes]
    assert all(shape.contains(point) for point in points)
    reach = FARTHEST_APART_MM / 2 + 25 * math.sqrt(2) + 25
    assert shape.difference(shapely.unary_union([point.buffer(reach) for point in points])).area < 1.0
    assert sum(hole.use == VENT for hole in holes) == 1


def test_a_field_of_holes_is_no_injection() -> None:
    with pytest.raises(Unusable, match=f"more than {MOST_HOLES} holes"):
        injection_holes(rectangle(0.0, 0.0, 4000.0, 3000.0))


def test_a_void_too_narrow_to_draw_in_still_gets_its_holes() -> None:
    assert len(injection_holes(rectangle(0.0, 0.0, 30.0, 30.0))) == 2


def test_resin_by_hand() -> None:
    """0.05 m² × 1 to 6 mm = 0.05 to 0.30 L; a quarter more is 0.375 L [BLOCH-MCM p. 121]."""
    need = resin_need_l(0.05, 1.0, 6.0)
    assert (need.least_l, need.greatest_l, need.at_hand_l) == pytest.approx((0.05, 0.30, 0.375))
