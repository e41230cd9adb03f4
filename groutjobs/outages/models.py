"""Outages and the pours scheduled in them."""

import datetime as dt
from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.equipment.models import Site
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.windows.models import PourHours


class Outage(AuditedRow):
    """A stretch of time in which machines of a site stand still."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="outages")
    name = models.CharField(max_length=80)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    mixers = models.PositiveSmallIntegerField(default=2)
    alignment_tools = models.PositiveSmallIntegerField("sets of alignment tools", default=1)
    days_off = models.JSONField("days on which nobody works, ISO 8601", default=list)

    class Meta:
        ordering = ["-starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="groutjobs_outage_once"),
            models.CheckConstraint(
                condition=models.Q(ends_at__gt=models.F("starts_at")), name="groutjobs_outage_ends_after_start"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ScheduledPour(AuditedRow):
    """The hour chosen for a plan, with the pour hours it was chosen from. A change makes a new row.

    `milestones` holds by code {"label", "at", "source"}, at as ISO 8601 text or None where the forecast ended before:
    "prepared_from" and "placed" of the work itself, then those of the cure. `findings` are those of the choice; what
    the hour itself breaks stands in the pour hours. `basis` is what outages/duties.py counts its duties from.
    """

    site_path: ClassVar[str] = "plan__machine__site"

    plan = models.ForeignKey(PourPlan, models.PROTECT, related_name="scheduled_pours")
    outage = models.ForeignKey(Outage, models.PROTECT, null=True, related_name="scheduled_pours")
    pour_hours = models.ForeignKey(PourHours, models.PROTECT, related_name="scheduled_pours")
    starts_at = models.DateTimeField()
    align_by_at = models.DateTimeField(null=True)
    milestones = models.JSONField("predicted times by milestone", default=dict)
    basis = models.JSONField("what its duties are counted from", default=dict)
    findings = models.JSONField(default=list)
    reason = models.CharField(max_length=200, blank=True)
    is_current = models.BooleanField(default=True)
    chosen_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    chosen_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan"], condition=models.Q(is_current=True), name="groutjobs_scheduledpour_one_current"
            ),
        ]

    def __str__(self) -> str:
        return f"scheduled pour of {self.plan.machine.tag}"

    def reached_at(self, code: str) -> dt.datetime | None:
        """When a milestone is predicted; None where it is none of this pour's, or the forecast ended before."""
        text = self.milestones.get(code, {}).get("at")
        return dt.datetime.fromisoformat(text) if text else None


DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


class Skill(models.TextChoices):
    """What a crew can do; every step of a job takes crews with one of these."""

    MECHANICAL = "mechanical", "mechanical work"
    CONCRETE = "concrete", "concrete preparation"
    GROUT = "grout", "formwork and grout"


class OutageCrew(AuditedRow):
    """People who work together at one machine at a time during an outage, and their shifts. One person is a crew too.

    A crew that is taken off keeps its row, because old schedules name it.
    """

    site_path: ClassVar[str] = "outage__site"

    outage = models.ForeignKey(Outage, models.PROTECT, related_name="crews")
    name = models.CharField(max_length=40)
    skills = models.JSONField("skills", default=list)
    shift_starts = models.TimeField()
    shift_ends = models.TimeField()
    working_days = models.JSONField("working days, 0 is Monday", default=list)
    people = models.ManyToManyField(User, related_name="outage_crews")
    is_there = models.BooleanField(default=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["outage", "name"], condition=models.Q(is_there=True), name="groutjobs_outagecrew_once"
            ),
        ]

    def __str__(self) -> str:
        return f"crew {self.name}"

    def skill_labels(self) -> list[str]:
        return [str(Skill(skill).label) for skill in self.skills]

    def day_names(self) -> str:
        if len(self.working_days) == len(DAYS):
            return "every day"
        return ", ".join(DAYS[day] for day in self.working_days)


