"""The manifest: every fact that a turnover report shows, frozen as plain JSON, so that the report needs nothing else.

Quantities are SI under names with unit suffixes, moments are ISO 8601 in UTC, days are ISO 8601 days.
"""

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from django.conf import settings

from groutjobs.audit.anchors import anchor_words, latest_anchor
from groutjobs.audit.models import Head
from groutjobs.curing.models import CureInspection, ReadingImport
from groutjobs.curing.queries import ReadWith
from groutjobs.curing.watch_models import ReadingAside
from groutjobs.findings import Finding
from groutjobs.pours.log import Batch
from groutjobs.pours.queries import pour_whole
from groutjobs.signing.queries import record_json
from groutjobs.sources import sources
from groutjobs.turnover import verify_report
from groutjobs.turnover.after_part import after_part
from groutjobs.turnover.gathering import Gathered, gather
from groutjobs.turnover.models import TurnoverReport
from groutjobs.turnover.people import people_json
from groutjobs.turnover.plain import columns, jsonable
from groutjobs.turnover.queries import in_force
from groutjobs.turnover.trail import trail_json

SCHEMA = "groutjobs turnover record 2"
TEMPLATE_VERSION = "2"
NOT_SEARCHED = frozenset(
    {"readings", "trail", "drawing", "sources", "series", "timetable", "result_hash", "id", "verify"}
)
LONGEST_TEXT = 2000
MOST_SEARCH_LETTERS = 60_000
CAUTION_KEYS = frozenset({"CFR1910.1200", "CFR1926.1153", "CFR1910.147", "PRACTICE", "RCRA"})


def build_manifest(
    *, report: TurnoverReport, findings: Sequence[Finding], deviations: Sequence[dict[str, Any]]
) -> dict[str, Any]:
    """All facts of the pour of this report as they stand now."""
    job = gather(pour_whole().get(pk=report.pour_id), system=report.frozen_by.unit_system)
    head = Head.objects.get(pk=1)
    manifest: dict[str, Any] = {
        "schema": SCHEMA,
        "template": TEMPLATE_VERSION,
        "engine_version": job.standing.cure["engine_version"],
        "report": _report(report),
        "record": {"seq": head.seq, "event_hash": head.event_hash, "anchor": _anchor()},
        "verify": verify_part(),
        **_machine_part(job),
        **_plan_part(job),
        **_weather_part(job),
        **_pour_part(job),
        "pour_record": record_json(job.standing.pour),
        "cure": jsonable(job.standing.cure),
        "readings": jsonable(job.readings),
        "reading_imports": [_reading_import(row, job.standing.read_with.get(row.pk)) for row in job.reading_imports],
        "readings_aside": [_reading_aside(row) for row in job.readings_aside],
        "inspections": [_inspection(row) for row in job.standing.inspections],
        **after_part(job.standing),
        "findings": [finding.as_json() for finding in findings],
        "deviations": jsonable(deviations),
        "trail": trail_json(report.pour),
    }
    manifest["people"] = people_json(job, frozen_by_id=report.frozen_by_id)
    manifest["sources"] = _sources(manifest)
    return manifest


def _anchor() -> str:
    """The short form of the last anchor: size of the record's tree and the beginning of its root."""
    anchor = latest_anchor()
    return anchor_words(anchor) if anchor else ""


def verify_part() -> dict[str, str]:
    """Where and with what the report can be checked, as it was on the day of the freeze."""
    script = Path(verify_report.__file__).read_bytes()
    return {
        "address": settings.SITE_ADDRESS,
        "script": "verify_report.py",
        "script_sha256": hashlib.sha256(script).hexdigest(),
    }


def _report(report: TurnoverReport) -> dict[str, Any]:
    standing = in_force(report.pour)
    return {
        "number": report.number,
        "revision": report.revision,
        "frozen_at": jsonable(report.frozen_at),
        "frozen_by_id": report.frozen_by_id,
        "frozen_by": report.frozen_by.name,
        "unit_system": report.frozen_by.unit_system,
        "replaces_revision": standing.revision if standing else None,
        "revises_because": report.revises_because,
    }


