"""Receiving ops: stored first, judged later. One op is one transaction: its text, its effect, its receipt."""

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, connection
from django.utils import timezone

from groutjobs.accounts.models import Device, User
from groutjobs.audit.actions import action, record, unchanged
from groutjobs.errors import NotAllowed
from groutjobs.pours.models import Pour
from groutjobs.sync import entering
from groutjobs.sync.entering import Doubt
from groutjobs.sync.models import OpBlob, OpRuling, OpStatus, PhoneOp
from groutjobs.sync.ops import OP_BYTES, NotAnOp, Op, read_op
from groutjobs.sync.queries import mark, receipt_of, waiting_ops, with_status


class Refused(Exception):
    """An op that is not stored, and why; the phone keeps it."""

    def __init__(self, code: str, http: int, message: str) -> None:
        self.code, self.http, self.message = code, http, message
        super().__init__(message)


@dataclass(frozen=True)
class Sent:
    """One op of a request: the id and hash that the phone says it has, and its text."""

    op_id: str
    sha256: str
    text: str


class NotDurable(RuntimeError):
    """The database is set to confirm what is not on the disk yet. Nothing is received until that is mended."""


@functools.cache
def require_durable() -> None:
    """Refuse to give receipts on a database that could forget them. Asked once in each process."""
    if connection.vendor == "postgresql":
        wanted = {"fsync": "on", "full_page_writes": "on", "synchronous_commit": "on"}
        asked = {name: f"SHOW {name}" for name in wanted}
    else:
        wanted, asked = {"synchronous": "2"}, {"synchronous": "PRAGMA synchronous"}
    with connection.cursor() as cursor:
        for name, question in asked.items():
            cursor.execute(question)
            value = str(cursor.fetchone()[0])
            if value != wanted[name]:
                raise NotDurable(f"the database has {name} = {value}; {wanted[name]} is needed")


def receive_all(
    sent: Sequence[Sent], *, device: Device, brought_by: User | None = None, in_a_file: bool = False
) -> list[dict[str, Any]]:
    """An answer for each op, in order; one that is refused spoils no other. In a file other phones may be named."""
    require_durable()
    return [_answer(one, device, brought_by, in_a_file) for one in sent]


def _answer(one: Sent, device: Device, brought_by: User | None, in_a_file: bool) -> dict[str, Any]:
    try:
        row = _received(one, device, brought_by, in_a_file)
    except Refused as refused:
        error = {"code": refused.code, "message": refused.message, "http": refused.http}
        return {"op_id": one.op_id, "error": error}
    now = with_status(PhoneOp.objects.filter(pk=row.pk)).values_list("now", flat=True).get()
    return {"op_id": one.op_id, "receipt": receipt_of(row), "now": now}


def _received(one: Sent, device: Device, brought_by: User | None, in_a_file: bool) -> PhoneOp:
    if len(one.text.encode("utf-8", "surrogatepass")) > OP_BYTES:
        raise Refused("op_too_big", 413, f"an entry has at most {OP_BYTES} bytes")
    try:
        op = read_op(one.text)
    except NotAnOp as error:
        raise Refused("malformed", 422, f"{error}; it cannot be filed") from error
    if op.sha256 != one.sha256 or str(op.op_id) != one.op_id:
        raise Refused("hash_wrong", 422, "text, hash and id do not belong together; it was damaged on its way")
    writer_device = _device_of(op, device, in_a_file)
    try:
        return receive(op=op, device=writer_device, brought_by=brought_by)
    except IntegrityError:
        # The same op came by another way at the same moment; the one that was stored first gives the receipt.
        stored = PhoneOp.objects.filter(pk=op.op_id).first()
        if stored is None:
            raise
        return _same(stored, op)


def _device_of(op: Op, device: Device, in_a_file: bool) -> Device:
    if op.device_id == device.pk:
        return device
    other = Device.objects.filter(pk=op.device_id, site=device.site_id).first() if in_a_file else None
    if other is None:
        raise Refused("other_device", 403, "the entry names another phone; it comes in through a rescue file")
    return other


def _same(stored: PhoneOp, op: Op) -> PhoneOp:
    if stored.sha256 != op.sha256:
        message = "an entry with this id is stored with other content; nothing was overwritten"
        raise Refused("other_bytes", 409, message)
    return stored


