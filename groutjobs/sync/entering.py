"""From an op to an entry of the pour log, by the same action that the pages use. What breaks a rule is told apart."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from groutjobs.accounts.models import Device, ShiftKey, User
from groutjobs.errors import NotAllowed, OutOfRange, Unusable
from groutjobs.keeping import NotOurs
from groutjobs.pours.actions import add_entry, add_photo_of_phone
from groutjobs.pours.models import PhotoOriginal, Pour, PourEntry
from groutjobs.pours.photos import SOURCE
from groutjobs.sync import blobs
from groutjobs.sync.models import Blob, OpStatus, PhoneOp
from groutjobs.sync.ops import NO_PROOF, Op, read_op
from groutjobs.sync.queries import with_status
from groutjobs.sync.takers import TAKERS, Arrived, known_elsewhere

PROVEN, BY_HAND = "shift_key", "by_hand"
AHEAD_MIN = 5.0
"""A time further ahead of the server's clock than this says that the phone's clock is wrong [GROUTJOBS]."""


@dataclass(frozen=True)
class Doubt:
    """Why an op is not entered by itself."""

    code: str
    reason: str


@dataclass(frozen=True)
class Writer:
    """Who wrote an op, as far as it can be told."""

    person: User | None
    proof: str
    doubt: Doubt | None = None


def writer_of(op: Op, device: Device) -> Writer:
    """The person that the op names, and whether the proof of his shift key fits."""
    person = User.objects.filter(pk=op.author_id).first()
    if person is None:
        return Writer(None, "none", Doubt("author_unknown", "names a person that is not known here"))
    if op.author_key is None or op.author_proof == NO_PROOF:
        return Writer(person, "none", Doubt("proof_missing", f"nobody had proved on the phone to be {person.name}"))
    key = ShiftKey.objects.filter(pk=op.author_key, device=device, person=person).first()
    if key is None or not _fits(op, key):
        return Writer(person, "wrong", Doubt("proof_wrong", f"the proof that {person.name} wrote it does not fit"))
    if op.clock.grade != "C" and op.entered_corrected and op.entered_corrected >= key.ends_at:
        return Writer(person, "ended", Doubt("proof_ended", f"{person.name} had to prove himself again before it"))
    if not person.is_active:
        return Writer(person, PROVEN, Doubt("author_ended", f"{person.name} has no access any more"))
    return Writer(person, PROVEN)


def _fits(op: Op, key: ShiftKey) -> bool:
    """A key that this installation cannot open any more proves nothing; the entry then waits for a decision."""
    try:
        return op.proven_by(key.key)
    except NotOurs:
        return False


def doubt_about(op: Op, device: Device, pour: Pour | None) -> Doubt | None:
    """What the op itself breaks, its writer apart."""
    if op.fault:
        return Doubt("malformed", op.fault)
    if device.revoked_at is not None:
        return Doubt("device_revoked", f"{device.name} was revoked before it was sent: {device.revoked_because}")
    if pour is None:
        return Doubt("pour_unknown", f"names pour {op.record_id}, which this site does not have")
    return None


def lacking(op: Op) -> set[str]:
    """What the op builds on and is in no pour log yet."""
    wanted = {*op.deps, *([op.replaces] if op.replaces else [])}
    known = set(PourEntry.objects.filter(pk__in=wanted).values_list("pk", flat=True)) if wanted else set()
    return {str(one) for one in wanted - known - known_elsewhere(wanted - known)}


def enter(op: Op, pour: Pour, device: Device, writer: Writer, vouched_by: User | None = None) -> None:
    """Make the entry, with the id of the op. NotAllowed, Unusable or OutOfRange where a rule of the log forbids it."""
    if writer.person is None or op.happened_at is None or op.entered_at is None:
        raise Unusable("entry", "names no known person or no time", source=SOURCE)
    if taker := TAKERS.get(op.kind):
        taker.enter(Arrived(op, pour, writer.person, _how(op, device, writer, vouched_by), vouched_by))
        return
    replaces = PourEntry.objects.filter(pk=op.replaces).first() if op.replaces else None
    if op.replaces and replaces is None:
        raise Unusable("correction", "names an entry that is not in this pour log", source=SOURCE)
    add_entry(
        pour=pour,
        kind=op.kind,
        body={name: value for name, value in op.body.items() if name != "blobs" or value},
        by=writer.person,
        id=op.op_id,
        happened_at=op.clock.corrected(op.happened_at),
        entered_at=op.clock.corrected(op.entered_at),
        device=device.name,
        replaces=replaces,
        reason=op.reason,
        sent=_how(op, device, writer, vouched_by),
        vouched_by=vouched_by,
    )


def _how(op: Op, device: Device, writer: Writer, vouched_by: User | None) -> dict[str, Any]:
    happened_at, entered_at = op.happened_at, op.entered_at
    latest = timezone.now() + dt.timedelta(minutes=AHEAD_MIN)
    is_ahead = happened_at is not None and op.clock.corrected(happened_at) > latest
    how: dict[str, Any] = {
        "device_id": str(device.pk),
        "device_seq": op.device_seq,
        "base_rev": op.base_rev,
        "deps": sorted({*map(str, op.deps), *([str(op.replaces)] if op.replaces else [])}),
        "happened_at": happened_at.isoformat() if happened_at else "",
        "entered_at": entered_at.isoformat() if entered_at else "",
        "offset_ms": op.clock.offset_ms,
        "grade": "C" if is_ahead else op.clock.grade,
        "proof": BY_HAND if vouched_by else writer.proof,
        "build": op.build,
        "sha256": op.sha256,
    }
    return how | ({"vouched_by": vouched_by.name, "vouched_by_id": vouched_by.pk} if vouched_by else {})


def try_to_enter(op: Op, pour: Pour, device: Device, writer: Writer) -> Doubt | None:
    """Make the entry; what forbids it comes back as a doubt, and nothing of the try stays."""
    try:
        with transaction.atomic():
            enter(op, pour, device, writer)
    except NotAllowed as error:
        return Doubt("not_allowed", str(error))
    except (Unusable, OutOfRange) as error:
        return Doubt("unusable", str(error))
    keep_photos(op, pour, writer.person)
    return None


def keep_photos(op: Op, pour: Pour, by: User | None) -> None:
    """Make photographs of the pictures that this op names and that have come; a damaged one is left out."""
    named = [blob for blob in op.body.get("blobs", []) if isinstance(blob, str)]
    if not named or by is None:
        return
    kept = set(PhotoOriginal.objects.filter(pour=pour, sha256__in=named).values_list("sha256", flat=True))
    for blob in Blob.objects.filter(sha256__in=set(named) - kept):
        try:
            with transaction.atomic():
                content = blobs.path_of(blob.sha256).read_bytes()
                add_photo_of_phone(pour=pour, content=content, sha256=blob.sha256, by=by)
        except (Unusable, OutOfRange, FileNotFoundError):
            continue


def keep_picture_of_ops(sha256: str) -> None:
    """Make a photograph of this picture for each pour in which an op that was entered names it."""
    named = PhoneOp.objects.filter(blob_names__sha256=sha256).select_related("pour__plan__machine", "author")
    for row in with_status(named).filter(now=OpStatus.ACCEPTED):
        if row.pour is not None:
            keep_photos(read_op(row.text), row.pour, row.author)
