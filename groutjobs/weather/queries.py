"""Reads of the weather that other stages use."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from groutjobs.equipment.models import Site
from groutjobs.weather.models import LIVE, TYPICAL_YEARS, FeedState, Forecast, ForecastFeed, LearnedSpread
from groutjobs.weather.series import LIMIT_OF
from groutjobs.weather.services.offered import OFFERS, Offer
from groutjobs.weather.services.reading import Place

OVERDUE = dt.timedelta(minutes=30)
OLD = dt.timedelta(hours=24)
TYPICAL_TO_LOOK_AT = 5
LIVE_TO_PICK = 8
"""About a day of them; a search is made of the newest anyway."""


def forecasts_of(site: Site, *, live: bool | None = None) -> QuerySet[Forecast]:
    """Forecasts of the site, newest issue first, without their hours; with `live` only those that a service brought,
    or only the others."""
    rows = Forecast.objects.filter(site=site).select_related("made_by", "site").defer("hours", "note")
    if live is None:
        return rows
    return rows.filter(source__in=LIVE) if live else rows.exclude(source__in=LIVE)


def forecasts_to_pick(site: Site) -> QuerySet[Forecast]:
    """What a search may be made of: the newest live forecasts and all others, newest issue first."""
    newest = Forecast.objects.filter(site=site, source__in=LIVE).values("pk")[:LIVE_TO_PICK]
    return forecasts_of(site).filter(Q(pk__in=newest) | ~Q(source__in=LIVE))


def latest_forecast(site: Site) -> Forecast | None:
    """The newest by issue time; a correction comes before what it corrects."""
    return Forecast.objects.filter(site=site).select_related("site").first()


def learned_spread(site: Site) -> LearnedSpread | None:
    """The newest score that was taken over into the odds; None where none was."""
    return LearnedSpread.objects.filter(site=site).select_related("made_by").first()


def typical_hours_before(site: Site, moment: dt.datetime, count: int) -> dict[str, list[float]]:
    """Up to so many hours of the site's newest typical year that end one hour before the moment, by month and day.

    Empty where no typical year of the site holds that hour. It stands in UTC, so no hour repeats when clocks change.
    """
    typical = Forecast.objects.filter(site=site, source__in=TYPICAL_YEARS).first()
    if typical is None:
        return {}
    back = _unbroken(typical, (moment - dt.timedelta(hours=hours) for hours in range(1, count + 1)))
    return {name: values[::-1] for name, values in back.items()}


def typical_hours_from(site: Site, moment: dt.datetime, count: int) -> dict[str, list[float]]:
    """Up to so many hours from the moment on, by month and day, of the typical year of the site that has most of them.

    Empty where none of the newest few holds that hour.
    """
    best: dict[str, list[float]] = {}
    for typical in Forecast.objects.filter(site=site, source__in=TYPICAL_YEARS)[:TYPICAL_TO_LOOK_AT]:
        found = _unbroken(typical, (moment + dt.timedelta(hours=hours) for hours in range(count)))
        if len(found.get("temp_c", ())) > len(best.get("temp_c", ())):
            best = found
    return best


def _unbroken(typical: Forecast, moments: Iterable[dt.datetime]) -> dict[str, list[float]]:
    """The hours of a typical year at these moments, by month and day, up to the first that it does not hold."""
    places = {_place_in_year(typical.at(index)): index for index in range(typical.hour_count)}
    found: list[int] = []
    for place in map(_place_in_year, moments):
        if place not in places:
            break
        found.append(places[place])
    told = {name: typical.values(name) for name in LIMIT_OF if name in typical.hours}
    return {name: [values[index] for index in found] for name, values in told.items()} if found else {}


def _place_in_year(moment: dt.datetime) -> tuple[int, int, int]:
    at = moment.astimezone(dt.UTC)
    return at.month, min(at.day, 28) if at.month == 2 else at.day, at.hour


@dataclass(frozen=True)
class LiveForecast:
    """The live forecast of a site as its page shows it."""

    feed: ForecastFeed
    offer: Offer
    state: FeedState | None
    at: dt.datetime

    @property
    def last(self) -> Forecast | None:
        return self.state.last_forecast if self.state else None

    @property
    def last_is_old(self) -> bool:
        return self.last is not None and self.last.issued_at + OLD < self.at

    @property
    def is_working(self) -> bool:
        return bool(self.state and self.state.working_until and self.state.working_until > self.at)

    @property
    def was_tried_just_now(self) -> bool:
        tried_at = self.state.last_try_at if self.state else None
        return tried_at is not None and self.at - tried_at < dt.timedelta(minutes=1)

    @property
    def next_try_at(self) -> dt.datetime | None:
        """When it is due; None where that is at once."""
        due = self.state.next_try_at if self.state else None
        return due if due and due > self.at else None

    @property
    def is_overdue(self) -> bool:
        """Whether nobody seems to fetch: neither worker nor command came by for a while after it was due."""
        due = self.state.next_try_at if self.state else None
        return self.feed.is_on and (due or self.feed.chosen_at) + OVERDUE < self.at and not self.is_working


def live_forecast(site: Site, at: dt.datetime) -> LiveForecast | None:
    """The live forecast that the site chose; None where it never chose one."""
    feed = ForecastFeed.objects.filter(site=site).select_related("chosen_by").first()
    if feed is None:
        return None
    states = FeedState.objects.filter(site=site, service=feed.service).select_related("last_forecast")
    state = states.defer("last_forecast__hours", "last_forecast__note").first()
    return LiveForecast(feed, OFFERS[feed.service], state, at)


def place_of(site: Site) -> Place:
    """Where the forecast of a site is asked for."""
    return Place(site.latitude_deg, site.longitude_deg, site.elevation_m)


def credit_for(forecast: Forecast) -> Offer | None:
    """The service to be named where the hours of the forecast are shown; that of the forecast it corrects, too."""
    source = forecast.source if forecast.is_live or forecast.corrects is None else forecast.corrects.source
    return OFFERS.get(source)
