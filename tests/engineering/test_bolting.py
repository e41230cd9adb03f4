"""Stress areas, the printed torque table, T = K·D·F, stretch, share of yield and bearing."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs import units
from groutjobs.engineering.bolt_tables import Thread, frictions, grades, stress_area_mm2, threads, torque_at_30_ksi
from groutjobs.engineering.bolting import (
    BOLT_TENSION_CAUTION,
    bearing_findings,
    bolt_findings,
    elongation_mm,
    grout_bearing_kpa,
    stress_mpa,
    tension_band,
    tension_kn,
    torque_nm,
)
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Level
from groutjobs.sources import sources

GOLDEN = tomllib.loads((Path(__file__).parents[2] / "fixtures" / "golden" / "bolting.toml").read_text("utf-8"))
KSI_30_MPA = units.to_si(30.0, "mpa", "ksi")
MM2_PER_IN2 = 25.4**2


def test_golden_table_of_30_ksi() -> None:
    """Sources and tolerances of all golden values stand in fixtures/golden/bolting.toml."""
    book = GOLDEN["torque_30_ksi"]
    for name, load_lbf, torque_ftlb, load_kn, torque in book["rows"]:
        row = torque_at_30_ksi(threads()[name])
        assert row.load_kn == pytest.approx(load_kn, abs=book["tolerance_kn"])
        assert row.torque_nm == pytest.approx(torque, abs=book["tolerance_nm"])
        assert units.from_si(row.load_kn, "kn", "lbf") == pytest.approx(load_lbf)
        assert units.from_si(row.torque_nm, "nm", "ftlb") == pytest.approx(torque_ftlb)


def test_the_loads_of_the_table_are_30_ksi_on_its_root_areas() -> None:
    for name, *_ in GOLDEN["torque_30_ksi"]["rows"]:
        row = torque_at_30_ksi(threads()[name])
        assert stress_mpa(row.load_kn, row.root_area_mm2) == pytest.approx(KSI_30_MPA, rel=1e-9)
        assert row.root_area_mm2 < threads()[name].stress_area_mm2


def test_the_row_that_another_table_prints_differently_says_so() -> None:
    noted = [name for name, *_ in GOLDEN["torque_30_ksi"]["rows"] if torque_at_30_ksi(threads()[name]).note]
    assert noted == ["1 3/8-8 UN"]
    assert (torque_at_30_ksi(threads()["1-8 UNC"]).size, torque_at_30_ksi(threads()["1-8 UNC"]).note) == ("1", "")
    assert "645 ft·lb" in torque_at_30_ksi(threads()["1 3/8-8 UN"]).note


def test_nothing_lies_between_the_rows() -> None:
    between = Thread(name="15/16-8", series="UN", diameter_mm=23.8125, pitch_mm=3.175)
    for thread in (threads()["1 1/8-7 UNC"], threads()["M24×3"], between):
        with pytest.raises(Unusable, match="no row"):
            torque_at_30_ksi(thread)


def test_golden_stress_areas() -> None:
    for name, area_in2 in GOLDEN["stress_area_unc"]["rows"]:
        tolerance = GOLDEN["stress_area_unc"]["tolerance_ratio"]
        assert threads()[name].stress_area_mm2 / MM2_PER_IN2 == pytest.approx(area_in2, rel=tolerance)
    for name, area_mm2 in GOLDEN["stress_area_iso"]["rows"]:
        tolerance = GOLDEN["stress_area_iso"]["tolerance_ratio"]
        assert threads()[name].stress_area_mm2 == pytest.approx(area_mm2, rel=tolerance)


@pytest.mark.parametrize(("rows", "unit"), [("rows_ftlb", "ftlb"), ("rows_nm", "Nm")])
def test_golden_torques_by_friction(rows: str, unit: str) -> None:
    book = GOLDEN["torque_by_friction"]
    for name, *torques in book[rows]:
        thread = threads()[name]
        tension = KSI_30_MPA * thread.stress_area_mm2 / 1000.0
        for friction, expected in zip(book["friction"], torques, strict=True):
            torque = units.from_si(torque_nm(tension, thread.diameter_mm, friction), "nm", unit)
            allowed = book["tolerance_unit"] + book["tolerance_ratio"] * expected
            assert torque == pytest.approx(expected, abs=allowed)


def test_golden_worked_example_of_a_wrench() -> None:
    book = GOLDEN["wrench"]
    tension = units.to_si(book["tension_lbf"], "kn", "lbf")
    torque = torque_nm(tension, book["diameter_in"] * 25.4, book["friction"])
    assert units.from_si(torque, "nm", "ftlb") * 12.0 == pytest.approx(
        book["torque_in_lbf"], rel=book["tolerance_ratio"]
    )
    stress = stress_mpa(tension, book["stress_area_in2"] * MM2_PER_IN2)
    assert units.from_si(stress, "mpa", "ksi") == pytest.approx(book["stress_ksi"], rel=book["tolerance_ratio"])


def test_golden_stretch() -> None:
    book = GOLDEN["stretch"]
    for diameter_in, free_in, stretch_in in book["rows"]:
        area_mm2 = math.pi / 4.0 * (diameter_in * 25.4) ** 2
        tension = units.to_si(book["stress_ksi"], "mpa", "ksi") * area_mm2 / 1000.0
        modulus = units.to_si(book["modulus_ksi"], "mpa", "ksi")
        stretch = elongation_mm(tension, free_in * 25.4, area_mm2, modulus)
        assert stretch / 25.4 == pytest.approx(stretch_in, abs=book["tolerance_in"])


@given(tension=st.floats(0.1, 1000.0), diameter=st.floats(10.0, 80.0), friction=st.floats(0.05, 0.5))
def test_tension_undoes_torque(tension: float, diameter: float, friction: float) -> None:
    assert tension_kn(torque_nm(tension, diameter, friction), diameter, friction) == pytest.approx(tension, rel=1e-12)


def test_the_band_of_tension_runs_against_friction() -> None:
    """By hand: 350 N·m on M24 at K 0.25, 0.20 and 0.18."""
    band = tension_band(350.0, 24.0, frictions()["dry, plain"])
    assert (band.low_kn, band.usual_kn, band.high_kn) == pytest.approx((58.33, 72.92, 81.02), abs=0.005)
    assert all(friction.low < friction.usual < friction.high for friction in frictions().values())


@given(st.sampled_from(sorted(threads())))
def test_the_stress_area_lies_under_the_nominal_one(name: str) -> None:
    thread = threads()[name]
    nominal = math.pi / 4.0 * thread.diameter_mm**2
    assert 0.6 * nominal < thread.stress_area_mm2 < nominal


def test_30_ksi_is_too_much_for_the_mildest_anchor_steel() -> None:
    """30 of 36 ksi is 83 % of yield."""
    thread = threads()["1-8 UNC"]
    tension = KSI_30_MPA * thread.stress_area_mm2 / 1000.0
    (finding,) = bolt_findings(thread, tension, grades()["ASTM F1554 grade 36"], 400.0)
    assert (finding.code, finding.level) == ("bolt.yield_share", Level.BLOCKER)
    assert "83%" in finding.message
    assert bolt_findings(thread, tension, grades()["ASTM F1554 grade 105"], 400.0) == []


@pytest.mark.parametrize(("share", "level"), [(0.599, None), (0.601, Level.WARNING), (0.751, Level.BLOCKER)])
def test_the_share_of_yield_is_weighed(share: float, level: Level | None) -> None:
    thread, grade = threads()["M24×3"], grades()["ISO 898-1 class 8.8"]
    tension = share * grade.yield_mpa * thread.stress_area_mm2 / 1000.0
    found = bolt_findings(thread, tension, grade, 300.0)
    assert [finding.level for finding in found] == ([level] if level else [])


def test_a_short_bolt_is_told_of() -> None:
    thread, grade = threads()["M24×3"], grades()["ISO 898-1 class 8.8"]
    assert bolt_findings(thread, 50.0, grade, 288.0) == []
    (finding,) = bolt_findings(thread, 50.0, grade, 287.0)
    assert (finding.code, finding.source, finding.margin) == ("bolt.free_length", "API686", -1.0)


def test_a_bolt_thicker_than_its_grade_covers_is_refused() -> None:
    with pytest.raises(OutOfRange, match="diameter for ISO 898-1"):
        bolt_findings(threads()["M42×4.5"], 50.0, grades()["ISO 898-1 class 8.8"], 600.0)


def test_sizes_up_to_which_a_grade_holds() -> None:
    """ASTM A193 grade B7 up to 2½ in, ISO 898-1 up to M39, both from memory; 105 ksi are 723.9 MPa."""
    b7 = grades()["ASTM A193 B7"]
    assert (b7.largest_mm, b7.yield_mpa) == pytest.approx((63.5, 723.95), abs=0.01)
    assert grades()["ISO 898-1 class 10.9"].largest_mm == 39.0
    assert grades()["ASTM F1554 grade 55"].largest_mm is None


def test_grades_name_a_known_source() -> None:
    assert {grade.source for grade in grades().values()} <= set(sources())


def test_bearing_by_hand() -> None:
    """Eight bolts of 70 kN and 40 kN of weight on 0.2 m²: 3 MPa."""
    assert grout_bearing_kpa(560.0, 40.0, 0.2) == pytest.approx(3000.0)
    assert bearing_findings(3500.0) == []
    assert [finding.code for finding in bearing_findings(3501.0)] == ["bolt.bearing"]


@pytest.mark.parametrize(
    ("quantity", "function", "arguments"),
    [
        ("bolt tension", torque_nm, (0.0, 24.0, 0.2)),
        ("bolt tension", torque_nm, (math.nan, 24.0, 0.2)),
        ("bolt diameter", torque_nm, (70.0, 0.0, 0.2)),
        ("friction factor K", torque_nm, (70.0, 24.0, 2.0)),
        ("torque", tension_kn, (-1.0, 24.0, 0.2)),
        ("free length", elongation_mm, (70.0, 0.0, 353.0)),
        ("stress area", elongation_mm, (70.0, 300.0, 0.0)),
        ("modulus of the bolt", elongation_mm, (70.0, 300.0, 353.0, 0.0)),
        ("area of the bolt", stress_mpa, (70.0, 0.0)),
        ("bolt tension", stress_mpa, (-1.0, 353.0)),
        ("contact area", grout_bearing_kpa, (560.0, 40.0, 0.0)),
        ("weight", grout_bearing_kpa, (560.0, math.nan, 1.0)),
        ("pressure on the grout", bearing_findings, (-1.0,)),
        ("thread pitch", stress_area_mm2, (24.0, 13.0, "ISO")),
        ("thread pitch", stress_area_mm2, (24.0, 0.0, "UN")),
    ],
)
def test_numbers_beyond_their_limits_are_refused(quantity: str, function: Any, arguments: tuple[Any, ...]) -> None:
    with pytest.raises(OutOfRange) as refused:
        function(*arguments)
    assert refused.value.quantity == quantity


def test_an_unknown_series_is_refused() -> None:
    with pytest.raises(Unusable, match="neither UN nor ISO"):
        stress_area_mm2(24.0, 3.0, "BSW")


def test_the_caution_defers_to_those_in_charge() -> None:
    for words in ("Stand clear", "calibrated", "owner's specification", "supplier's instruction", "engineer"):
        assert words in BOLT_TENSION_CAUTION
