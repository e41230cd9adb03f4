"""Inspections after the pour that count or compare: jackscrews out, joints and edges, soft foot, hand-over."""

import datetime as dt
from collections.abc import Collection, Mapping
from typing import Any

from groutjobs import units
from groutjobs.curing.calc.inputs import feet_of, screws_of
from groutjobs.curing.calc.judgement import judged
from groutjobs.curing.models import CureInspection, InspectionKind
from groutjobs.equipment.geometry import drawing_of
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level
from groutjobs.pours.models import Pour

OUT_PLUGGED, OUT_OPEN, LEFT_IN = "plugged", "open", "left"
SCREW_STATES = {
    OUT_PLUGGED: "backed out, hole plugged",
    OUT_OPEN: "backed out, hole open",
    LEFT_IN: "not backed out",
}
YES, NO, NONE_THERE = "yes", "no", "none"
EDGE_STATES = {YES: "as it should be", NO: "not as it should be", NONE_THERE: "there is none here"}
EDGES = {
    "shoulder": "Shoulder: width and height as planned, no honeycomb",
    "chamfer": "Chamfer and edge at the underside of the plate",
    "bond": "Bond line: no gap between plate and grout",
    "joint": "Expansion joint sealed",
    "surface": "Surface free of dusting, soft or tacky places",
}
FOOT_LIMIT_MM, FOOT_SOURCE = 0.05, "PRACTICE"
"""Rise of a foot when its bolt alone is loosened: 0.05 mm (0.002 in). Common practice, no source."""
NEEDED_RELEASE = {
    InspectionKind.BOLTS: "tension",
    InspectionKind.JACKSCREWS: "jackscrews",
    InspectionKind.HANDOVER: "align",
}
KINDS_AFTER = frozenset(
    {InspectionKind.JACKSCREWS, InspectionKind.JOINTS, InspectionKind.SOFT_FOOT, InspectionKind.HANDOVER}
)
Found = dict[str, list[Finding]]


def screws_to_back_out(pour: Pour) -> list[dict[str, Any]]:
    return [{name: screw[name] for name in ("name", "x_mm", "y_mm")} for screw in screws_of(pour.plan.machine)]


def feet_to_read(pour: Pour) -> list[dict[str, Any]]:
    """The machine feet: the mounting pads, in the order of their labels."""
    drawing = drawing_of(pour.plan.machine)
    assert len(feet_of(drawing)) == len(drawing.pads)  # noqa: S101
    return [{"label": pad.label, "x_mm": pad.x_mm, "y_mm": pad.y_mm} for pad in drawing.pads]


def after_inputs(
    pour: Pour,
    kind: str,
    rows: dict[str, Any],
    made: Mapping[str, CureInspection],
    cure: Mapping[str, Any],
    released: Collection[str],
) -> dict[str, Any]:
    """The rows as entered with what they are judged by, taken as it stands now."""
    inputs = rows | {"drawing": drawing_of(pour.plan.machine).as_json()}
    if kind != InspectionKind.HANDOVER:
        return inputs
    last = cure.get("last") or {}
    aligned = next((item for item in cure["milestones"] if item["code"] == "align"), None)
    return inputs | {
        "feet": _feet(pour, made),
        "screws": made["jackscrews"].inputs["screws"] if "jackscrews" in made else [],
        "bolts": _bolts(made.get(InspectionKind.BOLTS)),
        "cure": {name: last.get(name) for name in ("at", "temp_c", "age_h", "strength_mpa")}
        | {"align_state": aligned["state"] if aligned else None, "needed_h": aligned["needed_h"] if aligned else None},
        "released": sorted(released),
        "inspections": {code: row.standing_verdict.value for code, row in made.items()},
    }


