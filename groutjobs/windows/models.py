"""Pour hours: what every hour of a forecast means for a plan."""

from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow, MeasuredRow
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast


class PourHours(MeasuredRow, AuditedRow):
    """The search of one forecast for one plan, with its inputs and the engine version. Rebuilt, never changed."""

    site_path: ClassVar[str] = "plan__machine__site"

    plan = models.ForeignKey(PourPlan, models.PROTECT, related_name="pour_hours")
    forecast = models.ForeignKey(Forecast, models.PROTECT, related_name="pour_hours")
    measured_concrete_c = models.FloatField("measured concrete temperature", null=True)
    measured_at = models.DateTimeField(null=True)
    material_c = models.FloatField("temperature of the material at the mixer")
    align_by_at = models.DateTimeField("alignment must start by", null=True)
    result = models.JSONField(default=dict)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"pour hours of {self.plan.machine.tag}"
