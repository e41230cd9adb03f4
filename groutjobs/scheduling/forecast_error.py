"""How wrong a forecast may be, drawn as many equally likely weathers.

Errors of the air temperature grow with the days ahead and fade with the hours: an hour that comes out too warm is
followed by another. The dew point errs partly with it. Whether it rains in an hour is drawn so that each hour has the
chance that the forecast gives it and wet hours come in spells. Wind, cloud and sunlight are taken as forecast.

    drawn = draw_weathers(weather, FORECAST_ERRORS, lead_h=6.0, seed=…)
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtri

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.psychrometrics import saturation_pressures_kpa
from groutjobs.errors import Unusable
from groutjobs.scheduling.conditions import HourlyWeather

SAMPLES = 500
"""Draws of one search. A chance of one half is known from them to 2.2 %. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class ErrorModel:
    """Standard deviations of the forecast by days ahead, straight lines between and level beyond both ends.

    time_constant_h is the time after which an error has faded to 37 %. dew_point_correlation is that of the errors of
    dew point and air temperature. Without draws_rain the chance of rain stays a number, as in the forecast.
    """

    name: str
    lead_days: tuple[float, ...]
    air_sd_k: tuple[float, ...]
    dew_point_sd_k: tuple[float, ...]
    time_constant_h: float
    dew_point_correlation: float
    draws_rain: bool
    source: str

    def __post_init__(self) -> None:
        days = np.array(self.lead_days)
        if not len(days) or {len(self.air_sd_k), len(self.dew_point_sd_k)} != {len(days)}:
            raise Unusable("spread of the forecast", "each day ahead needs both its spreads", source=self.source)
        if not (np.diff(days) > 0).all():
            raise Unusable("spread of the forecast", "the days ahead do not rise", source=self.source)
        for quantity, spreads in (("air temperature", self.air_sd_k), ("dew point", self.dew_point_sd_k)):
            require_all_between(f"spread of the {quantity}", np.array(spreads), 0.0, 20.0, unit="K", source=self.source)
        require_above("time constant of the errors", self.time_constant_h, 0.0, unit="h", source=self.source)
        require_between("correlation of dew point and air", self.dew_point_correlation, -1.0, 1.0, source=self.source)

    def air_spread_k(self, lead_h: Floats) -> Floats:
        """Standard deviation of the air temperature so many hours ahead. [K], shape as lead_h"""
        return np.asarray(np.interp(lead_h / 24, self.lead_days, self.air_sd_k))

    def dew_point_spread_k(self, lead_h: Floats) -> Floats:
        """Standard deviation of the dew point so many hours ahead. [K], shape as lead_h"""
        return np.asarray(np.interp(lead_h / 24, self.lead_days, self.dew_point_sd_k))


FORECAST_ERRORS = ErrorModel(
    name="forecast",
    lead_days=(1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 14.0),
    air_sd_k=(1.7, 1.9, 2.3, 2.7, 3.1, 3.4, 3.8, 4.1, 4.4, 4.6, 5.0),
    dew_point_sd_k=(1.9, 2.2, 2.6, 3.0, 3.4, 3.8, 4.2, 4.5, 4.8, 5.0, 5.5),
    time_constant_h=6.0,
    dew_point_correlation=0.7,
    draws_rain=True,
    source="GROUTJOBS",
)
"""Hourly values at a good mid-latitude site, from memory and ours; learned_errors moves them by the score of a
site. The last column is what is usual for the season, reached after two weeks."""
CLIMATE_ERRORS = ErrorModel(
    name="typical year",
    lead_days=(0.0,),
    air_sd_k=(5.0,),
    dew_point_sd_k=(5.5,),
    time_constant_h=48.0,
    dew_point_correlation=0.7,
    draws_rain=True,
    source="GROUTJOBS",
)
"""Days of another year about those of a typical one. A warm spell lasts days, so the time constant is longer."""
HALL_ERRORS = ErrorModel(
    name="hall",
    lead_days=(0.0,),
    air_sd_k=(1.0,),
    dew_point_sd_k=(2.0,),
    time_constant_h=24.0,
    dew_point_correlation=0.3,
    draws_rain=False,
    source="GROUTJOBS",
)
"""A hall whose hours were entered by hand: its heating holds the air better than its moisture."""
NO_ERRORS = ErrorModel(
    name="none",
    lead_days=(0.0,),
    air_sd_k=(0.0,),
    dew_point_sd_k=(0.0,),
    time_constant_h=6.0,
    dew_point_correlation=0.7,
    draws_rain=False,
    source="GROUTJOBS",
)
"""The forecast as it stands."""


