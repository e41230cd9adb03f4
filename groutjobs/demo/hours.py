"""Weather of the demonstration: a typical year that ships with a library, and hours of a heated hall typed by hand."""

import datetime as dt
import hashlib
import math
from pathlib import Path

import pvlib

from groutjobs.demo.plant import Works
from groutjobs.weather.actions import add_forecast
from groutjobs.weather.models import Forecast, ForecastSource
from groutjobs.weather.series import HOUR, Series
from groutjobs.weather.years import series_on_days, tmy3_year

# NREL typical meteorological year (TMY3) of station 723170, Greensboro, North Carolina; ships in the package pvlib.
TYPICAL_YEAR = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
OUTAGE_DAYS = 14
PAST_DAYS = 20


def next_april(today: dt.date) -> dt.date:
    """The Monday of the first full week of the next April."""
    first = dt.date(today.year + (today >= dt.date(today.year, 4, 1)), 4, 8)
    return first - dt.timedelta(days=first.weekday())


def typical_april(works: Works, issued_at: dt.datetime) -> Forecast:
    """Two spring weeks of the typical year; the works stands at an invented place, so the station stands in for it."""
    content = TYPICAL_YEAR.read_bytes()
    series = series_on_days(tmy3_year(content), next_april(works.today), OUTAGE_DAYS, PAST_DAYS, works.site.tz)
    return add_forecast(
        site=works.site,
        source=ForecastSource.TMY3,
        series=series,
        issued_at=issued_at,
        by=works.people["engineer"],
        note="The works is invented; this inland station stands in for its weather.",
        file_sha256=hashlib.sha256(content).hexdigest(),
    )


def hall_hours(works: Works, now: dt.datetime) -> Forecast:
    """The heated pump hall from 40 days ago to 5 days ahead: 21 °C by day, a degree less by night."""
    starts_at = now.replace(minute=0, second=0, microsecond=0) - dt.timedelta(days=40)
    count = 45 * 24
    local = [(starts_at + index * HOUR).astimezone(works.site.tz).hour for index in range(count)]
    temp_c = [round(20.8 + 0.7 * math.sin((hour - 9) * math.pi / 12), 1) for hour in local]
    hours = {
        "temp_c": temp_c,
        "relative_humidity": [0.46] * count,
        "wind_km_h": [1.0] * count,
        "cloud_ratio": [1.0] * count,
        "solar_w_m2": [0.0] * count,
        "rain_probability": [0.0] * count,
    }
    return add_forecast(
        site=works.site,
        source=ForecastSource.HAND,
        series=Series(starts_at, hours, past_hours=24 * 20, source_name="pump hall, heating set to 21 °C"),
        issued_at=now,
        by=works.people["engineer"],
        note="Invented hours of a heated hall.",
    )
