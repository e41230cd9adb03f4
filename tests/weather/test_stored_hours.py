"""What a forecast does not tell is computed, marked as computed, and agrees with general-purpose libraries."""

import datetime as dt

import psychrolib
import pytest

from groutjobs.errors import OutOfRange
from groutjobs.weather.calc import hours_to_store, moisture
from groutjobs.weather.series import Series
from groutjobs.weather.years import series_on_days
from tests.factories import make_site
from tests.weather.typical import greensboro

pytestmark = pytest.mark.django_db
START = dt.datetime(2027, 6, 1, tzinfo=dt.UTC)


def series(**hours: list[float]) -> Series:
    return Series(START, {"temp_c": [20.0, 21.0], "wind_km_h": [5.0, 5.0], "cloud_ratio": [0.0, 0.5]} | hours)


def test_dew_point_follows_from_humidity() -> None:
    """psychrolib (ASHRAE form) is within 0.06 K of the Magnus form above 0 °C."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    stored = hours_to_store(series(relative_humidity=[0.75, 0.4]), make_site())
    expected = [psychrolib.GetTDewPointFromRelHum(20.0, 0.75), psychrolib.GetTDewPointFromRelHum(21.0, 0.4)]
    assert stored["dew_point_c"] == pytest.approx(expected, abs=0.06)
    assert stored["computed"] == ["dew_point_c", "solar_w_m2"]


def test_humidity_follows_from_dew_point_and_back() -> None:
    stored = hours_to_store(series(dew_point_c=[15.43, 7.0]), make_site())
    assert stored["relative_humidity"][0] == pytest.approx(0.75, abs=0.001)
    assert moisture(20.0, "relative_humidity", stored["relative_humidity"][0])[0] == pytest.approx(15.43, abs=0.02)


def test_a_dew_point_above_the_air_is_refused() -> None:
    with pytest.raises(OutOfRange, match="dew point"):
        hours_to_store(series(dew_point_c=[25.0, 7.0]), make_site())


def test_what_the_source_tells_is_kept() -> None:
    told = series(
        relative_humidity=[0.5, 0.5], dew_point_c=[9.0, 9.9], solar_w_m2=[0.0, 120.0], rain_probability=[0.1, 0.2]
    )
    stored = hours_to_store(told, make_site())
    assert stored["computed"] == []
    assert stored["dew_point_c"] == [9.0, 9.9]
    assert stored["rain_probability"] == [0.1, 0.2]


def test_computed_sunlight_is_near_what_a_typical_month_received() -> None:
    """Sum of June in the Greensboro TMY3 file (723170). Single hours are 30 % off; their errors even out to 15 %."""
    site = make_site()
    measured = series_on_days(greensboro(), dt.date(2027, 6, 1), 30, 0, site.tz)
    hours = {name: values for name, values in measured.hours.items() if name != "solar_w_m2"}
    computed = hours_to_store(Series(measured.starts_at, hours), site)["solar_w_m2"]
    assert sum(computed) == pytest.approx(sum(measured.hours["solar_w_m2"]), rel=0.15)
