"""Hourly weather of a site: forecasts, typical years read as one, and corrections by hand."""

import datetime as dt
from typing import ClassVar

from django.db import models
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.models import AuditedRow
from groutjobs.equipment.models import Site


class ForecastSource(models.TextChoices):
    CSV = "csv", "Table of hours (CSV)"
    TMY3 = "tmy3", "Typical year, TMY3"
    EPW = "epw", "Typical year, EPW"
    HAND = "hand", "Entered by hand"


TYPICAL_YEARS = frozenset({ForecastSource.TMY3, ForecastSource.EPW})


class Forecast(AuditedRow):
    """Hourly weather for a site with its source, issue time and zone. Never changed: a correction is a new one.

    `hours` holds one list for each quantity, all of the same length, the first hour at `starts_at`:
    temp_c, dew_point_c, relative_humidity, wind_km_h, cloud_ratio, solar_w_m2, rain_probability. Only the chance of
    rain may be absent. "computed" names those that the source did not give; "past_hours" counts the hours at the
    beginning that lie before the time to plan for and only bring the foundation to its temperature.
    """

    site_path: ClassVar[str] = "site"

    site = models.ForeignKey(Site, models.PROTECT, related_name="forecasts")
    source = models.CharField(max_length=8, choices=ForecastSource)
    source_name = models.CharField("station, service or person", max_length=200)
    issued_at = models.DateTimeField()
    zone = models.CharField(max_length=40)
    starts_at = models.DateTimeField()
    hour_count = models.PositiveIntegerField()
    hours = models.JSONField(default=dict)
    note = models.TextField(blank=True)
    file_sha256 = models.CharField(max_length=64, blank=True)
    corrects = models.ForeignKey("self", models.PROTECT, null=True, related_name="corrections")
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-issued_at", "-pk"]
        indexes = [models.Index(fields=["site", "-issued_at"], name="groutjobs_forecast_latest")]

    def __str__(self) -> str:
        return f"{self.get_source_display()}, {self.source_name}"

    @property
    def is_typical(self) -> bool:
        return self.source in TYPICAL_YEARS

    @property
    def past_hours(self) -> int:
        return int(self.hours.get("past_hours", 0))

    @property
    def plan_starts_at(self) -> dt.datetime:
        return self.at(self.past_hours)

    @property
    def ends_at(self) -> dt.datetime:
        return self.at(self.hour_count - 1)

    def at(self, index: int) -> dt.datetime:
        return self.starts_at + dt.timedelta(hours=index)

    def values(self, quantity: str) -> list[float]:
        """The hours of one quantity from starts_at on; KeyError where the source does not tell it."""
        return [float(value) for value in self.hours[quantity]]
