"""Every finding and refusal about outlines, survey, takeoff and forms, word by word, as the TOML file has them."""

from dataclasses import replace
from functools import partial
from typing import Any

import shapely

from groutjobs.engineering.block import grout_space_mm
from groutjobs.engineering.compartments import (
    Compartment,
    Hole,
    HoleKind,
    compartment_findings,
    expansion_joints,
    flow_distance_mm,
)
from groutjobs.engineering.formwork import (
    CEMENT_DEPTH_LIMITS,
    EPOXY_DEPTH_LIMITS,
    DepthLimit,
    FormworkRules,
    Uplift,
    depth_findings,
    formwork_list,
    uplift_findings,
)
from groutjobs.engineering.outlines import area_m2, checked_polygon, require_apart, require_inside
from groutjobs.engineering.survey import bed_over, survey_surface
from groutjobs.engineering.takeoff import Part, Takeoff, kits_to_order, take_off, takeoff_notes
from tests.engineering.plates import flat, plate_case, rectangle, surveyed, whole_block
from tests.engineering.wording import Attempt, Told, kept

WORDS = kept("takeoff")
PLATE = rectangle(0, 0, 2000, 1000)
BLOCK = shapely.box(-75, -75, 3075, 1575)
BOW_TIE = ((0.0, 0.0), (2000.0, 1000.0), (2000.0, 0.0), (0.0, 1000.0))


def hole(kind: HoleKind, x_mm: float, y_mm: float, diameter_mm: float) -> Hole:
    return Hole(kind=kind, x_mm=x_mm, y_mm=y_mm, diameter_mm=diameter_mm)


def fill(diameter_mm: float = 100.0, x_mm: float = 1000.0, y_mm: float = 500.0) -> Hole:
    return hole(HoleKind.FILL, x_mm, y_mm, diameter_mm)


def vent(diameter_mm: float = 13.0, x_mm: float = 50.0, y_mm: float = 50.0) -> Hole:
    return hole(HoleKind.VENT, x_mm, y_mm, diameter_mm)


def drilled(*holes: Hole, open_edge: bool = False, plate: Any = PLATE) -> Told:
    whole = (Compartment(name="A", outline=plate, open_edge=open_edge),)
    return lambda system: compartment_findings(plate, whole, holes, system=system)


def lifted(uplift_kn: float, hold_down_kn: float) -> Told:
    lift = Uplift(head_pressure_kpa=6.0, uplift_kn=uplift_kn, hold_down_kn=hold_down_kn)
    return lambda system: uplift_findings(lift, system=system)


def deep(depth_mm: float, limits: tuple[DepthLimit, ...]) -> Told:
    """A bed of one depth, in one compartment, without a shoulder."""
    whole = (Compartment(name="A", outline=rectangle(0, 0, 3000, 1500)),)
    case = plate_case(compartments=whole, clearance_mm=0.0, plate_underside_elevation_mm=100.0 + depth_mm)
    return lambda system: depth_findings(take_off(case), limits, system=system)


def noted(takeoff: Takeoff) -> Told:
    return lambda system: takeoff_notes(takeoff, system=system)


def with_outside(share: float, spacing_m: float = 0.5) -> Takeoff:
    """A takeoff of which this share of compartment A lies outside the survey."""
    takeoff = take_off(plate_case())
    first, *others = takeoff.compartments
    changed = replace(first, bed=replace(first.bed, outside_survey_share=share))
    return replace(takeoff, compartments=(changed, *others), survey_spacing_m=spacing_m)


def refused_case(**changes: Any) -> Attempt:
    return lambda: take_off(plate_case(**changes))


def refused_list(**changes: Any) -> Attempt:
    return lambda: formwork_list(
        take_off(plate_case()), bed_length_m=3.0, chamfered=True, epoxy_joints=0, rules=FormworkRules(**changes)
    )


def named(name: str, outline: Any, **more: Any) -> Compartment:
    return Compartment(name=name, outline=outline, **more)


