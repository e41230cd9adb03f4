"""Writes of a cure that is watched: spans of readings set aside and taken back, the log of wetting, kept heatings."""

import datetime as dt
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.curing.fresh import ask_outlook
from groutjobs.curing.models import CureReading, Probe
from groutjobs.curing.queries import CLOCK_SLACK
from groutjobs.curing.watch_models import KeptHeating, ReadingAside, WetEntry, Wetness
from groutjobs.errors import NotAllowed
from groutjobs.planning.models import GroutKind
from groutjobs.pours.models import Pour


@action
def set_span_aside(
    *, pour: Pour, probe: str, from_at: dt.datetime, until_at: dt.datetime, why: str, by: User
) -> ReadingAside:
    """Take the readings of one probe over a span out of the clock. They stay on record, with the reason."""
    if until_at < from_at:
        raise NotAllowed("The span ends before it begins; write the earlier time first.")
    if not why.strip():
        raise NotAllowed("Say why the readings are set aside; the reason stays on record.")
    rows = CureReading.objects.in_use().filter(pour=pour, probe=probe, read_at__range=(from_at, until_at))
    count = rows.count()
    if not count:
        raise NotAllowed(f"No {Probe(probe).label.lower()} reading in use lies in this span; nothing was changed.")
    span = ReadingAside.objects.create(
        pour=pour, probe=probe, from_at=from_at, until_at=until_at, why=why.strip(), reading_count=count, set_by=by
    )
    rows.update(set_aside=True, aside_id=span.pk)
    record(span, by=by, kind="readings.span_aside", reason=why.strip())
    ask_outlook(pour.pk, f"{count} {probe} readings set aside: {why.strip()}")
    return span


@action
def take_span_back(*, span: ReadingAside, why: str, by: User) -> ReadingAside:
    """Let the readings of a span count again. Where another reading took the place meanwhile, that one counts."""
    row = ReadingAside.objects.select_for_update().get(pk=span.pk)
    if row.back_at is not None:
        raise NotAllowed("These readings were taken back before; nothing was changed.")
    if not why.strip():
        raise NotAllowed("Say why the readings count again; the reason stays on record.")
    before = snapshot(row)
    taken = CureReading.objects.filter(
        pour=OuterRef("pour"), probe=OuterRef("probe"), read_at=OuterRef("read_at"), set_aside=False
    )
    mine = CureReading.objects.filter(pour=row.pour_id, aside_id=row.pk, set_aside=True)
    free = list(mine.exclude(Exists(taken)).values_list("pk", flat=True))
    row.kept_aside_count = mine.count() - len(free)
    CureReading.objects.filter(pk__in=free).update(set_aside=False, aside_id=None)
    row.back_by, row.back_at, row.back_why = by, timezone.now(), why.strip()
    row.save(update_fields=["back_by", "back_at", "back_why", "kept_aside_count"])
    record(row, by=by, kind="readings.span_back", before=before, reason=why.strip())
    ask_outlook(row.pour_id, f"{len(free)} {row.probe} readings taken back: {why.strip()}")
    return row


@action
def log_wetness(*, pour: Pour, wetness: str, at: dt.datetime, note: str = "", by: User) -> WetEntry:
    """Note from when on the grout was wet, wet under a cover, or dry."""
    if pour.plan.data_sheet.grout_system.kind != GroutKind.CEMENT:
        raise NotAllowed("Only cement grout is kept wet; this pour is of another kind.")
    if pour.poured_at is None or at < pour.poured_at:
        raise NotAllowed("The moment lies before the first grout of this pour; write a later one.")
    if at > timezone.now() + CLOCK_SLACK:
        raise NotAllowed("The moment lies in the future; write when it was seen.")
    if WetEntry.objects.filter(pour=pour, at=at, struck_at=None).exists():
        raise NotAllowed("An entry of this minute is on record; write another time, or strike that entry first.")
    row = WetEntry.objects.create(pour=pour, wetness=Wetness(wetness), at=at, note=note.strip(), by=by)
    record(row, by=by, kind="wetting.logged")
    return row


@action
def strike_wetness(*, entry: WetEntry, why: str, by: User) -> WetEntry:
    """Strike a wrong entry of the log of wetting; it stays readable, with the reason."""
    row = WetEntry.objects.select_for_update().get(pk=entry.pk)
    if row.struck_at is not None:
        raise NotAllowed("This entry was struck before; nothing was changed.")
    if not why.strip():
        raise NotAllowed("Say why the entry is struck; the reason stays on record.")
    before = snapshot(row)
    row.struck_by, row.struck_at, row.struck_why = by, timezone.now(), why.strip()
    row.save(update_fields=["struck_by", "struck_at", "struck_why"])
    record(row, by=by, kind="wetting.struck", before=before, reason=why.strip())
    return row


@action
def keep_heating(*, pour: Pour, result: dict[str, Any], remarks: str, by: User) -> KeptHeating:
    """Keep a question of heat with its answer as they stand now."""
    row = KeptHeating.objects.create(
        pour=pour, question=result["question"], result=result, remarks=remarks.strip(), kept_by=by
    )
    record(row, by=by, kind="heating.kept")
    return row
