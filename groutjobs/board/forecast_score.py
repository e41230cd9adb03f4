"""Live forecasts of a site against the air that its probes read beside open foundations."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from groutjobs.curing.models import CureReading, Probe
from groutjobs.equipment.models import Exposure, Site
from groutjobs.weather.models import LIVE, Forecast
from groutjobs.weather.scoring import DayAhead, Pair, scores

LOOK_BACK = dt.timedelta(days=60)
APART = dt.timedelta(hours=12)
MOST_FORECASTS = 120
MOST_READINGS = 20_000
HOUR = dt.timedelta(hours=1)


@dataclass(frozen=True)
class Score:
    """How many pairs there are, and bias and spread by the day ahead once they are enough."""

    pair_count: int
    days: list[DayAhead]


def score_of(site: Site, at: dt.datetime) -> Score:
    """The score of the last sixty days, from forecasts issued at least twelve hours apart."""
    measured = _measured(site, at - LOOK_BACK)
    pairs = [pair for forecast in _forecasts(site, at - LOOK_BACK) for pair in _pairs(forecast, measured)]
    return Score(len(pairs), scores(pairs))


def _measured(site: Site, since: dt.datetime) -> dict[dt.datetime, float]:
    """Full hour → the reading nearest to it within a quarter of an hour, the mean of several."""
    readings = CureReading.objects.in_use().filter(
        pour__plan__machine__site=site,
        pour__plan__machine__foundation__exposure=Exposure.OPEN,
        probe=Probe.AIR,
        read_at__gte=since,
    )
    by_hour: dict[dt.datetime, list[float]] = {}
    for read_at, temp_c in readings.order_by("-read_at").values_list("read_at", "temp_c")[:MOST_READINGS]:
        hour = (read_at + HOUR / 2).replace(minute=0, second=0, microsecond=0)
        if abs(read_at - hour) <= HOUR / 4:
            by_hour.setdefault(hour, []).append(temp_c)
    return {hour: sum(temps) / len(temps) for hour, temps in by_hour.items()}


def _forecasts(site: Site, since: dt.datetime) -> list[Forecast]:
    """Those issued at least twelve hours after the one before: hours that hardly differ are not counted again."""
    kept: list[int] = []
    last_at = since - APART
    issued = Forecast.objects.filter(site=site, source__in=LIVE, issued_at__gte=since)
    for pk, issued_at in issued.order_by("issued_at").values_list("pk", "issued_at"):
        if issued_at - last_at >= APART:
            kept.append(pk)
            last_at = issued_at
    return list(Forecast.objects.filter(pk__in=kept[-MOST_FORECASTS:]))


def _pairs(forecast: Forecast, measured: dict[dt.datetime, float]) -> Iterator[Pair]:
    """The hours after the issue at which the air was read."""
    temps = forecast.values("temp_c")
    for index in range(forecast.past_hours, forecast.hour_count):
        hour = forecast.at(index)
        if hour in measured:
            yield Pair((hour - forecast.issued_at) / HOUR, temps[index] - measured[hour])