def _feet(pour: Pour, made: Mapping[str, CureInspection]) -> list[dict[str, Any]]:
    """Each foot with its height above the plane and its rise when loosened; None where nobody read it."""
    level, soft = made.get(InspectionKind.LEVEL), made.get(InspectionKind.SOFT_FOOT)
    heights = {point["label"]: point for point in level.result["points"]} if level else {}
    rises = {foot["label"]: foot["rise_mm"] for foot in soft.result["feet"]} if soft else {}
    return [
        foot
        | {
            "reading_mm": heights.get(foot["label"], {}).get("reading_mm"),
            "above_plane_mm": heights.get(foot["label"], {}).get("residual_mm"),
            "rise_mm": rises.get(foot["label"]),
        }
        for foot in feet_to_read(pour)
    ]


def _bolts(row: CureInspection | None) -> dict[str, Any] | None:
    if row is None:
        return None
    values = [bolt["tension_usual_kn"] for bolt in row.result["bolts"] if bolt["tension_usual_kn"] is not None]
    return {
        "made_at": row.made_at.isoformat(),
        "verdict": row.standing_verdict.value,
        "count": len(row.result["bolts"]),
        "least_kn": min(values, default=None),
        "greatest_kn": max(values, default=None),
    }


def after_result(kind: str, inputs: dict[str, Any]) -> dict[str, Any]:
    """What the rows say. Unusable where there is nothing to look at."""
    results = {
        InspectionKind.JACKSCREWS: _jackscrews,
        InspectionKind.JOINTS: _joints,
        InspectionKind.SOFT_FOOT: _soft_foot,
        InspectionKind.HANDOVER: _handover,
    }
    return results[InspectionKind(kind)](inputs)


def _jackscrews(inputs: dict[str, Any]) -> dict[str, Any]:
    if not inputs["screws"]:
        raise Unusable("jackscrews", "this plate has none on record; nothing is to be backed out", source="GROUTJOBS")
    names = {state: [row["name"] for row in inputs["screws"] if row["state"] == state] for state in SCREW_STATES}
    found = []
    if names[LEFT_IN]:
        words = f"Not backed out: {', '.join(names[LEFT_IN])}. A jackscrew left in carries load at a point."
        found.append(_finding(Level.BLOCKER, "jackscrew.left", words, "Back it out, then plug the hole."))
    if names[OUT_OPEN]:
        words = f"Holes open: {', '.join(names[OUT_OPEN])}. Water and oil get under the plate through them."
        found.append(_finding(Level.WARNING, "jackscrew.open", words, "Plug them with sealant or grout."))
    return judged(_both(found), ["PRACTICE"]) | {"counts": {state: len(rows) for state, rows in names.items()}}


def _joints(inputs: dict[str, Any]) -> dict[str, Any]:
    wrong = [EDGES[name].split(":")[0] for name in EDGES if inputs["edges"][name] == NO]
    limit = inputs["crack_limit_mm"]
    found: Found = {}
    for system in (units.METRIC, units.US):
        told = []
        if wrong:
            words = f"Not as it should be: {', '.join(wrong).lower()}."
            told.append(_finding(Level.BLOCKER, "edges.wrong", words, "Repair it, or raise a nonconformance."))
        told += [_crack(row, limit, inputs["crack_source"], system) for row in inputs["cracks"]]
        found[system] = told
    total_mm = sum(row["length_mm"] for row in inputs["cracks"])
    widest = max((row["width_mm"] for row in inputs["cracks"]), default=None)
    return judged(found, ["PRACTICE"]) | {"crack_total_mm": total_mm, "crack_widest_mm": widest}


def _crack(row: dict[str, Any], limit_mm: float | None, source: str, system: str) -> Finding:
    width = units.shown(row["width_mm"], "mm", system, decimals=2 if system == units.METRIC else 4)
    length = units.shown(row["length_mm"], "mm", system)
    words = f"Crack at {row['place']}: {width} wide, {length} long"
    if limit_mm is None:
        hint = "No limit is given: the engineer decides, and names the source."
        return _finding(Level.WARNING, "crack", f"{words}.", hint)
    shown = units.shown(limit_mm, "mm", system, decimals=2 if system == units.METRIC else 4)
    if row["width_mm"] > limit_mm:
        hint = "Fill it, or raise a nonconformance and let the engineer decide."
        return _finding(Level.BLOCKER, "crack.wide", f"{words}, wider than {shown}.", hint, source)
    return _finding(Level.NOTE, "crack.fine", f"{words}, within {shown}.", "Seal it.", source)


