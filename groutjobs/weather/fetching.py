"""Fetching the forecast of a site: who may try, what is asked, what is kept, and when the next try is due.

Nothing here holds a transaction while the service is asked. A bad answer never replaces the last good forecast.
"""

import datetime as dt
import hashlib
import logging
from enum import StrEnum

from django.db.models import Q
from django.dispatch import Signal
from django.utils import timezone

from groutjobs.errors import GroutJobsError
from groutjobs.weather import breaker, client
from groutjobs.weather.actions import add_forecast
from groutjobs.weather.client import Answer, NoAnswer, Question
from groutjobs.weather.models import FeedState, Forecast, ForecastFeed, Service
from groutjobs.weather.queries import place_of
from groutjobs.weather.series import HOUR, LIMIT_OF, HoursRefused, Series
from groutjobs.weather.services import met_norway, us_nws
from groutjobs.weather.services.hours import utc_words
from groutjobs.weather.services.reading import Place

EVERY = dt.timedelta(hours=3)
LEASE = dt.timedelta(minutes=3)
FIRST_WAIT = dt.timedelta(minutes=10)
LONGEST_WAIT = dt.timedelta(hours=6)
LONGEST_ASKED_WAIT = dt.timedelta(hours=24)
OLDEST_ISSUE = dt.timedelta(hours=48)
CLOCKS_APART = dt.timedelta(hours=1)
EARLIER_H = 240


forecast_kept = Signal()
"""Sent with `forecast` after a service brought one that is kept; stages to the right follow it up."""
log = logging.getLogger(__name__)


class Outcome(StrEnum):
    """What came of a try."""

    OFF = "switched off"
    NOT_DUE = "not due yet"
    LEFT_ALONE = "the service is left alone for a while"
    KEPT = "a new forecast is kept"
    NOTHING_NEWER = "nothing newer"
    FAILED = "failed"


def fetch_if_due(site_id: int) -> Outcome:
    """Fetch the forecast of a site if it is on, due, and nobody fetches it now."""
    feed = ForecastFeed.objects.select_related("site", "chosen_by").filter(site_id=site_id, is_on=True).first()
    if feed is None:
        return Outcome.OFF
    now = timezone.now()
    state = _leased(feed, now)
    if state is None:
        return Outcome.NOT_DUE
    alone_until = breaker.left_alone_until(feed.service, now)
    if alone_until is not None:
        _release(state, fault=_left_alone(state.fault), next_try_at=alone_until + _spread(feed.site_id))
        return Outcome.LEFT_ALONE
    try:
        return _fetch(feed, state, now)
    except NoAnswer as error:
        _note_no_answer(state, error, now)
    except GroutJobsError as error:
        _note_failure(state, f"The answer was refused. {error}", now)
    return Outcome.FAILED


def _leased(feed: ForecastFeed, now: dt.datetime) -> FeedState | None:
    """The state, with a lease on it for this worker; None where it is not due or another worker holds it.

    The next try is set first: a worker that dies, or a fault of the program, costs ten minutes and no endless tries.
    """
    state, _ = FeedState.objects.get_or_create(site=feed.site, service=feed.service)
    free = Q(working_until=None) | Q(working_until__lte=now)
    due = Q(next_try_at=None) | Q(next_try_at__lte=now)
    taken = {"working_until": now + LEASE, "last_try_at": now, "next_try_at": now + FIRST_WAIT}
    if not FeedState.objects.filter(free, due, pk=state.pk).update(**taken):
        return None
    return FeedState.objects.select_related("last_forecast").get(pk=state.pk)


def _release(state: FeedState, **columns: object) -> None:
    FeedState.objects.filter(pk=state.pk).update(working_until=None, **columns)


def _left_alone(fault: str) -> str:
    """Why nobody asks, and what this site was told last."""
    words = f"The service failed {breaker.OPENS_AFTER} times or more in a row, so it is left alone for a while."
    return fault if fault.startswith(words) else f"{words} {fault}".strip()


def _fetch(feed: ForecastFeed, state: FeedState, now: dt.datetime) -> Outcome:
    place = place_of(feed.site)
    if state.place != place.key:
        # Another place now: nothing that was held for the old one counts.
        state.place, state.etag, state.last_modified, state.cell_url, state.last_forecast = place.key, "", "", "", None
    answer = _asked(feed, state, place)
    breaker.note_good(feed.service)
    forecast = _kept(feed, state, answer, place, now) if answer.body is not None else None
    not_before = now + min(answer.fresh_for, LONGEST_WAIT)
    _release(
        state, place=state.place, cell_url=state.cell_url, etag=answer.etag, last_modified=answer.last_modified,
        last_answer_at=now, last_forecast=forecast or state.last_forecast, fault="", failures=0,
        not_before=not_before, next_try_at=max(now + EVERY, not_before) + _spread(feed.site_id),
    )  # fmt: skip
    if forecast is None:
        return Outcome.NOTHING_NEWER
    for receiver, answered in forecast_kept.send_robust(sender=ForecastFeed, forecast=forecast):
        if isinstance(answered, Exception):
            log.error("%s failed for %s", receiver, forecast, exc_info=answered)
    return Outcome.KEPT


