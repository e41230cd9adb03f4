"""Typical years against a second reading of the same file, and laid on the days of a plan."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from groutjobs.weather.series import HoursRefused, Series
from groutjobs.weather.years import epw_year, series_on_days, tmy3_year
from tests.weather.typical import cell, epw_bytes, greensboro, tmy3_bytes, tmy3_rows

ZONE = ZoneInfo("America/New_York")
HEAD, _, REST = tmy3_bytes().decode().partition("\n")


def april(*, days: int = 14, content: bytes | None = None) -> Series:
    return series_on_days(tmy3_year(content) if content else greensboro(), dt.date(2027, 4, 10), days, 30, ZONE)


def changed(line: int, old: str, new: str) -> bytes:
    lines = tmy3_bytes().decode().splitlines()
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new, 1)
    return "\n".join(lines).encode()


def test_it_holds_every_hour_of_the_file() -> None:
    year = greensboro()
    assert len(year.hours) == len(tmy3_rows()) == 8760
    assert year.station == "GREENSBORO PIEDMONT TRIAD INT, NC (USAF 723170)"
    assert (year.latitude_deg, year.longitude_deg, year.elevation_m) == (36.1, -79.95, 273.0)


def test_its_mean_is_that_of_the_file() -> None:
    mean = sum(hour["temp_c"] for hour in greensboro().hours.values()) / 8760
    assert mean == pytest.approx(sum(float(row["Dry-bulb (C)"]) for row in tmy3_rows()) / 8760, abs=1e-9)


def test_an_hour_stands_at_the_same_clock_of_standard_time() -> None:
    """10 April 2027 14:00 in New York is 13:00 standard time at the station."""
    series = april()
    index = round((dt.datetime(2027, 4, 10, 14, tzinfo=ZONE) - series.starts_at) / dt.timedelta(hours=1))
    assert series.hours["temp_c"][index] == cell("04/10", "13:00", "Dry-bulb (C)")
    assert series.hours["dew_point_c"][index] == cell("04/10", "13:00", "Dew-point (C)")
    assert series.hours["relative_humidity"][index] == pytest.approx(cell("04/10", "13:00", "RHum (%)") / 100)
    assert series.hours["wind_km_h"][index] == pytest.approx(cell("04/10", "13:00", "Wspd (m/s)") * 3.6)
    assert series.hours["cloud_ratio"][index] == cell("04/10", "13:00", "TotCld (tenths)") / 10


def test_sunlight_is_the_mean_of_the_hours_before_and_after() -> None:
    """TMY3 gives the sum over the hour that ends at the time printed (NREL/TP-581-43156, table 1-1)."""
    series = april()
    index = round((dt.datetime(2027, 4, 10, 14, tzinfo=ZONE) - series.starts_at) / dt.timedelta(hours=1))
    before, after = cell("04/10", "13:00", "GHI (W/m^2)"), cell("04/10", "14:00", "GHI (W/m^2)")
    assert series.hours["solar_w_m2"][index] == pytest.approx((before + after) / 2)


def test_rain_is_told_where_it_fell() -> None:
    fell = sum(float(row["Lprecip depth (mm)"]) > 0 for row in tmy3_rows())
    year = greensboro()
    assert fell > 100
    assert sum(hour["rain_probability"] for hour in year.hours.values()) == fell


def test_it_says_what_it_is() -> None:
    series = april()
    assert series.source_name == (
        "Typical year of GREENSBORO PIEDMONT TRIAD INT, NC (USAF 723170) "
        "read for 2027-04-10 to 2027-04-23; not a forecast"
    )
    assert series.past_hours == 720
    assert series.hour_count == 720 + 14 * 24


@pytest.mark.parametrize(("day", "hours"), [(dt.date(2027, 3, 14), 23), (dt.date(2027, 11, 7), 25)])
def test_a_day_of_a_clock_change_has_its_own_length(day: dt.date, hours: int) -> None:
    """Second Sunday of March and first of November (Energy Policy Act of 2005, section 110)."""
    longer = series_on_days(greensboro(), day, 2, 10, ZONE)
    assert longer.hour_count == 240 + hours + 24


def test_a_leap_day_takes_the_hours_of_the_day_before() -> None:
    series = series_on_days(greensboro(), dt.date(2028, 2, 28), 3, 10, ZONE)
    assert series.hours["temp_c"][240:264] == series.hours["temp_c"][264:288]
    assert series.hours["temp_c"][240:264] != series.hours["temp_c"][288:312]


def test_past_days_run_over_the_turn_of_the_year() -> None:
    series = series_on_days(greensboro(), dt.date(2027, 1, 5), 2, 30, ZONE)
    assert series.hours["temp_c"][720] == cell("01/04", "24:00", "Dry-bulb (C)")
    assert series.hours["temp_c"][0] == cell("12/05", "24:00", "Dry-bulb (C)")


def test_an_epw_file_of_the_same_hours_gives_the_same_weather() -> None:
    from_epw = series_on_days(epw_year(epw_bytes()), dt.date(2027, 4, 10), 14, 30, ZONE)
    from_tmy3 = april()
    assert from_epw.starts_at == from_tmy3.starts_at
    for quantity, values in from_tmy3.hours.items():
        assert from_epw.hours[quantity] == pytest.approx(values), quantity


def test_distance_over_ground_of_one_degree_of_latitude() -> None:
    """One degree of latitude is 111.2 km on a sphere of 6371 km."""
    assert greensboro().distance_km(37.1, -79.95) == pytest.approx(111.19, abs=0.01)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"temp,wind\n1,2\n", "Line 1 has 2 cells; the first line of a TMY3 file has 7"),
        (b"1,x,NC,99,36,-79,2\n" + REST.encode(), "offset 99 h is not between"),
        (b"1,x,NC,nan,36,-79,2\n" + REST.encode(), "“nan” is not a number"),
        (f"{HEAD}\na,b,c\n1,2,3\n".encode(), "Line 2 lacks the columns"),
        ("\n".join(tmy3_bytes().decode().splitlines()[:50]).encode(), "has 48 hours; 1440 to 8784"),
        (changed(2500, "04/15/1980", "04/45/1980"), "cannot be read"),
    ],
)  # fmt: skip
def test_it_refuses_what_is_no_tmy3_file(content: bytes, words: str) -> None:
    with pytest.raises(HoursRefused) as error:
        tmy3_year(content)
    assert words in str(error.value)


def test_it_refuses_a_temperature_beyond_the_limits_with_its_hour() -> None:
    row = 99 * 24 + 13
    dry = tmy3_rows()[row]["Dry-bulb (C)"]
    content = changed(row + 3, f"{dry},{tmy3_rows()[row]['Dry-bulb source']}", "61.5,A")
    with pytest.raises(HoursRefused, match=rf"Hour {row + 1} of the file, air temperature: 61.5 °C is above 60.0 °C"):
        tmy3_year(content)


def test_it_refuses_text_in_a_number_with_its_hour() -> None:
    row = tmy3_rows()[99 * 24 + 13]
    content = changed(99 * 24 + 16, f"{row['Dry-bulb (C)']},{row['Dry-bulb source']}", "mild,A")
    with pytest.raises(HoursRefused, match=r"Hour 2390 of the file, air temperature: “mild” is not a number"):
        tmy3_year(content)


def test_it_refuses_days_with_a_missing_hour() -> None:
    row = 99 * 24 + 13
    dry = tmy3_rows()[row]["Dry-bulb (C)"]
    content = changed(row + 3, f"{dry},{tmy3_rows()[row]['Dry-bulb source']}", "-9900,?")
    with pytest.raises(HoursRefused, match="no air temperature for 04-10 14:00"):
        april(content=content)


@pytest.mark.parametrize("content", [b"", b"LOCATION,a\n", b"PLACE,a,b,c,d,e,1,2,3,4\n", tmy3_bytes()])
def test_it_refuses_what_is_no_epw_file(content: bytes) -> None:
    with pytest.raises(HoursRefused):
        epw_year(content)
