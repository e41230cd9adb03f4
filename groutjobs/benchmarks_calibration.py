"""Do the odds of pour hours come true? Recorded hours of a year as the truth, synthetic forecasts of known error.

The hours are those of the typical year of Greensboro, North Carolina (NREL TMY3), that ships with pvlib: recorded
hours, each month from another year. Nothing here is a forecast that anybody issued.
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pvlib

from groutjobs.benchmarks import PAST_DAYS, ZONE, cure_by, invented_case, later, pour_need, shift_hours
from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.cure import EPOXY_CLOCK
from groutjobs.engineering.heat import simulate_machines, simulate_pours
from groutjobs.engineering.materials import grout
from groutjobs.engineering.sky import Exposure
from groutjobs.engineering.strength import EPOXY_MILESTONES, milestone_age_h, milestone_hours
from groutjobs.errors import Unusable
from groutjobs.scheduling.conditions import HourlyWeather, Predicted
from groutjobs.scheduling.drawn import PourRuns, drawn_pours
from groutjobs.scheduling.forecast_error import FORECAST_ERRORS, ErrorModel, draw_weathers
from groutjobs.scheduling.hour_rows import shift_rule
from groutjobs.scheduling.limits import default_limits
from groutjobs.scheduling.windows import PourHours, find_pour_hours
from groutjobs.weather.years import TypicalYear, series_on_days, tmy3_year

STATION = "723170TYA.CSV"
DAYS, FIRST_DAY, DAYS_OF_YEAR = 10, dt.date(2025, 1, 12), 335
BANDS = ((0.05, 0.25), (0.25, 0.45), (0.45, 0.65), (0.65, 0.75), (0.75, 0.85), (0.85, 0.95), (0.95, 1.01))
MODEL = replace(FORECAST_ERRORS, draws_rain=False)
"""The file does not tell rain at most hours, so rain is left out of both the odds and the truth."""


@dataclass(frozen=True)
class Band:
    """Start hours whose odds lie in a band: how many there were, their mean odds, and the share that held."""

    low: float
    high: float
    count: int
    mean_odds: float
    held: float


def recorded_year() -> TypicalYear:
    """The hours of the station, from the installed package."""
    return tmy3_year((Path(pvlib.__file__).parent / "data" / STATION).read_bytes())


def reliability(every_days: int, *, told: ErrorModel = MODEL, known: ErrorModel = MODEL) -> list[Band]:
    """The reliability table: odds counted with the spread that is told, forecasts made with the error that is known.

    The two are the same where the odds are to come true. every_days is the time from one forecast to the next.
    """
    require_between("days between forecasts", every_days, 1, 120, unit="days", source="GROUTJOBS")
    year, odds, held = recorded_year(), [], []
    for number, day in enumerate(range(0, DAYS_OF_YEAR, every_days)):
        truth = _weather(year, FIRST_DAY + dt.timedelta(days=day))
        forecast = _forecast(truth, known, seed=10_000 + number)
        given = _judged(forecast, told, seed=number)
        came = _judged(truth, None, seed=0)
        if given.odds is None:
            raise Unusable("benchmark", "the odds were not counted", source="GROUTJOBS")
        odds.append(given.odds.all_hold)
        held.append(came.acceptable)
    return _bands(np.concatenate(odds), np.concatenate(held))


def _bands(odds: Floats, held: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[Band]:
    found = []
    for low, high in BANDS:
        inside = (odds >= low) & (odds < high)
        count = int(inside.sum())
        means = (float(odds[inside].mean()), float(held[inside].mean())) if count else (float("nan"), float("nan"))
        found.append(Band(low, high, count, *means))
    return found


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


def _forecast(truth: HourlyWeather, known: ErrorModel, seed: int) -> HourlyWeather:
    """What is recorded until the issue, and after it the recorded hours with an error that grows with the lead."""
    first = PAST_DAYS * 24
    drawn = draw_weathers(later(truth, first), known, lead_h=0.0, seed=seed, n_samples=1)
    return replace(
        truth,
        temp_c=_joined(truth.temp_c, drawn.temp_c[0], first),
        dew_point_c=_joined(truth.dew_point_c, drawn.dew_point_c[0], first),
        relative_humidity=_joined(truth.relative_humidity, drawn.relative_humidity[0], first),
    )


def _joined(recorded: Floats, drawn: Floats, first: int) -> Floats:
    return np.concatenate([recorded[:first], drawn])


def _judged(weather: HourlyWeather, spread: ErrorModel | None, seed: int) -> PourHours:
    """Every start hour judged as the app does; with a spread its odds too."""
    first, air = PAST_DAYS * 24, weather.for_heat()
    planned, before = later(weather, first), simulate_machines([invented_case(air, 5)])[0]
    after = simulate_pours(
        before, air, np.arange(first, air.n_hours + 1), planned.n_hours, grout("epoxy"), grout_c=21.0
    )  # fmt: skip
    if before.plate_c is None or after.grout_coldest_c is None:
        raise Unusable("benchmark", "plate and grout are missing", source="GROUTJOBS")
    ready = milestone_hours(EPOXY_MILESTONES, np.arange(planned.n_hours + 1.0), after.grout_coldest_c, EPOXY_CLOCK)
    cure = cure_by(planned, ready)
    answer = find_pour_hours(
        planned,
        Predicted(concrete_c=before.concrete_surface_c[first:], plate_c=before.plate_c[first:]),
        pour_need(),
        default_limits("epoxy", Exposure.OPEN),
        spell_rules=(shift_rule(shift_hours(), planned),),
        cure=cure,
    )
    if spread is None:
        return answer
    ages_h = {milestone.code: milestone_age_h(milestone) for milestone in EPOXY_MILESTONES}
    runs = PourRuns(before=before, after=after, air=air, first=first, clock=EPOXY_CLOCK, ages_h=ages_h)
    drawn = draw_weathers(planned, spread, lead_h=0.0, seed=seed)
    return answer.with_odds(drawn_pours(drawn, planned, runs, answer.need, cure, asked=answer.within_spells))


def table(bands: Sequence[Band]) -> Iterator[str]:
    """The lines of a reliability table."""
    yield f"{'odds given':<14}{'start hours':>12}{'mean odds':>12}{'held':>8}"
    for band in bands:
        shown = f"{band.low:.0%} to {min(band.high, 1.0):.0%}"
        yield f"{shown:<14}{band.count:>12}{band.mean_odds:>12.1%}{band.held:>8.1%}"
