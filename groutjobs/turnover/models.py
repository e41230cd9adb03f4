"""The turnover report: a frozen manifest, three signatures by three people, the sealed PDF, and to whom it went."""

import json
from functools import cached_property
from typing import Any, ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User, new_salt
from groutjobs.audit.models import AuditedRow
from groutjobs.errors import NotAllowed
from groutjobs.pours.models import Pour


class ReportState(models.TextChoices):
    FROZEN = "frozen", "Frozen for signing"
    APPROVED = "approved", "Signed, not sealed"
    SEALED = "sealed", "Sealed, not issued"
    ISSUED = "issued", "Issued"
    ACCEPTED = "accepted", "Accepted by the client"
    SUPERSEDED = "superseded", "Superseded"
    WITHDRAWN = "withdrawn", "Withdrawn"
    RETURNED = "returned", "Sent back before sealing"


STATES_UNDER_WAY = frozenset({ReportState.FROZEN, ReportState.APPROVED, ReportState.SEALED})
STATES_IN_FORCE = frozenset({ReportState.ISSUED, ReportState.ACCEPTED})
STATES_OVER = frozenset({ReportState.SUPERSEDED, ReportState.WITHDRAWN, ReportState.RETURNED})
STEPS = {
    ReportState.FROZEN: {ReportState.APPROVED, ReportState.RETURNED},
    ReportState.APPROVED: {ReportState.SEALED, ReportState.RETURNED},
    ReportState.SEALED: {ReportState.ISSUED, ReportState.WITHDRAWN},
    ReportState.ISSUED: {ReportState.ACCEPTED, ReportState.SUPERSEDED, ReportState.WITHDRAWN},
    ReportState.ACCEPTED: {ReportState.SUPERSEDED},
}
"""State → states that may follow; a trigger of the database holds the same table."""
ALARM_AFTER = 3
"""So many failures in sequence to draw or seal a report raise the alarm on the Day sheet."""


class SealKey(AuditedRow):
    """The public half of a key that seals reports. The private half lies in a file outside the database."""

    site_path: ClassVar[str] = ""

    fingerprint = models.CharField("SHA-256 of the certificate", max_length=64, unique=True)
    subject = models.CharField(max_length=200)
    certificate = models.TextField("certificate as PEM")
    made_at = models.DateTimeField(default=timezone.now)
    ends_at = models.DateTimeField()
    is_in_use = models.BooleanField(default=True)
    replaced_at = models.DateTimeField(null=True)
    replaced_because = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["is_in_use"], condition=models.Q(is_in_use=True), name="groutjobs_sealkey_one_in_use"
            ),
        ]

    def __str__(self) -> str:
        return f"seal key {self.fingerprint[:16]}"

    def owning_site_id(self) -> int | None:
        return None


class Reports(models.Manager["TurnoverReport"]):
    """Leaves the long texts in the database until one report is opened; lists never need them."""

    def get_queryset(self) -> "models.QuerySet[TurnoverReport]":
        return super().get_queryset().defer("manifest_text", "search_text")


