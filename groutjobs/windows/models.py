"""Pour hours: what every hour of a forecast means for a plan."""

from typing import Any, ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow, MeasuredRow
from groutjobs.findings import Level
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast


class Weight(models.TextChoices):
    """How much a condition weighs that a shop may waive."""

    MUST = "must", "must hold"
    PREFERRED = "preferred", "should hold"
    IGNORED = "ignored", "is not asked"


WEIGHT_LEVELS = {Weight.MUST: Level.BLOCKER, Weight.PREFERRED: Level.WARNING}


class PourHours(MeasuredRow, AuditedRow):
    """The search of one forecast for one plan, with its inputs and the engine version. Rebuilt, never changed.

    `result` is what windows/calc.py returns; queries.py reads hours, findings and milestones out of it. A trial shows
    what a measure would bring; nothing rests on it until the measure is taken, which makes another search.
    """

    site_path: ClassVar[str] = "plan__machine__site"

    plan = models.ForeignKey(PourPlan, models.PROTECT, related_name="pour_hours")
    forecast = models.ForeignKey(Forecast, models.PROTECT, related_name="pour_hours")
    measured_concrete_c = models.FloatField("measured concrete temperature", null=True)
    measured_at = models.DateTimeField(null=True)
    material_c = models.FloatField("temperature of the material at the mixer")
    align_by_at = models.DateTimeField("alignment must start by", null=True)
    result = models.JSONField(default=dict)
    is_trial = models.BooleanField("only compared with others", default=False)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"pour hours of {self.plan.machine.tag}"

    def hour(self, index: int) -> dict[str, Any]:
        """One start hour of the result; IndexError where the search has no such hour."""
        if index < 0:
            raise IndexError(index)
        found: dict[str, Any] = self.result["hours"][index]
        return found
