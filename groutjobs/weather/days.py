"""A forecast by days of the site's calendar, for tables."""

import datetime as dt
import itertools
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from groutjobs.weather.models import Forecast


@dataclass(frozen=True)
class Hour:
    """One hour of a forecast. rain_probability is None where the source does not tell it."""

    at: dt.datetime
    temp_c: float
    dew_point_c: float
    relative_humidity: float
    wind_km_h: float
    cloud_ratio: float
    solar_w_m2: float
    rain_probability: float | None


@dataclass(frozen=True)
class Day:
    """Extremes of one day; wettest is None where the source does not tell the chance of rain."""

    on: dt.date
    hour_count: int
    is_past: bool
    coldest_c: float
    hottest_c: float
    lowest_dew_point_c: float
    highest_dew_point_c: float
    most_wind_km_h: float
    most_humid: float
    wettest: float | None


def _hour(forecast: Forecast, index: int) -> Hour:
    quantities = ("temp_c", "dew_point_c", "relative_humidity", "wind_km_h", "cloud_ratio", "solar_w_m2")
    rain = forecast.hours.get("rain_probability")
    values = {quantity: float(forecast.hours[quantity][index]) for quantity in quantities}
    return Hour(at=forecast.at(index), rain_probability=float(rain[index]) if rain else None, **values)


def days_of(forecast: Forecast) -> list[Day]:
    """All days, the first of those to plan for first, past days after them."""
    zone = ZoneInfo(forecast.zone)
    hours = [_hour(forecast, index) for index in range(forecast.hour_count)]
    days = [
        _day(on, list(run), forecast)
        for on, run in itertools.groupby(hours, lambda hour: hour.at.astimezone(zone).date())
    ]
    return sorted(days, key=lambda day: (day.is_past, day.on))


def _day(on: dt.date, hours: list[Hour], forecast: Forecast) -> Day:
    rain = [hour.rain_probability for hour in hours if hour.rain_probability is not None]
    return Day(
        on=on,
        hour_count=len(hours),
        is_past=hours[-1].at < forecast.plan_starts_at,
        coldest_c=min(hour.temp_c for hour in hours),
        hottest_c=max(hour.temp_c for hour in hours),
        lowest_dew_point_c=min(hour.dew_point_c for hour in hours),
        highest_dew_point_c=max(hour.dew_point_c for hour in hours),
        most_wind_km_h=max(hour.wind_km_h for hour in hours),
        most_humid=max(hour.relative_humidity for hour in hours),
        wettest=max(rain) if rain else None,
    )


def hours_on(forecast: Forecast, on: dt.date) -> list[Hour]:
    """The hours of one day of the site's calendar."""
    zone = ZoneInfo(forecast.zone)
    indexes = (i for i in range(forecast.hour_count) if forecast.at(i).astimezone(zone).date() == on)
    return [_hour(forecast, index) for index in indexes]
