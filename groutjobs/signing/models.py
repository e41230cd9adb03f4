"""The pour record as a thing that is signed: its state, the names under it, and what came after it was locked.

The database holds the rules too (migration of the same name): which state follows which, that a signature stands
before the state that needs it, that who recorded does not review, and that a locked or void record never changes.
"""

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from groutjobs.accounts.models import User, new_salt
from groutjobs.audit.models import Anchor, AuditedRow
from groutjobs.errors import NotAllowed
from groutjobs.pours.models import Pour, PourEntry


class RecordState(models.TextChoices):
    OPEN = "open", "Being written"
    CLOSED = "closed", "Declared complete"
    READY = "ready", "Ready to sign"
    PERFORMED = "performed", "Signed by the crew lead"
    REVIEWED = "reviewed", "Reviewed"
    LOCKED = "locked", "Locked"
    VOID = "void", "Void"


STATES_WITH_CONTENT = frozenset({RecordState.READY, RecordState.PERFORMED, RecordState.REVIEWED, RecordState.LOCKED})
STATES_FINAL = frozenset({RecordState.LOCKED, RecordState.VOID})


class SignedForGood(AuditedRow):
    """A row that is only ever added; triggers of the database say the same."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise NotAllowed("what was signed or decided is never changed; what follows is a row of its own")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise NotAllowed("what was signed or decided is never deleted")


class PourRecord(AuditedRow):
    """Where the record of one pour stands. `round` counts how often it was made ready; names belong to a round."""

    site_path: ClassVar[str] = "pour__plan__machine__site"

    pour = models.OneToOneField(Pour, models.PROTECT, related_name="record")
    state = models.CharField(max_length=10, choices=RecordState, default=RecordState.OPEN)
    round = models.PositiveIntegerField(default=1)
    content_sha256 = models.CharField("hash of what is signed", max_length=64, blank=True)
    last_rev = models.PositiveIntegerField("last entry that is signed", default=0)
    explained = models.JSONField("what was missing, with the reason why it goes ahead", default=list)
    ready_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    ready_at = models.DateTimeField(null=True)
    locked_at = models.DateTimeField(null=True)
    anchor = models.ForeignKey(Anchor, models.PROTECT, null=True, related_name="+")
    void_reason = models.CharField(max_length=300, blank=True)
    void_asked_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    void_asked_at = models.DateTimeField(null=True)
    voided_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    voided_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(state__in=["ready", "performed", "reviewed", "locked"])
                | (~Q(content_sha256="") & Q(ready_at__isnull=False)),
                name="groutjobs_pourrecord_signed_has_content",
            ),
            models.CheckConstraint(
                condition=~Q(state="locked") | (Q(anchor__isnull=False) & Q(locked_at__isnull=False)),
                name="groutjobs_pourrecord_locked_has_anchor",
            ),
            models.CheckConstraint(
                condition=~Q(state="void")
                | (~Q(void_reason="") & Q(void_asked_by__isnull=False) & Q(voided_by__isnull=False)),
                name="groutjobs_pourrecord_void_has_reason",
            ),
            models.CheckConstraint(
                condition=Q(voided_by__isnull=True) | ~Q(voided_by=F("void_asked_by")),
                name="groutjobs_pourrecord_void_by_two",
            ),
        ]

    def __str__(self) -> str:
        return f"record of {self.pour}"

    @property
    def record_label(self) -> str:
        return f"record of pour {self.pour_id}"


class Addendum(SignedForGood):
    """What was found wrong in a locked record. The record stays as it is; this is read beside it."""

    site_path: ClassVar[str] = "record__pour__plan__machine__site"

    record = models.ForeignKey(PourRecord, models.PROTECT, related_name="addenda")
    number = models.PositiveIntegerField()
    wrong = models.CharField("what is wrong", max_length=500)
    right = models.CharField("what is right", max_length=500)
    evidence = models.CharField(max_length=500)
    reason = models.CharField("why it was not right from the start", max_length=300)
    record_sha256 = models.CharField("hash of the locked content", max_length=64)
    content_sha256 = models.CharField("hash of this addendum, which is signed", max_length=64)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["record", "number"], name="groutjobs_addendum_number_once")]

    def __str__(self) -> str:
        return f"addendum {self.number}"


class RecordMeaning(models.TextChoices):
    """What a name means; the sentence in signing/rules.py is signed with it."""

    PERFORMED = "performed", "Performed"
    REVIEWED = "reviewed", "Reviewed"
    STATED = "stated", "Addendum stated"
    AGREED = "agreed", "Addendum agreed"


class RecordSignature(SignedForGood):
    """One person's name under a pour record or an addendum, bound to the hash of what was read."""

    site_path: ClassVar[str] = "record__pour__plan__machine__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("printed_name", "salt")

    record = models.ForeignKey(PourRecord, models.PROTECT, related_name="signatures")
    round = models.PositiveIntegerField()
    addendum = models.ForeignKey(Addendum, models.PROTECT, null=True, related_name="signatures")
    meaning = models.CharField(max_length=10, choices=RecordMeaning)
    sentence = models.CharField(max_length=300)
    signer = models.ForeignKey(User, models.PROTECT, related_name="+")
    printed_name = models.CharField(max_length=100)
    content_sha256 = models.CharField(max_length=64)
    proved_by = models.CharField("how the signer proved himself at that moment", max_length=40)
    signed_at = models.DateTimeField(default=timezone.now)
    salt = models.CharField(max_length=32, default=new_salt, editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["record", "round", "meaning"],
                condition=Q(addendum__isnull=True),
                name="groutjobs_recordsignature_meaning_once",
            ),
            models.UniqueConstraint(
                fields=["record", "round", "signer"],
                condition=Q(addendum__isnull=True),
                name="groutjobs_recordsignature_two_people",
            ),
            models.UniqueConstraint(
                fields=["addendum", "meaning"],
                condition=Q(addendum__isnull=False),
                name="groutjobs_recordsignature_addendum_once",
            ),
            models.UniqueConstraint(
                fields=["addendum", "signer"],
                condition=Q(addendum__isnull=False),
                name="groutjobs_recordsignature_addendum_two",
            ),
            models.CheckConstraint(
                condition=Q(addendum__isnull=True, meaning__in=["performed", "reviewed"])
                | Q(addendum__isnull=False, meaning__in=["stated", "agreed"]),
                name="groutjobs_recordsignature_meaning_fits",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_meaning_display()} by person {self.signer_id}"

    @property
    def record_label(self) -> str:
        return f"{self.get_meaning_display().lower()}, pour {self.record.pour_id}"


class SignatureVoid(SignedForGood):
    """Why a name counts no more. The name stays visible, struck through."""

    site_path: ClassVar[str] = "signature__record__pour__plan__machine__site"

    signature = models.OneToOneField(RecordSignature, models.PROTECT, related_name="void")
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="groutjobs_signaturevoid_has_reason")]

    def __str__(self) -> str:
        return f"void: {self.signature_id}"


class LateDecision(SignedForGood):
    """What is done about an entry that came after the lock: an addendum, or a reason why it changes nothing."""

    site_path: ClassVar[str] = "record__pour__plan__machine__site"

    record = models.ForeignKey(PourRecord, models.PROTECT, related_name="late_decisions")
    entry = models.OneToOneField(PourEntry, models.PROTECT, related_name="late_decision")
    addendum = models.ForeignKey(Addendum, models.PROTECT, null=True, related_name="late_entries")
    reason = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(addendum__isnull=False) | ~Q(reason=""), name="groutjobs_latedecision_has_reason"
            )
        ]

    def __str__(self) -> str:
        return f"decision about entry {self.entry_id}"
