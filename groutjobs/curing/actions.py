"""Writes of the cure: readings one by one and from files, and the three inspections."""

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError
from django.utils import timezone

from groutjobs import units
from groutjobs.accounts.models import Role, User
from groutjobs.accounts.queries import holds
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.curing.calc import after
from groutjobs.curing.files import Reading
from groutjobs.curing.fresh import ask_outlook
from groutjobs.curing.logger_models import Logger
from groutjobs.curing.logger_queries import instrument_of
from groutjobs.curing.models import (
    Course,
    CureInspection,
    CureReading,
    InspectionDecision,
    InspectionKind,
    ReadingImport,
    Verdict,
)
from groutjobs.curing.queries import (
    CLOCK_SLACK,
    cure_of,
    effective_inspections,
    reading_span,
    released_codes,
    worked_out,
)
from groutjobs.errors import NotAllowed, Stale
from groutjobs.findings import Level
from groutjobs.instruments.models import Instrument
from groutjobs.pours.models import STATES_OPEN_FOR_READINGS, Pour, PourState

INSPECTORS = (Role.INSPECTOR, Role.ENGINEER, Role.CREW_LEAD)
STATES_WITH_GROUT_PLACED = frozenset({PourState.PLACED, PourState.SETTLED})
SAME_K = 0.005
SHOWN_CONFLICTS = 5
BATCH = 5000


@dataclass(frozen=True, kw_only=True)
class FromPhone:
    """How an inspection came from a phone: its id there, when it was entered, and what the phone said of itself."""

    op_id: UUID
    entered_at: dt.datetime
    how: dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class InspectionHead:
    """What every inspection states: when, with what, the verdict, and which earlier one it replaces and why."""

    made_at: dt.datetime
    instrument: str
    calibration_due_on: dt.date
    verdict: str
    remarks: str = ""
    replaces: CureInspection | None = None
    made_with: Instrument | None = None


@action
def add_reading(
    *,
    pour: Pour,
    probe: str,
    temp_c: float,
    read_at: dt.datetime,
    typed: str,
    by: User,
    read_with: Instrument | None = None,
) -> CureReading:
    """Keep one reading typed by hand."""
    _require_readings_open(pour)
    _require_in_span(pour, [read_at])
    known = CureReading.objects.in_use().filter(pour=pour, probe=probe, read_at=read_at).first()
    if known is not None:
        raise NotAllowed(
            f"A {probe} reading at this minute is on record: {known.typed or known.temp_c}. Nothing was added; "
            "write another time, or set the wrong reading aside first."
        )
    _require_of_site(pour, read_with)
    brought = ReadingImport.objects.create(pour=pour, row_count=1, new_count=1, brought_by=by, read_with=read_with)
    reading = CureReading.objects.create(
        pour=pour, brought_in=brought, probe=probe, read_at=read_at, temp_c=temp_c, typed=typed[:30]
    )
    values = {"probe": probe, "read_at": read_at, "temp_c": temp_c, "typed": typed}
    record(brought, by=by, kind="reading.added", extra=values)
    ask_outlook(pour.pk, f"a {probe} reading by hand")
    return reading


@action
def import_readings(
    *,
    pour: Pour,
    readings: Sequence[Reading],
    content: bytes,
    file_name: str,
    by: User,
    logger: Logger | None = None,
    read_with: Instrument | None = None,
) -> ReadingImport:
    """Keep the readings of a file and the file itself. Readings that are on record already are not doubled.

    Without an instrument named, the logger itself counts as one where the list of instruments has its serial number.
    """
    _require_readings_open(pour)
    _require_of_site(pour, read_with)
    _require_in_span(pour, [reading.read_at for reading in readings])
    known = _on_record(pour, readings)
    _require_no_conflict(readings, known)
    brought = ReadingImport.objects.create(
        pour=pour,
        file_name=Path(file_name).name[:120] or "readings.csv",
        file_sha256=_kept(content),
        row_count=len(readings),
        brought_by=by,
        logger_name="" if logger is None else str(logger)[:130],
        logger_id=None if logger is None else logger.pk,
        read_with=read_with or (None if logger is None else instrument_of(logger)),
    )
    CureReading.objects.bulk_create(
        (
            CureReading(
                pour=pour,
                brought_in=brought,
                probe=reading.probe,
                read_at=reading.read_at,
                temp_c=reading.temp_c,
                typed=reading.typed,
            )
            for reading in readings
            if (reading.probe, reading.read_at) not in known
        ),
        batch_size=BATCH,
        ignore_conflicts=True,
    )
    brought.new_count = brought.readings.count()
    brought.save(update_fields=["new_count"])
    record(brought, by=by, kind="readings.imported")
    if brought.new_count:
        ask_outlook(pour.pk, f"{brought.new_count} readings of {brought}")
    return brought


