"""Do the odds of pour hours come true? Recorded hours of a year as the truth, synthetic forecasts of known error.

The hours are those of the typical year of Greensboro, North Carolina (NREL TMY3), that ships with pvlib: recorded
hours, each month from another year. Nothing here is a forecast that anybody issued.

Odds come true only if the truth lies about the forecast as the error says. An error laid upon the recorded hours does
not give that: it makes the forecast rougher than any weather, and the odds lay their own errors upon these. So the
forecast is drawn from those that would have had this truth: it leans on what is usual for the season, the more the
further ahead, as forecasts of a service do.
"""

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pvlib

from groutjobs.benchmarks import PAST_DAYS, ZONE, invented_case, judged_hours, later
from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.heat import simulate_machines
from groutjobs.engineering.psychrometrics import saturation_pressures_kpa
from groutjobs.errors import Unusable
from groutjobs.scheduling.conditions import HourlyWeather
from groutjobs.scheduling.forecast_error import FORECAST_ERRORS, ErrorModel
from groutjobs.scheduling.hour_rows import Bools
from groutjobs.scheduling.windows import PourHours
from groutjobs.weather.years import TypicalYear, series_on_days, tmy3_year

STATION = "723170TYA.CSV"
DAYS, FIRST_DAY, DAYS_OF_YEAR = 10, dt.date(2025, 1, 1), 365
SEASON_DAYS, SPELL_H, LEAST_SPREAD_K = 30, 48.0, 0.5
"""Usual is what was recorded within so many days; warm and damp spells fade in SPELL_H. GROUTJOBS."""
BANDS = ((0.05, 0.25), (0.25, 0.45), (0.45, 0.65), (0.65, 0.75), (0.75, 0.85), (0.85, 0.95), (0.95, 1.01))
MODEL = replace(FORECAST_ERRORS, draws_rain=False)
"""The file does not tell rain at most hours, so rain is left out of both the odds and the truth."""


@dataclass(frozen=True)
class Band:
    """Start hours whose odds lie in a band: how many there were, their mean odds, and the share that held.

    standard_error is that of held. Hours of one forecast hold or fail together, so it counts forecasts, not hours.
    """

    low: float
    high: float
    count: int
    mean_odds: float
    held: float
    standard_error: float


@dataclass(frozen=True)
class Season:
    """What is usual about a day: means by the hour of the day in UTC, shape (24,), spread about them, correlation."""

    air_c: Floats
    dew_point_c: Floats
    air_sd_k: float
    dew_point_sd_k: float
    correlation: float

    @classmethod
    def about(cls, year: TypicalYear, day: dt.date) -> "Season":
        first_day, days = day - dt.timedelta(days=SEASON_DAYS), 2 * SEASON_DAYS + 1
        hours = series_on_days(year, first_day, days, 0, ZoneInfo("UTC")).hours
        air_c, dew_point_c = (np.array(hours[name]).reshape(days, 24) for name in ("temp_c", "dew_point_c"))
        air_k, dew_point_k = air_c - air_c.mean(axis=0), dew_point_c - dew_point_c.mean(axis=0)
        correlation = float(np.corrcoef(air_k.ravel(), dew_point_k.ravel())[0, 1])
        means = air_c.mean(axis=0), dew_point_c.mean(axis=0)
        return cls(*means, float(air_k.std()), float(dew_point_k.std()), correlation)


def recorded_year() -> TypicalYear:
    """The hours of the station, from the installed package."""
    return tmy3_year((Path(pvlib.__file__).parent / "data" / STATION).read_bytes())


def reliability(every_days: int, *, told: ErrorModel = MODEL, known: ErrorModel = MODEL) -> list[Band]:
    """The reliability table: odds counted with the spread that is told, forecasts made with the error that is known.

    The two are the same where the odds are to come true. every_days is the time from one forecast to the next.
    """
    require_between("days between forecasts", every_days, 1, 120, unit="days", source="GROUTJOBS")
    year, odds, held = recorded_year(), [], []
    for number, after_days in enumerate(range(0, DAYS_OF_YEAR, every_days)):
        day = FIRST_DAY + dt.timedelta(days=after_days)
        truth = later(_weather(year, day), 12 * (number % 2))
        forecast = likely_forecast(truth, Season.about(year, day), known, seed=10_000 + number)
        given = _judged(forecast, told, seed=number)
        came = _judged(truth, None, seed=0)
        if given.odds is None:
            raise Unusable("benchmark", "the odds were not counted", source="GROUTJOBS")
        odds.append(given.odds.all_hold)
        held.append(came.acceptable)
    return [_band(low, high, odds, held) for low, high in BANDS]


