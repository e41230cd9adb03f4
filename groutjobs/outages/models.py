"""Outages and the pours scheduled in them."""

import datetime as dt
from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.equipment.models import Site
from groutjobs.planning.models import PourPlan
from groutjobs.windows.models import PourHours


class Outage(AuditedRow):
    """A stretch of time in which machines of a site stand still."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="outages")
    name = models.CharField(max_length=80)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

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
    the hour itself breaks stands in the pour hours.
    """

    site_path: ClassVar[str] = "plan__machine__site"

    plan = models.ForeignKey(PourPlan, models.PROTECT, related_name="scheduled_pours")
    outage = models.ForeignKey(Outage, models.PROTECT, null=True, related_name="scheduled_pours")
    pour_hours = models.ForeignKey(PourHours, models.PROTECT, related_name="scheduled_pours")
    starts_at = models.DateTimeField()
    align_by_at = models.DateTimeField(null=True)
    milestones = models.JSONField("predicted times by milestone", default=dict)
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
