"""A site with a live forecast, and what its service answers."""

import datetime as dt
from typing import Any

from groutjobs.accounts.models import Role
from groutjobs.equipment.models import Site
from groutjobs.weather.fetching import Outcome, fetch_if_due
from groutjobs.weather.models import FeedState, ForecastFeed, Service
from tests.factories import make_person, make_site
from tests.weather.forecast_server import CONTACT, Answer, body_of, changed, send

NOW = dt.datetime(2026, 5, 4, 9, 0, tzinfo=dt.UTC)
LAST_MODIFIED = "Mon, 04 May 2026 08:12:33 GMT"


def make_feed(*, site: Site | None = None, service: str = Service.MET_NORWAY, is_on: bool = True) -> ForecastFeed:
    site = site or make_site()
    engineer = make_person(site=site, roles=(Role.ENGINEER,))
    return ForecastFeed.objects.create(site=site, service=service, is_on=is_on, contact=CONTACT, chosen_by=engineer)


def state_of(feed: ForecastFeed) -> FeedState:
    return FeedState.objects.get(site=feed.site_id, service=feed.service)


def fetch(feed: ForecastFeed) -> Outcome:
    """Fetch as if the time of the next try had come; the state stays what it is otherwise."""
    FeedState.objects.filter(site=feed.site_id).update(next_try_at=None)
    return fetch_if_due(feed.site_id)


def met(issued_at: str = "2026-05-04T08:12:33Z", **headers: str) -> Answer:
    """A good answer of MET Norway that was issued then."""

    def change(answer: Any) -> None:
        answer["properties"]["meta"]["updated_at"] = issued_at

    return send(changed("met_norway_complete.json", change), 200, Last_Modified=LAST_MODIFIED, **headers)


def nws() -> list[Answer]:
    """The two good answers of the US National Weather Service."""
    return [send(body_of("us_nws_point.json")), send(body_of("us_nws_grid.json"), ETag='"grid"')]
