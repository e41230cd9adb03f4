"""The CSV table of hours: what it takes, and one sentence for each thing that it does not."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from groutjobs.weather.files import LARGEST_BYTES, example_csv, series_of
from groutjobs.weather.series import HoursRefused, Series

ZONE = ZoneInfo("America/New_York")
HEADER = "time,temp_c,humidity_percent,wind_km_h,cloud_percent"


def table(*lines: str, header: str = HEADER) -> bytes:
    return "\n".join([header, *lines]).encode()


def hours(first: str, *others: str) -> bytes:
    return table(*(f"{clock},12.5,80,9,40" for clock in (first, *others)))


def refusal(content: bytes, *, confirmed: bool = False) -> str:
    with pytest.raises(HoursRefused) as error:
        series_of(content, ZONE, confirmed=confirmed)
    return str(error.value)


def test_it_reads_values_in_site_time() -> None:
    series = series_of(hours("2026-04-30 07:00", "2026-04-30 08:00"), ZONE)
    assert series.starts_at == dt.datetime(2026, 4, 30, 11, tzinfo=dt.UTC)
    assert series.hours == {
        "temp_c": [12.5, 12.5], "relative_humidity": [0.8, 0.8], "wind_km_h": [9.0, 9.0], "cloud_ratio": [0.4, 0.4]
    }  # fmt: skip


def test_it_converts_the_units_that_the_header_names() -> None:
    header = "Time;TEMP_F;Dew_point_f;wind_mph;cloud_percent;rain_percent"
    lines = [f"2026-04-30T{hour:02d}:00-04:00;50;41;10;100;25" for hour in (7, 8)]
    series = series_of(table(*lines, header=header), ZONE)
    assert series.hours["temp_c"] == pytest.approx([10.0, 10.0])
    assert series.hours["dew_point_c"] == pytest.approx([5.0, 5.0])
    assert series.hours["wind_km_h"] == pytest.approx([16.09344] * 2)  # the mile of 1609.344 m, by definition
    assert series.hours["rain_probability"] == [0.25, 0.25]


def test_it_reads_decimal_commas_comments_and_a_byte_order_mark() -> None:
    text = "\ufeff# from the plant's station\n" + HEADER.replace(",", ";")
    text += "".join(f"\n2026-04-30 {hour:02d}:00;12,5;80;9;40" for hour in (7, 8))
    assert series_of(text.encode(), ZONE).hours["temp_c"] == [12.5, 12.5]


def test_it_takes_its_own_example() -> None:
    series = series_of(example_csv().encode(), ZONE)
    assert series.hour_count == 48
    assert "solar_w_m2" in series.hours


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", ["empty"]),
        (table(), ["0 hours", "2 to 2160", "GROUTJOBS"]),
        (table("2026-04-30 07:00,1,80,9,40"), ["1 hour"]),
        (b"\x89PNG\r\n\x1a\n\x00\x00", ["not plain text"]),
        (HEADER.encode() + b"\n2026-04-30 07:00,12\xb0,80,9,40", ["Line 2", "0xb0", "UTF-8"]),
        (b"x" * (LARGEST_BYTES + 1), ["10.0 MB", "10 MB", "GROUTJOBS"]),
        (table("a" * 500, header=HEADER), ["Line 2", "500 characters", "400"]),
        (table(header="time,temp_c,temp_f,wind_km_h,cloud_percent"), ["temp_c twice", "humidity_percent"]),
        (table(header="when,temp_c"), ["“when”", "0 columns named time", "wind_km_h or wind_mph", "cloud_percent"]),
        (hours("2026-04-30 07:00", "2026-04-30 09:00"), ["Line 3", "09:00", "2 h after", "1 h"]),
        (hours("2026-04-30 07:00", "2026-04-30 06:00"), ["Line 3", "-1 h after"]),
        (hours("2026-04-30 07:00", "2026-04-30 07:00"), ["Line 3", "0 h after"]),
        (hours("30.04.2026 7 o'clock", "2026-04-30 07:00"), ["Line 2", "not a time", "ISO8601"]),
        (hours("9999-12-31 21:00", "9999-12-31 22:00"), ["1990", "2200"]),
        (table("2026-04-30 07:00,12.5,80,9", "2026-04-30 08:00,12.5,80,9,40"), ["Line 2", "4 cells", "5"]),
    ],
)  # fmt: skip
def test_it_refuses_a_file_with_the_reason(content: bytes, words: list[str]) -> None:
    said = refusal(content)
    assert [word for word in words if word not in said] == []


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ("75,80,9,40", ["Line 3, temp_c", "75 °C", "above 60.0 °C", "GROUTJOBS"]),
        ("-41,80,9,40", ["temp_c", "-41 °C", "below −40.0 °C"]),
        ("12.5,180,9,40", ["humidity_percent", "180 %", "above 100%"]),
        ("12.5,0,9,40", ["humidity_percent", "below 1%"]),
        ("12.5,80,-2,40", ["wind_km_h", "-2 km/h", "below 0.0 km/h"]),
        ("12.5,80,9,140", ["cloud_percent", "140 %", "above 100%"]),
        (",80,9,40", ["temp_c", "nothing was entered"]),
        ("warm,80,9,40", ["temp_c", "“warm” is not a number"]),
        ("NaN,80,9,40", ["temp_c", "“NaN” is not a number"]),
        ("1e1,80,9,40", ["temp_c", "“1e1”"]),
    ],
)
def test_it_refuses_a_cell_with_line_column_value_and_limit(cells: str, words: list[str]) -> None:
    said = refusal(table("2026-04-30 07:00,12.5,80,9,40", f"2026-04-30 08:00,{cells}"))
    assert [word for word in words if word not in said] == []


def test_it_asks_about_unusual_values_and_takes_them_when_told() -> None:
    content = table("2026-04-30 07:00,50,80,9,40", "2026-04-30 08:00,50,80,9,40")
    with pytest.raises(HoursRefused) as error:
        series_of(content, ZONE)
    assert error.value.only_unusual
    assert "50 °C is outside the usual −20.0 °C to 45.0 °C [GROUTJOBS]" in str(error.value)
    assert series_of(content, ZONE, confirmed=True).hours["temp_c"] == [50.0, 50.0]


def test_it_counts_problems_beyond_a_dozen() -> None:
    lines = [f"2026-04-{1 + i // 24:02d} {i % 24:02d}:00,99,80,9,40" for i in range(40)]
    assert "And 28 more of this kind." in refusal(table(*lines))


# The clocks of New York go from 02:00 to 03:00 on 8 March 2026 and from 02:00 back to 01:00 on 1 November 2026
# (Energy Policy Act of 2005, section 110; IANA time zone database).


def test_the_hour_that_spring_skips_is_no_gap() -> None:
    series = series_of(hours("2026-03-08 01:00", "2026-03-08 03:00", "2026-03-08 04:00"), ZONE)
    assert series.hour_count == 3
    assert "skip this time" in refusal(hours("2026-03-08 01:00", "2026-03-08 02:00"))


def test_the_hour_that_autumn_repeats_needs_an_offset() -> None:
    assert "twice that day" in refusal(hours("2026-11-01 00:00", "2026-11-01 01:00"))
    clear = hours("2026-11-01 00:00", "2026-11-01T01:00-04:00", "2026-11-01T01:00-05:00", "2026-11-01 02:00")
    assert series_of(clear, ZONE).hour_count == 4


def test_hours_before_the_issue_time_are_past() -> None:
    series = series_of(hours("2026-04-30 07:00", "2026-04-30 08:00", "2026-04-30 09:00"), ZONE)
    assert series.with_past(dt.datetime(2026, 4, 30, 8, 30, tzinfo=ZONE)).past_hours == 2


def test_hours_given_in_local_time_run_through_the_change_of_clocks() -> None:
    series = Series(dt.datetime(2026, 3, 8, 0, tzinfo=ZONE), {"temp_c": [1.0] * 5})
    assert series.at(4).astimezone(ZONE) == dt.datetime(2026, 3, 8, 5, tzinfo=ZONE)
    assert series.with_past(dt.datetime(2026, 3, 8, 3, tzinfo=ZONE)).past_hours == 2
