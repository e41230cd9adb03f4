"""Measures against cold, sun and wind: what a cover changes, what is refused, the page that compares."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.errors import OutOfRange
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.windows.compared import measures
from groutjobs.windows.models import PourHours
from groutjobs.windows.question import CoverAsked, CoverKind, cover_again
from tests.factories import make_forecast
from tests.weather.asking import errors_in, signed_in, stranger
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db
HOURS = 144
MONDAY, TUESDAY = "2026-05-04T08:00", "2026-05-05T08:00"


@pytest.fixture
def plan() -> PourPlan:
    """A machine in the open."""
    return planned()


def weather(plan: PourPlan, **hours: float) -> Forecast:
    rows = {name: [value] * HOURS for name, value in hours.items()}
    return make_forecast(site=plan.machine.site, hour_count=HOURS, hours=rows)


def cold(plan: PourPlan) -> Forecast:
    return weather(plan, temp_c=4.0, dew_point_c=-4.0)


def cover(forecast: Forecast, kind: CoverKind, held_c: float | None = None, **hours: int) -> CoverAsked:
    first, last = hours.get("first", 0), hours.get("last", HOURS - 1)
    at = forecast.starts_at
    return CoverAsked(
        kind=kind, from_at=at + dt.timedelta(hours=first), to_at=at + dt.timedelta(hours=last), held_c=held_c
    )


def ok_hours(found: PourHours) -> int:
    return sum(hour["ok"] for hour in found.result["hours"])


def codes(found: PourHours) -> set[str]:
    return {note["code"] for note in found.result["notes"]}


def test_a_heated_enclosure_makes_cold_hours_acceptable_and_tells_its_heater(plan: PourPlan) -> None:
    forecast = cold(plan)
    bare = searched(plan, forecast)
    heated = searched(plan, forecast, cover=cover(forecast, CoverKind.HEATED, 28.0))
    assert ok_hours(bare) == 0
    assert ok_hours(heated) > 5
    told = heated.result["inputs"]["cover"]
    block = plan.machine.foundation
    length_m, width_m = block.length_mm / 1000 + 2, block.width_mm / 1000 + 2
    skin_m2 = length_m * width_m + 2 * 2.2 * (length_m + width_m)
    walls_kw = skin_m2 * 24.0 / 0.17 / 1000  # ISO 6946: surface resistances 0.13 + 0.04, 24 K warmer inside
    air_kw = 0.33 * 2 * length_m * width_m * 2.2 * 24.0 / 1000
    assert walls_kw + air_kw < told["mean_heat_kw"] < 1.6 * (walls_kw + air_kw)
    assert {"heater_size", "heater_fumes", "heater_fire", "heater_moisture", "enclosure_size"} <= codes(heated)


def test_hours_before_the_heater_is_on_long_enough_stay_refused(plan: PourPlan) -> None:
    forecast = cold(plan)
    heated = searched(plan, forecast, cover=cover(forecast, CoverKind.HEATED, 28.0, first=48))
    hours = heated.result["hours"]
    assert not any(hour["ok"] for hour in hours[:49])
    assert any(hour["ok"] for hour in hours[49:])


def test_shade_keeps_the_plate_near_the_air(plan: PourPlan) -> None:
    forecast = weather(plan, temp_c=24.0, dew_point_c=8.0, solar_w_m2=500.0, cloud_ratio=0.0)
    bare, shaded = (
        searched(plan, forecast, cover=asked) for asked in (None, cover(forecast, CoverKind.SHADE))
    )  # fmt: skip
    warmest = [max(found.result["series"]["plate_c"][24:]) for found in (bare, shaded)]
    assert warmest[1] < warmest[0] - 3
    assert "shade_size" in codes(shaded)


def test_an_enclosure_keeps_rain_and_wind_off(plan: PourPlan) -> None:
    forecast = weather(plan, rain_probability=0.9, wind_km_h=60.0)
    under = searched(plan, forecast, cover=cover(forecast, CoverKind.ENCLOSURE))
    assert ok_hours(searched(plan, forecast)) == 0
    assert ok_hours(under) > 0
    assert max(under.result["series"]["wind_km_h"][1:]) == 0
    assert max(under.result["series"]["rain_probability"][1:]) == 0


def test_odds_are_counted_under_a_cover_as_without_one(plan: PourPlan) -> None:
    """Held at 24 °C the air limit can no longer fail, which outside it does in half of the weathers about it."""
    forecast = weather(plan, temp_c=10.5, dew_point_c=0.0)
    bare, heated = (
        searched(plan, forecast, cover=asked) for asked in (None, cover(forecast, CoverKind.HEATED, 24.0))
    )  # fmt: skip
    assert max(hour["odds"] for hour in bare.result["hours"]) < 0.8
    best = max(hour["odds"] for hour in heated.result["hours"])
    assert best > 0.9
    assert heated.result["odds"]["seed"] == bare.result["odds"]["seed"]


@pytest.mark.parametrize(("first", "last"), [(-1, 20), (0, HOURS), (30, 30)])
def test_a_cover_outside_the_forecast_or_without_length_is_refused(plan: PourPlan, first: int, last: int) -> None:
    forecast = weather(plan)
    with pytest.raises(OutOfRange, match="hour of the cover"):
        searched(plan, forecast, cover=cover(forecast, CoverKind.SHADE, first=first, last=last))


def test_a_cover_is_cut_to_the_hours_of_another_forecast(plan: PourPlan) -> None:
    forecast = weather(plan)
    told = searched(plan, forecast, cover=cover(forecast, CoverKind.HEATED, 20.0)).result["inputs"]["cover"]
    later = make_forecast(site=plan.machine.site, starts_at=forecast.starts_at + dt.timedelta(hours=24), hour_count=48)
    again = cover_again(told, later)
    assert again
    assert (again.from_at, again.held_c) == (later.starts_at, 20.0)
    assert again.to_at == later.starts_at + dt.timedelta(hours=47)
    after = make_forecast(site=plan.machine.site, starts_at=forecast.starts_at + dt.timedelta(days=60), hour_count=48)
    assert cover_again(told, after) is None
    assert cover_again(None, later) is None


def test_measures_stand_beside_each_other_with_what_they_ask_for(plan: PourPlan) -> None:
    forecast = cold(plan)
    searched(plan, forecast)
    searched(plan, forecast, cover=cover(forecast, CoverKind.HEATED, 28.0))
    heated, bare = measures(list(PourHours.objects.order_by("-pk")))
    assert (bare.hours_count, bare.best_at, bare.peak_heat_kw) == (0, None, None)
    assert heated.hours_count == ok_hours(heated.search)
    assert heated.lead_h
    assert heated.lead_h > 0
    url = reverse("windows:measures_compared", args=[plan.pk])
    shown = signed_in(plan.machine.site, Role.CREW).get(url).content.decode()
    assert "As it is" in shown
    assert "Heated enclosure" in shown
    assert "in the hardest hour" in shown
    assert stranger().get(url).status_code == 404
    assert signed_in(plan.machine.site, Role.ENGINEER).post(url).status_code == 405


def test_without_a_search_the_page_says_so(plan: PourPlan) -> None:
    url = reverse("windows:measures_compared", args=[plan.pk])
    assert "No search" in signed_in(plan.machine.site, Role.AUDITOR).get(url).content.decode()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"cover": "shade"}, "It stands from is empty"),
        ({"cover": "heated", "cover_from": MONDAY, "cover_to": TUESDAY}, "heater holds is empty"),
        ({"cover": "shade", "cover_from": TUESDAY, "cover_to": MONDAY}, "not after its beginning"),
        ({"cover": "tarpaulin"}, "is none of"),
    ],
)  # fmt: skip
def test_a_wrong_cover_is_refused_by_its_field(plan: PourPlan, given: dict[str, Any], words: str) -> None:
    weather(plan)
    client = signed_in(plan.machine.site, Role.ENGINEER)
    answer = client.post(reverse("windows:search", args=[plan.pk]), given)
    assert answer.status_code == 422
    assert words in errors_in(answer)
    assert not PourHours.objects.exists()
