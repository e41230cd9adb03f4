"""Writes about loggers: what is remembered of them, where they stand, their keys, and what they send."""

import datetime as dt
import hashlib
import math
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils import timezone

from groutjobs import units
from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.curing.actions import BATCH, SAME_K
from groutjobs.curing.files import LIMIT_OF, UNIT_OF
from groutjobs.curing.fresh import ask_outlook
from groutjobs.curing.logger_models import Logger, LoggerBatch, LoggerKey, LoggerStand
from groutjobs.curing.logger_queries import instrument_of
from groutjobs.curing.models import CureReading, Probe, ReadingImport
from groutjobs.curing.queries import CLOCK_SLACK, reading_span
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed, Stale
from groutjobs.limits import LIMITS
from groutjobs.pours.models import STATES_OPEN_FOR_READINGS, Pour

KEY_HEAD = "gj_"
SHOWN_REFUSED = 1000


@action
def keep_logger(*, site: Site, by: User, logger: Logger | None = None, **columns: Any) -> Logger:
    """Remember a logger, or change what is remembered of it."""
    others = Logger.objects.filter(site=site, name__iexact=columns["name"])
    if others.exclude(pk=logger.pk if logger else 0).exists():
        raise NotAllowed(f"A logger named {columns['name']} is known at this site; give this one another name.")
    if logger is None:
        row = Logger.objects.create(site=site, made_by=by, **columns)
        record(row, by=by, kind="logger.added")
        return row
    before = snapshot(logger)
    for name, value in columns.items():
        setattr(logger, name, value)
    logger.save()
    record(logger, by=by, kind="logger.changed", before=before)
    return logger


@action
def place_logger(*, logger: Logger, pour: Pour | None, at: dt.datetime, by: User) -> LoggerStand | None:
    """From this moment on the logger stands at a pour, or at none. What it sends goes where it stood then."""
    if pour is not None and pour.owning_site_id() != logger.site_id:
        raise NotAllowed("The pour is at another site than the logger.")
    if at > timezone.now() + CLOCK_SLACK:
        raise NotAllowed("The moment lies in the future; write since when it has stood there.")
    open_one = LoggerStand.objects.select_for_update().filter(logger=logger, until_at=None).first()
    last = open_one or LoggerStand.objects.filter(logger=logger).order_by("-until_at").first()
    since = None if last is None else last.until_at or last.from_at
    if last is not None and since is not None and at < since:
        raise NotAllowed(f"It stood at {last.pour} until {since:%Y-%m-%d %H:%M} UTC; write a later moment.")
    if open_one is not None:
        before = snapshot(open_one)
        open_one.until_at = at
        open_one.save(update_fields=["until_at"])
        record(open_one, by=by, kind="logger.moved_away", before=before)
    if pour is None:
        if open_one is None:
            unchanged()
        return None
    row = LoggerStand.objects.create(logger=logger, pour=pour, from_at=at, set_by=by)
    record(row, by=by, kind="logger.placed")
    return row


@action
def make_key(*, logger: Logger, by: User) -> tuple[LoggerKey, str]:
    """A key of 256 bits with which the logger sends; returned once, kept as its hash."""
    key = KEY_HEAD + secrets.token_urlsafe(32)
    row = LoggerKey.objects.create(logger=logger, key_hash=hash_of_key(key), made_by=by)
    record(row, by=by, kind="logger.key_made")
    return row, key


@action
def revoke_key(*, key: LoggerKey, by: User) -> LoggerKey:
    """End a key. What was sent with it stays."""
    row = LoggerKey.objects.select_for_update().select_related("logger").get(pk=key.pk)
    if row.revoked_at is not None:
        unchanged()
        return row
    before = snapshot(row)
    row.revoked_at, row.revoked_by = timezone.now(), by
    row.save(update_fields=["revoked_at", "revoked_by"])
    record(row, by=by, kind="logger.key_revoked", before=before)
    return row


