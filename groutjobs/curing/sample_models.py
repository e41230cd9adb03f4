"""Laboratory results of the strength samples cast at a pour."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.curing.models import Verdict
from groutjobs.pours.models import Pour, PourEntry


class SampleShape(models.TextChoices):
    CUBE = "cube", "Cube"
    CYLINDER = "cylinder", "Cylinder"


class KeptWhere(models.TextChoices):
    BESIDE = "beside", "beside the pour, as warm as the grout"
    ELSEWHERE = "elsewhere", "elsewhere, in a laboratory or store"


class SampleResult(AuditedRow):
    """Strength of one sample as the laboratory reports it. A wrong row is replaced by another, with a reason."""

    site_path: ClassVar[str] = "pour__plan__machine__site"

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="sample_results")
    entry = models.ForeignKey(PourEntry, models.PROTECT, related_name="sample_results")
    label = models.CharField("label on the sample", max_length=60)
    specimen = models.CharField("which of the set", max_length=20)
    tested_at = models.DateTimeField()
    kept = models.CharField(max_length=10, choices=KeptWhere)
    lab = models.CharField(max_length=100)
    report_no = models.CharField(max_length=60)
    inputs = models.JSONField("values as entered", default=dict)
    result = models.JSONField("what was computed, with engine version and sources", default=dict)
    strength_mpa = models.FloatField()
    verdict = models.CharField(max_length=10, choices=Verdict)
    remarks = models.CharField(max_length=500, blank=True)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, related_name="replaced_by")
    entered_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["tested_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["entry", "specimen"],
                condition=Q(replaces__isnull=True),
                name="groutjobs_sampleresult_one_chain",
            ),
            models.CheckConstraint(condition=Q(strength_mpa__gt=0), name="groutjobs_sampleresult_positive"),
            models.CheckConstraint(
                condition=Q(replaces__isnull=True) | ~Q(remarks=""), name="groutjobs_sampleresult_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label}, {self.specimen}"
