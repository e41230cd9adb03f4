"""Every finding and refusal about bolts, word by word, on each side of its limit. The words stand in the TOML file."""

from dataclasses import replace
from functools import partial

from groutjobs.engineering.bolt_tables import Grade, Thread, grades, stress_area_mm2, threads, torque_at_30_ksi
from groutjobs.engineering.bolting import bearing_findings, bolt_findings, stress_mpa
from groutjobs.engineering.tightening import BoltPlace, TighteningPass, tightening_order, tightening_passes
from groutjobs.findings import Finding
from tests.engineering.wording import Attempt, Told, kept

WORDS = kept("bolts")
M24 = threads()["M24×3"]
CLASS_8_8 = grades()["ISO 898-1 class 8.8"]
LONG_MM = 288.0
"""12 diameters of M24."""
UN = threads()["1 3/8-8 UN"]


def at_share(share: float) -> Told:
    """100 kN in M24 of a steel whose yield makes them this share of it."""
    steel = replace(CLASS_8_8, yield_mpa=stress_mpa(100.0, M24.stress_area_mm2) / share)
    return lambda system: bolt_findings(M24, 100.0, steel, LONG_MM, system=system)


def at_length(thread: Thread, free_length_mm: float) -> Told:
    return lambda system: bolt_findings(thread, 50.0, CLASS_8_8, free_length_mm, system=system)


def at_bearing(bearing_kpa: float) -> Told:
    return lambda system: bearing_findings(bearing_kpa, system=system)


def bolt(name: str, x_mm: float, y_mm: float = 0.0) -> BoltPlace:
    return BoltPlace(name=name, x_mm=x_mm, y_mm=y_mm)


SILENT: dict[str, Told] = {
    "just 60 % of yield": at_share(0.6),
    "12 diameters of free length": at_length(M24, LONG_MM),
    "a bolt as thick as its grade covers": at_length(threads()["M36×4"], 432.0),
    "just 3.5 MPa of bearing": at_bearing(3500.0),
}
FINDINGS: dict[str, Told] = {
    "over 60 % of yield": at_share(0.62),
    "just 75 % of yield": at_share(0.75),
    "over 75 % of yield": at_share(0.76),
    "a short bolt": at_length(M24, 240.0),
    "over 3.5 MPa of bearing": at_bearing(3600.0),
    "both at once": lambda system: bolt_findings(M24, 200.0, CLASS_8_8, 100.0, system=system),
}
REFUSED: dict[str, Attempt] = {
    "another series": partial(stress_area_mm2, 24.0, 3.0, "BSW"),
    "a coarse pitch": partial(stress_area_mm2, 24.0, 12.5, "ISO"),
    "a metric thread in the printed table": partial(torque_at_30_ksi, M24),
    "a size of the table with another pitch": partial(torque_at_30_ksi, replace(UN, name="1 3/8-6 UNC", pitch_mm=4.2)),
    "a pitch of the table on another size": partial(torque_at_30_ksi, replace(UN, name="1 5/16-8", diameter_mm=33.3)),
    "a bolt thicker than its grade": partial(bolt_findings, threads()["M42×4.5"], 50.0, CLASS_8_8, 600.0),
    "no bolt": partial(tightening_order, []),
    "one bolt": partial(tightening_order, [bolt("1", 0.0)]),
    "one name twice": partial(tightening_order, [bolt("1", 0.0), bolt("2", 5.0), bolt("1", 9.0)]),
    "one place twice": partial(tightening_order, [bolt("1", 0.0), bolt("2", 50.0), bolt("3", 0.0, 0.99)]),
    "no tension": partial(bolt_findings, M24, 0.0, CLASS_8_8, LONG_MM),
    "steel that yields at once": partial(Grade, name="tin", yield_mpa=0.0, largest_mm=None, source="ISO898-1"),
    "steel stronger than any": partial(Grade, name="glass", yield_mpa=3001.0, largest_mm=None, source="ISO898-1"),
    "steel of no size": partial(Grade, name="tin", yield_mpa=90.0, largest_mm=0.0, source="ISO898-1"),
}


def test_metric_is_what_a_reader_sees_who_chose_nothing() -> None:
    found: list[Finding] = bolt_findings(M24, 200.0, CLASS_8_8, 100.0) + bearing_findings(3600.0)
    assert [finding.message for finding in found] == [
        WORDS["findings"][case][at]["message"]
        for case, at in (("both at once", 0), ("both at once", 1), ("over 3.5 MPa of bearing", 0))
    ]


def test_the_passes_are_named() -> None:
    assert tightening_passes(400.0) == (
        TighteningPass(number=1, label="30% in the order of tightening", share=0.3, torque_nm=120.0),
        TighteningPass(number=2, label="70% in the order of tightening", share=0.7, torque_nm=280.0),
        TighteningPass(number=3, label="100% in the order of tightening", share=1.0, torque_nm=400.0),
        TighteningPass(number=4, label="once round, bolt by bolt, none may turn", share=1.0, torque_nm=400.0),
    )