def hash_of_key(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


@dataclass(frozen=True)
class Sent:
    """One reading as a logger sent it, nothing of it checked."""

    channel: str | None
    at: str | None
    value: Any


class RowRefused(Exception):
    """Why one row is not stored, for programs and in words."""

    def __init__(self, code: str, words: str) -> None:
        self.code = code
        super().__init__(words)


@dataclass
class _Sorted:
    """The rows of a batch by pour, and those that are refused."""

    by_pour: dict[int, list[CureReading]] = field(default_factory=dict)
    pours: dict[int, Pour] = field(default_factory=dict)
    refused: list[dict[str, Any]] = field(default_factory=list)
    known: int = 0
    seen: dict[tuple[int, str, dt.datetime], float] = field(default_factory=dict)


@action
def take_batch(*, key: LoggerKey, batch_id: str, body_sha256: str, rows: Sequence[Sent]) -> tuple[dict[str, Any], bool]:
    """Store what can be stored of a batch and refuse the rest row by row; the answer, and whether it is a repeat.

    The same id with the same bytes gets the same answer again; with other bytes it is refused.
    """
    logger = Logger.objects.select_for_update().get(pk=key.logger_id)
    known = LoggerBatch.objects.filter(logger=logger, batch_id=batch_id).first()
    if known is not None:
        unchanged()
        if known.body_sha256 != body_sha256:
            raise Stale("this batch_id came before with other content; give each batch an id of its own")
        return dict(known.answer), True
    found = _sorted(logger, rows)
    stored = sum(_store(key, logger, found, pour_id) for pour_id in found.by_pour)
    answer = {"batch_id": batch_id, "stored": stored, "known": found.known, "refused": found.refused[:SHOWN_REFUSED]}
    batch = LoggerBatch.objects.create(
        logger=logger,
        key=key,
        batch_id=batch_id,
        body_sha256=body_sha256,
        answer=answer,
        stored_count=stored,
        refused_count=len(found.refused),
    )
    record(batch, by=key.made_by, kind="logger.batch", device=f"logger {logger.pk}")
    return answer, False


def _sorted(logger: Logger, rows: Sequence[Sent]) -> _Sorted:
    found, now = _Sorted(), timezone.now()
    stands = list(
        LoggerStand.objects.filter(logger=logger).select_related("pour__plan__machine__site").order_by("-from_at")
    )
    read: list[tuple[int, Pour, CureReading]] = []
    for index, row in enumerate(rows):
        try:
            read.append((index, *_read(logger, stands, row, now)))
        except RowRefused as error:
            found.refused.append({"index": index, "code": error.code, "reason": str(error)})
    on_record = _on_record(read)
    for index, pour, reading in read:
        place = (pour.pk, reading.probe, reading.read_at)
        before = on_record.get(place, found.seen.get(place))
        if before is None:
            found.seen[place] = reading.temp_c
            found.pours[pour.pk] = pour
            found.by_pour.setdefault(pour.pk, []).append(reading)
        elif abs(before - reading.temp_c) <= SAME_K:
            found.known += 1
        else:
            words = f"on record at this moment is {units.shown(before, 'c')}, the logger says {reading.typed}"
            found.refused.append({"index": index, "code": "contradicts", "reason": words})
    found.refused.sort(key=lambda row: int(row["index"]))
    return found


def _on_record(read: Sequence[tuple[int, Pour, CureReading]]) -> dict[tuple[int, str, dt.datetime], float]:
    if not read:
        return {}
    moments = [reading.read_at for _, _, reading in read]
    pours = {pour.pk for _, pour, _ in read}
    rows = CureReading.objects.in_use().filter(pour__in=pours, read_at__range=(min(moments), max(moments)))
    return {(pour, probe, at): temp for pour, probe, at, temp in rows.values_list("pour", "probe", "read_at", "temp_c")}


def _read(logger: Logger, stands: Sequence[LoggerStand], row: Sent, now: dt.datetime) -> tuple[Pour, CureReading]:
    """One row as a reading of the pour at which the logger stood then."""
    channel = logger.channel(row.channel or "")
    if channel is None:
        known = ", ".join(item["name"] for item in logger.columns)
        raise RowRefused(
            "channel", f"channel {str(row.channel)[:60]!r} is none of {known}, which are known of this logger"
        )
    at = _moment(row.at, now)
    stand = next((one for one in stands if one.from_at <= at and (one.until_at is None or at < one.until_at)), None)
    if stand is None:
        raise RowRefused("nowhere", f"the logger stood at no pour at {at.isoformat()}; place it on its page")
    pour = stand.pour
    earliest, _ = reading_span(pour, now)
    if pour.state not in STATES_OPEN_FOR_READINGS or at < earliest:
        raise RowRefused(
            "pour", f"pour {pour.pk} takes no reading of {at.isoformat()}; it begins a week before the first grout"
        )
    probe = Probe(channel["probe"])
    temp_c, typed = _temperature(probe, channel["unit"], row.value)
    return pour, CureReading(pour=pour, probe=probe.value, read_at=at, temp_c=temp_c, typed=typed)


def _moment(text: str | None, now: dt.datetime) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(str(text or "")[:40])
    except ValueError:
        raise RowRefused("time", f"{str(text)[:40]!r} is no ISO 8601 time such as 2026-04-30T07:00:00Z") from None
    if moment.tzinfo is None:
        raise RowRefused("offset", f"{str(text)[:40]!r} has no offset; end it with Z or such as +02:00")
    moment = moment.astimezone(dt.UTC)
    if moment > now + CLOCK_SLACK:
        ahead = (moment - now).total_seconds() / 3600
        raise RowRefused("future", f"{moment.isoformat()} lies {ahead:.1f} h in the future; set the logger's clock")
    return moment


def _temperature(probe: Probe, letter: str, value: Any) -> tuple[float, str]:
    unit, limit = units.unit_for("c", UNIT_OF[letter]), LIMITS[LIMIT_OF[probe]]
    try:
        number = float(value) if not isinstance(value, bool) else math.nan
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number):
        raise RowRefused("value", f"{str(value)[:30]!r} is no number of {unit.label}")
    temp_c = units.to_si(number, "c", unit.key)
    if not limit.low <= temp_c <= limit.high:
        span = f"{units.shown(limit.low, 'c')} to {units.shown(limit.high, 'c')}"
        raise RowRefused("range", f"{number:g} {unit.label} is outside {span}, the limits for {probe} [{limit.source}]")
    return temp_c, f"{number:g} {unit.label}"[:30]


def _store(key: LoggerKey, logger: Logger, found: _Sorted, pour_id: int) -> int:
    """Keep the readings of one pour under one import; how many were kept."""
    pour, readings = found.pours[pour_id], found.by_pour[pour_id]
    brought = ReadingImport.objects.create(
        pour=pour,
        row_count=len(readings),
        new_count=len(readings),
        brought_by=key.made_by,
        logger_name=str(logger)[:130],
        logger_id=logger.pk,
        read_with=instrument_of(logger),
    )
    for reading in readings:
        reading.brought_in = brought
    CureReading.objects.bulk_create(readings, batch_size=BATCH)
    record(brought, by=key.made_by, kind="readings.sent", device=f"logger {logger.pk}")
    ask_outlook(pour_id, f"{len(readings)} readings sent by {logger.name}")
    return len(readings)