class OutageJob(AuditedRow):
    """The grouting of one machine as it is scheduled: date, weight, and what differs from the usual steps.

    `hours_of_steps` holds durations in hours by code of the step; `locked` the start of locked steps, ISO 8601 by code.
    """

    site_path: ClassVar[str] = "outage__site"

    outage = models.ForeignKey(Outage, models.PROTECT, related_name="jobs")
    plan = models.ForeignKey(PourPlan, models.PROTECT, related_name="outage_jobs")
    due_at = models.DateTimeField("handed over to alignment by", null=True)
    weight = models.PositiveSmallIntegerField(default=1)
    hours_of_steps = models.JSONField(default=dict)
    locked = models.JSONField(default=dict)
    is_in = models.BooleanField(default=True)

    class Meta:
        ordering = ["plan__machine__tag", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["outage", "plan"], condition=models.Q(is_in=True), name="groutjobs_outagejob_once"
            ),
        ]

    def __str__(self) -> str:
        return f"job of {self.plan.machine.tag}"


class ScheduleState(models.TextChoices):
    QUEUED = "queued", "waiting for its turn"
    SOLVING = "solving", "being computed"
    SOLVED = "solved", "best there is, within its bound"
    OUT_OF_TIME = "out_of_time", "best that was found"
    INFEASIBLE = "infeasible", "no schedule keeps every rule"
    FAILED = "failed", "could not be computed"
    ACCEPTED = "accepted", "accepted"
    REPLACED = "replaced", "accepted before, replaced"


STATES_UNDER_WAY = frozenset({ScheduleState.QUEUED, ScheduleState.SOLVING})
STATES_TO_ACCEPT = frozenset({ScheduleState.SOLVED, ScheduleState.OUT_OF_TIME})


class OutageSchedule(AuditedRow):
    """A schedule of all jobs of an outage, asked for once and numbered. What was asked and what came of it stay.

    `result` is what outages/calc.py returns. `reason` is why it could not be computed.
    """

    site_path: ClassVar[str] = "outage__site"

    outage = models.ForeignKey(Outage, models.PROTECT, related_name="schedules")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=12, choices=ScheduleState, default=ScheduleState.QUEUED)
    seconds = models.PositiveSmallIntegerField(default=30)
    what_if = models.JSONField(default=dict)
    result = models.JSONField(default=dict)
    reason = models.CharField(max_length=300, blank=True)
    asked_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    accepted_by = models.ForeignKey(User, models.PROTECT, null=True, related_name="+")
    accepted_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["outage", "number"], name="groutjobs_outageschedule_number"),
            models.UniqueConstraint(
                fields=["outage"], condition=models.Q(state="accepted"), name="groutjobs_outageschedule_one_accepted"
            ),
        ]

    def __str__(self) -> str:
        return f"schedule {self.number} of {self.outage.name}"


class SolveState(models.Model):
    """How the computing of a schedule goes: news for the page, not part of the record."""

    schedule = models.OneToOneField(OutageSchedule, models.CASCADE, related_name="solving")
    working_until = models.DateTimeField(null=True)
    stop_asked = models.BooleanField(default=False)
    progress = models.JSONField(default=dict)


class HoursNews(models.Model):
    """How judging all machines by another forecast went last time: news for the page, not part of the record.

    `refused` holds {"tag", "reason"} of machines that could not be judged.
    """

    outage = models.OneToOneField(Outage, models.CASCADE, related_name="hours_news")
    forecast = models.ForeignKey(Forecast, models.CASCADE, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    done_at = models.DateTimeField(null=True)
    judged = models.PositiveSmallIntegerField(default=0)
    refused = models.JSONField(default=list)


class CalendarLink(AuditedRow):
    """A secret address at which calendar programs read the accepted schedule as one person. Only its hash is kept."""

    site_path: ClassVar[str] = "outage__site"

    outage = models.ForeignKey(Outage, models.PROTECT, related_name="calendar_links")
    person = models.ForeignKey(User, models.PROTECT, related_name="calendar_links")
    code_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=timezone.now)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"calendar link of {self.outage.name}"