class TurnoverReport(AuditedRow):
    """One revision of the report of one pour.

    `manifest_text` is kept as the very text that was hashed, because a JSON column may write numbers its own way.
    """

    site_path: ClassVar[str] = "pour__plan__machine__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("manifest_text", "search_text", "salt")

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="reports")
    number = models.CharField(max_length=40)
    revision = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=12, choices=ReportState, default=ReportState.FROZEN)
    manifest_text = models.TextField("the frozen facts as canonical JSON")
    manifest_sha256 = models.CharField(max_length=64)
    facts = models.JSONField("key facts for the register", default=dict)
    frozen_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    frozen_at = models.DateTimeField(default=timezone.now)
    pdf_sha256 = models.CharField(max_length=64, blank=True)
    issued_at = models.DateTimeField(null=True)
    sealed_at = models.DateTimeField(null=True)
    seal_key = models.ForeignKey(SealKey, models.PROTECT, null=True, related_name="reports")
    is_time_stamped = models.BooleanField(default=False)
    fault = models.TextField("why the last drawing or sealing failed", blank=True)
    tries = models.PositiveSmallIntegerField("failures in sequence", default=0)
    next_try_at = models.DateTimeField(null=True)
    returned_because = models.CharField(max_length=300, blank=True)
    revises_because = models.CharField("why it takes the place of the revision in force", max_length=300, blank=True)
    search_text = models.TextField("words to search, in small letters", blank=True)
    salt = models.CharField(max_length=32, default=new_salt, editable=False)

    objects = Reports()

    class Meta:
        ordering = ["-frozen_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["pour", "revision"], name="groutjobs_report_revision_once"),
            models.UniqueConstraint(
                fields=["pour"],
                condition=models.Q(state__in=["frozen", "approved", "sealed"]),
                name="groutjobs_report_one_under_way",
            ),
            models.UniqueConstraint(
                fields=["pour"],
                condition=models.Q(state__in=["issued", "accepted"]),
                name="groutjobs_report_one_in_force",
            ),
            models.CheckConstraint(
                condition=~models.Q(state__in=["sealed", "issued", "accepted", "superseded"])
                | ~models.Q(pdf_sha256=""),
                name="groutjobs_report_sealed_has_file",
            ),
            models.CheckConstraint(
                condition=~models.Q(state__in=["issued", "accepted", "superseded"]) | models.Q(issued_at__isnull=False),
                name="groutjobs_report_issued_has_time",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="returned") | ~models.Q(returned_because=""),
                name="groutjobs_report_returned_has_reason",
            ),
        ]
        indexes = [models.Index(fields=["state", "-frozen_at"], name="groutjobs_report_by_state")]

    def __str__(self) -> str:
        return f"{self.number} rev {self.revision}"

    @cached_property
    def manifest(self) -> dict[str, Any]:
        """The frozen facts, read back."""
        read: dict[str, Any] = json.loads(self.manifest_text)
        return read

    @property
    def has_pdf(self) -> bool:
        return bool(self.pdf_sha256)

    @property
    def is_alarming(self) -> bool:
        """Signed, and could not be sealed several times in sequence."""
        return self.state == ReportState.APPROVED and self.tries >= ALARM_AFTER


class Meaning(models.TextChoices):
    """What a signature means; the sentence in turnover/signing.py is signed with it."""

    PERFORMED = "performed", "Performed"
    REVIEWED = "reviewed", "Reviewed"
    APPROVED = "approved", "Approved"


class Signature(AuditedRow):
    """One person's name under one meaning, bound to the hash of the manifest. Never changed, never deleted."""

    site_path: ClassVar[str] = "report__pour__plan__machine__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("printed_name", "salt")

    report = models.ForeignKey(TurnoverReport, models.PROTECT, related_name="signatures")
    meaning = models.CharField(max_length=10, choices=Meaning)
    sentence = models.CharField(max_length=300)
    signer = models.ForeignKey(User, models.PROTECT, related_name="+")
    printed_name = models.CharField(max_length=100)
    manifest_sha256 = models.CharField(max_length=64)
    signed_at = models.DateTimeField(default=timezone.now)
    salt = models.CharField(max_length=32, default=new_salt, editable=False)

    class Meta:
        ordering = ["signed_at"]
        constraints = [
            models.UniqueConstraint(fields=["report", "meaning"], name="groutjobs_signature_meaning_once"),
            models.UniqueConstraint(fields=["report", "signer"], name="groutjobs_signature_three_people"),
        ]

    def __str__(self) -> str:
        return f"{self.get_meaning_display()} {self.report.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise NotAllowed("a signature is never changed; withdraw the report and freeze a new revision")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise NotAllowed("a signature is never deleted; withdraw the report and freeze a new revision")


class Recipient(AuditedRow):
    """Somebody outside the program to whom a report was issued."""

    site_path: ClassVar[str] = "report__pour__plan__machine__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("name", "email", "salt")

    report = models.ForeignKey(TurnoverReport, models.PROTECT, related_name="recipients")
    name = models.CharField(max_length=100)
    organisation = models.CharField(max_length=100, blank=True)
    email = models.EmailField(blank=True)
    added_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    added_at = models.DateTimeField(default=timezone.now)
    salt = models.CharField(max_length=32, default=new_salt, editable=False)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"recipient {self.pk}"


