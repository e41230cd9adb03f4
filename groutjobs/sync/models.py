"""What phones sent, byte for byte, with the receipt that each got. Rows are added and never changed."""

import uuid
from typing import Any, ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import Device, User
from groutjobs.audit.models import AuditedRow
from groutjobs.errors import NotAllowed
from groutjobs.pours.models import Pour


class OpStatus(models.TextChoices):
    ACCEPTED = "accepted", "Entered in the pour log"
    HELD = "held", "Waits for an entry that it builds on"
    QUARANTINED = "quarantined", "Needs a decision"
    SET_ASIDE = "set_aside", "Set aside"


class AppendedRow(AuditedRow):
    """A row that is only ever added; triggers of the database say the same."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise NotAllowed("what a phone sent is never changed; a later decision is a row of its own")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise NotAllowed("what a phone sent is never deleted; set it aside with a reason")


class PhoneOp(AppendedRow):
    """One entry as a phone sent it, and its receipt. `text` is the very text whose hash the phone knows.

    `text` enters the record as a commitment only: it holds names and notes, and its hash stands beside it.
    """

    site_path: ClassVar[str] = "device__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("text",)

    op_id = models.UUIDField(primary_key=True)
    text = models.TextField()
    sha256 = models.CharField(max_length=64)
    device = models.ForeignKey(Device, models.PROTECT, related_name="ops")
    device_seq = models.BigIntegerField()
    author = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    pour = models.ForeignKey(Pour, models.PROTECT, null=True, related_name="phone_ops")
    kind = models.CharField(max_length=40, blank=True)
    entered_at = models.DateTimeField("by the phone's clock, corrected", null=True)
    proof = models.CharField("how sure the author is", max_length=12)
    status = models.CharField(max_length=12, choices=OpStatus)
    code = models.CharField("why it was not accepted, for programs", max_length=40, blank=True)
    reason = models.CharField("why it was not accepted, in words", max_length=500, blank=True)
    ledger_seq = models.BigIntegerField(unique=True)
    event_hash = models.CharField(max_length=64)
    epoch = models.UUIDField()
    received_at = models.DateTimeField(default=timezone.now)
    brought_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["ledger_seq"]
        indexes = [
            models.Index(fields=["device", "device_seq"], name="groutjobs_phoneop_device"),
            models.Index(fields=["pour", "status"], name="groutjobs_phoneop_pour"),
        ]

    def __str__(self) -> str:
        return f"phone entry {self.op_id}"

    @property
    def record_label(self) -> str:
        return f"phone entry {self.op_id}"


class OpRuling(AppendedRow):
    """What became of an op later: what it waited for came, or a person decided, with a reason."""

    site_path: ClassVar[str] = "op__device__site"

    op = models.ForeignKey(PhoneOp, models.PROTECT, related_name="rulings")
    status = models.CharField(max_length=12, choices=OpStatus)
    reason = models.CharField(max_length=500)
    by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(reason=""), name="groutjobs_opruling_has_reason"),
            models.UniqueConstraint(
                fields=["op"], condition=models.Q(status="accepted"), name="groutjobs_opruling_accepted_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_status_display()}: {self.op}"


class Blob(AppendedRow):
    """The bytes of one photograph as the phone sent them, under their hash."""

    site_path: ClassVar[str] = "device__site"

    sha256 = models.CharField(max_length=64, primary_key=True)
    byte_count = models.PositiveIntegerField()
    device = models.ForeignKey(Device, models.PROTECT, related_name="blobs")
    received_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"picture {self.sha256[:12]}"


class OpBlob(AppendedRow):
    """A picture that an op names; the two come in any order."""

    site_path: ClassVar[str] = "op__device__site"

    op = models.ForeignKey(PhoneOp, models.PROTECT, related_name="blob_names")
    sha256 = models.CharField(max_length=64, db_index=True)

    def __str__(self) -> str:
        return f"picture {self.sha256[:12]} of {self.op_id}"


class GapNote(AppendedRow):
    """Why numbers of a phone up to this one will never come: it was lost, or wiped."""

    site_path: ClassVar[str] = "device__site"

    device = models.ForeignKey(Device, models.PROTECT, related_name="gap_notes")
    up_to_seq = models.BigIntegerField()
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"numbers up to {self.up_to_seq} of {self.device_id}"


class ServerMark(AppendedRow):
    """Which life of the database this is, and up to where its ledger is known to be in a verified backup.

    The last row counts. A restored database gets a new epoch; phones then offer again what they kept.
    """

    site_path: ClassVar[str] = ""

    epoch = models.UUIDField(default=uuid.uuid4)
    epoch_head = models.BigIntegerField(default=0)
    safe_seq = models.BigIntegerField(default=0)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"epoch {self.epoch}, safe up to {self.safe_seq}"

    def owning_site_id(self) -> int | None:
        return None


class DeviceKey(AppendedRow):
    """A key of a phone that only the phone can sign with. It brings back a cookie that the phone has lost."""

    site_path: ClassVar[str] = "device__site"

    thumbprint = models.CharField("SHA-256 of the public key", max_length=64, primary_key=True)
    public_key = models.TextField("as SubjectPublicKeyInfo, base64url")
    device = models.ForeignKey(Device, models.PROTECT, related_name="proving_keys")
    at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"key {self.thumbprint[:12]} of a phone"


class DeviceCookie(AppendedRow):
    """A further cookie of a phone, given because it proved itself with its key. The first one is the device's own."""

    site_path: ClassVar[str] = "device__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("token_hash",)

    token_hash = models.CharField(max_length=64, primary_key=True)
    question = models.CharField("the question that was answered, each once", max_length=64, unique=True)
    key = models.ForeignKey(DeviceKey, models.PROTECT, related_name="cookies")
    device = models.ForeignKey(Device, models.PROTECT, related_name="further_cookies")
    at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"further cookie of phone {self.device_id}"

    @property
    def record_label(self) -> str:
        return str(self)

    @property
    def salt(self) -> str:
        return self.question


class DeviceContact(models.Model):
    """The last word of a phone: when, what number it had reached, how much it had not sent. Told, not recorded."""

    device = models.OneToOneField(Device, models.PROTECT, related_name="contact")
    at = models.DateTimeField()
    seq_told = models.BigIntegerField(default=0)
    pending = models.JSONField("unsent by pour", default=dict)

    def __str__(self) -> str:
        return f"contact of {self.device_id}"
