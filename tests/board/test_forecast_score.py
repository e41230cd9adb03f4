"""The score of live forecasts: which readings and forecasts count, and who reads it."""

import datetime as dt
from collections.abc import Iterator

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.board.forecast_score import score_of
from groutjobs.curing.models import CureReading
from groutjobs.equipment.models import Foundation, Site
from groutjobs.pours.models import Pour
from groutjobs.weather.models import Forecast
from tests.factories import make_cure_readings, make_forecast, make_placed_pour
from tests.weather.asking import signed_in, stranger

pytestmark = pytest.mark.django_db
STARTS_AT = dt.datetime(2026, 5, 4, tzinfo=dt.UTC)
NOW = dt.datetime(2026, 5, 12, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def pour() -> Pour:
    """Air of 20 °C beside a foundation in the open, read five minutes after each hour for five days."""
    pour = make_placed_pour(placed_at=STARTS_AT)
    Foundation.objects.filter(machine=pour.plan.machine).update(exposure="open")
    make_cure_readings(pour=pour, temps=[(hour + 1 / 12, 20.0) for hour in range(120)], probe="air")
    return pour


def site_of(pour: Pour) -> Site:
    return pour.plan.machine.site


def live(pour: Pour, *, hours_later: int = 0) -> Forecast:
    """A live forecast that is 2 K too warm, as the factory has 22 °C; issued with its first hour."""
    at = STARTS_AT + dt.timedelta(hours=hours_later)
    return make_forecast(site=site_of(pour), source="us_nws", hour_count=168, starts_at=at, issued_at=at)


def test_a_forecast_is_held_against_the_air_by_day_ahead(pour: Pour) -> None:
    live(pour)
    score = score_of(site_of(pour), NOW)
    assert score.pair_count == 120
    assert [(day.number, day.count, day.bias_k, day.spread_k) for day in score.days] == [
        (number, 24, 2.0, 0.0) for number in range(1, 6)
    ]


def test_forecasts_that_follow_closely_are_counted_once(pour: Pour) -> None:
    for hours_later in (0, 3, 6, 12):
        live(pour, hours_later=hours_later)
    assert score_of(site_of(pour), NOW).pair_count == 120 + 108


def test_only_air_in_the_open_counts_and_only_against_live_forecasts(pour: Pour) -> None:
    forecast = live(pour)
    CureReading.objects.filter(read_at__lt=STARTS_AT + dt.timedelta(hours=20)).update(set_aside=True)
    CureReading.objects.filter(read_at__gt=STARTS_AT + dt.timedelta(hours=110)).update(probe="plate")
    assert score_of(site_of(pour), NOW).pair_count == 90
    Foundation.objects.update(exposure="indoors")
    assert score_of(site_of(pour), NOW).pair_count == 0
    Foundation.objects.update(exposure="open")
    Forecast.objects.filter(pk=forecast.pk).update(source="csv")
    assert score_of(site_of(pour), NOW).pair_count == 0


def test_a_reading_between_the_hours_is_no_pair(pour: Pour) -> None:
    live(pour)
    CureReading.objects.all().delete()
    make_cure_readings(pour=pour, temps=[(1.5, 20.0), (2.2, 20.0), (2.9, 24.0)], probe="air")
    assert score_of(site_of(pour), NOW).pair_count == 2


def test_people_of_the_site_read_it_and_a_stranger_does_not(pour: Pour) -> None:
    live(pour)
    url = reverse("board:forecast_score", args=[site_of(pour).pk])
    client = signed_in(site_of(pour), Role.AUDITOR)
    assert "Bias" in client.get(url).content.decode()
    part = client.get(url, headers={"HX-Request": "true"}).content.decode()
    assert part.strip().startswith('<section id="forecast-score"')
    assert "2.0 K" in part
    assert client.post(url).status_code == 405
    assert stranger().get(url).status_code == 404


def test_too_few_hours_are_told(pour: Pour) -> None:
    url = reverse("board:forecast_score", args=[site_of(pour).pk])
    text = signed_in(site_of(pour), Role.CREW).get(url).content.decode()
    assert "0 hours of live forecasts can be compared" in text
    assert "from 100 on" in text


def test_more_forecasts_ask_no_more_often(pour: Pour) -> None:
    url = reverse("board:forecast_score", args=[site_of(pour).pk])
    client = signed_in(site_of(pour), Role.CREW)
    live(pour)
    client.get(url)
    with CaptureQueriesContext(connection) as once:
        client.get(url)
    for number in range(1, 9):
        live(pour, hours_later=12 * number)
    with CaptureQueriesContext(connection) as ninefold:
        client.get(url)
    assert len(ninefold) == len(once) <= 8