class ReaderLink(AuditedRow):
    """A secret address for one recipient and a code that is told apart from it. Only hashes of both are kept."""

    site_path: ClassVar[str] = "recipient__report__pour__plan__machine__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("token_sha256", "code_hash")

    recipient = models.ForeignKey(Recipient, models.PROTECT, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    code_hash = models.CharField(max_length=128)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    wrong_codes = models.PositiveSmallIntegerField(default=0)
    revoked_at = models.DateTimeField(null=True)
    revoked_because = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(revoked_at__isnull=True) | ~models.Q(revoked_because=""),
                name="groutjobs_readerlink_revoked_has_reason",
            )
        ]

    def __str__(self) -> str:
        return f"reader link {self.pk}"

    @property
    def salt(self) -> str:
        return str(self.token_sha256)

    @property
    def word(self) -> str:
        """How the link stands now: valid, expired or revoked."""
        if self.revoked_at:
            return "revoked"
        return "valid" if timezone.now() < self.expires_at else "expired"


class LinkUse(AuditedRow):
    """One use of a reader link, or one try. Never changed, never deleted."""

    site_path: ClassVar[str] = "link__recipient__report__pour__plan__machine__site"

    link = models.ForeignKey(ReaderLink, models.PROTECT, related_name="uses")
    what = models.CharField(max_length=60)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"use of reader link {self.link_id}"


class Acceptance(AuditedRow):
    """The client took the report over: through a link with its code, or on paper that was scanned. Never changed."""

    site_path: ClassVar[str] = "report__pour__plan__machine__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("name", "salt")

    report = models.OneToOneField(TurnoverReport, models.PROTECT, related_name="acceptance")
    name = models.CharField(max_length=100)
    organisation = models.CharField(max_length=100, blank=True)
    sentence = models.CharField(max_length=300)
    accepted_on = models.DateField("day that the person gave")
    pdf_sha256 = models.CharField(max_length=64)
    link = models.ForeignKey(ReaderLink, models.PROTECT, null=True, related_name="+")
    paper_sha256 = models.CharField(max_length=64, blank=True)
    paper_kind = models.CharField(max_length=20, blank=True)
    entered_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)
    salt = models.CharField(max_length=32, default=new_salt, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(link__isnull=False, paper_sha256="", entered_by__isnull=True)
                | models.Q(link__isnull=True, entered_by__isnull=False) & ~models.Q(paper_sha256=""),
                name="groutjobs_acceptance_by_link_or_paper",
            )
        ]

    def __str__(self) -> str:
        return f"acceptance of {self.report}"


class Withdrawal(AuditedRow):
    """A report is taken back by two people: one says why, another agrees."""

    site_path: ClassVar[str] = "report__pour__plan__machine__site"

    report = models.OneToOneField(TurnoverReport, models.PROTECT, related_name="withdrawal")
    reason = models.CharField(max_length=300)
    proposed_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField(default=timezone.now)
    agreed_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    agreed_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(agreed_by__isnull=True) | ~models.Q(agreed_by=models.F("proposed_by")),
                name="groutjobs_withdrawal_two_people",
            ),
            models.CheckConstraint(condition=~models.Q(reason=""), name="groutjobs_withdrawal_has_reason"),
        ]

    def __str__(self) -> str:
        return f"withdrawal of {self.report}"


class SavedSearch(AuditedRow):
    """A search of the register that a person keeps under a name."""

    site_path: ClassVar[str] = ""

    person = models.ForeignKey(User, models.PROTECT, related_name="saved_searches")
    name = models.CharField(max_length=60)
    query = models.CharField("as in the address", max_length=600)
    saved_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["person", "name"], name="groutjobs_savedsearch_name_once")]

    def __str__(self) -> str:
        return f"search {self.pk} of person {self.person_id}"

    def owning_site_id(self) -> int | None:
        return None
