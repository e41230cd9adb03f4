"""Formwork, head pressure, uplift and limits of depth."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.formwork import (
    CEMENT_DEPTH_LIMITS,
    EPOXY_DEPTH_LIMITS,
    DepthLimit,
    FormworkRules,
    depth_findings,
    formwork_list,
    head_pressure_kpa,
    uplift,
    uplift_findings,
)
from groutjobs.engineering.takeoff import Takeoff, take_off
from groutjobs.errors import OutOfRange
from groutjobs.findings import Level
from groutjobs.sources import sources
from tests.engineering.plates import plate_case

GOLDEN = tomllib.loads((Path(__file__).parents[2] / "fixtures" / "golden" / "takeoff.toml").read_text("utf-8"))
GOOD_UPLIFT: dict[str, Any] = {
    "density_kg_m3": 2000.0,
    "head_mm": 300.0,
    "plate_area_m2": 1.0,
    "held_mass_kg": 1000.0,
    "snug_bolts_kn": 0.0,
}


def bed(depth_mm: float) -> Takeoff:
    return take_off(plate_case(plate_underside_elevation_mm=100.0 + depth_mm))


def test_golden_head_pressure() -> None:
    """Source and tolerance stand in fixtures/golden/takeoff.toml."""
    for book in GOLDEN["head"]:
        for head_mm, pressure_kpa in book["rows"]:
            assert head_pressure_kpa(book["density_kg_m3"], head_mm) == pytest.approx(
                pressure_kpa, abs=book["tolerance_kpa"]
            )


def test_the_list_for_the_plain_plate_by_hand() -> None:
    """Perimeter 9.6 m, boards 75 + 25 mm, 20 braces of √2·0.1 + 0.3 m, 10 % for cutting; one joint across 3.15 m."""
    forms = formwork_list(bed(75.0), bed_length_m=3.15, chamfered=True, epoxy_joints=1)
    assert forms.height_mm == pytest.approx(100.0)
    assert forms.face_area_m2 == pytest.approx(0.96)
    assert forms.board_area_m2 == pytest.approx(1.056)
    assert forms.lumber_m == pytest.approx((2 * 9.6 + 20 * (math.sqrt(2) * 0.1 + 0.3)) * 1.1)
    assert forms.chamfer_strip_m == pytest.approx((9.6 + 4 * 0.1) * 1.1)
    assert forms.sealant_cartridges == 2
    assert forms.wax_area_m2 == pytest.approx(2.88)
    assert forms.joint_foam_m2 == pytest.approx(1.65 * 0.075)


def test_a_cement_bed_has_no_joints_and_square_edges_no_strip() -> None:
    forms = formwork_list(bed(75.0), bed_length_m=3.15, chamfered=False, epoxy_joints=0)
    assert (forms.joints, forms.joint_foam_m2, forms.chamfer_strip_m) == (0, 0.0, 0.0)


def test_forms_against_the_plate_are_as_high_as_the_bed() -> None:
    takeoff = take_off(plate_case(clearance_mm=0.0))
    assert formwork_list(takeoff, bed_length_m=3.0, chamfered=False, epoxy_joints=0).height_mm == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("quantity", "changes"),
    [
        ("length of the bed", {"bed_length_m": 0.0}),
        ("number of joints", {"epoxy_joints": -1}),
        ("spacing of braces", {"rules": FormworkRules(brace_spacing_m=0.0)}),
        ("cutting allowance", {"rules": FormworkRules(cutting_allowance=-0.1)}),
        ("coats of wax", {"rules": FormworkRules(wax_coats=-1)}),
    ],
)
def test_a_list_from_bad_numbers_is_refused(quantity: str, changes: dict[str, Any]) -> None:
    good = {"bed_length_m": 3.15, "chamfered": True, "epoxy_joints": 1}
    with pytest.raises(OutOfRange) as refused:
        formwork_list(bed(75.0), **{**good, **changes})
    assert refused.value.quantity == quantity


def test_uplift_by_hand() -> None:
    """1 m² under 300 mm of 2000 kg/m³: 5.88 kN; 1000 kg hold 9.81 kN, 1.67 times as much."""
    lift = uplift(**GOOD_UPLIFT)
    assert lift.uplift_kn == pytest.approx(5.88399)
    assert lift.hold_down_kn == pytest.approx(9.80665)
    assert uplift_findings(lift) == []


@pytest.mark.parametrize(
    ("mass_kg", "bolts_kn", "level"),
    [(599.0, 0.0, Level.BLOCKER), (899.0, 0.0, Level.WARNING), (100.0, 5.0, Level.WARNING)],
)
def test_a_light_plate_is_told_of(mass_kg: float, bolts_kn: float, level: Level) -> None:
    (finding,) = uplift_findings(uplift(**{**GOOD_UPLIFT, "held_mass_kg": mass_kg, "snug_bolts_kn": bolts_kn}))
    assert (finding.code, finding.level) == ("takeoff.uplift", level)
    assert finding.margin is not None
    assert finding.margin < 0.0


@pytest.mark.parametrize(
    ("quantity", "name", "value"),
    [
        ("density of the grout", "density_kg_m3", 2.0),
        ("grout head", "head_mm", -1.0),
        ("plate area", "plate_area_m2", 0.0),
        ("mass on the grout", "held_mass_kg", math.nan),
        ("tension of the snug bolts", "snug_bolts_kn", -1.0),
    ],
)
def test_uplift_from_bad_numbers_is_refused(quantity: str, name: str, value: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        uplift(**{**GOOD_UPLIFT, name: value})
    assert refused.value.quantity == quantity


@pytest.mark.parametrize(
    ("depth_mm", "limits", "expected"),
    [
        (24.9, EPOXY_DEPTH_LIMITS, ("takeoff.bed_thin", Level.BLOCKER)),
        (37.9, EPOXY_DEPTH_LIMITS, ("takeoff.bed_thin", Level.WARNING)),
        (38.0, EPOXY_DEPTH_LIMITS, None),
        (100.0, EPOXY_DEPTH_LIMITS, None),
        (100.1, EPOXY_DEPTH_LIMITS, ("takeoff.bed_deep", Level.WARNING)),
        (24.9, CEMENT_DEPTH_LIMITS, ("takeoff.bed_thin", Level.BLOCKER)),
        (25.0, CEMENT_DEPTH_LIMITS, None),
        (75.1, CEMENT_DEPTH_LIMITS, ("takeoff.bed_deep", Level.WARNING)),
    ],
)
def test_depths_are_held_against_the_limits(
    depth_mm: float, limits: tuple[DepthLimit, ...], expected: tuple[str, Level] | None
) -> None:
    found = depth_findings(bed(depth_mm), limits)
    assert {(finding.code, finding.level) for finding in found} == ({expected} if expected else set())
    assert [finding.about for finding in found] == (["A", "B", "shoulder"] if expected else [])
    assert all(finding.source in sources() for finding in found)


@given(st.floats(0.0, 5000.0), st.floats(0.0, 5000.0))
def test_pressure_adds_up_with_the_head(one_mm: float, other_mm: float) -> None:
    together_mm = min(one_mm + other_mm, 5000.0)
    parts = head_pressure_kpa(2000.0, one_mm) + head_pressure_kpa(2000.0, together_mm - one_mm)
    assert parts == pytest.approx(head_pressure_kpa(2000.0, together_mm), rel=1e-12, abs=1e-12)
