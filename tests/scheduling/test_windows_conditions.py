"""Weather, shifts and daylight as the search receives them."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Any

import numpy as np
import pandas as pd  # type: ignore[import-untyped]
import pvlib
import pytest

from groutjobs.errors import OutOfRange, Unusable
from groutjobs.scheduling.conditions import Predicted, ShiftHours, daylight_spells
from groutjobs.scheduling.hour_rows import daylight_rule
from groutjobs.scheduling.windows import find_pour_hours
from tests.scheduling.weather_for_tests import some_need, some_weather

MONDAY = datetime(2026, 3, 2, 6, tzinfo=UTC)
DAY_SHIFT = ShiftHours(timezone="America/Chicago", weekdays=frozenset(range(5)), first=time(7), last=time(17))


def test_a_week_has_its_five_shifts() -> None:
    spells = DAY_SHIFT.spells(MONDAY, MONDAY + timedelta(days=7))
    assert len(spells) == 5
    assert spells[0] == (datetime(2026, 3, 2, 13, tzinfo=UTC), datetime(2026, 3, 2, 23, tzinfo=UTC))


def test_a_shift_keeps_its_local_hours_over_the_change_of_the_clock() -> None:
    spells = DAY_SHIFT.spells(MONDAY, MONDAY + timedelta(days=8))
    assert spells[-1][0] == datetime(2026, 3, 9, 12, tzinfo=UTC)


def test_a_night_shift_runs_into_the_next_day_and_counts_for_the_day_it_began() -> None:
    night = replace(DAY_SHIFT, first=time(19), last=time(5), weekdays=frozenset({0}))
    spells = night.spells(MONDAY + timedelta(days=1, hours=-4), MONDAY + timedelta(days=6))
    assert spells == ((datetime(2026, 3, 3, 1, tzinfo=UTC), datetime(2026, 3, 3, 11, tzinfo=UTC)),)


def test_shifts_round_the_clock_are_one_spell() -> None:
    always = replace(DAY_SHIFT, first=time(7), last=time(7), weekdays=frozenset(range(7)))
    spells = always.spells(MONDAY, MONDAY + timedelta(days=5))
    assert len(spells) == 1
    assert spells[0][0] <= MONDAY
    assert spells[0][1] >= MONDAY + timedelta(days=5)


@pytest.mark.parametrize(("latitude_deg", "longitude_deg"), [(41.9, -87.6), (36.1, -79.95), (-33.9, 151.2)])
def test_daylight_agrees_with_the_reference_library(latitude_deg: float, longitude_deg: float) -> None:
    """pvlib's SPA sunrise and sunset; both use 0.833° below the horizon, one minute covers the short series."""
    spells = daylight_spells(MONDAY, MONDAY + timedelta(days=2), latitude_deg, longitude_deg)
    for rise, sink in spells:
        noon = pd.DatetimeIndex([rise + (sink - rise) / 2])
        expected = pvlib.solarposition.sun_rise_set_transit_spa(noon.floor("D"), latitude_deg, longitude_deg)
        nearby = [
            pvlib.solarposition.sun_rise_set_transit_spa(
                noon.floor("D") + pd.Timedelta(days=day), latitude_deg, longitude_deg
            )
            for day in (-1, 1)
        ]
        days = pd.concat([expected, *nearby])
        assert min(abs((days["sunrise"] - rise).dt.total_seconds())) < 60
        assert min(abs((days["sunset"] - sink).dt.total_seconds())) < 60
    assert len(spells) in (2, 3)


def test_there_is_no_daylight_in_the_polar_night() -> None:
    midwinter = datetime(2026, 12, 21, tzinfo=UTC)
    assert daylight_spells(midwinter, midwinter + timedelta(days=2), 75.0, 20.0) == ()


def test_daylight_warns_at_night_and_not_at_noon() -> None:
    weather = some_weather()
    predicted = Predicted(concrete_c=np.full(49, 20.0), plate_c=None)
    rule = daylight_rule(weather, 41.9, -87.6)
    hours = find_pour_hours(weather, predicted, some_need(), [], spell_rules=(rule,))
    assert hours.codes_in_the_way(2) == ["daylight"]
    assert hours.codes_in_the_way(11) == []
    assert hours.acceptable.all()


@pytest.mark.parametrize(
    ("row", "value"),
    [("temp_c", 99.0), ("temp_c", np.nan), ("relative_humidity", 60.0), ("rain_probability", 1.2), ("wind_km_h", -3.0)],
)
def test_impossible_weather_is_refused(row: str, value: float) -> None:
    change: dict[str, Any] = {row: np.full(49, value)}
    with pytest.raises(OutOfRange):
        replace(some_weather(), **change)


def test_weather_without_zone_or_with_uneven_rows_is_refused() -> None:
    with pytest.raises(Unusable, match="time zone"):
        replace(some_weather(), start_at=datetime(2026, 3, 2))  # noqa: DTZ001
    with pytest.raises(Unusable, match="same two or more hours"):
        replace(some_weather(), wind_km_h=np.zeros(5))


def test_the_part_for_heat_needs_a_known_wind() -> None:
    assert some_weather().for_heat().n_hours == 48
    with pytest.raises(OutOfRange):
        replace(some_weather(), wind_km_h=np.full(49, np.nan)).for_heat()
