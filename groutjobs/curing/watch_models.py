"""A cure that is watched: spans set aside, the log of wetting, what was worked out last, and how milestones moved."""

from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.curing.models import Probe
from groutjobs.pours.models import Pour
from groutjobs.weather.models import Forecast

POUR_SITE = "pour__plan__machine__site"


class ReadingAside(AuditedRow):
    """Readings of one probe over a span of time that no longer drive the clock, with the reason. They stay.

    It may be taken back with a reason; what came in between at the same minutes keeps its place.
    """

    site_path: ClassVar[str] = POUR_SITE

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="readings_aside")
    probe = models.CharField(max_length=10, choices=Probe)
    from_at = models.DateTimeField()
    until_at = models.DateTimeField()
    why = models.CharField(max_length=300)
    reading_count = models.PositiveIntegerField("readings set aside by it", default=0)
    set_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    set_at = models.DateTimeField(default=timezone.now)
    back_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    back_at = models.DateTimeField(null=True)
    back_why = models.CharField(max_length=300, blank=True)
    kept_aside_count = models.PositiveIntegerField("readings whose place was taken meanwhile", default=0)

    class Meta:
        ordering = ["-set_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(until_at__gte=models.F("from_at")), name="groutjobs_readingaside_forward"
            ),
            models.CheckConstraint(condition=~models.Q(why=""), name="groutjobs_readingaside_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.probe} readings set aside"


class Wetness(models.TextChoices):
    WET = "wet", "Wetted"
    COVERED = "covered", "Wet and covered"
    DRY = "dry", "Found dry"


class WetEntry(AuditedRow):
    """From this moment on the grout was wet, wet under a cover, or dry. A wrong entry is struck with a reason."""

    site_path: ClassVar[str] = POUR_SITE

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="wet_entries")
    wetness = models.CharField(max_length=10, choices=Wetness)
    at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)
    struck_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    struck_at = models.DateTimeField(null=True)
    struck_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["pour", "at"], condition=models.Q(struck_at=None), name="groutjobs_wetentry_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_wetness_display()} at {self.at:%Y-%m-%d %H:%M}"


class CureOutlook(models.Model):
    """What was worked out last behind the page: the rate of the pour and temperatures ahead, with their inputs.

    One row for each pour. `asked_at` is set while a new working-out waits in the queue.
    """

    pour = models.OneToOneField(Pour, models.CASCADE, related_name="outlook")
    asked_at = models.DateTimeField(null=True)
    asked_why = models.CharField(max_length=200, blank=True)
    computed_at = models.DateTimeField(null=True)
    forecast = models.ForeignKey(Forecast, models.SET_NULL, null=True, related_name="+")
    result = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"outlook of {self.pour_id}"


class MilestoneMove(AuditedRow):
    """The milestones of a pour as they stood after readings or a forecast had moved them, and what moved them."""

    site_path: ClassVar[str] = POUR_SITE

    pour = models.ForeignKey(Pour, models.CASCADE, related_name="milestone_moves")
    at = models.DateTimeField(default=timezone.now)
    why = models.CharField("what moved them", max_length=200)
    basis = models.CharField(max_length=10)
    engine_version = models.CharField(max_length=20)
    inputs = models.JSONField("what they rest on", default=dict)
    milestones = models.JSONField(default=list)

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["pour", "-at"], name="groutjobs_milestonemove_pour")]

    def __str__(self) -> str:
        return f"milestones at {self.at:%Y-%m-%d %H:%M}"


class KeptHeating(AuditedRow):
    """A “what if it is heated” that an engineer kept: question and answer as they stood."""

    site_path: ClassVar[str] = POUR_SITE

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="kept_heatings")
    question = models.JSONField(default=dict)
    result = models.JSONField(default=dict)
    remarks = models.CharField(max_length=300, blank=True)
    kept_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    kept_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-kept_at", "-pk"]

    def __str__(self) -> str:
        return f"heating kept {self.kept_at:%Y-%m-%d %H:%M}"