def _machine_part(job: Gathered) -> dict[str, Any]:
    machine, foundation, plate = job.plan.machine, job.plan.machine.foundation, job.plan.machine.baseplate
    return {
        "site": columns(machine.site) | {"zone": machine.site.zone},
        "machine": columns(machine)
        | {"kind_words": machine.get_kind_display(), "level_words": machine.get_level_class_display()},
        "foundation": columns(foundation) | {"exposure_words": foundation.get_exposure_display()},
        "survey_points": [columns(point) for point in foundation.survey_points.all()],
        "bolts": [columns(bolt) for bolt in foundation.bolts.all()],
        "plate": columns(plate),
        "compartments": [columns(row) for row in plate.compartments.all()],
        "parts": [columns(part) | {"kind_words": part.get_kind_display()} for part in plate.parts.all()],
        "drawing": job.drawing.as_json(),
    }


def _plan_part(job: Gathered) -> dict[str, Any]:
    plan, sheet = job.plan, job.plan.data_sheet
    return {
        "plan": columns(plan)
        | {
            "made_by": plan.made_by.name,
            "approved_by": plan.approved_by.name if plan.approved_by else None,
            "state_words": plan.get_state_display(),
        },
        "grout": columns(sheet.grout_system) | {"kind_words": sheet.grout_system.get_kind_display()},
        "data_sheet": columns(sheet),
        "lots": [columns(lot) | {"is_planned": lot.pk == plan.lot_id} for lot in job.lots],
    }


def _weather_part(job: Gathered) -> dict[str, Any]:
    hours, chosen = job.pour_hours, job.scheduled
    return {
        "pour_hours": columns(hours) | {"made_by": hours.made_by.name} if hours else None,
        "forecast": columns(hours.forecast) | {"source_words": hours.forecast.get_source_display()} if hours else None,
        "scheduled": (
            columns(chosen)
            | {"chosen_by": chosen.chosen_by.name, "outage": chosen.outage.name if chosen.outage else None}
            if chosen
            else None
        ),
    }


def _pour_part(job: Gathered) -> dict[str, Any]:
    log, pour = job.standing.log, job.standing.pour
    captions = _captions(job)
    return {
        "pour": columns(pour) | {"opened_by": pour.opened_by.name, "state_words": pour.get_state_display()},
        "log": jsonable(log)
        | {
            "placed_l": log.placed_l,
            "kits_used": log.kits_used,
            "batches": [_batch(batch) for batch in log.batches],
            "fills": [jsonable(fill) | {"missing_l": fill.missing_l} for fill in log.fills],
            "points": [
                jsonable(point) | {"is_closed": point.is_closed, "what_is_open": point.what_is_open}
                for point in log.points
            ],
            "lines": [
                jsonable(line)
                | {"is_struck": line.is_struck, "late_min": line.fact.late_min, "late_h": line.fact.late_min / 60}
                for line in log.lines
            ],
        },
        "photos": [
            columns(photo) | {"added_by": photo.added_by.name, "caption": captions.get(photo.pk, "Shown by no entry")}
            for photo in job.standing.photos
        ],
    }


def _batch(batch: Batch) -> dict[str, Any]:
    used_min = (batch.placed_at - batch.clock_from).total_seconds() / 60 if batch.placed_at else None
    row: dict[str, Any] = jsonable(batch)
    return row | {
        "placed_l": batch.placed_l,
        "placed_at": jsonable(batch.placed_at),
        "ends_at": jsonable(batch.ends_at),
        "used_min": used_min,
    }