@action
def set_aside_readings(*, brought_in: ReadingImport, why: str, by: User) -> ReadingImport:
    """Take the readings of one file, or one reading, out of the clock. They stay on record, with the reason."""
    if brought_in.set_aside_at is not None:
        raise NotAllowed("These readings were set aside before; nothing was changed.")
    if not why.strip():
        raise NotAllowed("Say why the readings are set aside; the reason stays on record.")
    before = snapshot(brought_in)
    brought_in.set_aside_by, brought_in.set_aside_at, brought_in.set_aside_why = by, timezone.now(), why.strip()
    brought_in.save(update_fields=["set_aside_by", "set_aside_at", "set_aside_why"])
    brought_in.readings.update(set_aside=True)
    record(brought_in, by=by, kind="readings.set_aside", before=before, reason=why.strip())
    ask_outlook(brought_in.pour_id, f"{brought_in} set aside: {why.strip()}")
    return brought_in


@action
def record_level(
    *, pour: Pour, head: InspectionHead, rows: dict[str, Any], by: User, phone: FromPhone | None = None
) -> CureInspection:
    """Keep a level survey. `rows` holds points (label, x_mm, y_mm, reading_mm), resolution_mm, occasion (a key of
    calc.OCCASIONS), tilt_limit_mm_m, coplanarity_limit_mm or None, and limit_source."""
    return _recorded(pour, InspectionKind.LEVEL, head, rows, by, phone)


@action
def record_sounding(
    *, pour: Pour, head: InspectionHead, rows: dict[str, Any], by: User, phone: FromPhone | None = None
) -> CureInspection:
    """Keep a sounding. `rows` holds spacing_mm, taps (name, compartment, row, x_mm, y_mm, sound), single_void_m2,
    total_ratio, limit_source, least_depth_mm and greatest_depth_mm."""
    _require_placed(pour, "The grout is sounded after it was placed and has cured.")
    return _recorded(pour, InspectionKind.SOUNDING, head, rows, by, phone)


@action
def record_bolts(
    *, pour: Pour, head: InspectionHead, rows: dict[str, Any], by: User, phone: FromPhone | None = None
) -> CureInspection:
    """Keep a bolt tightening. `rows` holds method ("torque" or "stretch"), values (label and torque_nm or stretch_mm),
    friction (a name of calc.friction_names()), target_mpa, target_source, passes and in_order."""
    _require_placed(pour, "Bolts are tensioned after the grout was placed and has cured.")
    return _recorded(pour, InspectionKind.BOLTS, head, rows, by, phone)


@action
def record_jackscrews(*, pour: Pour, head: InspectionHead, rows: dict[str, Any], by: User) -> CureInspection:
    """Keep the sheet of jackscrews. `rows` holds screws (name, x_mm, y_mm, state) and plug."""
    _require_placed(pour, "Jackscrews are backed out after the grout was placed and has cured.")
    if after.too_soon_to_strip(cure_of(pour), released_codes(pour), head.made_at):
        raise NotAllowed(
            "The grout had not surely reached the milestone for stripping, and no engineer released it: jackscrews "
            "stay in. Wait, or ask the engineer to release “take the jackscrews out” with a reason."
        )
    return _recorded(pour, InspectionKind.JACKSCREWS, head, rows, by, None)


