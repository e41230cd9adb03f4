"""Hourly weather of a site: forecasts, typical years read as one, and corrections by hand."""

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


class Forecast(AuditedRow):
    """Hourly weather for a site with its source, issue time and zone. Never changed: a correction is a new one.

    `hours` holds one list for each quantity, all of the same length, the first hour at `starts_at`:
    temp_c, dew_point_c, relative_humidity, wind_km_h, solar_w_m2, cloud_ratio, rain_probability. A quantity that the
    source does not give is absent.
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