def _captions(job: Gathered) -> dict[int, str]:
    """What each photo shows: the entry that names it, with the hold point where it answers one."""
    steps = {
        str(answer.entry_id): f"{point.position}. {point.step}"
        for point in job.standing.log.points
        for answer in point.answers
    }
    found: dict[int, str] = {}
    for line in job.standing.log.lines:
        words = steps.get(str(line.fact.id), line.title)
        for photo_id in line.photos:
            found.setdefault(photo_id, words + (" (entry replaced later)" if line.is_struck else ""))
    return found


def _inspection(row: CureInspection) -> dict[str, Any]:
    return columns(row) | {
        "made_by": row.made_by.name,
        "kind_words": row.get_kind_display(),
        "verdict": row.standing_verdict.value,
        "verdict_words": str(row.standing_verdict.label),
        "decisions": [
            columns(one)
            | {"by": one.by.name, "verdict_words": one.get_verdict_display(), "course_words": one.get_course_display()}
            for one in row.decisions.all()
        ],
    }


def _reading_import(row: ReadingImport, used: ReadWith | None) -> dict[str, Any]:
    tool = {"read_with": str(used.instrument), "calibration_problem": used.problem} if used else {}
    return columns(row) | {"brought_by": row.brought_by.name} | tool


def _reading_aside(row: ReadingAside) -> dict[str, Any]:
    return columns(row) | {
        "probe_words": row.get_probe_display(),
        "set_by": row.set_by.name,
        "back_by": row.back_by.name if row.back_by else None,
    }


def _sources(manifest: dict[str, Any]) -> list[dict[str, str]]:
    """The bibliography of this report: every source key that the manifest names and the program knows."""
    named = CAUTION_KEYS | set(_keys(manifest))
    return [
        {"key": source.key, "reference": source.reference, "known_by": source.known_by}
        for source in sources().values()
        if source.key in named
    ]


def _keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for name, item in value.items():
            if name in {"source", "sources"} or name.endswith("_source"):
                texts = item if isinstance(item, list) else [item]
                for text in texts:
                    yield from (part.split()[0] for part in str(text or "").split(",") if part.split())
            yield from _keys(item)
    elif isinstance(value, list):
        for item in value:
            yield from _keys(item)


def key_facts(manifest: dict[str, Any]) -> dict[str, Any]:
    """What the register shows of a report without opening it."""
    log = manifest["log"]
    return {
        "grout": manifest["grout"]["name"],
        "lots": sorted({batch["lot"] for batch in log["batches"] if batch["lot"]}),
        "poured_at": log["poured_at"],
        "placed_l": log["placed_l"],
        "net_l": log["net_l"],
        "deviations": len(manifest["deviations"]),
        "corrections": sum(1 for line in log["lines"] if line["is_struck"]),
        "open_nonconformances": sum(1 for row in manifest.get("nonconformances", ()) if not row.get("closed_at")),
    }


def words_to_search(manifest: dict[str, Any]) -> str:
    """One text in small letters with all that the register is searched for: names first, then every word once."""
    lots = {batch["lot"] for batch in manifest["log"]["batches"] if batch["lot"]}
    names = [
        manifest["report"]["number"],
        manifest["machine"]["tag"],
        manifest["machine"]["service"],
        manifest["site"]["name"],
        manifest["site"]["owner"],
        manifest["grout"]["name"],
        *sorted(lots | {lot["lot_no"] for lot in manifest["lots"]}),
        *(person["name"] for person in manifest["people"]),
    ]
    head = " | ".join(names).casefold()
    words = {word for text in _texts(manifest) for word in text.casefold().split() if word not in head}
    return f"{head} | {' '.join(sorted(words))}"[:MOST_SEARCH_LETTERS]


def _texts(value: Any, name: str = "") -> Iterator[str]:
    """Every text of the manifest that a person wrote or reads; hashes, keys and moments are left out."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from () if key in NOT_SEARCHED or key.endswith(("_at", "_sha256", "_hash")) else _texts(item, key)
    elif isinstance(value, list):
        for item in value:
            yield from _texts(item, name)
    elif isinstance(value, str) and len(value) < LONGEST_TEXT:
        yield value
