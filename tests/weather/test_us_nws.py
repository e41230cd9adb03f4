"""Grid answers of the US National Weather Service. The fixture is made in the documented shape; no recorded data."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from groutjobs.weather.series import HoursRefused
from groutjobs.weather.services.reading import Place
from groutjobs.weather.services.us_nws import grid_url, place_url, read
from tests.weather.forecast_server import PLACE, body_of, changed

GRID = "us_nws_grid.json"


def refusal(body: bytes, place: Place = PLACE) -> str:
    with pytest.raises(HoursRefused) as error:
        read(body, place)
    return str(error.value)


def layer(answer: Any, name: str) -> Any:
    return answer["properties"][name]


def test_it_asks_with_no_more_than_four_decimals() -> None:
    assert place_url(Place(36.123456, -79.9500001, 0)).endswith("/points/36.1235,-79.95")
    assert place_url(Place(-0.00001, 10, 0)).endswith("/points/0,10")


def test_a_place_is_printed_by_its_quarter() -> None:
    assert PLACE.words == "36.1° N, 79.95° W"
    assert Place(-33.9, 18.4, 0).words == "33.9° S, 18.4° E"


def test_it_reads_hours_and_time_of_issue() -> None:
    series, issued_at = read(body_of(GRID), PLACE)
    assert issued_at == dt.datetime(2026, 5, 4, 8, 12, 33, tzinfo=dt.UTC)
    assert series.starts_at == dt.datetime(2026, 5, 4, 6, tzinfo=dt.UTC)
    assert (series.hour_count, series.past_hours) == (66, 3)
    assert set(series.hours) == {
        "temp_c", "dew_point_c", "relative_humidity", "wind_km_h", "cloud_ratio", "rain_probability"
    }  # fmt: skip
    assert series.note == "The ground of the grid cell stands 5 m lower than the site."


# ISO 8601: PT3H is three hours, P1DT6H thirty. A value holds in its whole interval (service's documentation, memory).
def test_a_value_holds_for_every_hour_of_its_interval() -> None:
    def change(answer: Any) -> None:
        cloud = layer(answer, "skyCover")["values"]
        cloud[:] = [
            {"validTime": "2026-05-04T06:00:00+00:00/P1DT6H", "value": 40},
            {"validTime": "2026-05-05T12:00:00+00:00/PT36H", "value": 75},
        ]

    series, _ = read(changed(GRID, change), PLACE)
    assert series.hours["cloud_ratio"] == pytest.approx([0.4] * 30 + [0.75] * 36)
    assert series.hours["wind_km_h"][:4] == [9.26, 9.26, 9.26, 12.964]


def test_hours_are_those_that_all_layers_tell() -> None:
    def change(answer: Any) -> None:
        del layer(answer, "windSpeed")["values"][0]
        del layer(answer, "temperature")["values"][-4:]

    series, _ = read(changed(GRID, change), PLACE)
    assert series.starts_at == dt.datetime(2026, 5, 4, 9, tzinfo=dt.UTC)
    assert series.hour_count == 66 - 3 - 4


def test_a_missing_layer_of_moisture_is_left_to_be_computed() -> None:
    series, _ = read(changed(GRID, lambda answer: answer["properties"].pop("dewpoint")), PLACE)
    assert "dew_point_c" not in series.hours
    series, _ = read(changed(GRID, lambda answer: layer(answer, "relativeHumidity").update(values=[])), PLACE)
    assert "relative_humidity" not in series.hours


def test_a_chance_of_rain_for_half_the_time_is_left_out_and_said() -> None:
    def change(answer: Any) -> None:
        del layer(answer, "probabilityOfPrecipitation")["values"][3:]

    series, _ = read(changed(GRID, change), PLACE)
    assert "rain_probability" not in series.hours
    assert "for the first 36 of 66 hours only" in series.note


def test_a_dew_point_rounded_above_the_temperature_is_taken_as_saturated() -> None:
    def change(answer: Any) -> None:
        layer(answer, "dewpoint")["values"][0]["value"] = 10.2

    series, _ = read(changed(GRID, change), PLACE)
    assert series.hours["dew_point_c"][:3] == [10.0, 10.0, 10.2]
    assert "In 2 hours the dew point stood up to 0.20 K above" in series.note


def unit(name: str, word: str) -> Callable[[Any], None]:
    return lambda answer: layer(answer, name).update(uom=word)


def entry(name: str, number: int, **values: Any) -> Callable[[Any], None]:
    return lambda answer: layer(answer, name)["values"][number].update(values)


def updated(text: str) -> Callable[[Any], None]:
    return lambda answer: answer["properties"].update(updateTime=text)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (unit("temperature", "wmoUnit:degF"), ["temperature › uom", "wmoUnit:degF", "wmoUnit:degC"]),
        (unit("windSpeed", "wmoUnit:m_s-1"), ["windSpeed › uom", "wmoUnit:m_s-1"]),
        (lambda answer: answer.pop("properties"), ["properties is missing"]),
        (lambda answer: answer.pop("geometry"), ["geometry is missing"]),
        (lambda answer: answer["properties"].pop("skyCover"), ["properties › skyCover is missing"]),
        (lambda answer: layer(answer, "temperature").pop("uom"), ["temperature › uom is missing"]),
        (lambda answer: layer(answer, "windSpeed").update(values=[]), ["windSpeed holds no values"]),
        (lambda answer: layer(answer, "windSpeed").update(values="calm"), ["windSpeed › values is no list"]),
        (
            lambda answer: [answer["properties"].pop(name) for name in ("dewpoint", "relativeHumidity")],
            ["neither dewpoint nor relativeHumidity"],
        ),
        (lambda answer: layer(answer, "temperature")["values"].pop(7), ["entry 8", "gap", "13:00 UTC", "14:00 UTC"]),
        (
            lambda answer: layer(answer, "temperature")["values"].insert(7, layer(answer, "temperature")["values"][6]),
            ["entry 8", "twice or out of order"],
        ),
        (lambda answer: layer(answer, "dewpoint")["values"].reverse(), ["dewpoint", "entry 2", "out of order"]),
        (entry("temperature", 3, value=None), ["temperature › values, entry 4 › value", "“None” is not a number"]),
        (entry("temperature", 3, value="12"), ["entry 4", "“12” is not a number"]),
        (entry("temperature", 3, value=True), ["entry 4", "“True” is not a number"]),
        (entry("temperature", 3, value=75.0), ["2026-05-04 09:00 UTC", "75.0 °C is above 60.0 °C", "GROUTJOBS"]),
        (entry("relativeHumidity", 0, value=180), ["relative humidity", "180% is above 100%"]),
        (entry("windSpeed", 0, value=-3), ["wind", "below 0.0 km/h"]),
        (entry("dewpoint", 0, value=14.0), ["dew point stands 4.0 K above the temperature"]),
        (entry("skyCover", 0, validTime="2026-05-04T06:00:00/PT6H"), ["skyCover", "entry 1", "not in UTC"]),
        (entry("skyCover", 0, validTime="2026-05-04T06:00:00-04:00/PT6H"), ["entry 1", "not in UTC"]),
        (entry("skyCover", 0, validTime="2026-05-04T06:30:00+00:00/PT6H"), ["entry 1", "full hour"]),
        (entry("skyCover", 0, validTime="2026-05-04T06:00:00+00:00"), ["entry 1", "no interval of whole hours"]),
        (entry("skyCover", 0, validTime="2026-05-04T06:00:00+00:00/PT90M"), ["entry 1", "no interval"]),
        (entry("skyCover", 0, validTime="2026-05-04T06:00:00+00:00/P99D"), ["entry 1", "no interval"]),
        (updated("this morning"), ["updateTime", "“this morning” is not a time"]),
        (updated("2026-05-06T20:00:00+00:00"), ["4 hours after its time of issue", "at least 24"]),
    ],
)
def test_it_refuses_an_answer_and_says_what_and_where(change: Callable[[Any], None], words: list[str]) -> None:
    said = refusal(changed(GRID, change))
    assert [word for word in words if word not in said] == []


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "no JSON"),
        (b"<html><body>Sorry</body></html>", "no JSON"),
        (b"[]", "no JSON object"),
        (body_of(GRID)[:4000], "no JSON"),
        (body_of(GRID).replace(b'"value": 10.0}', b'"value": NaN}', 1), "NaN is no number"),
        (body_of(GRID).replace(b'"value": 10.0}', b'"value": 1e999}', 1), "“inf” is not a number"),
        (b"[" * 200_000, "no JSON"),
        (b"\xff\xfe{}", "no JSON"),
    ],
)
def test_it_refuses_what_is_no_json(body: bytes, words: str) -> None:
    assert words in refusal(body)


def test_it_refuses_the_cell_of_another_place() -> None:
    assert "lies elsewhere than the site (38.5, -79.95)" in refusal(body_of(GRID), Place(38.5, -79.95, 0))


def test_it_takes_the_cell_of_the_service() -> None:
    assert grid_url(body_of("us_nws_point.json")) == "https://api.weather.gov/gridpoints/XYZ/12,34"


@pytest.mark.parametrize(
    "url",
    [
        "https://other.example/gridpoints/XYZ/1,2",
        "https://api.weather.gov/gridpoints/../admin",
        "http://api.weather.gov/gridpoints/XYZ/1,2",
        "",
    ],
)
def test_it_refuses_any_other_address(url: str) -> None:
    body = changed("us_nws_point.json", lambda answer: answer["properties"].update(forecastGridData=url))
    with pytest.raises(HoursRefused, match="no address of a grid cell"):
        grid_url(body)