@action
def record_joints(*, pour: Pour, head: InspectionHead, rows: dict[str, Any], by: User) -> CureInspection:
    """Keep the look at joints and edges. `rows` holds edges, cracks (place, width_mm, length_mm), crack_limit_mm or
    None and crack_source."""
    _require_placed(pour, "Joints and edges are looked at after the grout was placed and stripped.")
    return _recorded(pour, InspectionKind.JOINTS, head, rows, by, None)


@action
def record_soft_foot(*, pour: Pour, head: InspectionHead, rows: dict[str, Any], by: User) -> CureInspection:
    """Keep soft foot readings. `rows` holds feet (label, x_mm, y_mm, before_mm, after_mm), limit_mm, limit_source."""
    _require_placed(pour, "Soft foot is read after the grout was placed and has cured.")
    return _recorded(pour, InspectionKind.SOFT_FOOT, head, rows, by, None)


@action
def record_handover(*, pour: Pour, head: InspectionHead, rows: dict[str, Any], by: User) -> CureInspection:
    """Keep the sheet for the alignment crew. `rows` holds accepted_on, thermal and received_by."""
    _require_placed(pour, "The machine is handed over after the grout was placed and has cured.")
    return _recorded(pour, InspectionKind.HANDOVER, head, rows, by, None)


def _recorded(
    pour: Pour,
    kind: InspectionKind,
    head: InspectionHead,
    rows: dict[str, Any],
    by: User,
    phone: FromPhone | None,
) -> CureInspection:
    _require_chain(pour, kind, head)
    if head.made_at > timezone.now() + CLOCK_SLACK:
        raise NotAllowed("The inspection lies in the future; write when it was made.")
    inputs, result = worked_out(
        pour,
        kind,
        rows,
        made_at=head.made_at,
        instrument=head.instrument,
        due_on=head.calibration_due_on,
        before=head.replaces,
    )
    blocked = any(item["level"] == Level.BLOCKER for item in result["findings"])
    if blocked and head.verdict == Verdict.ACCEPTED and not head.remarks.strip():
        raise NotAllowed("Something stands in the way. To accept it all the same, say in the remarks on what grounds.")
    row = CureInspection(
        pour=pour,
        kind=kind,
        made_at=head.made_at,
        made_by=by,
        instrument=head.instrument,
        calibration_due_on=head.calibration_due_on,
        made_with=head.made_with,
        inputs=inputs,
        result=result,
        verdict=head.verdict,
        remarks=head.remarks.strip(),
        replaces=head.replaces,
        **({"op_id": phone.op_id, "entered_at": phone.entered_at, "sent": phone.how} if phone else {}),
    )
    try:
        row.save(force_insert=True)
    except IntegrityError as error:
        raise Stale("Somebody recorded this inspection at the same moment. Read it first, then replace it.") from error
    record(row, by=by, kind="inspection.recorded", reason=row.remarks if head.replaces else "")
    return row


@action
def judge_inspection(
    *, inspection: CureInspection, verdict: str, grounds: str, by: User, course: str = ""
) -> InspectionDecision:
    """Keep a verdict that was given after the inspection, and for a sounding what becomes of its hollow places."""
    if effective_inspections(inspection.pour)[inspection.kind].pk != inspection.pk:
        raise Stale("A newer inspection took the place of this one. Judge that one.")
    if not grounds.strip():
        raise NotAllowed("Grounds are empty; say on what the verdict rests.")
    _require_course(inspection, verdict, course, by)
    decision = InspectionDecision.objects.create(
        inspection=inspection,
        verdict=verdict,
        course=course,
        grounds=grounds.strip(),
        plan=inspection.result.get("injection", {}) if course == Course.INJECT else {},
        by=by,
    )
    record(decision, by=by, kind="inspection.judged", reason=decision.grounds)
    return decision


