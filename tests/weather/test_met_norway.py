"""Answers of MET Norway's Locationforecast. The fixture is made in the documented shape; no recorded data."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import psychrolib
import pytest

from groutjobs.weather.calc import hours_to_store
from groutjobs.weather.series import HoursRefused
from groutjobs.weather.services.met_norway import read, url
from groutjobs.weather.services.reading import Place
from tests.factories import make_site
from tests.weather.forecast_server import PLACE, body_of, changed

COMPLETE = "met_norway_complete.json"


def refusal(body: bytes, place: Place = PLACE) -> str:
    with pytest.raises(HoursRefused) as error:
        read(body, place)
    return str(error.value)


def series_of(answer: Any) -> Any:
    return answer["properties"]["timeseries"]


def test_it_asks_with_four_decimals_and_the_height() -> None:
    asked = url(Place(59.91273, 10.74609, 11.6))
    assert asked.endswith("/weatherapi/locationforecast/2.0/complete?lat=59.9127&lon=10.7461&altitude=12")


def test_it_reads_hours_and_time_of_issue() -> None:
    series, issued_at = read(body_of(COMPLETE), PLACE)
    assert issued_at == dt.datetime(2026, 5, 4, 8, 12, 33, tzinfo=dt.UTC)
    assert series.starts_at == dt.datetime(2026, 5, 4, 6, tzinfo=dt.UTC)
    # 30 hourly steps and 8 of six hours; the last instant has no spell after it whose chance of rain were told.
    assert (series.hour_count, series.past_hours) == (78, 3)
    assert series.hours["temp_c"][:3] == [10.0, 10.2, 10.8]
    # 3.5 m/s and 3.8 m/s; 1 m/s is 3.6 km/h by definition of the hour and the kilometre.
    assert series.hours["wind_km_h"][:2] == pytest.approx([12.6, 13.68])


# By hand: a straight line between the values that the answer gives for 12:00 and 18:00 UTC of the second day.
def test_hours_between_six_hour_steps_lie_on_a_straight_line() -> None:
    series, _ = read(body_of(COMPLETE), PLACE)
    temps = series.hours["temp_c"][30:37]
    rise = (temps[6] - temps[0]) / 6
    assert temps[0] != temps[6]
    assert temps == pytest.approx([temps[0] + rise * index for index in range(7)])
    assert "From 2026-05-05 12:00 UTC on the service gives a value every 6 h" in series.note


def test_the_chance_of_a_spell_stands_for_each_of_its_hours() -> None:
    series, _ = read(body_of(COMPLETE), PLACE)
    chances = series.hours["rain_probability"]
    assert len(set(chances[30:36])) == 1
    assert len(set(chances[24:30])) > 1


# psychrolib (ASHRAE 2017 equations) as the outside reference; 0.5 % of humidity is its distance from [AE1996] there.
@pytest.mark.django_db
def test_humidity_is_computed_from_the_dew_point() -> None:
    series, _ = read(body_of(COMPLETE), PLACE)
    stored = hours_to_store(series, make_site())
    assert stored["computed"] == ["relative_humidity", "solar_w_m2"]
    psychrolib.SetUnitSystem(psychrolib.SI)
    for temp_c, dew_point_c, humidity in zip(
        stored["temp_c"], stored["dew_point_c"], stored["relative_humidity"], strict=True
    ):
        assert humidity == pytest.approx(psychrolib.GetRelHumFromTDewPoint(temp_c, dew_point_c), rel=0.005)


def test_humidity_is_used_where_no_dew_point_is_told() -> None:
    def change(answer: Any) -> None:
        for instant in series_of(answer):
            del instant["data"]["instant"]["details"]["dew_point_temperature"]

    series, _ = read(changed(COMPLETE, change), PLACE)
    assert "dew_point_c" not in series.hours
    assert series.hours["relative_humidity"][0] == pytest.approx(0.845)


def test_no_chance_of_rain_is_said() -> None:
    def change(answer: Any) -> None:
        for instant in series_of(answer):
            instant["data"].pop("next_1_hours", None)
            instant["data"].pop("next_6_hours", None)

    series, _ = read(changed(COMPLETE, change), PLACE)
    assert "rain_probability" not in series.hours
    assert "not at all" in series.note
    assert series.hour_count == 79


def at(number: int, text: str) -> Callable[[Any], None]:
    return lambda answer: series_of(answer)[number].update(time=text)


def detail(number: int, **values: Any) -> Callable[[Any], None]:
    return lambda answer: series_of(answer)[number]["data"]["instant"]["details"].update(values)


def unit(name: str, word: str) -> Callable[[Any], None]:
    return lambda answer: answer["properties"]["meta"]["units"].update({name: word})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (unit("air_temperature", "fahrenheit"), ["units › air_temperature", "“fahrenheit”", "“celsius”"]),
        (unit("wind_speed", "knots"), ["units › wind_speed", "“knots”", "“m/s”"]),
        (lambda answer: answer["properties"]["meta"]["units"].pop("wind_speed"), ["units › wind_speed is missing"]),
        (lambda answer: answer["properties"].pop("timeseries"), ["properties › timeseries is missing"]),
        (lambda answer: answer["properties"]["meta"].pop("updated_at"), ["updated_at is missing"]),
        (lambda answer: series_of(answer).clear(), ["holds 0 instants"]),
        (lambda answer: series_of(answer).pop(33), ["entry 34", "gap of 12 h", "1 to 6"]),
        (lambda answer: series_of(answer).reverse(), ["entry 2", "out of order"]),
        (at(5, "2026-05-04T10:00:00Z"), ["entry 6", "twice or out of order"]),
        (at(5, "2026-05-04T11:20:00Z"), ["entry 6", "gap of 1.33333 h"]),
        (at(0, "2026-05-04T05:30:00Z"), ["entry 1", "not on a full hour"]),
        (at(5, "2026-05-04T13:00:00+02:00"), ["entry 6", "not in UTC"]),
        (at(5, "2026-05-04T11:00:00"), ["entry 6", "not in UTC"]),
        (at(5, "noon"), ["entry 6", "“noon” is not a time"]),
        (detail(4, air_temperature=None), ["entry 5", "air_temperature", "“None”"]),
        (detail(4, air_temperature=300.0), ["2026-05-04 10:00 UTC", "300.0 °C is above 60.0 °C"]),
        (lambda answer: series_of(answer)[4]["data"].pop("instant"), ["entry 5", "instant is missing"]),
        (lambda answer: answer["geometry"].update(coordinates=[10.7, 59.9, 3]), ["elsewhere than the site"]),
        (lambda answer: answer["geometry"].update(coordinates=["here"]), ["coordinates, entry 1", "“here”"]),
        (lambda answer: series_of(answer).__delitem__(slice(20, None)), ["16 hours after its time", "at least 24"]),
    ],
)
def test_it_refuses_an_answer_and_says_what_and_where(change: Callable[[Any], None], words: list[str]) -> None:
    said = refusal(changed(COMPLETE, change))
    assert [word for word in words if word not in said] == []