def _spread(site_id: int) -> dt.timedelta:
    """Up to five minutes, so that not all sites ask in the same second; the services want it so."""
    return dt.timedelta(seconds=site_id * 61 % 300)


def _asked(feed: ForecastFeed, state: FeedState, place: Place) -> Answer:
    held = {"etag": state.etag, "last_modified": state.last_modified} if state.last_forecast else {}
    if feed.service == Service.MET_NORWAY:
        return client.ask(Question(met_norway.url(place), feed.contact, **held))
    if not state.cell_url:
        found = client.ask(Question(us_nws.place_url(place), feed.contact))
        state.cell_url = us_nws.grid_url(found.body or b"")
    try:
        return client.ask(Question(state.cell_url, feed.contact, **held))
    except NoAnswer as error:
        if not error.of_service:
            # The cell may have moved; the next try asks for its address again.
            FeedState.objects.filter(pk=state.pk).update(cell_url="")
        raise


def _kept(feed: ForecastFeed, state: FeedState, answer: Answer, place: Place, now: dt.datetime) -> Forecast | None:
    """The new forecast, stored; None where the service gave no newer one than is kept."""
    body = answer.body or b""
    reader = met_norway if feed.service == Service.MET_NORWAY else us_nws
    series, issued_at = reader.read(body, place)
    if issued_at > now + CLOCKS_APART:
        raise HoursRefused([f"It says that it was issued at {utc_words(issued_at)}, which lies ahead."])
    if issued_at < now - OLDEST_ISSUE:
        raise HoursRefused([f"It was issued at {utc_words(issued_at)}, more than {OLDEST_ISSUE / HOUR:.0f} h ago."])
    last = state.last_forecast
    if last and issued_at <= last.issued_at:
        return None
    return add_forecast(
        site=feed.site,
        source=feed.service,
        series=with_earlier_hours(series, last) if last else series,
        issued_at=issued_at,
        by=feed.chosen_by,
        file_sha256=hashlib.sha256(body).hexdigest(),
    )


def with_earlier_hours(series: Series, last: Forecast) -> Series:
    """The series with hours of the forecast before it put in front, up to ten days that end where the series begins.

    They bring the foundation to its temperature. Unchanged where the two do not meet or tell different quantities.
    """
    count = min(round((series.starts_at - last.starts_at) / HOUR), EARLIER_H)
    meets = count > 0 and series.starts_at <= last.ends_at + HOUR
    if not meets or any(quantity not in last.hours for quantity in series.hours):
        return series
    end = round((series.starts_at - last.starts_at) / HOUR)
    hours = {
        quantity: last.values(quantity)[end - count : end] + series.hours[quantity]
        for quantity in LIMIT_OF
        if quantity in series.hours
    }
    remark = f"The first {count} hours are those of earlier forecasts of the service."
    note = "\n".join(part for part in (series.note, remark) if part)
    starts_at = series.starts_at - count * HOUR
    return Series(starts_at, hours, past_hours=series.past_hours + count, source_name=series.source_name, note=note)


def _note_no_answer(state: FeedState, error: NoAnswer, now: dt.datetime) -> None:
    if error.of_service:
        breaker.note_bad(state.service, now)
    else:
        breaker.note_good(state.service)
    asked_wait = min(error.wait, LONGEST_ASKED_WAIT) if error.wait else None
    _note_failure(state, f"The service gave no forecast: {error.reason}.", now, asked_wait=asked_wait)


def _note_failure(state: FeedState, fault: str, now: dt.datetime, *, asked_wait: dt.timedelta | None = None) -> None:
    """Keep why it failed; each failure in a row doubles the wait, and what the service asks for is kept to."""
    wait = min(FIRST_WAIT * 2 ** min(state.failures, 10), LONGEST_WAIT)
    not_before = now + asked_wait if asked_wait else None
    _release(
        state, fault=fault, failures=state.failures + 1, not_before=not_before,
        next_try_at=now + max(wait, asked_wait or wait) + _spread(state.site_id),
    )  # fmt: skip
