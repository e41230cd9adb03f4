"""Correcting hours of a forecast makes a new one and leaves the old as it was."""

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed, OutOfRange
from groutjobs.weather.actions import correct_forecast
from groutjobs.weather.models import Forecast
from groutjobs.weather.queries import latest_forecast
from tests.factories import make_forecast, make_person
from tests.weather.asking import HUGE, errors_in, signed_in, stranger, utc

pytestmark = pytest.mark.django_db


@pytest.fixture
def forecast() -> Forecast:
    return make_forecast(hour_count=48)


def address(forecast: Forecast) -> str:
    return reverse("weather:forecast_correct", args=[forecast.pk])


def typed(table: str, reason: str = "gate thermometer reads lower") -> dict[str, str]:
    return {"table": table, "table_unit": "metric", "reason": reason}


def test_a_correction_is_a_new_forecast_that_names_the_old(forecast: Forecast) -> None:
    response = signed_in(forecast.site, Role.ENGINEER).post(address(forecast), typed("2026-05-04 02:00;15;;;;;;"))
    corrected = Forecast.objects.get(corrects=forecast)
    assert response["Location"] == reverse("weather:forecast_detail", args=[corrected.pk])
    assert corrected.values("temp_c")[5:8] == [22.0, 15.0, 22.0]  # 02:00 in New York is 06:00 UTC, hour 6
    assert Forecast.objects.get(pk=forecast.pk).values("temp_c")[6] == 22.0
    assert "gate thermometer" in corrected.note
    assert Event.objects.get(kind="forecast.corrected").reason == "gate thermometer reads lower"
    assert latest_forecast(forecast.site) == corrected


def test_cooler_air_keeps_its_water(forecast: Forecast) -> None:
    """Air of 15 °C with a dew point of 11 °C holds 77 %: 1.313 of 1.706 kPa in steam tables, from memory."""
    corrected = correct_forecast(
        forecast=forecast, changes={utc(4, 6): {"temp_c": 15.0}}, reason="test", by=make_person()
    )
    assert corrected.values("dew_point_c")[6] == 11.0
    assert corrected.values("relative_humidity")[6] == pytest.approx(0.77, abs=0.005)


def test_air_colder_than_its_dew_point_is_refused(forecast: Forecast) -> None:
    with pytest.raises(OutOfRange, match="dew point"):
        correct_forecast(forecast=forecast, changes={utc(4, 6): {"temp_c": 5.0}}, reason="test", by=make_person())
    assert Forecast.objects.count() == 1


def test_sunlight_computed_from_cloud_follows_a_corrected_cloud() -> None:
    sunny = make_forecast(hour_count=48, hours={"cloud_ratio": [1.0] * 48, "solar_w_m2": [1.0] * 48})
    sunny.hours["computed"] = ["solar_w_m2"]
    changes = {utc(4, 16): {"cloud_ratio": 0.0}}
    corrected = correct_forecast(forecast=sunny, changes=changes, reason="test", by=make_person())
    light = corrected.values("solar_w_m2")
    assert light[16] > 3 * light[17] > 0.0


@pytest.mark.parametrize(("changes", "reason", "words"), [
    ({}, "x", "nothing to correct"),
    ({utc(4, 6): {"temp_c": 15.0}}, "  ", "needs a reason"),
    ({utc(9, 6): {"temp_c": 15.0}}, "x", "no hour of this forecast"),
])  # fmt: skip
def test_the_action_refuses(forecast: Forecast, changes: dict, reason: str, words: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(NotAllowed, match=words):
        correct_forecast(forecast=forecast, changes=changes, reason=reason, by=make_person())


@pytest.mark.parametrize(
    ("table", "reason", "words"),
    [
        ("", "r", ["Hours to correct has 0 rows"]),
        ("2026-05-04 02:00;;;;;;;", "r", ["corrects nothing"]),
        ("2026-05-04 02:30;15;;;;;;", "r", ["no hour of this forecast"]),
        ("2026-05-04 02:00;150;;;;;;", "r", ["150 °C is above 60.0 °C", "GROUTJOBS"]),
        ("2026-05-04 02:00;-50;;;;;;", "r", ["below −40.0 °C"]),
        ("2026-05-04 02:00;NaN;;;;;;", "r", ["“NaN” is not a number"]),
        ("2026-05-04 02:00;5;;;;;;", "r", ["dew point"]),
        ("2026-05-04 02:00;15;;;;;;", "", ["Reason is empty"]),
        (HUGE, "r", ["10000000 characters"]),
    ],
)
def test_a_wrong_entry_comes_back(forecast: Forecast, table: str, reason: str, words: list[str]) -> None:
    response = signed_in(forecast.site, Role.ENGINEER).post(address(forecast), typed(table, reason))
    assert response.status_code == 422
    assert [word for word in words if word not in errors_in(response)] == []
    assert response.context["form"]["table"].value()[0] == table


def test_only_the_right_people_correct(forecast: Forecast) -> None:
    assert signed_in(forecast.site, Role.CREW_LEAD).get(address(forecast)).status_code == 403
    assert stranger().get(address(forecast)).status_code == 404
    assert signed_in(forecast.site, Role.ENGINEER).put(address(forecast)).status_code == 405
    assert signed_in(forecast.site, Role.ADMINISTRATOR).get(address(forecast)).status_code == 200
