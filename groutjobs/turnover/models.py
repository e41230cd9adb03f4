"""The turnover report: a frozen manifest, three signatures by three people, and the PDF made from the manifest."""

from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.pours.models import Pour


class ReportState(models.TextChoices):
    FROZEN = "frozen", "Frozen for signing"
    APPROVED = "approved", "Signed, being drawn"
    ISSUED = "issued", "Issued"
    SUPERSEDED = "superseded", "Superseded"
    WITHDRAWN = "withdrawn", "Withdrawn before issue"


class TurnoverReport(AuditedRow):
    """One revision of the report of one pour."""

    site_path: ClassVar[str] = "pour__plan__machine__site"

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="reports")
    number = models.CharField(max_length=40)
    revision = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=12, choices=ReportState, default=ReportState.FROZEN)
    manifest = models.JSONField(default=dict)
    manifest_sha256 = models.CharField(max_length=64)
    frozen_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    frozen_at = models.DateTimeField(default=timezone.now)
    pdf_sha256 = models.CharField(max_length=64, blank=True)
    issued_at = models.DateTimeField(null=True)
    fault = models.TextField("why the last drawing failed", blank=True)
    search_text = models.TextField(blank=True)

    class Meta:
        ordering = ["-frozen_at"]
        constraints = [
            models.UniqueConstraint(fields=["number", "revision", "pour"], name="groutjobs_report_revision_once"),
        ]

    def __str__(self) -> str:
        return f"{self.number} rev {self.revision}"


class Meaning(models.TextChoices):
    """What a signature means; the sentence in turnover/signing.py is signed with it."""

    PERFORMED = "performed", "Performed"
    REVIEWED = "reviewed", "Reviewed"
    APPROVED = "approved", "Approved"


class Signature(AuditedRow):
    """One person's name under one meaning, bound to the hash of the manifest."""

    site_path: ClassVar[str] = "report__pour__plan__machine__site"
    personal_fields: ClassVar[tuple[str, ...]] = ("printed_name",)

    report = models.ForeignKey(TurnoverReport, models.PROTECT, related_name="signatures")
    meaning = models.CharField(max_length=10, choices=Meaning)
    sentence = models.CharField(max_length=300)
    signer = models.ForeignKey(User, models.PROTECT, related_name="+")
    printed_name = models.CharField(max_length=100)
    manifest_sha256 = models.CharField(max_length=64)
    signed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["signed_at"]
        constraints = [
            models.UniqueConstraint(fields=["report", "meaning"], name="groutjobs_signature_meaning_once"),
            models.UniqueConstraint(fields=["report", "signer"], name="groutjobs_signature_three_people"),
        ]

    def __str__(self) -> str:
        return f"{self.get_meaning_display()} {self.report.number}"
