"""What the server tells phones about itself: its epoch and its safe mark; and what phones tell it about themselves."""

from uuid import uuid4

from django.utils import timezone

from groutjobs.accounts.models import Device
from groutjobs.audit.actions import action, record
from groutjobs.errors import NotAllowed
from groutjobs.sync.models import DeviceContact, ServerMark
from groutjobs.sync.queries import head_seq, mark


@action
def begin_epoch() -> ServerMark:
    """After the database was restored from a backup: phones offer again what it does not have."""
    head = head_seq()
    made = ServerMark.objects.create(epoch=uuid4(), epoch_head=head, safe_seq=min(mark().safe_seq, head))
    record(made, by=None, kind="phone.epoch_begun")
    return made


@action
def mark_safe(*, seq: int) -> ServerMark:
    """After a backup was verified: phones may let go of entries up to this number of the ledger, after 30 days."""
    now, head = mark(), head_seq()
    if not now.safe_seq <= seq <= head:
        raise NotAllowed(f"{seq} is not between the mark of now, {now.safe_seq}, and the end of the ledger, {head}.")
    made = ServerMark.objects.create(epoch=now.epoch, epoch_head=now.epoch_head, safe_seq=seq)
    record(made, by=None, kind="phone.marked_safe")
    return made


def note_contact(device: Device, seq_told: int | None, pending: dict[str, int] | None) -> None:
    """Keep what a phone said last about itself. Told, not recorded: it changes with every call."""
    known = DeviceContact.objects.filter(device=device).first()
    reached = max(seq_told or 0, known.seq_told if known else 0)
    if pending is None:
        pending = known.pending if known else {}
    values = {"at": timezone.now(), "seq_told": reached, "pending": pending}
    DeviceContact.objects.update_or_create(device=device, defaults=values)
