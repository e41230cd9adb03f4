"""The turnover report: a frozen manifest, three signatures by three people, and the PDF made from the manifest."""

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
    APPROVED = "approved", "Signed, being drawn"
    ISSUED = "issued", "Issued"
    SUPERSEDED = "superseded", "Superseded"
    WITHDRAWN = "withdrawn", "Withdrawn before issue"


STATES_UNDER_WAY = frozenset({ReportState.FROZEN, ReportState.APPROVED})
STATES_WITH_PDF = frozenset({ReportState.ISSUED, ReportState.SUPERSEDED})


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
    fault = models.TextField("why the last drawing failed", blank=True)
    withdrawn_because = models.CharField(max_length=300, blank=True)
    search_text = models.TextField("words to search, in small letters", blank=True)
    salt = models.CharField(max_length=32, default=new_salt, editable=False)

    objects = Reports()

    class Meta:
        ordering = ["-frozen_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["pour", "revision"], name="groutjobs_report_revision_once"),
            models.UniqueConstraint(
                fields=["pour"],
                condition=models.Q(state__in=["frozen", "approved"]),
                name="groutjobs_report_one_under_way",
            ),
            models.UniqueConstraint(
                fields=["pour"], condition=models.Q(state="issued"), name="groutjobs_report_one_issued"
            ),
            models.CheckConstraint(
                condition=~models.Q(state__in=["issued", "superseded"])
                | (~models.Q(pdf_sha256="") & models.Q(issued_at__isnull=False)),
                name="groutjobs_report_issued_has_file",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="withdrawn") | ~models.Q(withdrawn_because=""),
                name="groutjobs_report_withdrawn_has_reason",
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
        return self.state in STATES_WITH_PDF


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
