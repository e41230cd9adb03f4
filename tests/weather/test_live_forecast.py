"""Fetching: what is kept, what is not, and when the service is asked again. The service and the clock are replaced."""

import datetime as dt
import hashlib
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.core.management import call_command

from groutjobs.audit.chain import canonical, plain
from groutjobs.audit.models import Event
from groutjobs.weather import breaker
from groutjobs.weather.fetching import Outcome, fetch_if_due
from groutjobs.weather.models import FeedState, Forecast, ForecastFeed, Service, ServiceState
from tests.factories import make_forecast
from tests.weather.feeds import LAST_MODIFIED, NOW, fetch, make_feed, met, nws, state_of
from tests.weather.forecast_server import Server, body_of, changed, send

pytestmark = pytest.mark.django_db
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def feed() -> ForecastFeed:
    return make_feed()


def test_it_keeps_the_forecast_with_source_issue_and_hash(feed: ForecastFeed, service: Server) -> None:
    body = body_of("met_norway_complete.json")
    service.answers = [send(body)]
    assert fetch_if_due(feed.site_id) is Outcome.KEPT
    forecast = Forecast.objects.get()
    assert (forecast.source, forecast.made_by, forecast.past_hours) == ("met_no", feed.chosen_by, 3)
    assert forecast.issued_at == dt.datetime(2026, 5, 4, 8, 12, 33, tzinfo=dt.UTC)
    assert forecast.file_sha256 == hashlib.sha256(body).hexdigest()
    assert forecast.hours["computed"] == ["relative_humidity", "solar_w_m2"]
    assert forecast.is_live
    assert state_of(feed).last_forecast == forecast


def test_the_record_keeps_the_hash_of_the_hours(feed: ForecastFeed, service: Server) -> None:
    service.answers = [met()]
    fetch(feed)
    body = Event.objects.get(kind="forecast.fetched").body
    digest = hashlib.sha256(canonical(plain(Forecast.objects.get().hours)).encode()).hexdigest()
    assert digest in body
    assert "dew_point_c" not in body


def test_the_cell_of_the_site_is_asked_for_once(service: Server) -> None:
    feed = make_feed(service=Service.US_NWS)
    service.answers = [*nws(), send(status=304)]
    assert fetch(feed) is Outcome.KEPT
    assert fetch(feed) is Outcome.NOTHING_NEWER
    paths = [path for path, _ in service.asked]
    assert paths == ["/points/36.1,-79.95", "/gridpoints/XYZ/12,34", "/gridpoints/XYZ/12,34"]
    assert service.asked[2][1]["if-none-match"] == '"grid"'


def test_a_cell_that_is_gone_is_asked_for_again(service: Server) -> None:
    feed = make_feed(service=Service.US_NWS)
    service.answers = [*nws(), send(status=404), *nws()]
    assert [fetch(feed) for _ in range(3)] == [Outcome.KEPT, Outcome.FAILED, Outcome.NOTHING_NEWER]
    assert service.asked[3][0] == "/points/36.1,-79.95"


def test_nothing_newer_is_no_failure_and_no_second_forecast(feed: ForecastFeed, service: Server) -> None:
    service.answers = [met(), send(status=304), met()]
    assert [fetch(feed) for _ in range(3)] == [Outcome.KEPT, Outcome.NOTHING_NEWER, Outcome.NOTHING_NEWER]
    assert service.asked[1][1]["if-modified-since"] == LAST_MODIFIED
    assert Forecast.objects.count() == 1
    assert state_of(feed).last_answer_at == NOW


def test_it_is_asked_again_after_three_hours_or_when_it_expires(feed: ForecastFeed, service: Server) -> None:
    service.answers = [met(), met(Cache_Control="max-age=14400")]
    fetch(feed)
    assert 180 * MINUTE <= state_of(feed).next_try_at - NOW <= 185 * MINUTE  # type: ignore[operator]
    fetch(feed)
    assert state_of(feed).not_before == NOW + 240 * MINUTE
    assert 240 * MINUTE <= state_of(feed).next_try_at - NOW <= 245 * MINUTE  # type: ignore[operator]


def test_it_is_not_asked_before_it_is_due_or_while_another_worker_asks(feed: ForecastFeed, service: Server) -> None:
    service.answers = [met()]
    fetch_if_due(feed.site_id)
    assert fetch_if_due(feed.site_id) is Outcome.NOT_DUE
    FeedState.objects.update(next_try_at=None, working_until=NOW + MINUTE)
    assert fetch_if_due(feed.site_id) is Outcome.NOT_DUE
    FeedState.objects.update(working_until=NOW - MINUTE)
    assert fetch_if_due(feed.site_id) is Outcome.NOTHING_NEWER
    assert len(service.asked) == 2


def test_a_fault_of_the_program_costs_ten_minutes(
    feed: ForecastFeed, service: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*words: Any) -> None:
        raise ZeroDivisionError

    service.answers = [met()]
    monkeypatch.setattr("groutjobs.weather.services.met_norway.read", broken)
    with pytest.raises(ZeroDivisionError):
        fetch_if_due(feed.site_id)
    assert fetch_if_due(feed.site_id) is Outcome.NOT_DUE
    assert state_of(feed).next_try_at == NOW + 10 * MINUTE


def test_switched_off_asks_nobody(service: Server) -> None:
    service.answers = [met()]
    assert fetch_if_due(make_feed(is_on=False).site_id) is Outcome.OFF
    assert service.asked == []


