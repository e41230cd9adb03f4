"""Temperatures of a pour ahead of its readings: grout, plate and concrete along likely courses of the air.

The coupled model of exotherm.py runs from the mixing on with what is not known drawn at random: pace of the reaction,
resin and hardener in the mix, film on the plate, foundation, place of the probe. Each course is then bent to what was
measured. Its error at the last reading is carried on and fades; so the next hours follow the readings, and days ahead
follow the model. Cement grout runs in the same model without heat of its own.
"""

from dataclasses import dataclass

import numpy as np

from groutjobs.engineering.checks import Floats, require_all_between, require_between
from groutjobs.engineering.exotherm import AirAround, CuringTemperatures, Placements, curing_temperatures
from groutjobs.engineering.grout_correction import (
    BINDER_LOG_SD,
    FARTHEST_LOG_PACE,
    FILM_LOG_SD,
    FOUNDATION_SD_K,
    PROBE_SHARE_SD,
    PourSetting,
)
from groutjobs.engineering.kinetics import ILLUSTRATIVE_EPOXY, CureKinetics
from groutjobs.errors import NotConverged, Unusable

FADES_IN_H = 12.0
"""After so many hours 37 % of the model's error at the last reading is left. GROUTJOBS."""
FILM_UNDER_COVER_W_M2K = 2.5
"""Convection alone, still air: ISO6946."""
STEPS_PER_HOUR = (6, 20, 60)


