"""Fill holes, vents, flow and joints."""

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.compartments import (
    Compartment,
    Hole,
    HoleKind,
    compartment_findings,
    expansion_joints,
    flow_distance_mm,
)
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Level
from groutjobs.sources import sources
from tests.engineering.plates import rectangle

PLATE = rectangle(0, 0, 2000, 1000)
WHOLE = (Compartment(name="A", outline=PLATE),)


def fill(x_mm: float = 1000.0, y_mm: float = 500.0, diameter_mm: float = 100.0) -> Hole:
    return Hole(kind=HoleKind.FILL, x_mm=x_mm, y_mm=y_mm, diameter_mm=diameter_mm)


def vent(x_mm: float = 50.0, y_mm: float = 50.0, diameter_mm: float = 13.0) -> Hole:
    return Hole(kind=HoleKind.VENT, x_mm=x_mm, y_mm=y_mm, diameter_mm=diameter_mm)


def test_a_compartment_with_its_holes_has_no_finding() -> None:
    assert compartment_findings(PLATE, WHOLE, [fill(), vent()]) == []


def test_a_hole_on_the_edge_belongs_to_the_compartment() -> None:
    assert compartment_findings(PLATE, WHOLE, [fill(), vent(0.0, 500.0)]) == []


@pytest.mark.parametrize(
    ("holes", "code", "level"),
    [
        ([vent()], "takeoff.fill_hole_missing", Level.BLOCKER),
        ([fill()], "takeoff.vent_missing", Level.BLOCKER),
        ([fill(diameter_mm=99.0), vent()], "takeoff.fill_hole_small", Level.WARNING),
        ([fill(), vent(diameter_mm=12.0)], "takeoff.vent_small", Level.NOTE),
        ([fill(), vent(diameter_mm=5.0)], "takeoff.vent_small", Level.WARNING),
        ([fill(700.0, 500.0), vent()], "takeoff.flow_far", Level.WARNING),
    ],
)
def test_what_is_wrong_with_the_holes_is_told(holes: list[Hole], code: str, level: Level) -> None:
    (finding,) = compartment_findings(PLATE, WHOLE, holes)
    assert (finding.code, finding.level, finding.about) == (code, level, "A")
    assert finding.source in sources()


def test_a_compartment_open_at_the_edge_needs_no_holes() -> None:
    assert compartment_findings(PLATE, (Compartment(name="A", outline=PLATE, open_edge=True),), []) == []


def test_a_us_reader_sees_inches() -> None:
    (finding,) = compartment_findings(PLATE, WHOLE, [fill(diameter_mm=76.2), vent()], system="us")
    assert "3.000 in, 3.937 in or more" in finding.message


def test_flow_runs_to_the_far_corner_from_one_hole() -> None:
    assert flow_distance_mm(shapely.Polygon(PLATE), [fill()]) == pytest.approx(math.hypot(1000, 500))


def test_flow_meets_half_way_between_two_holes() -> None:
    """By hand: holes at the quarter points leave the corners 500, 500 away and the middle of each edge as far."""
    distance_mm = flow_distance_mm(shapely.Polygon(PLATE), [fill(500.0), fill(1500.0)])
    assert distance_mm == pytest.approx(math.hypot(500, 500))


@given(
    holes=st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 1000)), min_size=1, max_size=6, unique=True),
    x=st.floats(0.0, 2000.0),
    y=st.floats(0.0, 1000.0),
)
def test_no_place_is_farther_than_the_flow_distance(holes: list[tuple[int, int]], x: float, y: float) -> None:
    fills = [fill(float(a), float(b)) for a, b in holes]
    nearest_mm = min(math.dist((x, y), hole) for hole in holes)
    assert nearest_mm <= flow_distance_mm(shapely.Polygon(PLATE), fills) + 1e-6


def test_bad_holes_are_refused() -> None:
    with pytest.raises(OutOfRange):
        compartment_findings(PLATE, WHOLE, [fill(diameter_mm=0.0)])
    with pytest.raises(OutOfRange):
        compartment_findings(PLATE, WHOLE, [fill(x_mm=math.nan)])
    with pytest.raises(Unusable):
        compartment_findings(PLATE, WHOLE, [fill(x_mm=2100.0)])
    with pytest.raises(Unusable):
        flow_distance_mm(shapely.Polygon(PLATE), [])


@pytest.mark.parametrize(
    ("length_m", "joints"), [(0.5, 0), (1.8, 0), (1.9, 1), (2.4, 1), (3.0, 1), (3.7, 2), (4.5, 2), (6.0, 3)]
)
def test_joints_by_hand(length_m: float, joints: int) -> None:
    assert expansion_joints(length_m) == joints


@given(st.floats(2.4, 100.0))
def test_every_panel_is_four_to_six_feet_long(length_m: float) -> None:
    """API RP 686 chapter 5, 4 to 6 ft (1.2 to 1.8 m), from memory; shorter beds need no joint or stay under it."""
    assert 1.2 - 1e-9 <= length_m / (expansion_joints(length_m) + 1) <= 1.8 + 1e-9


def test_a_bed_of_no_length_is_refused() -> None:
    for length_m in (0.0, -1.0, math.nan, 101.0):
        with pytest.raises(OutOfRange):
            expansion_joints(length_m)
