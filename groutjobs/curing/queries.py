"""Reads of the cure and its inspections that pages and the turnover share."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Max, Min, QuerySet, Subquery
from django.utils import timezone

from groutjobs import units
from groutjobs.curing import calc
from groutjobs.curing.calc import after
from groutjobs.curing.calc.inputs import bolts_inputs, level_inputs, sounding_inputs
from groutjobs.curing.models import CureInspection, CureReading, InspectionKind, Probe, ReadingImport
from groutjobs.curing.release_models import MilestoneRelease
from groutjobs.curing.watch_models import CureOutlook, WetEntry
from groutjobs.findings import Finding
from groutjobs.instruments.models import Instrument
from groutjobs.instruments.queries import instruments, past_due
from groutjobs.planning.models import GroutKind
from groutjobs.pours.models import Photo, PhotoOriginal, Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.weather.models import Forecast

BEFORE_POUR = dt.timedelta(days=7)
CLOCK_SLACK = dt.timedelta(minutes=5)


def pour_with_machine() -> QuerySet[Pour]:
    """Pours with plan, data sheet and all geometry of the machine: five queries for any number."""
    rows = pour_whole().select_related("plan__machine__foundation", "plan__machine__baseplate")
    return rows.prefetch_related(
        "plan__machine__foundation__survey_points",
        "plan__machine__foundation__bolts",
        "plan__machine__baseplate__compartments",
        "plan__machine__baseplate__parts",
    )


def reading_span(pour: Pour, now: dt.datetime) -> tuple[dt.datetime, dt.datetime]:
    """The times that a reading of this pour may carry: from a week before the first grout to now."""
    return (pour.poured_at or pour.opened_at) - BEFORE_POUR, now + CLOCK_SLACK


def readings_of(pour: Pour) -> dict[str, list[tuple[dt.datetime, float]]]:
    """Readings in use by probe, in the order of time; one query."""
    return readings_of_pour(pour.pk)


def readings_of_pour(pour_id: int) -> dict[str, list[tuple[dt.datetime, float]]]:
    """As readings_of, by the number of the pour. The order is that of the index, which alone is read."""
    found: dict[str, list[tuple[dt.datetime, float]]] = {probe: [] for probe in Probe.values}
    rows = CureReading.objects.in_use().filter(pour=pour_id).order_by("probe", "read_at")
    for probe, read_at, temp_c in rows.values_list("probe", "read_at", "temp_c"):
        found[probe].append((read_at, temp_c))
    return found


def cure_of(
    pour: Pour, *, at: dt.datetime | None = None, system: str = units.METRIC, for_page: bool = False
) -> dict[str, Any]:
    """State of the cure of a pour from pours.queries.pour_whole(), as plain JSON; three queries.

    What was worked out behind the page is used where it rests on the same readings and forecast. A page takes it also
    where newer ones wait to be worked out, and says so, instead of computing for long (`for_page`).

    Keys: started_at (None until the last batch is placed), basis ("grout", "air" or "none"), clock, strength, last,
    now, gaps, milestones (code, label, needed_h, source, state, reached_at, reached_surely_at, expected_at, ...),
    series and findings. A milestone counts as reached by reached_surely_at alone.
    """
    (forecast, worked_out), readings = _forecast_and_outlook(pour), readings_of(pour)
    outlook = stored_outlook(pour, readings, forecast, worked_out)
    if outlook is not None and not (for_page or outlook["is_current"]):
        outlook = None
    state = calc.cure_state(
        pour, readings, forecast, at=at or timezone.now(), system=system, outlook=outlook, wetting=wetting_of(pour)
    )
    told = None if outlook is None else {name: outlook[name] for name in ("computed_at", "is_current", "why_not")}
    return state | {"outlook": told}


def wetting_of(pour: Pour) -> list[tuple[str, dt.datetime]]:
    """The log of wetting of a cement grout, struck entries left out; no query for another grout."""
    if pour.plan.data_sheet.grout_system.kind != GroutKind.CEMENT:
        return []
    return list(WetEntry.objects.filter(pour=pour, struck_at=None).values_list("wetness", "at"))


def _forecast_and_outlook(pour: Pour) -> tuple[Forecast | None, dict[str, Any] | None]:
    """The newest forecast of the site and what was worked out behind the page last: one query where there is one."""
    kept = CureOutlook.objects.filter(pour=pour).values("result")[:1]
    site = pour.plan.machine.site_id
    row = Forecast.objects.filter(site=site).select_related("site").annotate(worked_out=Subquery(kept)).first()
    if row is None:
        return None, CureOutlook.objects.filter(pour=pour).values_list("result", flat=True).first()
    return row, row.worked_out


def stored_outlook(
    pour: Pour,
    readings: dict[str, list[tuple[dt.datetime, float]]],
    forecast: Forecast | None,
    row: dict[str, Any] | None,
) -> dict[str, Any] | None:
    """What was worked out behind the page last, and whether it rests on these readings and this forecast."""
    if not row or pour.placed_at is None:
        return None
    is_current = row["key"] == calc.outlook_key(readings, forecast, pour)
    return {**row, "is_current": is_current}


def imports_of(pour: Pour) -> QuerySet[ReadingImport]:
    """Files and single readings of a pour, newest first."""
    return ReadingImport.objects.filter(pour=pour).select_related("brought_by", "set_aside_by", "read_with")


@dataclass(frozen=True)
class ReadWith:
    """The instrument of one import, the days on which it was read, and what was wrong with its calibration then."""

    instrument: Instrument
    first_on: dt.date
    last_on: dt.date
    problem: str

    @property
    def days(self) -> str:
        return str(self.first_on) if self.first_on == self.last_on else f"{self.first_on} to {self.last_on}"


def read_with_of(pour: Pour, imports: Iterable[ReadingImport]) -> dict[int, ReadWith]:
    """By import, for those that name an instrument and have readings in use; no query where none names one."""
    named = {row.pk: row.read_with_id for row in imports if row.read_with_id is not None}
    if not named:
        return {}
    zone = pour.plan.machine.site.tz
    tools = {row.pk: row for row in instruments().filter(pk__in=set(named.values()))}
    rows = CureReading.objects.in_use().filter(brought_in__in=named).order_by().values_list("brought_in")
    found = {}
    for number, first_at, last_at in rows.annotate(Min("read_at"), Max("read_at")):
        tool, days = tools[named[number]], [at.astimezone(zone).date() for at in (first_at, last_at)]
        problem = next((words for day in reversed(days) if (words := past_due(tool, day))), "")
        found[number] = ReadWith(tool, days[0], days[1], problem)
    return found


def latest_readings(pour: Pour, count: int = 12) -> list[CureReading]:
    """The newest readings with who brought them."""
    rows = CureReading.objects.filter(pour=pour).select_related("brought_in__brought_by")
    return list(rows.order_by("-read_at", "probe")[:count])


def chain_of(pour: Pour) -> QuerySet[CureInspection]:
    """All inspections of a pour, the newest of each kind first; `replaced_by` is set where one no longer counts."""
    rows = CureInspection.objects.filter(pour=pour).select_related(
        "made_by", "made_with", "replaced_by", "pour__plan__machine__site"
    )
    rows = rows.prefetch_related("decisions__by")
    return rows.order_by("kind", "-pk")


def inspection_whole() -> QuerySet[CureInspection]:
    """Inspections with all that their page shows."""
    rows = CureInspection.objects.select_related(
        "pour__plan__machine__site", "made_by", "made_with", "replaces", "replaced_by"
    )
    return rows.prefetch_related("decisions__by")


def photos_of(row: CureInspection) -> list[Photo]:
    """Photographs that came with an inspection from a phone; those that are still on their way are left out."""
    if not row.photo_hashes:
        return []
    originals = PhotoOriginal.objects.filter(pour=row.pour_id, sha256__in=row.photo_hashes).select_related("photo")
    return [original.photo for original in originals]


def effective_inspections(pour: Pour) -> dict[str, CureInspection]:
    """Kind → the inspection that counts, with the decisions on it; a kind without one is absent. Two queries."""
    rows = CureInspection.objects.filter(pour=pour, replaced_by__isnull=True).select_related("made_by")
    rows = rows.prefetch_related("decisions__by")
    return {row.kind: row for row in rows}


def inspections_of(pour: Pour) -> dict[str, dict[str, Any]]:
    """Kind → the inspection that counts, as plain JSON for the turnover."""
    return {kind: inspection_json(row) for kind, row in effective_inspections(pour).items()}


def inspection_json(row: CureInspection) -> dict[str, Any]:
    """One inspection with inputs and result, as plain JSON."""
    return {
        "id": row.pk,
        "kind": row.kind,
        "kind_label": row.get_kind_display(),
        "made_at": row.made_at.isoformat(),
        "made_by": row.made_by.name,
        "made_by_id": row.made_by_id,
        "entered_at": row.entered_at.isoformat(),
        "instrument": row.instrument,
        "calibration_due_on": row.calibration_due_on.isoformat(),
        "inputs": row.inputs,
        "result": row.result,
        "verdict": row.standing_verdict.value,
        "verdict_label": str(row.standing_verdict.label),
        "remarks": row.remarks,
        "replaces": row.replaces_id,
    }


def worked_out(
    pour: Pour,
    kind: str,
    rows: dict[str, Any],
    *,
    made_at: dt.datetime,
    instrument: str,
    due_on: dt.date,
    before: CureInspection | None = None,
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Inputs and result of an inspection, as the preview shows them and the record keeps them.

    `before` is the inspection that this one replaces: what changed since then is part of the result. Raises OutOfRange
    or Unusable where the rows cannot be used.
    """
    if before is not None and kind in {InspectionKind.LEVEL, InspectionKind.SOUNDING}:
        rows = rows | {"before": _before(before)}
    more = calc.calibration_findings(instrument, due_on, made_at.astimezone(pour.plan.machine.site.tz).date())
    if kind in after.KINDS_AFTER:
        return _worked_out_after(pour, kind, rows, more)
    if kind == InspectionKind.LEVEL:
        inputs = level_inputs(pour, rows)
        result = calc.level_result(inputs)
    elif kind == InspectionKind.SOUNDING:
        inputs = sounding_inputs(pour, rows)
        result = calc.sounding_result(inputs)
    else:
        sounded = effective_inspections(pour).get(InspectionKind.SOUNDING)
        inputs = bolts_inputs(pour, rows, sounded.result["hollow_m2"] if sounded else 0.0)
        result = calc.bolts_result(inputs)
        cure = cure_of(pour)
        tension = [item for item in cure["milestones"] if item["code"] == "tension"]
        more += calc.too_early_findings(tension[0] if tension else None, made_at)
        more += after.release_findings(kind, released_codes(pour), cure)
    return inputs, calc.with_more(result, more)