def _soft_foot(inputs: dict[str, Any]) -> dict[str, Any]:
    if not inputs["feet"]:
        raise Unusable("feet", "no foot was read; write before and after for each", source="GROUTJOBS")
    feet = [foot | {"rise_mm": foot["after_mm"] - foot["before_mm"]} for foot in inputs["feet"]]
    limit = inputs["limit_mm"]
    found: Found = {}
    for system in (units.METRIC, units.US):
        decimals = 3 if system == units.METRIC else 4
        found[system] = [
            _finding(
                Level.BLOCKER,
                "soft_foot",
                f"Foot {foot['label']} moved {units.shown(foot['rise_mm'], 'mm', system, decimals=decimals)} when its "
                f"bolt was loosened; the limit is {units.shown(limit, 'mm', system, decimals=decimals)}.",
                "Measure the gap under the foot at its corners, correct with one fitted shim, and read all feet again.",
                inputs["limit_source"],
            )
            for foot in feet
            if not -limit <= foot["rise_mm"] <= limit
        ]
    return judged(found, [inputs["limit_source"]]) | {"feet": feet}


def _handover(inputs: dict[str, Any]) -> dict[str, Any]:
    told = [
        _finding(Level.WARNING, "handover.lacks", f"The sheet lacks {words}.", "Enter it first, or say why not.")
        for is_there, words in (
            (any(foot["above_plane_mm"] is not None for foot in inputs["feet"]), "a level survey at the feet"),
            (any(foot["rise_mm"] is not None for foot in inputs["feet"]), "soft foot readings"),
            (inputs["bolts"] is not None, "the bolt tightening"),
            (bool(inputs["screws"]), "the sheet of jackscrews"),
        )
        if not is_there
    ]
    refused = [code for code, verdict in inputs["inspections"].items() if verdict == "refused" and code != "handover"]
    if refused:
        words = f"Not accepted: {', '.join(InspectionKind(code).label.lower() for code in refused)}."
        told.append(_finding(Level.BLOCKER, "handover.refused", words, "Repair and inspect again before handing over."))
    return judged(_both(told), ["GROUTJOBS"])


def release_findings(kind: str, released: Collection[str], cure: Mapping[str, Any]) -> list[Finding]:
    """A warning where the step rests on a milestone of this grout that no engineer released."""
    code = NEEDED_RELEASE.get(InspectionKind(kind))
    item = next((row for row in cure["milestones"] if row["code"] == code), None)
    if item is None or code in released:
        return []
    words = f"No engineer released “{item['label']}” for this pour."
    hint = "Ask the engineer to release it under Releases before the work is done."
    return [_finding(Level.WARNING, f"release.{code}", words, hint, "GROUTJOBS")]


def too_soon_to_strip(cure: Mapping[str, Any], released: Collection[str], made_at: dt.datetime) -> bool:
    """Whether jackscrews were backed out before the strip milestone was surely reached, and nobody released them."""
    if {"strip", "jackscrews"} & set(released):
        return False
    item = next((row for row in cure["milestones"] if row["code"] == "strip"), None)
    reached = item["reached_surely_at"] if item else None
    return reached is None or dt.datetime.fromisoformat(reached) > made_at


def _both(found: list[Finding]) -> Found:
    return {units.METRIC: found, units.US: found}


def _finding(level: Level, code: str, message: str, hint: str, source: str = "PRACTICE") -> Finding:
    return Finding(level=level, code=f"after.{code}", message=message, hint=hint, source=source)