SILENT: dict[str, Told] = {
    "holes that do": drilled(fill(), vent()),
    "no hole needed where grout comes in at the edge": drilled(open_edge=True),
    "a hole within a millimetre of the edge": drilled(fill(), vent(x_mm=-1.0)),
    "half the lift in reserve": lifted(20.0, 30.0),
    "as thin as epoxy may be": deep(38.0, EPOXY_DEPTH_LIMITS),
    "as deep as epoxy may be": deep(100.0, EPOXY_DEPTH_LIMITS),
    "as thin as cement may be": deep(25.0, CEMENT_DEPTH_LIMITS),
    "as deep as cement may be": deep(75.0, CEMENT_DEPTH_LIMITS),
    "2 % outside the survey": noted(with_outside(0.02)),
    "a survey of 1 m": noted(with_outside(0.0, 1.0)),
}
FINDINGS: dict[str, Told] = {
    "no fill hole": drilled(vent()),
    "no vent": drilled(fill()),
    "a small fill hole": drilled(fill(), fill(76.2), vent()),
    "a small vent": drilled(fill(), vent(), vent(6.0)),
    "a vent too small": drilled(fill(), vent(5.0)),
    "far to flow": drilled(fill(x_mm=300.0), vent()),
    "open at the edge, but with holes that do not do": drilled(fill(50.0, x_mm=300.0), vent(3.0), open_edge=True),
    "as heavy as the lift": lifted(20.0, 20.0),
    "just short of the reserve": lifted(20.0, 29.9),
    "afloat": lifted(20.0, 19.0),
    "epoxy thinner than its test": deep(20.0, EPOXY_DEPTH_LIMITS),
    "epoxy at the thinnest of its test": deep(25.0, EPOXY_DEPTH_LIMITS),
    "epoxy too deep": deep(120.0, EPOXY_DEPTH_LIMITS),
    "cement too thin": deep(20.0, CEMENT_DEPTH_LIMITS),
    "cement too deep": deep(80.0, CEMENT_DEPTH_LIMITS),
    "outside the survey": noted(with_outside(0.04)),
    "a coarse survey": noted(with_outside(0.0, 1.5)),
}
REFUSED: dict[str, Attempt] = {
    "an outline of two corners": partial(area_m2, "plate", ((0.0, 0.0), (10.0, 0.0), (0.0, 0.0))),
    "an outline that crosses itself": partial(area_m2, "plate", BOW_TIE),
    "an outline without area": partial(checked_polygon, "plate", ((0.0, 0.0), (10.0, 0.0), (20.0, 0.0))),
    "one that leaves the other": partial(
        require_inside, "lid", shapely.box(0, 0, 13, 10), "box", shapely.box(0, 0, 9, 10)
    ),
    "two that overlap": partial(
        require_apart, {"one": shapely.box(0, 0, 20_000, 20_000), "two": shapely.box(10_000, 0, 40_000, 20_000)}
    ),
    "no surveyed point": partial(grout_space_mm, 100.0, []),
    "two surveyed points": partial(survey_surface, whole_block(flat)[:2], BLOCK),
    "two surveyed points at one place": partial(survey_surface, (*whole_block(flat), (-75.0, -75.2, 101.0)), BLOCK),
    "surveyed points on one line": partial(survey_surface, surveyed(flat, [0.0, 1000.0, 2000.0], [100.0]), BLOCK),
    "surveyed points almost on one line": partial(
        survey_surface, ((0.0, 100.0, 100.0), (1000.0, 100.0, 100.0), (2000.0, 101.0, 100.0)), BLOCK
    ),
    "a surveyed point off the block": partial(survey_surface, (*whole_block(flat), (3100.0, 50.0, 100.0)), BLOCK),
    "concrete above the plate": partial(bed_over, survey_surface(whole_block(flat), BLOCK), BLOCK, 97.0),
    "no fill hole to flow from": partial(flow_distance_mm, BLOCK, []),
    "a bed longer than any": partial(expansion_joints, 100.5),
    "one compartment twice": refused_case(
        compartments=(named("A", rectangle(0, 0, 100, 100)), named("A", rectangle(200, 0, 100, 100)))
    ),
    "a compartment that leaves the plate": refused_case(compartments=(named("A", rectangle(0, 0, 3100, 1500)),)),
    "compartments that overlap": refused_case(
        compartments=(named("A", rectangle(0, 0, 1300, 1500)), named("B", rectangle(1200, 0, 900, 1500)))
    ),
    "a compartment filled too high": refused_case(
        compartments=(named("A", rectangle(0, 0, 1300, 1500), fill_above_mm=2001.0),)
    ),
    "a block that crosses itself": refused_case(block_outline=BOW_TIE),
    "a plate that crosses itself": refused_case(plate_outline=BOW_TIE),
    "forms off the block": refused_case(clearance_mm=80.0),
    "a fill hole off the plate": partial(drilled(fill(x_mm=2007.0), vent()), "metric"),
    "a part in no compartment": refused_case(parts=(Part(name="pad", volume_m3=0.001, compartment="Z"),)),
    "a part of no volume": refused_case(parts=(Part(name="pad", volume_m3=0.0),)),
    "no part at all": refused_case(parts=(Part(name="pad", volume_m3=0.001, count=0),)),
    "parts that leave a compartment no grout": refused_case(parts=(Part(name="pad", volume_m3=1.0, compartment="A"),)),
    "parts that leave no grout": refused_case(parts=(Part(name="pad", volume_m3=1.0),)),
    "a chamfer wider than the shoulder": refused_case(chamfer_mm=76.0),
    "a chamfer deeper than the shoulder": refused_case(chamfer_mm=60.0, plate_underside_elevation_mm=150.0),
    "a chamfer without a shoulder": refused_case(chamfer_mm=20.0, clearance_mm=0.0),
    "kits of no yield": partial(kits_to_order, 0.3, waste_ratio=0.1, kit_yield_l=0.0, kit_kg=30.0, spare_kits=0),
    "too many rails": refused_list(rails=21),
    "too many beads": refused_list(beads=21),
    "too many coats": refused_list(wax_coats=21),
    "braces too close": refused_list(brace_spacing_m=0.09),
}


def test_an_area_is_told_in_square_metres() -> None:
    assert area_m2("plate", PLATE[::-1]) == 2.0
