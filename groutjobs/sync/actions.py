"""Writes about phones' entries: decisions on what was not entered by itself, pictures, gaps, epochs."""

import hashlib
from typing import Any

from django.db import transaction
from django.utils import timezone

from groutjobs.accounts.models import Device, Role, User
from groutjobs.accounts.queries import holds
from groutjobs.audit.actions import action, record, unchanged
from groutjobs.errors import NotAllowed, OutOfRange, Unusable
from groutjobs.reasons import require_reason
from groutjobs.sync import blobs, entering
from groutjobs.sync.models import Blob, GapNote, OpStatus, PhoneOp
from groutjobs.sync.ops import read_op
from groutjobs.sync.queries import with_status
from groutjobs.sync.receiving import release_held, rule

DECIDERS = frozenset({Role.ENGINEER, Role.ADMINISTRATOR})


@action
def accept_by_hand(*, op: PhoneOp, by: User, reason: str) -> PhoneOp:
    """Enter an op on the word of a person who decided so. Its author stays who it names; the entry says by whom."""
    device = Device.objects.select_for_update().get(pk=op.device_id)
    row = _open_op(op, by, reason)
    read = read_op(row.text)
    if row.pour is None:
        raise NotAllowed("It names no pour of this site. Enter it at the desk and set this one aside.")
    writer = entering.writer_of(read, device)
    try:
        with transaction.atomic():
            entering.enter(read, row.pour, device, writer, vouched_by=by)
    except (Unusable, OutOfRange) as error:
        raise NotAllowed(f"It cannot stand in the log as it is: {error}. Enter it at the desk instead.") from error
    rule(row, OpStatus.ACCEPTED, reason.strip(), by)
    entering.keep_photos(read, row.pour, writer.person)
    release_held(row.pour)
    return row


@action
def set_op_aside(*, op: PhoneOp, by: User, reason: str) -> PhoneOp:
    """Leave an op out of the pour log. It stays on record with the reason."""
    Device.objects.select_for_update().get(pk=op.device_id)
    row = _open_op(op, by, reason)
    rule(row, OpStatus.SET_ASIDE, reason.strip(), by)
    return row


def _open_op(op: PhoneOp, by: User, reason: str) -> PhoneOp:
    row: Any = with_status(PhoneOp.objects.select_related("device", "pour__plan__machine")).get(pk=op.pk)
    if not holds(by, row.device.site_id, DECIDERS):
        raise NotAllowed("an engineer or the administrator of the site decides; ask one of them")
    if row.now == OpStatus.ACCEPTED:
        raise NotAllowed("It stands in the pour log already; correct or strike it there.")
    require_reason(reason)
    found: PhoneOp = row
    return found


@action
def keep_blob(*, device: Device, sha256: str, content: bytes) -> bool:
    """Keep a picture under its hash; True where it is new. The bytes are on the disk before the row says so."""
    blobs.store(sha256, content)
    if Blob.objects.filter(pk=sha256).exists():
        unchanged()
        return False
    blob, is_new = Blob.objects.get_or_create(
        pk=sha256, defaults={"byte_count": len(content), "device": device, "received_at": timezone.now()}
    )
    if is_new:
        record(blob, by=None, kind="phone.picture_received", device=device.name)
    else:
        unchanged()
    return is_new


def hash_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


@action
def explain_gap(*, device: Device, up_to_seq: int, reason: str, by: User) -> GapNote:
    """Say why entries of a phone up to this number will never come."""
    if not holds(by, device.site_id, DECIDERS):
        raise NotAllowed("an engineer or the administrator of the site explains a gap; ask one of them")
    require_reason(reason)
    note = GapNote.objects.create(device=device, up_to_seq=up_to_seq, reason=reason.strip(), by=by)
    record(note, by=by, kind="device.gap_explained", reason=note.reason)
    return note