def _band(low: float, high: float, odds: Sequence[Floats], held: Sequence[Bools]) -> Band:
    """Of one forecast after another: odds of its start hours, and which of them held."""
    inside = [(each >= low) & (each < high) for each in odds]
    count = sum(int(where.sum()) for where in inside)
    if not count:
        return Band(low, high, 0, math.nan, math.nan, math.nan)
    mean_odds = sum(float(each[where].sum()) for each, where in zip(odds, inside, strict=True)) / count
    share = sum(int(each[where].sum()) for each, where in zip(held, inside, strict=True)) / count
    off = [float((each[where] - share).sum()) for each, where in zip(held, inside, strict=True)]
    return Band(low, high, count, mean_odds, share, math.hypot(*off) / count)


def _weather(year: TypicalYear, day: dt.date) -> HourlyWeather:
    """The recorded hours from ten days before a day on."""
    series = series_on_days(year, day, DAYS, PAST_DAYS, ZoneInfo(ZONE))
    hours = {name: np.array(values, dtype=np.float64) for name, values in series.hours.items()}
    return HourlyWeather(
        start_at=series.starts_at,
        timezone=ZONE,
        rain_probability=np.zeros(len(hours["temp_c"])),
        **{name: values for name, values in hours.items() if name != "rain_probability"},
    )


def likely_forecast(truth: HourlyWeather, season: Season, known: ErrorModel, seed: int) -> HourlyWeather:
    """What is recorded until the issue, and after it one of the forecasts that have this truth with the known error.

    Forecast about season, and truth about forecast, are taken as normally distributed, so a forecast given the truth is
    as well. Its spread about the season is what the error leaves of that of the truth.
    """
    first = PAST_DAYS * 24
    count = len(truth.temp_c) - first
    ahead_h, hour = np.arange(float(count)), truth.at(first).astimezone(dt.UTC).hour
    usual = np.concatenate([row[(hour + np.arange(count)) % 24] for row in (season.air_c, season.dew_point_c)])
    errors_k = np.concatenate([known.air_spread_k(ahead_h), known.dew_point_spread_k(ahead_h)])
    total_k = np.repeat([season.air_sd_k, season.dew_point_sd_k], count)
    spells_k = np.sqrt(np.maximum(total_k * total_k - errors_k * errors_k, LEAST_SPREAD_K * LEAST_SPREAD_K))
    error = _covariance(errors_k, known.time_constant_h, known.dew_point_correlation)
    lean = np.linalg.solve(error + _covariance(spells_k, SPELL_H, season.correlation), error).T
    off = np.concatenate([truth.temp_c[first:], truth.dew_point_c[first:]]) - usual
    left = error - lean @ error
    random = np.random.default_rng(seed)
    drawn = random.multivariate_normal(off - lean @ off, (left + left.T) / 2, method="eigh", check_valid="ignore")
    air_c, dew_point_c = np.split(usual + drawn, 2)
    return _with_air(truth, air_c, np.minimum(dew_point_c, air_c), first)


def _covariance(spread_k: Floats, time_constant_h: float, correlation: float) -> Floats:
    """Of air temperature and dew point, one after the other: spreads by the hour that fade in the same time."""
    hours = np.arange(len(spread_k) // 2)
    fading = np.exp(-np.abs(hours[:, None] - hours) / time_constant_h)
    return np.asarray(np.outer(spread_k, spread_k) * np.kron([[1.0, correlation], [correlation, 1.0]], fading))


def _with_air(truth: HourlyWeather, air_c: Floats, dew_point_c: Floats, first: int) -> HourlyWeather:
    """The recorded weather with other air from an hour on."""
    vapour = saturation_pressures_kpa(dew_point_c) / saturation_pressures_kpa(truth.dew_point_c[first:])
    room = saturation_pressures_kpa(air_c) / saturation_pressures_kpa(truth.temp_c[first:])
    humidity = np.minimum(truth.relative_humidity[first:] * vapour / room, 1.0)
    return replace(
        truth,
        temp_c=_joined(truth.temp_c, air_c, first),
        dew_point_c=_joined(truth.dew_point_c, dew_point_c, first),
        relative_humidity=_joined(truth.relative_humidity, humidity, first),
    )


def _joined(recorded: Floats, drawn: Floats, first: int) -> Floats:
    return np.concatenate([recorded[:first], drawn])


def _judged(weather: HourlyWeather, spread: ErrorModel | None, seed: int) -> PourHours:
    """Every start hour judged as the app does; with a spread its odds too."""
    before = simulate_machines([invented_case(weather.for_heat(), 5)])[0]
    return judged_hours(weather, before, spread=spread, seed=seed)


def table(bands: Sequence[Band]) -> Iterator[str]:
    """The lines of a reliability table."""
    yield f"{'odds given':<14}{'start hours':>12}{'mean odds':>12}{'held':>8}{'give or take':>14}"
    for band in bands:
        shown = f"{band.low:.0%} to {min(band.high, 1.0):.0%}"
        yield f"{shown:<14}{band.count:>12}{band.mean_odds:>12.1%}{band.held:>8.1%}{band.standard_error:>14.1%}"
