"""Choosing the live forecast of a site, and asking for it now. Apart from actions.py, which fetching uses."""

import datetime as dt
from functools import partial

from django.db import transaction
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.weather.models import FeedState, ForecastFeed, Service, ServiceState
from groutjobs.weather.tasks import fetch_when_due

ASK_AGAIN_AFTER = dt.timedelta(minutes=5)


@action
def choose_service(*, site: Site, service: str, is_on: bool, contact: str, by: User) -> ForecastFeed:
    """Say which service brings the forecast of the site; what is on is fetched at once, behind the page."""
    feed = ForecastFeed.objects.select_for_update(of=("self",)).filter(site=site).first()
    before = snapshot(feed) if feed else None
    if feed and (feed.service, feed.is_on, feed.contact) == (service, is_on, contact):
        unchanged()
        return feed
    if feed and feed.contact != contact:
        # A service that refused the old contact may be asked with the new one at once.
        FeedState.objects.filter(site=site).update(next_try_at=None, not_before=None)
    feed = feed or ForecastFeed(site=site)
    feed.service, feed.is_on, feed.contact = Service(service), is_on, contact
    feed.chosen_by, feed.chosen_at = by, timezone.now()
    feed.save()
    record(feed, by=by, kind="forecast_feed.chosen", before=before)
    if is_on:
        transaction.on_commit(partial(fetch_when_due.enqueue, site.pk))
    return feed


@action
def ask_now(*, site: Site, by: User) -> ForecastFeed:
    """Have the forecast fetched now, unless the service asked to be left alone or was asked a moment ago."""
    feed = ForecastFeed.objects.filter(site=site).first()
    if feed is None or not feed.is_on:
        raise NotAllowed("The live forecast is off; choose a service first.")
    now = timezone.now()
    state, _ = FeedState.objects.select_for_update().get_or_create(site=site, service=feed.service)
    if why := why_not_now(state, now):
        raise NotAllowed(why)
    FeedState.objects.filter(pk=state.pk).update(next_try_at=now)
    record(feed, by=by, kind="forecast_feed.asked", before=snapshot(feed), extra={"at": now})
    transaction.on_commit(partial(fetch_when_due.enqueue, site.pk))
    return feed


def why_not_now(state: FeedState, now: dt.datetime) -> str:
    """Why the service is not asked now; empty where it is."""
    zone = state.site.tz
    if state.working_until and state.working_until > now:
        return "It is being fetched just now; look again in a minute."
    if state.not_before and state.not_before > now:
        return f"The service asks not to be asked again before {state.not_before.astimezone(zone):%Y-%m-%d %H:%M}."
    breaker = ServiceState.objects.filter(service=state.service, open_until__gt=now).first()
    if breaker and breaker.open_until:
        return (
            f"The service keeps failing; it is left alone until {breaker.open_until.astimezone(zone):%Y-%m-%d %H:%M}."
        )
    if state.last_try_at and state.last_try_at + ASK_AGAIN_AFTER > now:
        again = (state.last_try_at + ASK_AGAIN_AFTER).astimezone(zone)
        return f"It was asked a moment ago; it can be asked again from {again:%H:%M} on."
    return ""
