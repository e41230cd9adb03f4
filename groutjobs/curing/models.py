"""Cure readings and cure inspections."""

from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.pours.models import Pour


class Probe(models.TextChoices):
    GROUT = "grout", "Grout"
    CONCRETE = "concrete", "Concrete"
    PLATE = "plate", "Plate"
    AIR = "air", "Air"


class ReadingImport(AuditedRow):
    """One file of readings, or one reading typed by hand: who brought it, when, and the hash of the file."""

    site_path: ClassVar[str] = "pour__plan__machine__site"

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="reading_imports")
    file_name = models.CharField(max_length=120, blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    row_count = models.PositiveIntegerField(default=0)
    brought_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    brought_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-brought_at"]

    def __str__(self) -> str:
        return self.file_name or "reading by hand"


class CureReading(models.Model):
    """A temperature at a moment. Many: filed under their import, which the record holds with its hash."""

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="readings")
    brought_in = models.ForeignKey(ReadingImport, models.PROTECT, related_name="readings")
    probe = models.CharField(max_length=10, choices=Probe)
    read_at = models.DateTimeField()
    temp_c = models.FloatField()
    typed = models.CharField("as entered, with unit", max_length=30, blank=True)

    class Meta:
        ordering = ["read_at"]
        constraints = [
            models.UniqueConstraint(fields=["pour", "probe", "read_at"], name="groutjobs_curereading_once"),
        ]

    def __str__(self) -> str:
        return f"{self.probe} {self.temp_c:g} °C"


class InspectionKind(models.TextChoices):
    LEVEL = "level", "Level survey"
    SOUNDING = "sounding", "Sounding"
    BOLTS = "bolts", "Bolt tightening"


class Verdict(models.TextChoices):
    ACCEPTED = "accepted", "Accepted"
    REFUSED = "refused", "Not accepted"


class CureInspection(AuditedRow):
    """One inspection of the cured grout: rows as entered, result as computed, verdict by a person."""

    site_path: ClassVar[str] = "pour__plan__machine__site"

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="inspections")
    kind = models.CharField(max_length=10, choices=InspectionKind)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    instrument = models.CharField("instrument and serial number", max_length=80)
    calibration_due_on = models.DateField()
    inputs = models.JSONField("rows as entered, and limits with their source", default=dict)
    result = models.JSONField("what was computed, with engine version and sources", default=dict)
    verdict = models.CharField(max_length=10, choices=Verdict)
    remarks = models.TextField(blank=True)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, related_name="replaced_by")
    entered_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["made_at"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.pour.plan.machine.tag}"
