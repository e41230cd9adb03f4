"""What drawn weathers do to a pour: concrete, plate, and whether each date of the cure is met."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.cure import CureClock
from groutjobs.engineering.heat import Temperatures
from groutjobs.engineering.response import AirErrors, DrawnAges, temperature_errors
from groutjobs.engineering.sky import HourlyAir
from groutjobs.scheduling.conditions import CureForecast, HourlyWeather, PlacementNeed, Predicted
from groutjobs.scheduling.covered import drawn_under
from groutjobs.scheduling.forecast_error import DrawnWeather
from groutjobs.scheduling.hour_rows import Bools

EARLY_LATE = (0.1, 0.9)
"""Shares of the weathers in which a milestone is reached by its early and by its late date."""


@dataclass(frozen=True, kw_only=True)
class PourRuns:
    """The runs on the forecast that a search rests on: before the pour, and after a pour at each hour to plan for.

    first is the first of these hours on the axis of air. ages_h holds the equivalent age that each milestone needs.
    """

    before: Temperatures
    after: Temperatures
    air: HourlyAir
    first: int
    clock: CureClock
    ages_h: Mapping[str, float]


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Equally likely weathers and what follows from them: temperatures, shape (n_samples, n_hours + 1), and for each
    milestone with a date where it is met, shape (n_samples, n_hours + 1), by its code.

    early_late_h has for each milestone the hours from the start of placing by which one and nine weathers in ten reach
    it, shape (n_starts, 2), NaN at starts that are not told and where the weather ends before.
    """

    air: DrawnWeather
    predicted: Predicted
    in_time: Mapping[str, Bools]
    early_late_h: Mapping[str, Floats] = field(default_factory=dict)

    @property
    def n_samples(self) -> int:
        return self.air.n_samples


def drawn_pours(
    air: DrawnWeather,
    weather: HourlyWeather,
    runs: PourRuns,
    need: PlacementNeed,
    cure: Sequence[CureForecast],
    *,
    asked: Bools | None = None,
    told: Bools | None = None,
) -> Drawn:
    """Return what each drawn weather does to concrete, plate and cure.

    Parameters
    ----------
    air : The weathers that were drawn about the forecast, outside where something covers the pour.
    weather : The forecast outside.
    runs : The runs on the forecast.
    need : What the pour needs.
    cure : When each milestone is reached on the forecast; those with a date are looked at.
    asked : Starts whose cure is looked at; at others, such as those outside the shift, that of the forecast stands.
    told : Starts whose early and late dates are counted; none where not given.

    Returns
    -------
    Temperatures and dates met, weather by weather, and the air as it is under the covers of the runs.

    Raises
    ------
    Unusable : runs and forecast do not fit together.

    Source
    ------
    [GROUTJOBS] the answers of the heat model to small errors, added to its run on the forecast.
    """
    errors = AirErrors(air.temp_c - weather.temp_c, air.dew_point_c - weather.dew_point_c)
    warmer = temperature_errors(runs.before, runs.air, runs.first, errors)
    planned = slice(runs.first, None)
    plate_c = runs.before.plate_c
    in_time: dict[str, Bools] = {}
    early_late_h: dict[str, Floats] = {}
    due = [(forecast, forecast.due_at) for forecast in cure if forecast.due_at is not None]
    if due or told is not None:
        ages = DrawnAges(runs.before, runs.after, runs.air, runs.first, errors, warmer, runs.clock)
    for forecast, due_at in due:
        due_h = weather.hour_of(due_at)
        in_time[forecast.code] = _in_time(runs, ages, forecast, due_h, need.placement_h, asked)
    if told is not None:
        early_late_h = _early_late_h(runs, ages, told, need.placement_h)
    return Drawn(
        air=drawn_under(runs.before.surroundings.covers, air, weather, runs.first),
        predicted=Predicted(
            concrete_c=runs.before.concrete_surface_c[planned] + warmer.concrete_k,
            plate_c=None if plate_c is None or warmer.plate_k is None else plate_c[planned] + warmer.plate_k,
        ),
        in_time=in_time,
        early_late_h=early_late_h,
    )


def _early_late_h(runs: PourRuns, ages: DrawnAges, told: Bools, placement_h: float) -> dict[str, Floats]:
    """Counted from the last batch of each start, as the dates on the forecast are."""
    found: Floats = np.full((len(runs.ages_h), len(told), len(EARLY_LATE)), np.nan)
    for start in map(int, np.flatnonzero(told)):
        found[:, start] = ages.likely_h(start, list(runs.ages_h.values()), EARLY_LATE) + placement_h
    return dict(zip(runs.ages_h, found, strict=True))


def _in_time(
    runs: PourRuns, ages: DrawnAges, forecast: CureForecast, due_h: float, placement_h: float, asked: Bools | None
) -> Bools:
    """Where a milestone is reached by an hour of the weather, counted from the last batch of each start."""
    n_starts = len(forecast.ready_h)
    left_h = due_h - placement_h - np.arange(n_starts, dtype=np.float64)
    looked_at = np.ones(n_starts, dtype=np.bool_)
    if asked is not None:
        looked_at[: len(asked)] = asked
        looked_at[len(asked) :] = False
    return ages.met_by(runs.ages_h[forecast.code], left_h, forecast.ready_h - placement_h, looked_at)