@dataclass(frozen=True, kw_only=True)
class Heating:
    """An enclosure held at a temperature from one hour to another after mixing, as in “what if we heat from now”."""

    air_c: float
    from_h: float
    until_h: float

    def __post_init__(self) -> None:
        require_between("air in the enclosure", self.air_c, -10.0, 50.0, unit="°C", source="GROUTJOBS")
        require_between("begin of heating", self.from_h, 0.0, 5000.0, unit="h", source="GROUTJOBS")
        require_between("end of heating", self.until_h, 0.0, 5000.0, unit="h", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class Courses:
    """Likely courses, one a row: hourly from the mixing on. [°C], shape (n_rows, n_hours + 1)

    surface_w_m2 is the heat that flows into the plate, mean over the rows, shape (n_hours + 1,).
    """

    grout_c: Floats
    plate_c: Floats | None
    concrete_c: Floats
    air_c: Floats
    surface_w_m2: Floats

    @property
    def at_h(self) -> Floats:
        return np.arange(self.grout_c.shape[1], dtype=np.float64)


def temperatures_ahead(
    kinetics: CureKinetics | None,
    setting: PourSetting,
    air_c: Floats,
    *,
    log_pace: float,
    log_pace_sd: float,
    seed: int,
    heating: Heating | None = None,
) -> Courses:
    """Return likely temperatures of a pour from its mixing on, one course for each course of the air.

    Parameters
    ----------
    kinetics : Reaction of the product; None for a grout without heat of its own.
    setting : How the grout lies and how it began.
    air_c : Air at each hour after mixing. [°C], shape (n_rows, n_hours + 1), -40 to 80
    log_pace : Log of the pace of the reaction against what the data sheet lets expect. [-], -1.2 to 1.2
    log_pace_sd : Its spread. [-], 0 to 1
    seed : Start of the random numbers. [-], 0 or more
    heating : An enclosure that is held warm; air warmer than it stays.

    Returns
    -------
    The courses; grout is at the probe, between the hottest and the coldest of the layer.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or the shapes differ.
    NotConverged : the reaction is too fast for the steps of the model.

    Source
    ------
    [GROUTJOBS] coupled model of curing_temperatures with spreads of grout_pace; [ISO6946] film under a cover.
    """
    require_between("log of the pace", log_pace, -FARTHEST_LOG_PACE, FARTHEST_LOG_PACE, source="GROUTJOBS")
    require_between("spread of the pace", log_pace_sd, 0.0, 1.0, source="GROUTJOBS")
    require_between("seed", seed, 0, None, source="GROUTJOBS")
    air_c = np.asarray(air_c, dtype=np.float64)
    if air_c.ndim != 2 or air_c.shape[1] < 2:
        raise Unusable("air ahead", "rows of two hours or more are needed", source="GROUTJOBS")
    require_all_between("air temperature", air_c, -40.0, 80.0, unit="°C", source="GROUTJOBS")
    draws = _Draws.of(len(air_c), seed)
    around = _around(setting, air_c, draws, heating)
    placements = _placements(setting, draws, log_pace, log_pace_sd, has_heat=kinetics is not None)
    run = _run(kinetics or ILLUSTRATIVE_EPOXY, setting, placements, around)
    middle_c, half_k = (run.hottest_c + run.coldest_c) / 2, (run.hottest_c - run.coldest_c) / 2
    share = np.clip(PROBE_SHARE_SD * draws.probe, -1.0, 1.0)[:, None]
    top_c = run.hottest_c if run.plate_c is None else run.plate_c
    return Courses(
        grout_c=middle_c + share * half_k,
        plate_c=run.plate_c,
        concrete_c=run.concrete_c,
        air_c=around.air_c,
        surface_w_m2=np.mean(around.film_w_m2k * (around.air_c - top_c), axis=0),
    )


@dataclass(frozen=True)
class _Draws:
    """Standard normal draws of what is not known, one of each for a row, in pairs of opposite sign."""

    pace: Floats
    binder: Floats
    film: Floats
    foundation: Floats
    probe: Floats

    @classmethod
    def of(cls, count: int, seed: int) -> "_Draws":
        random = np.random.default_rng(seed)
        half = random.standard_normal((5, (count + 1) // 2))
        both = np.concatenate([half, -half], axis=1)[:, :count]
        return cls(*both)


def _placements(
    setting: PourSetting, draws: _Draws, log_pace: float, log_pace_sd: float, *, has_heat: bool
) -> Placements:
    count = len(draws.pace)
    moved_k = FOUNDATION_SD_K * draws.foundation
    pace = np.clip(log_pace + log_pace_sd * draws.pace, -FARTHEST_LOG_PACE, FARTHEST_LOG_PACE)
    binder = np.minimum(setting.binder_ratio * np.exp(BINDER_LOG_SD * draws.binder), 0.35)
    return Placements(
        placed_c=np.full(count, setting.placed_c),
        foundation_c=setting.foundation_c + moved_k,
        plate_c=None if setting.plate_c is None else setting.plate_c + moved_k,
        binder_ratio=binder if has_heat else np.zeros(count),
        pace_ratio=np.exp(pace),
    )


def _around(setting: PourSetting, air_c: Floats, draws: _Draws, heating: Heating | None) -> AirAround:
    film = np.repeat((setting.film_w_m2k * np.exp(FILM_LOG_SD * draws.film))[:, None], air_c.shape[1], axis=1)
    if heating is None:
        return AirAround(air_c=air_c, film_w_m2k=film)
    if not heating.until_h > heating.from_h:
        raise Unusable("heating", "it ends before it begins", source="GROUTJOBS")
    hours = np.arange(air_c.shape[1])
    inside = (hours >= heating.from_h) & (hours <= heating.until_h)
    return AirAround(
        air_c=np.where(inside, np.maximum(air_c, heating.air_c), air_c),
        film_w_m2k=np.where(inside, FILM_UNDER_COVER_W_M2K, film),
    )


def _run(kinetics: CureKinetics, setting: PourSetting, placements: Placements, around: AirAround) -> CuringTemperatures:
    for steps in STEPS_PER_HOUR[:-1]:
        try:
            return curing_temperatures(setting.layers, kinetics, placements, around, steps_per_hour=steps)
        except NotConverged:
            continue
    return curing_temperatures(setting.layers, kinetics, placements, around, steps_per_hour=STEPS_PER_HOUR[-1])


def bent_to_readings(at_h: Floats, rows_c: Floats, read_at_h: Floats, read_c: Floats) -> Floats:
    """Return courses that lead through the readings and go on from the last of them.

    Parameters
    ----------
    at_h : Times of the courses. [h], shape (n,), strictly rising
    rows_c : Courses. [°C], shape (n_rows, n), -60 to 200
    read_at_h : Times of the readings. [h], shape (m,), strictly rising
    read_c : Readings. [°C], shape (m,), -60 to 200

    Returns
    -------
    Courses of the same shape. [°C] Measured up to the last reading, then the course with what it was off there,
    fading to 37 % in 12 h. Before the first reading the course is moved by what it was off there.

    Raises
    ------
    OutOfRange, Unusable : a temperature lies outside its limits, times do not rise, or the shapes differ.

    Source
    ------
    [GROUTJOBS] our model.
    """
    at_h, rows_c = np.asarray(at_h, dtype=np.float64), np.asarray(rows_c, dtype=np.float64)
    read_at_h, read_c = np.asarray(read_at_h, dtype=np.float64), np.asarray(read_c, dtype=np.float64)
    if rows_c.ndim != 2 or rows_c.shape[1:] != at_h.shape or read_at_h.shape != read_c.shape or not len(read_c):
        raise Unusable("courses", "rows of one value a time and one reading or more are needed", source="GROUTJOBS")
    if not (np.isfinite(at_h).all() and np.isfinite(read_at_h).all()):
        raise Unusable("courses", "a time is no number", source="GROUTJOBS")
    if not ((np.diff(at_h) > 0).all() and (np.diff(read_at_h) > 0).all()):
        raise Unusable("courses", "the times do not rise", source="GROUTJOBS")
    require_all_between("course", rows_c, -60.0, 200.0, unit="°C", source="GROUTJOBS")
    require_all_between("reading", read_c, -60.0, 200.0, unit="°C", source="GROUTJOBS")
    off_k = np.array([np.interp(read_at_h, at_h, row) for row in rows_c])
    off_k = read_c - off_k
    last_h = read_at_h[-1]
    ahead = at_h > last_h
    moved_k = np.array([np.interp(at_h, read_at_h, row) for row in off_k])
    moved_k[:, ahead] *= np.exp(-(at_h[ahead] - last_h) / FADES_IN_H)
    return np.asarray(rows_c + moved_k)


def band_of(rows_c: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the lowest, the middle and the highest of likely courses at each time.

    Parameters
    ----------
    rows_c : Courses. [°C], shape (n_rows, n), -60 to 200

    Returns
    -------
    Lowest, median and highest. [°C], each of shape (n,)

    Raises
    ------
    OutOfRange : a temperature lies outside its limits.

    Source
    ------
    [GROUTJOBS] of a dozen equally likely courses.
    """
    require_all_between("course", rows_c, -60.0, 200.0, unit="°C", source="GROUTJOBS")
    return rows_c.min(axis=0), np.asarray(np.median(rows_c, axis=0)), rows_c.max(axis=0)
