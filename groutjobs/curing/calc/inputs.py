"""What an inspection needs besides its readings: taken from the machine as it stands, kept with the inspection."""

import math
from collections.abc import Iterator
from typing import Any

from groutjobs.equipment.geometry import MachineDrawing, Pad, Point, RoundPart, baseplate_of, drawing_of, foundation_of
from groutjobs.equipment.models import Machine, PartKind, parts_of
from groutjobs.errors import Unusable
from groutjobs.pours.models import Pour

MOST_TAPS = 3000
STANDARD_GRAVITY_M_S2 = 9.80665


def level_inputs(pour: Pour, rows: dict[str, Any]) -> dict[str, Any]:
    """What level_result works on: the rows as entered, the jackscrews, the least grout thickness, the drawing."""
    machine = pour.plan.machine
    return rows | {
        "screws": screws_of(machine),
        "min_gap_mm": pour.plan.data_sheet.thickness_min_mm,
        "drawing": drawing_of(machine).as_json(),
    }


def sounding_inputs(pour: Pour, rows: dict[str, Any]) -> dict[str, Any]:
    """What sounding_result works on: the rows as entered, compartments, machine feet, the drawing."""
    drawing = drawing_of(pour.plan.machine)
    return rows | {
        "compartments": {region.name: [list(point) for point in region.outline] for region in drawing.compartments},
        "feet": {name: [list(point) for point in outline] for name, outline in feet_of(drawing).items()},
        "drawing": drawing.as_json(),
    }


def bolts_inputs(pour: Pour, rows: dict[str, Any], hollow_m2: float) -> dict[str, Any]:
    """What bolts_result works on: values as entered joined with the bolts, weight, and sound area under the plate."""
    machine = pour.plan.machine
    value_of = {row["label"]: row for row in rows["values"]}
    drawing = drawing_of(machine)
    bolts = bolts_of(machine)
    _require_known({bolt["label"] for bolt in bolts}, rows)
    return rows | {
        "bolts": [bolt | _value(bolt["label"], value_of, rows["method"]) for bolt in bolts],
        "weight_kn": machine.mass_kg * STANDARD_GRAVITY_M_S2 / 1000.0,
        "contact_area_m2": sum(_area_m2(region.outline) for region in drawing.compartments) - hollow_m2,
        "hollow_m2": hollow_m2,
        "drawing": drawing.as_json(),
    }


def _value(label: str, value_of: dict[str, dict[str, Any]], method: str) -> dict[str, Any]:
    """What was entered for a bolt; None where it was not tightened to the end."""
    row = value_of.get(label, {f"{method}_{'nm' if method == 'torque' else 'mm'}": None, "entered": None})
    return {name: value for name, value in row.items() if name != "label"}


def _require_known(known: set[str], rows: dict[str, Any]) -> None:
    named = [row["label"] for row in rows["values"]]
    named += [value["label"] for one in rows.get("rounds", ()) for value in one["values"]]
    if not known:
        raise Unusable("bolts", "no anchor bolt is entered on the Machine sheet", source="GROUTJOBS")
    if strange := sorted(set(named) - known):
        raise Unusable(f"bolt {strange[0]}", "the machine has no such anchor bolt", source="GROUTJOBS")


def _area_m2(outline: tuple[Point, ...]) -> float:
    """Shoelace formula; corners in either order."""
    pairs = zip(outline, (*outline[1:], outline[0]), strict=True)
    return abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2e6


def level_points(drawing: MachineDrawing) -> list[tuple[str, float, float]]:
    """Where the level is read by default: the mounting pads, else the jackscrews, else the corners of the plate."""
    parts: tuple[Pad | RoundPart, ...] = drawing.pads if len(drawing.pads) >= 3 else drawing.jackscrews
    if len(parts) >= 3:
        return [(part.label, part.x_mm, part.y_mm) for part in parts]
    return [(f"C{number}", x, y) for number, (x, y) in enumerate(drawing.outline, 1)]


def screws_of(machine: Machine) -> list[dict[str, Any]]:
    """Jackscrews with pitch and the gap at the nearest surveyed point; None where it is not known."""
    plate, foundation = baseplate_of(machine), foundation_of(machine)
    if plate is None or foundation is None:
        return []
    survey = [(point.x_mm, point.y_mm, point.elevation_mm) for point in foundation.survey_points.all()]

    def gap_mm(x_mm: float, y_mm: float) -> float | None:
        if not survey:
            return None
        nearest = min(survey, key=lambda point: math.dist(point[:2], (x_mm, y_mm)))
        return plate.underside_elevation_mm - nearest[2]

    return [
        {
            "name": part.label,
            "x_mm": part.x_mm,
            "y_mm": part.y_mm,
            "pitch_mm": part.pitch_mm,
            "gap_mm": gap_mm(part.x_mm, part.y_mm),
        }
        for part in parts_of(plate.parts.all(), PartKind.JACKSCREW)
    ]


def feet_of(drawing: MachineDrawing) -> dict[str, list[Point]]:
    """The outline of each mounting pad: no hollow place may lie under a machine foot."""
    return {f"pad {pad.label}": _rectangle(pad) for pad in drawing.pads}


def tap_points(drawing: MachineDrawing, spacing_mm: float) -> list[dict[str, Any]]:
    """The tap grid: in each compartment a square grid, centred, from its upper left corner row by row."""
    points = [point for region in drawing.compartments for point in _grid(region.name, region.outline, spacing_mm)]
    if len(points) > MOST_TAPS:
        reason = f"{len(points)} taps at {spacing_mm:g} mm; up to {MOST_TAPS} fit one survey, choose a wider grid"
        raise Unusable("tap grid", reason, source="GROUTJOBS")
    return points


def bolts_of(machine: Machine) -> list[dict[str, Any]]:
    """The anchor bolts as entered."""
    foundation = foundation_of(machine)
    return [
        {
            "label": bolt.label,
            "x_mm": bolt.x_mm,
            "y_mm": bolt.y_mm,
            "thread": bolt.thread,
            "grade": bolt.grade,
            "free_length_mm": bolt.free_length_mm,
        }
        for bolt in (foundation.bolts.all() if foundation else ())
    ]


def _rectangle(pad: Pad) -> list[Point]:
    half_x, half_y = pad.length_mm / 2.0, pad.width_mm / 2.0
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [(pad.x_mm + sx * half_x, pad.y_mm + sy * half_y) for sx, sy in signs]


def _grid(name: str, outline: tuple[Point, ...], spacing_mm: float) -> Iterator[dict[str, Any]]:
    xs = _lines([x for x, _ in outline], spacing_mm)
    ys = _lines([y for _, y in outline], spacing_mm)
    row_number = 0
    for y in reversed(ys):
        row = [x for x in xs if _inside(x, y, outline)]
        row_number += bool(row)
        for number, x in enumerate(row, 1):
            label = f"{name}{row_number}.{number}"
            yield {"name": label, "compartment": name, "row": row_number, "x_mm": x, "y_mm": y}


def _lines(values: list[float], spacing_mm: float) -> list[float]:
    """Evenly spaced lines over the span of the values, the same distance left at both ends."""
    low, high = min(values), max(values)
    count = max(1, math.ceil((high - low) / spacing_mm - 1e-9))
    first = (low + high - (count - 1) * spacing_mm) / 2.0
    return [round(first + number * spacing_mm, 1) for number in range(count)]


def _inside(x: float, y: float, outline: tuple[Point, ...]) -> bool:
    """Whether a ray to the right crosses the outline an odd number of times."""
    inside = False
    for (x1, y1), (x2, y2) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            inside = not inside
    return inside
