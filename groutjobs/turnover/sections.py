"""What the template of the report shows beside the manifest itself: selections from it, and no fact of its own."""

from typing import Any

from groutjobs import units
from groutjobs.turnover.readings_table import readings_of

Manifest = dict[str, Any]


def sections_of(manifest: Manifest) -> dict[str, Any]:
    trail = manifest["trail"]
    return {
        "summary": _summary(manifest),
        "inspections": {
            row["kind"]: row | {"findings": _findings(row["result"], manifest)} for row in manifest["inspections"]
        },
        "plan_findings": _findings(manifest["plan"]["result"], manifest),
        "readings": readings_of(manifest),
        "standing": _standing(manifest),
        "corrected": _corrected(manifest),
        "changes": [event for event in trail if event["changes"]],
        "makings": [event for event in trail if not event["changes"]],
    }


def _summary(manifest: Manifest) -> dict[str, Any]:
    points = manifest["log"]["points"]
    return {
        "points_closed": sum(point["is_closed"] for point in points),
        "points_open": ", ".join(f"{point['position']} {point['step']}" for point in points if not point["is_closed"]),
        "corrections": sum(line["is_struck"] for line in manifest["log"]["lines"]),
    }


def _findings(result: dict[str, Any], manifest: Manifest) -> list[dict[str, Any]]:
    """The findings of a stored result in the units of the report."""
    in_us = manifest["report"]["unit_system"] == units.US
    found: list[dict[str, Any]] = (result.get("findings_us") if in_us else None) or result.get("findings") or []
    return found


def _standing(manifest: Manifest) -> list[dict[str, Any]]:
    return [finding for finding in manifest["findings"] if finding["level"] != "blocker"]


def _corrected(manifest: Manifest) -> list[tuple[dict[str, Any], list[dict[str, Any]]]]:
    """Each replaced entry with the entries that took its place."""
    lines = manifest["log"]["lines"]
    by_id = {line["fact"]["id"]: line for line in lines}
    return [(line, [by_id[entry_id] for entry_id in line["struck_by"]]) for line in lines if line["is_struck"]]