WEIGHT_OF_USUAL_H = 120
"""The usual spread counts as much as so many scored hours. Errors with a time constant of 6 h make twelve hours tell as
much as one on its own, so 120 h are ten; a spread of ten is known to 1/sqrt(20), 22 %, and by about as much sites
differ from the usual. GROUTJOBS."""
LEAST_DAY_H = 12
"""A day ahead with fewer scored hours keeps the usual spread. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class ScoredDay:
    """One day ahead, the first is number 1: scored hours, their mean error and the standard deviation about it."""

    number: int
    count: int
    bias_k: float
    spread_k: float


def learned_errors(days: Sequence[ScoredDay], usual: ErrorModel = FORECAST_ERRORS) -> ErrorModel:
    """Return the errors of a site's forecasts: its own score, drawn towards the usual where it rests on little.

    Parameters
    ----------
    days : The score by day ahead. [-], numbers 1 to 14, each once
    usual : What holds where nothing was scored, and beyond the last day scored.

    Returns
    -------
    The model, with nodes in the middle of each day ahead. The mean error is not taken off the forecast; it counts in
    the spread. The dew point, which is not scored, errs in the same ratio to the usual as the air. Time constant,
    correlation and rain are the usual ones.

    Raises
    ------
    OutOfRange : a number of the score lies outside its limits.
    Unusable : a day comes twice.

    Source
    ------
    [GROUTJOBS] mean squares, weighted n to WEIGHT_OF_USUAL_H.
    """
    scored = {day.number: day for day in days if _checked(day).count >= LEAST_DAY_H}
    if len({day.number for day in days}) < len(days):
        raise Unusable("score of the forecasts", "a day ahead comes twice", source="GROUTJOBS")
    if not scored:
        return usual
    last = max(scored)
    middles = np.arange(1.0, last + 2) - 0.5
    later = [day for day in usual.lead_days if day > last + 0.5]
    lead_days = np.array([*middles, *later])
    usual_k = usual.air_spread_k(24 * lead_days)
    air_k = usual_k.copy()
    for number, day in scored.items():
        weight = day.count / (day.count + WEIGHT_OF_USUAL_H)
        square = day.spread_k * day.spread_k + day.bias_k * day.bias_k
        air_k[number - 1] = math.sqrt(weight * square + (1 - weight) * usual_k[number - 1] ** 2)
    dew_k = usual.dew_point_spread_k(24 * lead_days) * air_k / usual_k
    return replace(
        usual,
        name="learned at the site",
        lead_days=tuple(lead_days.tolist()),
        air_sd_k=tuple(air_k.tolist()),
        dew_point_sd_k=tuple(dew_k.tolist()),
    )


def _checked(day: ScoredDay) -> ScoredDay:
    require_between("day ahead of the score", day.number, 1, 14, source="GROUTJOBS")
    require_between("hours of the score", day.count, 0, None, unit="h", source="GROUTJOBS")
    require_between("mean error of the score", day.bias_k, -10.0, 10.0, unit="K", source="GROUTJOBS")
    require_between("spread of the score", day.spread_k, 0.0, 10.0, unit="K", source="GROUTJOBS")
    return day


def errors_past_the_end(model: ErrorModel, ends_h: float) -> ErrorModel:
    """Return the errors of a forecast that a typical year goes on from its end.

    Parameters
    ----------
    model : The errors of the forecast.
    ends_h : Hours from its issue to its last hour. [h], above 0

    Returns
    -------
    The errors of the forecast up to its end, those of a typical year from an hour later on. They fade as fast after the
    end as before it, which is too fast for a warm spell: dates past the end are told a little too surely.

    Raises
    ------
    OutOfRange : the hours lie outside the limits above.

    Source
    ------
    [GROUTJOBS] both spreads are ours; a site's own score stands in the first.
    """
    require_above("end of the forecast", ends_h, 0.0, unit="h", source="GROUTJOBS")
    last, usual = np.array([ends_h]), CLIMATE_ERRORS
    days = [day for day in model.lead_days if 24 * day < ends_h]
    count = len(days)
    return replace(
        model,
        name=f"{model.name}, then {usual.name}",
        lead_days=(*days, ends_h / 24, (ends_h + 1) / 24),
        air_sd_k=(*model.air_sd_k[:count], float(model.air_spread_k(last)[0]), usual.air_sd_k[-1]),
        dew_point_sd_k=(
            *model.dew_point_sd_k[:count],
            float(model.dew_point_spread_k(last)[0]),
            usual.dew_point_sd_k[-1],
        ),
    )


@dataclass(frozen=True, kw_only=True)
class DrawnWeather:
    """Equally likely weathers. Arrays of shape (n_samples, n_hours + 1); what is not drawn has shape (n_hours + 1,).

    rain_probability is 1 where it rains and 0 where it stays dry.
    """

    temp_c: Floats
    dew_point_c: Floats
    relative_humidity: Floats
    rain_probability: Floats
    wind_km_h: Floats

    @property
    def n_samples(self) -> int:
        return len(self.temp_c)


def draw_weathers(
    weather: HourlyWeather, model: ErrorModel, *, lead_h: float, seed: int, n_samples: int = SAMPLES
) -> DrawnWeather:
    """Return equally likely weathers about a forecast; one seed gives one set.

    Parameters
    ----------
    weather : The forecast.
    model : How wrong it may be.
    lead_h : Hours from its issue to its first hour; below zero where it was issued later. [h]
    seed : Start of the random numbers. [-], 0 or more
    n_samples : How many. [-], 1 to 100 000

    Returns
    -------
    The weathers. Where the dew point would come out above the air it is drawn as the air: fog, the air saturated.

    Raises
    ------
    OutOfRange : a value lies outside its limits, also where an error leads out of those of the weather.

    Source
    ------
    [GROUTJOBS] first-order autoregressive errors, normally distributed; rain by a Gaussian copula of equal memory.
    """
    require_between("number of samples", n_samples, 1, 100_000, source="GROUTJOBS")
    require_between("seed", seed, 0, None, source="GROUTJOBS")
    require_between("hours ahead", lead_h, None, None, unit="h", source="GROUTJOBS")
    random = np.random.default_rng(seed)
    warm, damp, wet = (_fading(random, model, (n_samples, weather.n_hours + 1)) for _ in range(3))
    ahead_h = lead_h + np.arange(weather.n_hours + 1.0)
    shared = model.dew_point_correlation
    damp = shared * warm + math.sqrt(1 - shared * shared) * damp
    temp_c = weather.temp_c + model.air_spread_k(ahead_h) * warm
    dew_point_c = weather.dew_point_c + model.dew_point_spread_k(ahead_h) * damp
    dew_point_c = np.minimum(dew_point_c, temp_c + np.maximum(weather.dew_point_c - weather.temp_c, 0.0))
    require_all_between("air temperature with its error", temp_c, -80.0, 80.0, unit="°C", source="GROUTJOBS")
    vapour = saturation_pressures_kpa(dew_point_c) / saturation_pressures_kpa(weather.dew_point_c)
    room = saturation_pressures_kpa(temp_c) / saturation_pressures_kpa(weather.temp_c)
    return DrawnWeather(
        temp_c=temp_c,
        dew_point_c=dew_point_c,
        relative_humidity=np.minimum(weather.relative_humidity * vapour / room, 1.0),
        rain_probability=_rain(weather.rain_probability, wet) if model.draws_rain else weather.rain_probability,
        wind_km_h=weather.wind_km_h,
    )


def _fading(random: np.random.Generator, model: ErrorModel, shape: tuple[int, int]) -> Floats:
    """Standard normal numbers along the hours, each leaning on the one before."""
    kept = math.exp(-1 / model.time_constant_h)
    fresh = random.standard_normal(shape)
    fresh[:, 1:] *= math.sqrt(1 - kept * kept)
    for hour in range(1, shape[1]):
        fresh[:, hour] += kept * fresh[:, hour - 1]
    return fresh


def _rain(probability: Floats, wet: Floats) -> Floats:
    """1 where it rains, 0 where it stays dry, NaN where the forecast does not tell."""
    rains = (wet < ndtri(probability)).astype(np.float64)
    return np.where(np.isnan(probability), np.nan, rains)