@action
def receive(*, op: Op, device: Device, brought_by: User | None = None) -> PhoneOp:
    """Store one op with its receipt, and enter it in the pour log where nothing speaks against it.

    The row of the phone is locked first, so that one op that comes twice at once is stored once. Locks are taken in
    the order phone, pour, record, here and wherever an entry is made.
    """
    device = Device.objects.select_for_update().select_related("site").get(pk=device.pk)
    stored = PhoneOp.objects.filter(pk=op.op_id).first()
    if stored is not None:
        unchanged()
        return _same(stored, op)
    _refuse_after_revocation(op, device)
    pour = Pour.objects.filter(pk=op.record_id, plan__machine__site=device.site_id).first() if op.record_id else None
    writer = entering.writer_of(op, device)
    status, doubt = _judged(op, device, pour, writer)
    row = _stored(op, device, pour, writer, status, doubt, brought_by)
    if status == OpStatus.ACCEPTED and pour is not None:
        release_held(pour)
    return row


def _refuse_after_revocation(op: Op, device: Device) -> None:
    entered_at = op.entered_corrected
    if device.revoked_at is not None and (entered_at is None or entered_at >= device.revoked_at):
        message = f"{device.name} was revoked before this was entered; export the entries and ask the administrator"
        raise Refused("device_revoked", 403, message)


def _judged(op: Op, device: Device, pour: Pour | None, writer: entering.Writer) -> tuple[OpStatus, Doubt | None]:
    doubt = entering.doubt_about(op, device, pour) or writer.doubt
    if doubt is not None or pour is None:
        return OpStatus.QUARANTINED, doubt
    lacks = entering.lacking(op)
    if lacks:
        return OpStatus.HELD, Doubt("waits", f"builds on entries that have not come ({len(lacks)})")
    doubt = entering.try_to_enter(op, pour, device, writer)
    return (OpStatus.QUARANTINED if doubt else OpStatus.ACCEPTED), doubt


def _stored(
    op: Op,
    device: Device,
    pour: Pour | None,
    writer: entering.Writer,
    status: OpStatus,
    doubt: Doubt | None,
    brought_by: User | None,
) -> PhoneOp:
    row = PhoneOp(
        op_id=op.op_id, text=op.text.decode(), sha256=op.sha256, device=device, device_seq=op.device_seq,
        author=writer.person, pour=pour, kind=op.kind, entered_at=op.entered_corrected, proof=writer.proof,
        status=status, code=doubt.code if doubt else "", reason=(doubt.reason if doubt else "")[:500],
        epoch=mark().epoch, received_at=timezone.now(), brought_by=brought_by,
    )  # fmt: skip
    event = record(row, by=brought_by or writer.person, kind="phone.op_received", device=device.name)
    if event is None:
        raise NotAllowed("the record took no note of the entry; nothing was stored")
    row.ledger_seq, row.event_hash = event.seq, event.event_hash
    row.save(force_insert=True)
    named = [blob for blob in op.body.get("blobs", []) if isinstance(blob, str) and len(blob) == 64]
    OpBlob.objects.bulk_create(OpBlob(op=row, sha256=blob) for blob in dict.fromkeys(named))
    return row


def release_held(pour: Pour) -> None:
    """Enter what waited for entries that are there now; each release may be what another one waits for."""
    is_moving = True
    while is_moving:
        is_moving = False
        for row in waiting_ops(PhoneOp.objects.filter(pour=pour, status=OpStatus.HELD)):
            op = read_op(row.text)
            if row.now == OpStatus.HELD and not entering.lacking(op):
                doubt = entering.try_to_enter(op, pour, row.device, entering.writer_of(op, row.device))
                rule(row, OpStatus.QUARANTINED if doubt else OpStatus.ACCEPTED,
                     doubt.reason if doubt else "what it builds on has come", None)  # fmt: skip
                is_moving = is_moving or doubt is None


def rule(row: PhoneOp, status: OpStatus, reason: str, by: User | None) -> OpRuling:
    """Note, inside an action, what became of an op."""
    ruling = OpRuling.objects.create(op=row, status=status, reason=reason[:500], by=by)
    record(ruling, by=by, kind=f"phone.op_{status.value}", reason=reason[:500])
    return ruling
