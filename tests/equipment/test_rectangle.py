"""A first plate from a rectangle: holes where they belong, areas that add up, nothing that contradicts itself."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import Polygon

from groutjobs.equipment.calc import require_geometry
from groutjobs.equipment.layout import Rectangle, compartments_of, outline_of, parts_of_rectangle
from groutjobs.equipment.models import PartKind

PLATE = Rectangle(x_mm=300, y_mm=200, length_mm=3000, width_mm=1500, compartments_along=3, fill_hole_mm=110, vent_mm=13)
UNHURRIED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # a busy machine is no fault
RECTANGLES = st.builds(
    Rectangle,
    x_mm=st.floats(0, 5000),
    y_mm=st.floats(0, 5000),
    length_mm=st.floats(800, 12_000),
    width_mm=st.floats(400, 5000),
    compartments_along=st.integers(1, 20),
    fill_hole_mm=st.just(20.0),
    vent_mm=st.just(8.0),
)


def test_each_compartment_has_its_fill_hole_at_the_centre() -> None:
    # [API686] 5-3.8.5: one at the centre of each compartment
    holes = [part for part in parts_of_rectangle(PLATE) if part["kind"] == PartKind.FILL_HOLE]
    assert [(hole["x_mm"], hole["y_mm"]) for hole in holes] == [(800, 950), (1800, 950), (2800, 950)]
    assert {hole["diameter_mm"] for hole in holes} == {110}


def test_each_corner_of_a_compartment_has_a_vent() -> None:
    # [API610] vents at the corners of each compartment
    vents = [part for part in parts_of_rectangle(PLATE) if part["kind"] == PartKind.VENT]
    assert [(vent["x_mm"], vent["y_mm"]) for vent in vents[:4]] == [(375, 275), (375, 1625), (1225, 275), (1225, 1625)]
    assert len(vents) == 12


@UNHURRIED
@given(RECTANGLES)
def test_the_compartments_fill_the_plate(rectangle: Rectangle) -> None:
    areas = [Polygon(row["outline"]).area for row in compartments_of(rectangle)]
    assert sum(areas) == pytest.approx(rectangle.length_mm * rectangle.width_mm, rel=1e-9)
    assert Polygon(outline_of(rectangle)).area == pytest.approx(rectangle.length_mm * rectangle.width_mm, rel=1e-9)


@UNHURRIED
@given(RECTANGLES)
def test_the_plate_does_not_contradict_itself(rectangle: Rectangle) -> None:
    parts = parts_of_rectangle(rectangle)
    require_geometry(outline_of(rectangle), compartments_of(rectangle), parts)
    assert len({(part["kind"], part["label"]) for part in parts}) == len(parts) == 5 * rectangle.compartments_along
