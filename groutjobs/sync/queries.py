"""Reads about phones: how an op stands today, what is still on its way, and what waits for a decision."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db.models import Aggregate, Count, Exists, Max, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from groutjobs.accounts.models import Device, ShiftKey
from groutjobs.audit.models import Head
from groutjobs.pours.models import Pour
from groutjobs.sync.models import DeviceContact, GapNote, OpRuling, OpStatus, PhoneOp, ServerMark

WAITING = (OpStatus.HELD, OpStatus.QUARANTINED)
MISSING_SHOWN = 100


def with_status(ops: QuerySet[PhoneOp]) -> QuerySet[Any]:
    """Ops with how each stands today as `now`: the last ruling about it, else its receipt."""
    last = OpRuling.objects.filter(op=OuterRef("pk")).order_by("-pk").values("status")[:1]
    return ops.annotate(now=Coalesce(Subquery(last), "status"))


def waiting_ops(ops: QuerySet[PhoneOp] | None = None) -> QuerySet[Any]:
    """Ops that are in no pour log yet and were not set aside, oldest first."""
    rows = PhoneOp.objects.all() if ops is None else ops
    return with_status(rows).filter(now__in=WAITING).select_related("device", "author", "pour__plan__machine")


def mark() -> ServerMark:
    """The epoch of this database and its safe mark."""
    return ServerMark.objects.latest("pk")


def head_seq() -> int:
    return Head.objects.values_list("seq", flat=True).get(pk=1)


@dataclass(frozen=True)
class OnPhone:
    """What a phone has not handed over. `of_pour` is what it said about one pour, None where it said nothing."""

    device: Device
    at_least: int
    last_contact_at: dt.datetime | None
    pending: dict[str, int]

    def of_pour(self, pour_id: int) -> int:
        return self.pending.get(str(pour_id), 0)


def on_phones(devices: QuerySet[Device]) -> list[OnPhone]:
    """How many entries each phone has made and not handed over, as far as can be known; one query."""
    ops = PhoneOp.objects.filter(device=OuterRef("pk"))
    notes = GapNote.objects.filter(device=OuterRef("pk"))
    rows: QuerySet[Any] = devices.select_related("contact").annotate(
        got=_of_device(ops, Count("device_seq", distinct=True)),
        last_got=_of_device(ops, Max("device_seq")),
        noted_upto=_of_device(notes, Max("up_to_seq")),
        noted_at=_of_device(notes, Max("at")),
    )
    below = ops.filter(device_seq__lte=OuterRef("noted_upto"))
    return [_on_phone(row) for row in rows.annotate(got_below=_of_device(below, Count("device_seq", distinct=True)))]


def _of_device(rows: QuerySet[Any], aggregate: Aggregate) -> Subquery:
    return Subquery(rows.order_by().values("device").annotate(found=aggregate).values("found"))


def _on_phone(device: Any) -> OnPhone:
    """A phone of `on_phones`. Numbers below its last note never come: they count as explained, and what it had said
    before the note counts no more."""
    contact: DeviceContact | None = getattr(device, "contact", None)
    told = max(device.last_got or 0, contact.seq_told if contact else 0)
    explained = device.noted_upto - (device.got_below or 0) if device.noted_upto else 0
    pending = contact.pending if contact and not (device.noted_at and contact.at <= device.noted_at) else {}
    missing = max(told - (device.got or 0) - explained, 0)
    return OnPhone(device, max(missing, sum(pending.values())), contact.at if contact else None, pending)


def missing_seqs(device: Device) -> list[int]:
    """Numbers below the highest that was received which never came, the first hundred."""
    seqs = set(PhoneOp.objects.filter(device=device).values_list("device_seq", flat=True))
    found: list[int] = []
    for seq in range(1, max(seqs, default=0)):
        if seq not in seqs:
            found.append(seq)
            if len(found) == MISSING_SHOWN:
                break
    return found


def phones_of(pour: Pour) -> list[OnPhone]:
    """Phones of the site that hold back something of this pour, or have written in it and hold back anything."""
    wrote = Exists(PhoneOp.objects.filter(pour=pour, device=OuterRef("pk")))
    devices = Device.objects.filter(site=pour.plan.machine.site_id).annotate(wrote=wrote)
    return [
        one
        for one in on_phones(devices)
        if one.of_pour(pour.pk) or (one.at_least and getattr(one.device, "wrote", False) and not one.pending)
    ]


def live_keys(device: Device, at: dt.datetime) -> list[ShiftKey]:
    """Keys of this phone that still mark entries, the newest of each person."""
    keys = ShiftKey.objects.filter(device=device, ends_at__gt=at, person__is_active=True).select_related("person")
    newest: dict[int, ShiftKey] = {}
    for key in keys.order_by("issued_at"):
        newest[key.person_id] = key
    return list(newest.values())


def receipt_of(op: PhoneOp) -> dict[str, Any]:
    """The receipt as it was first given; it never changes."""
    return {
        "op_id": str(op.op_id),
        "sha256": op.sha256,
        "status": op.status,
        "reason": op.reason,
        "ledger_seq": op.ledger_seq,
        "event_hash": op.event_hash,
        "received_at": op.received_at.astimezone(dt.UTC).isoformat(timespec="microseconds").replace("+00:00", "Z"),
    }
