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
    US_NWS = "us_nws", "Live forecast, US National Weather Service"
    MET_NORWAY = "met_no", "Live forecast, MET Norway"


TYPICAL_YEARS = frozenset({ForecastSource.TMY3, ForecastSource.EPW})
LIVE = frozenset({ForecastSource.US_NWS, ForecastSource.MET_NORWAY})


class Service(models.TextChoices):
    """The open forecast services that a site may choose; what each is stands in services/offered.py."""

    US_NWS = ForecastSource.US_NWS.value, "US National Weather Service"
    MET_NORWAY = ForecastSource.MET_NORWAY.value, "MET Norway"


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
    def is_live(self) -> bool:
        return self.source in LIVE

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


class LearnedSpread(AuditedRow):
    """How far live forecasts were off the air of the site, as an engineer took it over for the odds. Never changed.

    `days` holds number, count, bias_k and spread_k of each scored day ahead, as scoring.DayAhead tells them.
    """

    site_path: ClassVar[str] = "site"

    site = models.ForeignKey(Site, models.PROTECT, related_name="learned_spreads")
    pair_count = models.PositiveIntegerField("pairs of forecast and reading")
    days = models.JSONField(default=list)
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"Spread learned from {self.pair_count} pairs"


class ForecastFeed(AuditedRow):
    """What a site chose: which service brings its forecast, in whose name it is asked, and whether at all."""

    site_path: ClassVar[str] = "site"

    site = models.OneToOneField(Site, models.PROTECT, related_name="forecast_feed")
    service = models.CharField(max_length=8, choices=Service)
    is_on = models.BooleanField(default=True)
    contact = models.CharField("contact sent to the service", max_length=120)
    chosen_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    chosen_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"{self.get_service_display()}, {'on' if self.is_on else 'off'}"


class FeedState(models.Model):
    """How fetching goes for one site and service. In the database, so that every worker sees the same.

    Not part of the record: it changes with each try. The forecasts that come of it are.
    `working_until` is the lease of the worker that fetches just now; it lapses when that worker dies.
    `not_before` is until when the service asked to be left alone; `next_try_at` is never earlier.
    `queued_for` is the time of the task that waits in the queue.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="feed_states")
    service = models.CharField(max_length=8, choices=Service)
    place = models.CharField("place that was asked for", max_length=60, blank=True)
    last_try_at = models.DateTimeField(null=True)
    last_answer_at = models.DateTimeField("last good answer", null=True)
    last_forecast = models.ForeignKey(Forecast, models.PROTECT, null=True, related_name="+")
    fault = models.TextField(blank=True)
    failures = models.PositiveIntegerField("failures in a row", default=0)
    next_try_at = models.DateTimeField(null=True)
    not_before = models.DateTimeField(null=True)
    working_until = models.DateTimeField(null=True)
    queued_for = models.DateTimeField(null=True)
    etag = models.CharField(max_length=200, blank=True)
    last_modified = models.CharField(max_length=200, blank=True)
    cell_url = models.CharField("address of the grid cell", max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "service"], name="groutjobs_feedstate_once")]

    def __str__(self) -> str:
        return f"{self.get_service_display()}, {self.failures} failures in a row"


class ServiceState(models.Model):
    """The breaker of one service, for all sites: after failures in a row it is left alone until `open_until`.

    Then one request is let through, whose lease is `trial_until`: a good answer closes the breaker, a bad one opens it
    for longer.
    """

    service = models.CharField(max_length=8, choices=Service, unique=True)
    failures = models.PositiveIntegerField("failures in a row", default=0)
    open_until = models.DateTimeField(null=True)
    trial_until = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"{self.get_service_display()}, {self.failures} failures in a row"
