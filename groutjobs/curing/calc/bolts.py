"""Bolt tightening: targets by table and by T = K·D·F, the tension that was reached, order, bearing, findings."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from groutjobs import units
from groutjobs.curing.calc.judgement import judged
from groutjobs.engineering.bolt_tables import Friction, Grade, Thread, frictions, grades, threads, torque_at_30_ksi
from groutjobs.engineering.bolting import (
    ADVISED_YIELD_SHARE,
    TensionBand,
    bearing_findings,
    bolt_findings,
    elongation_mm,
    grout_bearing_kpa,
    stress_mpa,
    tension_band,
    torque_nm,
)
from groutjobs.engineering.tightening import PASS_SHARES, BoltPlace, tightening_order
from groutjobs.equipment.calc import read_thread
from groutjobs.errors import GroutJobsError, Unusable
from groutjobs.findings import Finding, Level

TORQUE, STRETCH = "torque", "stretch"
VALUE_OF = {TORQUE: "torque_nm", STRETCH: "stretch_mm"}
TABLE_MPA = units.to_si(30.0, "mpa", "ksi")
OFF_TARGET_RATIO = 0.10
"""A value this far from its target is asked about: twice the 5 % of a good wrench. GROUTJOBS."""
STRETCH_SCATTER_RATIO = 0.05
"""Tension by stretch is within 3 to 5 %. PRACTICE."""


def friction_names() -> list[str]:
    """The conditions of threads and nut face that the table knows."""
    return list(frictions())


def thread_named(name: str) -> Thread:
    """The thread of the table that the name means; Unusable where there is none."""
    return threads()[read_thread(name)]


def default_target(bolts: Sequence[dict[str, Any]]) -> tuple[float, str]:
    """The stress to tension to, with its source: 30 ksi, or 0.6 of the yield of the softest bolt where that is less.

    A share of yield is rounded down to whole MPa, so that a torque rounded to a whole number stays under it.
    """
    known = grades()
    yields = [known[bolt["grade"]].yield_mpa for bolt in bolts if bolt["grade"] in known]
    softest_mpa = min(yields, default=TABLE_MPA / ADVISED_YIELD_SHARE)
    if ADVISED_YIELD_SHARE * softest_mpa < TABLE_MPA:
        return float(math.floor(ADVISED_YIELD_SHARE * softest_mpa)), "PRACTICE"
    return TABLE_MPA, "API686"


def bolt_targets(bolts: Sequence[dict[str, Any]], friction_name: str, target_mpa: float) -> list[dict[str, Any]]:
    """For each bolt the tension, torque and stretch to reach, and its number in the order of tightening."""
    order = order_of(bolts)
    friction = frictions()[friction_name]
    return [_target(bolt, friction, target_mpa) | {"turn": order.get(bolt["label"])} for bolt in bolts]


def passes_of(target_value: float) -> list[dict[str, float]]:
    """What to set at each pass for a full value: 30, 70 and 100 % of it."""
    return [{"share_ratio": share, "value": share * target_value} for share in PASS_SHARES]


def order_of(bolts: Sequence[dict[str, Any]]) -> dict[str, int]:
    """Label → number in the order of tightening; empty where no order can be told."""
    places = [BoltPlace(name=bolt["label"], x_mm=bolt["x_mm"], y_mm=bolt["y_mm"]) for bolt in bolts]
    try:
        return {label: number for number, label in enumerate(tightening_order(places), 1)}
    except GroutJobsError:
        return {}


def bolts_result(inputs: dict[str, Any]) -> dict[str, Any]:
    """What the values say. Raises OutOfRange or Unusable where they cannot be used."""
    targets = bolt_targets(inputs["bolts"], inputs["friction"], inputs["target_mpa"])
    rows = [_reached(bolt, target, inputs) for bolt, target in zip(inputs["bolts"], targets, strict=True)]
    tension_kn = sum(row["tension_usual_kn"] for row in rows if row["tension_usual_kn"] is not None)
    bearing_kpa = grout_bearing_kpa(tension_kn, inputs["weight_kn"], inputs["contact_area_m2"])
    found = {system: _findings(rows, inputs, bearing_kpa, system) for system in (units.METRIC, units.US)}
    sources = ["SHIGLEY", "TORQUE30KSI", "PRACTICE", inputs["target_source"]]
    return judged(found, sources) | {"bolts": rows, "tension_kn": tension_kn, "bearing_kpa": bearing_kpa}


def _target(bolt: dict[str, Any], friction: Friction, target_mpa: float) -> dict[str, Any]:
    row = dict.fromkeys(
        ("area_mm2", "target_kn", "torque_low_nm", "torque_nm", "torque_high_nm", "stretch_mm", "table_nm", "table_kn")
    )
    row |= {"label": bolt["label"], "thread": bolt["thread"], "problem": "", "table_note": ""}
    try:
        thread = thread_named(bolt["thread"])
    except Unusable as error:
        return row | {"problem": str(error)}
    target_kn = target_mpa * thread.stress_area_mm2 / 1000.0
    low, usual, high = (
        torque_nm(target_kn, thread.diameter_mm, factor) for factor in (friction.low, friction.usual, friction.high)
    )
    return row | {
        "area_mm2": thread.stress_area_mm2,
        "target_kn": target_kn,
        "torque_low_nm": low,
        "torque_nm": usual,
        "torque_high_nm": high,
        "stretch_mm": elongation_mm(target_kn, bolt["free_length_mm"], thread.stress_area_mm2),
        **_table_row(thread),
    }


def _table_row(thread: Thread) -> dict[str, Any]:
    try:
        row = torque_at_30_ksi(thread)
    except Unusable:
        return {}
    return {"table_nm": row.torque_nm, "table_kn": row.load_kn, "table_note": row.note}


def _reached(bolt: dict[str, Any], target: dict[str, Any], inputs: dict[str, Any]) -> dict[str, Any]:
    """The row of one bolt: as entered, its target, and the tension that its value stands for."""
    name = VALUE_OF[inputs["method"]]
    row = {
        "label": bolt["label"],
        "turn": target["turn"],
        "thread": bolt["thread"],
        "grade": bolt["grade"],
        "free_length_mm": bolt["free_length_mm"],
        "value": bolt[name],
        "value_suffix": units.suffix_of(name),
        "target": target,
        "target_value": target[name],
        "problem": target["problem"],
    }
    if target["target_kn"] is None or bolt[name] is None:
        return row | dict.fromkeys(
            ("tension_low_kn", "tension_usual_kn", "tension_high_kn", "stress_mpa", "yield_ratio")
        )
    band = _band(bolt, target, inputs)
    grade = grades().get(bolt["grade"])
    stress = stress_mpa(band.usual_kn, target["area_mm2"])
    return row | {
        "tension_low_kn": band.low_kn,
        "tension_usual_kn": band.usual_kn,
        "tension_high_kn": band.high_kn,
        "stress_mpa": stress,
        "yield_ratio": stress / grade.yield_mpa if grade else None,
    }


def _band(bolt: dict[str, Any], target: dict[str, Any], inputs: dict[str, Any]) -> TensionBand:
    if inputs["method"] == TORQUE:
        thread = thread_named(bolt["thread"])
        return tension_band(bolt["torque_nm"], thread.diameter_mm, frictions()[inputs["friction"]])
    usual_kn = bolt["stretch_mm"] / elongation_mm(1.0, bolt["free_length_mm"], target["area_mm2"])
    scatter = STRETCH_SCATTER_RATIO
    return TensionBand(low_kn=usual_kn * (1 - scatter), usual_kn=usual_kn, high_kn=usual_kn * (1 + scatter))


def _findings(rows: list[dict[str, Any]], inputs: dict[str, Any], bearing_kpa: float, system: str) -> list[Finding]:
    found: list[tuple[str, Finding]] = []
    for row in rows:
        found += [(row["label"], item) for item in _row_findings(row, system)]
    return [
        *_grouped(found),
        *bearing_findings(bearing_kpa, system=system),
        *_manner_findings(inputs),
        *_round_findings(inputs),
    ]


def _row_findings(row: dict[str, Any], system: str) -> list[Finding]:
    if row["value"] is None:
        words = "it was not tightened to the end: its last value is missing."
        return [_finding("missing", words, "GROUTJOBS", "Tighten it, and record the whole round again.", Level.BLOCKER)]
    if row["problem"]:
        return [_finding("thread", row["problem"], "ASMEB1.1", "Correct the thread of the bolt on the Machine sheet.")]
    grade: Grade | None = grades().get(row["grade"])
    found = []
    if grade is None:
        words = f"the grade {row['grade']} is not in the table, so its share of yield is not known."
        found.append(_finding("grade", words, "GROUTJOBS", "Take the yield strength from its certificate."))
    else:
        thread = thread_named(row["thread"])
        found += bolt_findings(thread, row["tension_usual_kn"], grade, row["free_length_mm"], system=system)
    off = row["value"] / row["target_value"] - 1.0
    if not -OFF_TARGET_RATIO <= off <= OFF_TARGET_RATIO:
        value, target = (units.shown(row[key], row["value_suffix"], system) for key in ("value", "target_value"))
        words = f"{value} is {off:+.0%} off its target of {target}."
        found.append(_finding("off_target", words, "GROUTJOBS", "Tighten again, or say in the remarks why it stays."))
    return found


def _manner_findings(inputs: dict[str, Any]) -> list[Finding]:
    found = []
    if inputs["passes"] < len(PASS_SHARES):
        words = f"{inputs['passes']} passes were made; {len(PASS_SHARES)} and a final round are usual."
        found.append(_finding("passes", words, "PRACTICE", "Tighten again after 24 h and after the first hot run."))
    if not inputs["in_order"]:
        words = "The bolts were not tightened in the order drawn."
        found.append(_finding("order", words, "PRACTICE", "Go round once more at the full value; no nut may turn."))
    return found


def _round_findings(inputs: dict[str, Any]) -> list[Finding]:
    """Bolts that a pass left out, for passes entered bolt by bolt."""
    labels = [bolt["label"] for bolt in inputs["bolts"]]
    found = []
    for one in inputs.get("rounds", ())[:-1]:
        done = {value["label"] for value in one["values"]}
        if missing := [label for label in labels if label not in done]:
            words = f"The pass at {one['share_ratio']:.0%} left out {', '.join(missing)}."
            found.append(_finding("pass_missing", words, "PRACTICE", "Go round once more at the full value."))
    if inputs.get("final_round") is False:
        words = "The final round, bolt by bolt at the full value, was not made."
        found.append(_finding("final_round", words, "PRACTICE", "Go round once; no nut may turn."))
    return found


def _finding(code: str, message: str, source: str, hint: str, level: Level = Level.WARNING) -> Finding:
    return Finding(level=level, code=f"bolts.{code}", message=message, source=source, hint=hint)


def _grouped(found: list[tuple[str, Finding]]) -> list[Finding]:
    """The same sentence about several bolts said once, with their labels before it."""
    labels: dict[Finding, list[str]] = {}
    for label, item in found:
        labels.setdefault(item, []).append(label)
    return [
        replace(
            item, message=f"{'Bolt' if len(names) == 1 else 'Bolts'} {', '.join(names)}: {item.message}", about=names[0]
        )
        for item, names in labels.items()
    ]