def _require_course(inspection: CureInspection, verdict: str, course: str, by: User) -> None:
    """Hollow places are decided about by an engineer; what is to be injected or redone is not accepted yet."""
    is_hollow = inspection.kind == InspectionKind.SOUNDING and inspection.result["hollow_m2"] > 0
    if not is_hollow:
        if course:
            raise NotAllowed("There is no hollow place to decide about.")
        return
    if not holds(by, inspection.pour.plan.machine.site_id, (Role.ENGINEER,)):
        raise NotAllowed("Hollow places were found: an engineer decides whether to leave, inject or redo them.")
    if not course:
        raise NotAllowed("Hollow places were found: say whether to leave, inject or redo them.")
    if course != Course.LEAVE and verdict == Verdict.ACCEPTED:
        raise NotAllowed("What is injected or grouted again is accepted by the sounding after it, not by this one.")


def _require_chain(pour: Pour, kind: InspectionKind, head: InspectionHead) -> None:
    counts = effective_inspections(pour).get(kind)
    if counts is None and head.replaces is None:
        return
    if counts is None or head.replaces is None or counts.pk != head.replaces.pk:
        raise Stale(
            f"Another {kind.label.lower()} was recorded since this page was read. Read it first, then replace it."
        )
    if not head.remarks.strip():
        raise NotAllowed("This inspection replaces an earlier one: say why in the remarks.")


def _require_readings_open(pour: Pour) -> None:
    if pour.state not in STATES_OPEN_FOR_READINGS:
        raise NotAllowed("Cure readings are taken from the first grout placed on. Log the pour first.")


def _require_of_site(pour: Pour, instrument: Instrument | None) -> None:
    if instrument is not None and instrument.site_id != pour.plan.machine.site_id:
        raise NotAllowed(f"{instrument} is on the list of another site; pick one of this site.")


def _require_placed(pour: Pour, words: str) -> None:
    if pour.state not in STATES_WITH_GROUT_PLACED:
        raise NotAllowed(f"{words} Declare the pour complete in its log first.")


def _require_in_span(pour: Pour, moments: Sequence[dt.datetime]) -> None:
    earliest, latest = reading_span(pour, timezone.now())
    if min(moments) < earliest or max(moments) > latest:
        span = " to ".join(moment.isoformat(sep=" ", timespec="minutes") for moment in (earliest, latest))
        raise NotAllowed(f"A reading lies outside {span}, the times that are taken for this pour.")


def _on_record(pour: Pour, readings: Sequence[Reading]) -> dict[tuple[str, dt.datetime], float]:
    """Temperatures on record in the time of these readings, by probe and moment."""
    moments = [reading.read_at for reading in readings]
    rows = CureReading.objects.in_use().filter(pour=pour, read_at__range=(min(moments), max(moments)))
    return {(probe, at): temp_c for probe, at, temp_c in rows.values_list("probe", "read_at", "temp_c").iterator(BATCH)}


def _require_no_conflict(readings: Sequence[Reading], known: dict[tuple[str, dt.datetime], float]) -> None:
    """A file that says otherwise than the record is not half taken: the rows are named."""
    against = [
        f"row {reading.row} ({reading.probe}): the file says {reading.typed}, on record is {units.shown(temp_c, 'c')}"
        for reading in readings
        if (temp_c := known.get((reading.probe, reading.read_at))) is not None
        and not -SAME_K <= temp_c - reading.temp_c <= SAME_K
    ]
    if against:
        more = f"; and {len(against) - SHOWN_CONFLICTS} more" if len(against) > SHOWN_CONFLICTS else ""
        raise NotAllowed(
            f"The file contradicts readings on record, {'; '.join(against[:SHOWN_CONFLICTS])}{more}. Nothing was "
            "taken; set the wrong readings aside first, or correct the file."
        )


def _kept(content: bytes) -> str:
    """Store the file under its hash, which is returned."""
    digest = hashlib.sha256(content).hexdigest()
    path = file_path(digest)
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = path.with_suffix(f".{timezone.now().timestamp():.6f}")
        unfinished.write_bytes(content)
        unfinished.replace(path)
    return digest


def file_path(digest: str) -> Path:
    """Where a file of readings is kept."""
    return Path(settings.MEDIA_ROOT) / "readings" / f"{digest}.csv"
