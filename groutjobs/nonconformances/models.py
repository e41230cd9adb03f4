"""Nonconformances of a pour: what was found, what the engineer decided, the proof, the close-out; all steps kept."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.curing.models import CureInspection, CureReading
from groutjobs.equipment.models import Site
from groutjobs.pours.models import Pour, PourEntry


class NonconformanceState(models.TextChoices):
    RAISED = "raised", "Raised, not decided"
    DECIDED = "decided", "Decided, being dealt with"
    PROVEN = "proven", "Proof given, to be closed"
    CLOSED = "closed", "Closed"


STATES_THAT_BLOCK = frozenset(NonconformanceState) - {NonconformanceState.CLOSED}


class Disposition(models.TextChoices):
    USE_AS_IS = "use_as_is", "Use as is"
    REPAIR = "repair", "Repair"
    REDO = "redo", "Redo"


DISPOSITIONS_WITH_PROOF = frozenset({Disposition.REPAIR, Disposition.REDO})


class Nonconformance(AuditedRow):
    """Where one nonconformance stands. What was done to it is in its steps, which only grow."""

    site_path: ClassVar[str] = "site"

    site = models.ForeignKey(Site, models.PROTECT, related_name="nonconformances")
    number = models.PositiveIntegerField("number within the site")
    pour = models.ForeignKey(Pour, models.PROTECT, related_name="nonconformances")
    entry = models.ForeignKey(PourEntry, models.PROTECT, null=True, related_name="nonconformances")
    inspection = models.ForeignKey(CureInspection, models.PROTECT, null=True, related_name="nonconformances")
    reading = models.ForeignKey(CureReading, models.PROTECT, null=True, related_name="nonconformances")
    found = models.TextField("what was found, against what")
    place = models.CharField("where", max_length=200, blank=True)
    x_mm = models.FloatField(null=True)
    y_mm = models.FloatField(null=True)
    state = models.CharField(max_length=10, choices=NonconformanceState, default=NonconformanceState.RAISED)
    raised_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    raised_at = models.DateTimeField(default=timezone.now)
    disposition = models.CharField(max_length=10, choices=Disposition, blank=True)
    decided_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    decided_because = models.TextField(blank=True)
    acceptance_source = models.CharField("source of the acceptance", max_length=120, blank=True)
    dealt_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    closed_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    closed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-number"]
        indexes = [models.Index(fields=["pour", "state"], name="groutjobs_nonconf_pour")]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="groutjobs_nonconf_number_once"),
            models.CheckConstraint(condition=~Q(found=""), name="groutjobs_nonconf_found"),
            models.CheckConstraint(
                condition=Q(state="raised", disposition="", decided_by__isnull=True)
                | Q(state__in=["decided", "proven", "closed"], disposition__in=Disposition.values)
                & Q(decided_by__isnull=False)
                & ~Q(decided_because="")
                & ~Q(acceptance_source=""),
                name="groutjobs_nonconf_decided",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["proven", "closed"]) | Q(disposition="use_as_is") | Q(dealt_by__isnull=False),
                name="groutjobs_nonconf_proven",
            ),
            models.CheckConstraint(
                condition=Q(state="closed", closed_by__isnull=False, closed_at__isnull=False)
                | (~Q(state="closed") & Q(closed_by__isnull=True, closed_at__isnull=True)),
                name="groutjobs_nonconf_closed",
            ),
            models.CheckConstraint(
                condition=Q(closed_by__isnull=True) | Q(dealt_by__isnull=True) | ~Q(closed_by=F("dealt_by")),
                name="groutjobs_nonconf_closed_by_another",
            ),
            models.CheckConstraint(
                condition=Q(x_mm__isnull=True, y_mm__isnull=True) | Q(x_mm__isnull=False, y_mm__isnull=False),
                name="groutjobs_nonconf_place_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"NC-{self.number}"

    @property
    def is_open(self) -> bool:
        return self.state in STATES_THAT_BLOCK


class StepKind(models.TextChoices):
    RAISED = "raised", "Raised"
    DECIDED = "decided", "Decided"
    PROVEN = "proven", "Proof given"
    SENT_BACK = "sent_back", "Proof sent back"
    CLOSED = "closed", "Closed"
    REOPENED = "reopened", "Opened again"


class NonconformanceStep(AuditedRow):
    """One step in the life of a nonconformance, in the words of who took it. Never changed, never deleted."""

    site_path: ClassVar[str] = "nonconformance__site"

    nonconformance = models.ForeignKey(Nonconformance, models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=10, choices=StepKind)
    words = models.TextField()
    disposition = models.CharField(max_length=10, choices=Disposition, blank=True)
    source = models.CharField("source of the acceptance", max_length=120, blank=True)
    entry = models.ForeignKey(PourEntry, models.PROTECT, null=True, related_name="+")
    inspection = models.ForeignKey(CureInspection, models.PROTECT, null=True, related_name="+")
    photos = models.JSONField("numbers of photographs of the pour", default=list)
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=~Q(words=""), name="groutjobs_nonconfstep_words")]

    def __str__(self) -> str:
        return f"{self.nonconformance}: {self.get_kind_display()}"
