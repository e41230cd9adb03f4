"""The pictures of a report, drawn from its manifest alone."""

import datetime as dt
from typing import Any

from django.utils.safestring import SafeString

from groutjobs.curing.drawing import cure_picture, inspection_picture
from groutjobs.equipment.drawing import drawing_from_json, plan_drawing
from groutjobs.planning.drawing import timetable_picture
from groutjobs.pours.drawing import fill_picture
from groutjobs.pours.log import Fill
from groutjobs.windows.drawing import pour_hours_picture

Manifest = dict[str, Any]
FILL_WIDTH = 1100.0
"""Wide and low: the picture stands on a page across."""


def pictures_of(manifest: Manifest) -> dict[str, SafeString]:
    """Name → SVG. A picture whose facts are not there is absent. The drawings escape every text themselves."""
    system = manifest["report"]["unit_system"]
    drawn = {
        "plan": plan_drawing(drawing_from_json(manifest["drawing"]), system=system),
        "timetable": timetable_picture(manifest["plan"]["result"]["timetable"]),
        "pour_hours": _pour_hours(manifest, system),
        "fills": fill_picture([_fill(row) for row in manifest["log"]["fills"]], system=system, width=FILL_WIDTH),
        "cure": cure_picture(manifest["cure"], zone=manifest["site"]["zone"], system=system),
    }
    for row in manifest["inspections"]:
        drawn[row["kind"]] = inspection_picture(row["kind"], row["inputs"], row["result"], system=system)
    return {name: SafeString(picture) for name, picture in drawn.items() if picture}


def _pour_hours(manifest: Manifest, system: str) -> str:
    if not manifest["pour_hours"]:
        return ""
    chosen = manifest["scheduled"]
    return pour_hours_picture(
        manifest["pour_hours"]["result"],
        manifest["site"]["zone"],
        system,
        chosen_at=dt.datetime.fromisoformat(chosen["starts_at"]) if chosen else None,
    )


def _fill(row: dict[str, Any]) -> Fill:
    return Fill(
        name=row["name"],
        takeoff_l=row["takeoff_l"],
        sd_l=row["sd_l"],
        placed_l=row["placed_l"],
        full_at=dt.datetime.fromisoformat(row["full_at"]) if row["full_at"] else None,
        filled_ratio=row["filled_ratio"],
        batches=tuple(row["batches"]),
    )
