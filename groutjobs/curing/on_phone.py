"""What a phone needs to inspect without signal: points, taps, bolts and targets, all worked out here."""

import datetime as dt
from itertools import groupby
from typing import Any

from django.db.models import prefetch_related_objects
from django.utils import timezone

from groutjobs import units
from groutjobs.curing import calc
from groutjobs.curing.actions import INSPECTORS, STATES_WITH_GROUT_PLACED
from groutjobs.curing.models import CureInspection, InspectionKind
from groutjobs.curing.op_bodies import NO_PLACE
from groutjobs.equipment.geometry import MachineDrawing, drawing_of
from groutjobs.equipment.tolerances import tolerance_of
from groutjobs.errors import Unusable
from groutjobs.instruments.models import Instrument, InstrumentKind
from groutjobs.instruments.queries import instruments_in_use
from groutjobs.pours import told as pours_told
from groutjobs.pours.models import Pour

TOOLS_OF = {
    InspectionKind.LEVEL: {InstrumentKind.LEVEL, InstrumentKind.INDICATOR, InstrumentKind.OTHER},
    InspectionKind.SOUNDING: {InstrumentKind.HAMMER, InstrumentKind.OTHER},
    InspectionKind.BOLTS: {InstrumentKind.WRENCH, InstrumentKind.STRETCH, InstrumentKind.OTHER},
}
"""Which instruments a phone offers for which inspection; another can always be written."""


def told(pour: Pour) -> dict[str, Any]:
    """The part “inspections” of the snapshot of a pour."""
    prefetch_related_objects([pour], "plan__machine__foundation__bolts")
    drawing = drawing_of(pour.plan.machine)
    rows = CureInspection.objects.filter(pour=pour, replaced_by__isnull=True).select_related("made_by")
    counts = {row.kind: row for row in rows.defer("inputs", "result")}
    tools = _tools(pour)
    return {
        "inspectors": [str(role.label) for role in INSPECTORS],
        "is_placed": pour.state in STATES_WITH_GROUT_PLACED,
        "drawing": _drawing(drawing),
        **{
            kind.value: section | {"counts": _counts(counts.get(kind)), "tools": tools[kind]}
            for kind, section in (
                (InspectionKind.LEVEL, _level(pour, drawing)),
                (InspectionKind.SOUNDING, _sounding(drawing)),
                (InspectionKind.BOLTS, _bolts(pour)),
            )
        },
    }


def _tools(pour: Pour) -> dict[InspectionKind, list[list[str]]]:
    """Name, due date or "", and "yes" where a calibration is needed, of the instruments in use of the site."""
    site = pour.plan.machine.site
    today = timezone.now().astimezone(site.tz).date()
    rows = list(instruments_in_use(site))
    return {kind: [_tool(row, today) for row in rows if row.kind in kinds] for kind, kinds in TOOLS_OF.items()}


def _tool(row: Instrument, today: dt.date) -> list[str]:
    found = row.calibration_on(today)
    needed = "yes" if row.needs_calibration else ""
    return [str(row)[:80], found.due_on.isoformat() if found else "", needed]


def _counts(row: CureInspection | None) -> dict[str, Any] | None:
    """The inspection that counts at the server, as far as a phone names it."""
    if row is None:
        return None
    return {
        "id": row.pk,
        "op_id": str(row.op_id) if row.op_id else None,
        "made_at": row.made_at.isoformat(),
        "made_by": row.made_by.name,
        "instrument": row.instrument,
        "calibration_due_on": row.calibration_due_on.isoformat(),
    }


def _drawing(drawing: MachineDrawing) -> dict[str, Any]:
    return {
        "outline": [list(point) for point in drawing.outline],
        "compartments": [
            {"name": region.name, "outline": [list(point) for point in region.outline]}
            for region in drawing.compartments
        ],
        "pads": [[pad.label, pad.x_mm, pad.y_mm, pad.length_mm, pad.width_mm] for pad in drawing.pads],
        "bolts": [[bolt.label, bolt.x_mm, bolt.y_mm] for bolt in drawing.bolts],
    }


def _level(pour: Pour, drawing: MachineDrawing) -> dict[str, Any]:
    return {
        "points": [list(point) for point in calc.level_points(drawing)],
        "occasions": [list(pair) for pair in calc.OCCASIONS.items()],
        "limit": tolerance_of(pour.plan.machine.level_class).sentence,
        "resolution": pours_told.number("resolution_mm", "Smallest step that the instrument shows", "resolution_mm"),
        "reading": pours_told.number("reading_mm", "Reading", "level_reading_mm", required=False),
    }


def _sounding(drawing: MachineDrawing) -> dict[str, Any]:
    limits = calc.SOUNDING_DEFAULTS
    return {
        "grids": [grid for spacing_mm in calc.SPACINGS_MM if (grid := _grid(drawing, spacing_mm))],
        "single_void": [units.shown(limits.single_void_m2, "m2", system, decimals=3) for system in ("metric", "us")],
        "total": f"{limits.total_share:.0%}",
        "source": limits.source,
        "spot": [
            pours_told.number("x_mm", "x, along the length of the block", "plan_mm"),
            pours_told.number("y_mm", "y, along its width", "plan_mm"),
        ],
    }


def _grid(drawing: MachineDrawing, spacing_mm: float) -> dict[str, Any] | None:
    """The rows of a grid: name, y, x of the first place, and a sign for each place, "." where there is none."""
    try:
        taps = calc.tap_points(drawing, spacing_mm)
    except Unusable:
        return None
    rows = []
    for (compartment, number), group in groupby(taps, key=lambda tap: (tap["compartment"], tap["row"])):
        row = list(group)
        first_mm = row[0]["x_mm"]
        columns = {round((tap["x_mm"] - first_mm) / spacing_mm) for tap in row}
        signs = "".join("n" if column in columns else NO_PLACE for column in range(max(columns) + 1))
        rows.append([f"{compartment}{number}", row[0]["y_mm"], first_mm, signs])
    return {"spacing_mm": spacing_mm, "rows": rows} if rows else None


def _bolts(pour: Pour) -> dict[str, Any]:
    bolts = calc.bolts_of(pour.plan.machine)
    target_mpa, source = calc.default_target(bolts)
    targets = {name: calc.bolt_targets(bolts, name, target_mpa) for name in calc.friction_names()}
    first = next(iter(targets.values()))
    return {
        "bolts": [
            {"label": row["label"], "thread": row["thread"], "turn": row["turn"], "problem": row["problem"]}
            for row in sorted(first, key=lambda row: row["turn"] or 0)
        ],
        "targets": {
            name: {row["label"]: [row["torque_nm"], row["stretch_mm"]] for row in rows}
            for name, rows in targets.items()
        },
        "shares": [one["share_ratio"] for one in calc.passes_of(1.0)],
        "stress": f"{units.shown(target_mpa, 'mpa')} on the stress area [{source}]",
        "torque": pours_told.number("torque_nm", "Torque", "torque_nm"),
        "stretch": pours_told.number("stretch_mm", "Stretch", "stretch_mm"),
        "caution": calc.BOLT_TENSION_CAUTION,
    }
