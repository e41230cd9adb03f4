"""What is foreseen of a pour behind the page: its rate, temperatures ahead with a band, and bands of its milestones.

Hours count from placing here, as everywhere in the cure; the coupled model counts from the mean hour of mixing.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from groutjobs.curing.series import Floats, Series, as_json
from groutjobs.engineering.cure import CureClock
from groutjobs.engineering.cure_belief import CureBelief
from groutjobs.engineering.grout_ahead import Courses, Heating, band_of, bent_to_readings, temperatures_ahead
from groutjobs.engineering.grout_correction import PACE_LOG_SD, GroutPace, PourSetting
from groutjobs.engineering.kinetics import CureKinetics
from groutjobs.engineering.milestone_bands import (
    Band,
    CureAhead,
    air_paths_c,
    cures_ahead,
    draw_cures,
    milestone_bands,
)
from groutjobs.engineering.strength import Milestone
from groutjobs.scheduling.forecast_error import ErrorModel

DAY_H = 24
FINE_H = 0.5
"""Step at which measured temperatures enter the likely cures; half-hourly readings cost 0.3 % of the age."""
MOST_AHEAD_H = 24.0 * 45


@dataclass(frozen=True, kw_only=True)
class AirKnown:
    """Air as measured, and as a forecast has it from an hour on with its spread by lead. Hours count from placing."""

    measured: Series
    forecast: Series
    issued_h: float
    errors: ErrorModel


@dataclass(frozen=True, kw_only=True)
class Watched:
    """A pour as it is foreseen: how it lies, what was measured, the air, and until when it is looked at."""

    setting: PourSetting
    kinetics: CureKinetics | None
    pace: GroutPace | None
    series: dict[str, Series]
    air: AirKnown
    mixed_h: float
    end_h: float
    seed: int

    @property
    def log_pace(self) -> tuple[float, float]:
        """Mean and spread of the log of the pace, from what was known before and the readings."""
        if self.pace is None:
            return 0.0, PACE_LOG_SD
        told, before = 1 / self.pace.log_pace_sd**2, 1 / PACE_LOG_SD**2
        return self.pace.log_pace * told / (told + before), math.sqrt(1 / (told + before))


@dataclass(frozen=True, kw_only=True)
class Foreseen:
    """Likely courses from placing on: one row each, shape (n_rows, n)."""

    at_h: Floats
    grout_c: Floats
    plate_c: Floats | None
    concrete_c: Floats
    air_c: Floats
    surface_w_m2: Floats


def air_rows(known: AirKnown, first_h: float, hours: int, seed: int) -> Floats:
    """Likely courses of the air: measured, then the forecast with its error, then its last day again and again."""
    at_h = first_h + np.arange(hours + 1.0)
    given = known.forecast if len(known.forecast) else known.measured
    if not len(given):
        raise ValueError("no air")
    plain_c = _carried_on(given, at_h)
    sd_k = known.errors.air_spread_k(np.maximum(at_h - known.issued_h, 0.0))
    even_c = air_paths_c(np.zeros(len(at_h)), np.ones(len(at_h)), known.errors.time_constant_h, seed)
    rows_c = plain_c + sd_k * even_c
    inside = known.measured.between(at_h[0], at_h[-1])
    return np.clip(bent_to_readings(at_h, rows_c, inside.at_h, inside.temp_c) if len(inside) else rows_c, -40.0, 80.0)


def _carried_on(given: Series, at_h: Floats) -> Floats:
    """The series at these hours; past its end its last day again and again, before its begin its first value."""
    over_h = np.maximum(at_h - given.at_h[-1], 0.0)
    back_h = np.where(over_h > 0, np.ceil(over_h / DAY_H) * DAY_H, 0.0)
    return np.asarray(np.interp(at_h - back_h, given.at_h, given.temp_c))


def foreseen_of(watched: Watched, heating: Heating | None = None) -> Foreseen:
    """Likely temperatures of a pour, bent to its readings; with an enclosure that is held warm where one is asked."""
    hours = math.ceil(min(watched.end_h - watched.mixed_h, MOST_AHEAD_H))
    mean, sd = watched.log_pace
    courses = temperatures_ahead(
        watched.kinetics,
        watched.setting,
        air_rows(watched.air, watched.mixed_h, hours, watched.seed),
        log_pace=mean,
        log_pace_sd=sd,
        seed=watched.seed,
        heating=heating,
    )
    at_h = watched.mixed_h + courses.at_h
    return _bent(watched, courses, at_h)


def _bent(watched: Watched, courses: Courses, at_h: Floats) -> Foreseen:
    grout = watched.series.get("grout", Series()).between(at_h[0], at_h[-1])
    last_h = float(grout.at_h[-1]) if len(grout) else 0.0
    grid = np.unique(np.concatenate([[0.0], np.arange(0.0, last_h, FINE_H), at_h[at_h > 0.0]]))

    def rows(probe: str, rows_c: Floats) -> Floats:
        fine_c = np.array([np.interp(grid, at_h, row) for row in rows_c])
        read = watched.series.get(probe, Series()).between(at_h[0], at_h[-1])
        return bent_to_readings(grid, fine_c, read.at_h, read.temp_c) if len(read) else fine_c

    return Foreseen(
        at_h=grid,
        grout_c=rows("grout", courses.grout_c),
        plate_c=None if courses.plate_c is None else rows("plate", courses.plate_c),
        concrete_c=rows("concrete", courses.concrete_c),
        air_c=rows("none", courses.air_c),
        surface_w_m2=np.interp(grid, at_h, courses.surface_w_m2),
    )


def cures_of(belief: CureBelief, clock: CureClock, found: Foreseen, seed: int) -> CureAhead:
    """Many likely cures along the likely temperatures."""
    return cures_ahead(draw_cures(belief, seed), clock, found.at_h, found.grout_c, 24.0)


def bands_along(milestones: Sequence[Milestone], ahead: CureAhead) -> dict[str, Band]:
    """The band of each milestone."""
    return milestone_bands(milestones, ahead)


def band_series(found: Foreseen, last_h: dict[str, float], until_h: float) -> dict[str, dict[str, list[float]]]:
    """For each probe the lowest, middle and highest of the likely courses, as drawn."""
    told: dict[str, dict[str, list[float]]] = {}
    rows_of = {"grout": found.grout_c, "plate": found.plate_c, "concrete": found.concrete_c, "air": found.air_c}
    for probe, rows_c in rows_of.items():
        if rows_c is None:
            continue
        inside = (found.at_h >= last_h.get(probe, 0.0)) & (found.at_h <= until_h)
        if inside.sum() < 2:
            continue
        low, middle, high = band_of(rows_c[:, inside])
        drawn = as_json(Series(found.at_h[inside], middle), name="temp_c")
        at_h = np.array(drawn["at_h"])
        told[probe] = drawn | {
            name: [round(float(value), 2) for value in np.interp(at_h, found.at_h[inside], values)]
            for name, values in (("low_c", low), ("high_c", high))
        }
    return told


def age_band(ahead: CureAhead, until_h: float) -> dict[str, list[float]]:
    """Ages that 10 and 90 % of the likely cures have not passed, thinned."""
    every = max(1, len(ahead.at_h) // 150)
    at_h, (low_h, _, high_h) = ahead.age_quantiles_h(every)
    inside = at_h <= until_h
    columns = {"at_h": at_h, "low_h": low_h, "high_h": high_h}
    return {name: [round(float(value), 2) for value in values[inside]] for name, values in columns.items()}


def heating_from(air_c: float, from_h: float, until_h: float, mixed_h: float) -> Heating:
    """An enclosure held warm, in hours after placing."""
    return Heating(air_c=air_c, from_h=from_h - mixed_h, until_h=until_h - mixed_h)


def band_values(band: Band) -> dict[str, Any]:
    """The hours of a band, plain."""
    return {"p10_h": band.p10_h, "p50_h": band.p50_h, "p90_h": band.p90_h, "reached_ratio": band.reached_ratio}