def released_codes(pour: Pour) -> frozenset[str]:
    """Codes of the milestones that are released and not taken back; one query."""
    rows = MilestoneRelease.objects.filter(pour=pour, withdrawal=None)
    return frozenset(rows.values_list("milestone", flat=True))


def _worked_out_after(
    pour: Pour, kind: str, rows: dict[str, Any], more: list[Finding]
) -> tuple[dict[str, Any], dict[str, Any]]:
    cure, released = cure_of(pour), released_codes(pour)
    inputs = after.after_inputs(pour, kind, rows, effective_inspections(pour), cure, released)
    result = after.after_result(kind, inputs)
    return inputs, calc.with_more(result, [*more, *after.release_findings(kind, released, cure)])


def _before(row: CureInspection) -> dict[str, Any]:
    """What of the inspection before is compared with the one that replaces it."""
    head = {"id": row.pk, "made_at": row.made_at.isoformat()}
    if row.kind == InspectionKind.LEVEL:
        points = [
            {name: point[name] for name in ("label", "x_mm", "y_mm", "reading_mm")} for point in row.inputs["points"]
        ]
        return head | {"points": points, "resolution_mm": row.inputs["resolution_mm"]}
    voids = [{name: void[name] for name in ("compartment", "area_m2", "outlines")} for void in row.result["voids"]]
    return head | {"hollow_m2": row.result["hollow_m2"], "voids": voids}