def lacking_cloud(answer: Any) -> None:
    del answer["properties"]["timeseries"][4]["data"]["instant"]["details"]["cloud_area_fraction"]


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (send(b"<html>", Content_Type="text/html"), "not JSON but “text/html”"),
        (send(b"{"), "no JSON that can be read"),
        (send(changed("met_norway_complete.json", lacking_cloud)), "entry 5 › data › instant › details › cloud_area"),
        (met("2026-05-04T12:00:00Z"), "issued at 2026-05-04 12:00 UTC, which lies ahead"),
        (met("2026-05-01T12:00:00Z"), "more than 48 h ago"),
        (send(status=503), "status 503"),
    ],
)
def test_a_bad_answer_leaves_the_last_good_forecast(
    feed: ForecastFeed, service: Server, answer: Any, words: str
) -> None:
    service.answers = [met("2026-05-04T07:00:00Z"), answer, met()]
    fetch(feed)
    good = Forecast.objects.get()
    assert fetch(feed) is Outcome.FAILED
    state = state_of(feed)
    assert words in state.fault
    assert (state.last_forecast, state.failures, state.last_modified) == (good, 1, LAST_MODIFIED)
    assert state.last_answer_at == NOW
    assert fetch(feed) is Outcome.KEPT
    assert (state_of(feed).fault, state_of(feed).failures) == ("", 0)


def test_each_failure_doubles_the_wait_up_to_six_hours(feed: ForecastFeed, service: Server) -> None:
    service.answers = [send(b"{}")]
    waits = []
    for _ in range(8):
        fetch(feed)
        waits.append((state_of(feed).next_try_at - NOW) // (5 * MINUTE) * 5)  # type: ignore[operator]
    assert waits == [10, 20, 40, 80, 160, 320, 360, 360]


def test_a_wait_that_the_service_asks_for_is_kept(feed: ForecastFeed, service: Server) -> None:
    service.answers = [send(status=429, Retry_After="5400")]
    fetch(feed)
    assert state_of(feed).not_before == NOW + 90 * MINUTE
    assert state_of(feed).next_try_at >= NOW + 90 * MINUTE  # type: ignore[operator]


def test_a_new_forecast_takes_over_the_hours_before_it(feed: ForecastFeed, service: Server) -> None:
    def six_hours_on(answer: Any) -> None:
        del answer["properties"]["timeseries"][:6]
        answer["properties"]["meta"]["updated_at"] = "2026-05-04T14:05:00Z"

    service.answers = [met(), send(changed("met_norway_complete.json", six_hours_on))]
    fetch(feed)
    with time_machine.travel(NOW + 6 * 60 * MINUTE, tick=False):
        fetch(feed)
    first, second = Forecast.objects.order_by("pk")
    assert second.starts_at == first.starts_at
    assert second.past_hours == 9
    assert second.plan_starts_at == dt.datetime(2026, 5, 4, 15, tzinfo=dt.UTC)
    assert second.values("temp_c")[:40] == first.values("temp_c")[:40]
    assert "The first 6 hours are those of earlier forecasts" in second.note


def test_a_site_that_moved_starts_afresh(feed: ForecastFeed, service: Server) -> None:
    service.answers = [met()]
    fetch(feed)
    feed.site.elevation_m = 12.0
    feed.site.save()
    assert fetch(feed) is Outcome.KEPT
    assert "if-modified-since" not in service.asked[1][1]
    assert "altitude=12" in service.asked[1][0]


def test_the_breaker_opens_for_every_site_and_lets_one_try_through(service: Server, clock: Any) -> None:
    feeds = [make_feed() for _ in range(7)]
    service.answers = [send(status=500)]
    outcomes = [fetch(feed) for feed in feeds]
    assert outcomes == [Outcome.FAILED] * 5 + [Outcome.LEFT_ALONE] * 2
    assert "left alone" in state_of(feeds[6]).fault
    clock.move_to(NOW + 16 * MINUTE)
    assert [fetch(feed) for feed in feeds[:2]] == [Outcome.FAILED, Outcome.LEFT_ALONE]
    assert len(service.asked) == 6
    assert ServiceState.objects.get().open_until == NOW + 46 * MINUTE
    clock.move_to(NOW + 47 * MINUTE)
    service.answers = [met()]
    assert [fetch(feed) for feed in feeds[:2]] == [Outcome.KEPT, Outcome.KEPT]


def test_only_one_worker_gets_the_trial(clock: Any) -> None:
    for _ in range(breaker.OPENS_AFTER):
        breaker.note_bad("met_no", NOW)
    later = NOW + breaker.SHORTEST + MINUTE
    assert breaker.left_alone_until("met_no", later) is None
    assert breaker.left_alone_until("met_no", later) == later + breaker.TRIAL
    assert breaker.left_alone_until("met_no", later + breaker.TRIAL) is None
    assert breaker.left_alone_until("us_nws", later) is None


def test_a_place_without_forecast_does_not_open_the_breaker(service: Server) -> None:
    service.answers = [send(status=404)]
    for feed in [make_feed() for _ in range(6)]:
        fetch(feed)
    assert ServiceState.objects.get().failures == 0
    assert len(service.asked) == 6


def test_the_command_fetches_what_is_due_and_tells_why_not(service: Server, capsys: Any) -> None:
    good, bad = make_feed(), make_feed()
    make_forecast(site=make_feed(is_on=False).site)
    service.answers = [met(), send(status=503)]
    call_command("fetch_forecasts")
    told = capsys.readouterr().out.splitlines()
    assert told == [
        f"{good.site.name}, MET Norway: a new forecast is kept",
        f"{bad.site.name}, MET Norway: failed",
        "  The service gave no forecast: it answered with status 503.",
    ]


def test_the_command_says_that_nobody_chose(capsys: Any) -> None:
    call_command("fetch_forecasts")
    assert "No site has chosen" in capsys.readouterr().out
