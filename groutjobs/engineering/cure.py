"""The cure clock: equivalent age from grout temperature, milestones, maturity sums and strength gain.

The clock was made for hydraulic cement [ASTMC1074]. Its use for epoxy is our model and is labelled so wherever it is
shown. Between readings the temperature is taken as a straight line; the rate along it is integrated by Simpson's rule
on each side of the minimum and of the hottest data-sheet temperature, so a reading on each side of a limit costs no
error of rule. On a straight line of 10 K in one interval the rule is within 0.01 %; the trapezoid would run ahead by
up to 4 %. Hourly readings of a changing temperature cost about 1 %, half-hourly ones 0.3 %.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.errors import Unusable

GAS_CONSTANT_KJ_MOLK = 8.314462618e-3
ZERO_C_IN_K = 273.15


@dataclass(frozen=True, kw_only=True)
class CureClock:
    """How fast the cure runs at a temperature, as a share of its rate at reference_c.

    Below minimum_c the clock stands still. Above hottest_c, the hottest temperature on the data sheet, it runs no
    faster than there, because nothing is known beyond. Either may be absent.
    """

    activation_kj_mol: float
    reference_c: float
    minimum_c: float | None
    hottest_c: float | None
    source: str

    def __post_init__(self) -> None:
        require_between("activation energy", self.activation_kj_mol, 10.0, 150.0, unit="kJ/mol", source=self.source)
        require_between("reference temperature", self.reference_c, -20.0, 60.0, unit="°C", source=self.source)
        if self.minimum_c is not None:
            require_between(
                "minimum temperature", self.minimum_c, -20.0, self.reference_c, unit="°C", source=self.source
            )
        if self.hottest_c is not None:
            require_between(
                "hottest temperature", self.hottest_c, self.reference_c, 80.0, unit="°C", source=self.source
            )


EPOXY_CLOCK = CureClock(activation_kj_mol=58.0, reference_c=23.0, minimum_c=10.0, hottest_c=32.0, source="GROUTJOBS")
"""Epoxy without data of its own: 55 to 60 kJ/mol for the amine step [SBIRRAZZUOLI2006], range of use [BLOCH-MCM]."""
CEMENT_CLOCK = CureClock(activation_kj_mol=41.6, reference_c=20.0, minimum_c=10.0, hottest_c=20.0, source="ASTMC1074")
"""Cement grout. It runs no faster than at 20 °C, because the seven days of [BLOCH-MCM] are not shortened by warmth."""


def rate_ratio(clock: CureClock, temp_c: float) -> float:
    """Return the rate of cure at a temperature as a share of the rate at the reference temperature.

    Parameters
    ----------
    clock : Activation energy and limits of the material.
    temp_c : Grout temperature. [°C], -40 to 200

    Returns
    -------
    Rate. [-], 0 below the minimum, 1 at the reference temperature

    Raises
    ------
    OutOfRange : the temperature lies outside the limits above.

    Source
    ------
    [ASTMC1074] equivalent-age function, exp(-Q(1/T - 1/Ts)) with Q = Ea/R; for epoxy our model.

    Examples
    --------
    >>> round(rate_ratio(CureClock(activation_kj_mol=50, reference_c=23, minimum_c=None, hottest_c=None,
    ...                            source="GROUTJOBS"), 10.0), 3)
    0.394
    """
    require_between("grout temperature", temp_c, -40.0, 200.0, unit="°C", source="GROUTJOBS")
    if clock.minimum_c is not None and temp_c < clock.minimum_c:
        return 0.0
    return float(_warm_rates(clock, np.array(temp_c)))


def _warm_rates(clock: CureClock, temp_c: Floats) -> Floats:
    """Rates without the stop at the minimum, so that both sides of it can be integrated."""
    capped_c = temp_c if clock.hottest_c is None else np.minimum(temp_c, clock.hottest_c)
    inverse = 1 / (capped_c + ZERO_C_IN_K) - 1 / (clock.reference_c + ZERO_C_IN_K)
    return np.asarray(np.exp(-clock.activation_kj_mol / GAS_CONSTANT_KJ_MOLK * inverse))


def _simpson(clock: CureClock, low_c: Floats, high_c: Floats) -> Floats:
    rates = _warm_rates(clock, low_c) + 4 * _warm_rates(clock, (low_c + high_c) / 2) + _warm_rates(clock, high_c)
    return rates / 6


def _share_above(level_c: float, low_c: Floats, high_c: Floats) -> Floats:
    """Share of a straight line from low to high that lies at or above a level."""
    rise = high_c - low_c
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        crossing = (high_c - level_c) / rise
    flat = (rise == 0) | (low_c >= level_c)
    return np.where(flat, np.where(low_c >= level_c, 1.0, 0.0), np.where(high_c <= level_c, 0.0, crossing))


def _mean_rates(clock: CureClock, first_c: Floats, last_c: Floats) -> Floats:
    """Mean rate along straight lines of temperature; NaN where an end is NaN."""
    low_c, high_c = np.minimum(first_c, last_c), np.maximum(first_c, last_c)
    warm_share: Floats = np.ones_like(low_c)
    if clock.minimum_c is not None:
        warm_share = _share_above(clock.minimum_c, low_c, high_c)
        low_c = np.maximum(low_c, np.minimum(clock.minimum_c, high_c))
    if clock.hottest_c is None:
        return warm_share * _simpson(clock, low_c, high_c)
    hot_share = _share_above(clock.hottest_c, low_c, high_c)
    kink_c = np.clip(clock.hottest_c, low_c, high_c)
    cool_part = _simpson(clock, low_c, kink_c)
    hot_part = _warm_rates(clock, high_c)
    return warm_share * ((1 - hot_share) * cool_part + hot_share * hot_part)


def equivalent_age_h(at_h: Floats, temp_c: Floats, clock: CureClock) -> Floats:
    """Return the age at the reference temperature that the grout has reached at each reading.

    Parameters
    ----------
    at_h : Time of each reading after placing. [h], shape (n,), strictly rising
    temp_c : Grout temperature at each reading. [°C], shape (..., n), time last, -40 to 200; it may end in NaN
    clock : Activation energy and limits of the material.

    Returns
    -------
    Equivalent age since the first reading. [h], shape as temp_c, 0 at index 0; NaN from the first NaN on

    Raises
    ------
    OutOfRange : a temperature lies outside -40 to 200 °C.
    Unusable : times do not rise, or the shapes differ.

    Source
    ------
    [ASTMC1074] equivalent age, integrated as the head of this module says; for epoxy our model.
    """
    at_h, temp_c = _checked_readings(at_h, temp_c)
    steps = _mean_rates(clock, temp_c[..., :-1], temp_c[..., 1:]) * np.diff(at_h)
    ages: Floats = np.zeros(temp_c.shape)
    np.cumsum(steps, axis=-1, out=ages[..., 1:])
    ages[..., 0] = np.where(np.isnan(temp_c[..., 0]), np.nan, 0.0)
    return ages


def hours_until(needed_equivalent_age_h: float, at_h: Floats, temp_c: Floats, clock: CureClock) -> float | None:
    """Return when the grout reaches an equivalent age, or None where the temperatures end before.

    Parameters
    ----------
    needed_equivalent_age_h : Age at the reference temperature. [h], 0 or more
    at_h : Time of each temperature after placing. [h], shape (n,), strictly rising
    temp_c : Grout temperature. [°C], shape (n,), -40 to 200; it may end in NaN
    clock : Activation energy and limits of the material.

    Returns
    -------
    Clock time on the axis of at_h. [h]

    Raises
    ------
    OutOfRange : a temperature or the needed age lies outside its limits.
    Unusable : times do not rise, or the shapes differ.

    Source
    ------
    [ASTMC1074] equivalent age; for epoxy our model.
    """
    found = float(
        hours_until_each(needed_equivalent_age_h, at_h, np.asarray(temp_c, dtype=np.float64)[None, :], clock)[0]
    )
    return None if math.isnan(found) else found


def hours_until_each(needed_equivalent_age_h: float, at_h: Floats, temp_c: Floats, clock: CureClock) -> Floats:
    """Return for each row of temperatures when it reaches an equivalent age; see hours_until.

    Parameters
    ----------
    needed_equivalent_age_h : Age at the reference temperature. [h], 0 or more
    at_h : Time of each temperature after placing. [h], shape (n,), strictly rising
    temp_c : Grout temperature. [°C], shape (n_rows, n), time last, -40 to 200; it may end in NaN
    clock : Activation energy and limits of the material.

    Returns
    -------
    Clock time on the axis of at_h. [h], shape (n_rows,); NaN where the temperatures end before

    Source
    ------
    [ASTMC1074] equivalent age; for epoxy our model. Solved to a second inside the interval.
    """
    return np.asarray(hours_until_ages(np.array([needed_equivalent_age_h]), at_h, temp_c, clock)[0])


def hours_until_ages(needed_equivalent_ages_h: Floats, at_h: Floats, temp_c: Floats, clock: CureClock) -> Floats:
    """Return when each row of temperatures reaches each of several equivalent ages; see hours_until.

    Parameters
    ----------
    needed_equivalent_ages_h : Ages at the reference temperature. [h], shape (n_ages,), 0 or more
    at_h : Time of each temperature after placing. [h], shape (n,), strictly rising
    temp_c : Grout temperature. [°C], shape (n_rows, n), time last, -40 to 200; it may end in NaN
    clock : Activation energy and limits of the material.

    Returns
    -------
    Clock time on the axis of at_h. [h], shape (n_ages, n_rows); NaN where the temperatures end before

    Source
    ------
    [ASTMC1074] equivalent age; for epoxy our model. Solved to a second inside the interval.
    """
    require_all_between("needed equivalent age", needed_equivalent_ages_h, 0.0, None, unit="h", source=clock.source)
    at_h, temp_c = _checked_readings(at_h, temp_c)
    ages_h = equivalent_age_h(at_h, temp_c, clock)
    return np.array([_reached_h(float(needed_h), at_h, temp_c, ages_h, clock) for needed_h in needed_equivalent_ages_h])


def _reached_h(needed_h: float, at_h: Floats, temp_c: Floats, ages_h: Floats, clock: CureClock) -> Floats:
    reached = ages_h >= needed_h
    index = reached.argmax(axis=-1)
    rows = np.arange(len(temp_c))
    before = np.maximum(index - 1, 0)
    step_h, first_c = np.diff(at_h)[before], temp_c[rows, before]
    last_c, missing_h = temp_c[rows, before + 1], needed_h - ages_h[rows, before]
    share = _share_of_step(clock, first_c, last_c, missing_h / step_h)
    found = at_h[before] + share * step_h
    return np.where(reached.any(axis=-1), np.where(index == 0, at_h[0], found), np.nan)


def _share_of_step(clock: CureClock, first_c: Floats, last_c: Floats, needed: Floats) -> Floats:
    """Smallest share of each step at which the age gained, per hour of step, is what is needed; by bisection."""
    low, high = np.zeros_like(needed), np.ones_like(needed)
    for _ in range(24):
        middle = (low + high) / 2
        gained = _mean_rates(clock, first_c, first_c + middle * (last_c - first_c)) * middle
        low, high = np.where(gained < needed, middle, low), np.where(gained < needed, high, middle)
    return high


def _checked_readings(at_h: Floats, temp_c: Floats) -> tuple[Floats, Floats]:
    at_h, temp_c = np.asarray(at_h, dtype=np.float64), np.asarray(temp_c, dtype=np.float64)
    if at_h.ndim != 1 or len(at_h) < 2 or temp_c.shape[-1:] != at_h.shape:
        reason = f"{at_h.shape} times and {temp_c.shape} temperatures; two or more of each are needed, one for one"
        raise Unusable("cure readings", reason, source="GROUTJOBS")
    if not np.isfinite(at_h).all() or not (np.diff(at_h) > 0).all():
        raise Unusable("cure readings", "the times do not rise from each reading to the next", source="GROUTJOBS")
    missing = np.isnan(temp_c)
    if (missing[..., :-1] & ~missing[..., 1:]).any():
        raise Unusable("cure readings", "a temperature is missing between two others", source="GROUTJOBS")
    require_all_between("grout temperature", temp_c[~missing], -40.0, 200.0, unit="°C", source="GROUTJOBS")
    return at_h, temp_c


def nurse_saul_maturity_c_h(at_h: Floats, temp_c: Floats, datum_c: float) -> Floats:
    """Return the temperature-time sum above a datum at each reading.

    Parameters
    ----------
    at_h : Time of each reading. [h], shape (n,), strictly rising
    temp_c : Grout or concrete temperature. [°C], shape (..., n), time last, -40 to 200; may end in NaN
    datum_c : Temperature below which nothing counts. [°C], -20 to 10

    Returns
    -------
    Maturity since the first reading. [°C·h], shape as temp_c, 0 at index 0

    Raises
    ------
    OutOfRange : a temperature lies outside its limits.
    Unusable : times do not rise, or the shapes differ.

    Source
    ------
    [ASTMC1074] temperature-time factor; exact for straight lines between readings, time below the datum counts nothing.
    [GROUTJOBS] limits of the temperature.
    """
    require_between("datum temperature", datum_c, -20.0, 10.0, unit="°C", source="ASTMC1074")
    at_h, temp_c = _checked_readings(at_h, temp_c)
    low_c = np.minimum(temp_c[..., :-1], temp_c[..., 1:])
    high_c = np.maximum(temp_c[..., :-1], temp_c[..., 1:])
    mean_k = (np.maximum(low_c, datum_c) + np.maximum(high_c, datum_c)) / 2 - datum_c
    sums: Floats = np.zeros(temp_c.shape)
    np.cumsum(mean_k * _share_above(datum_c, low_c, high_c) * np.diff(at_h), axis=-1, out=sums[..., 1:])
    return sums


def en1992_equivalent_age_d(duration_d: Sequence[float], temp_c: Sequence[float]) -> float:
    """Return the temperature-adjusted age of concrete, equivalent to days at 20 °C.

    Parameters
    ----------
    duration_d : Length of each period. [d], above 0
    temp_c : Concrete temperature in each period. [°C], 0 to 80

    Returns
    -------
    Adjusted age. [d]

    Raises
    ------
    OutOfRange : a duration or a temperature lies outside the limits above.
    Unusable : the two lists differ in length.

    Source
    ------
    [EN1992] equation (B.10), with 273 as printed there.

    Examples
    --------
    >>> round(en1992_equivalent_age_d([28.0], [20.0]), 2)
    27.95
    """
    if len(duration_d) != len(temp_c):
        raise Unusable("concrete age", f"{len(duration_d)} periods but {len(temp_c)} temperatures", source="EN1992")
    for days, temp in zip(duration_d, temp_c, strict=True):
        require_above("period", days, 0.0, unit="d", source="EN1992")
        require_between("concrete temperature", temp, 0.0, 80.0, unit="°C", source="EN1992")
    periods = zip(duration_d, temp_c, strict=True)
    return sum(math.exp(-(4000 / (273 + temp) - 13.65)) * days for days, temp in periods)


def freiesleben_hansen_pedersen_rate(temp_c: float, reference_c: float = 20.0) -> float:
    """Return the rate of hardening of Portland cement at a temperature, as a share of that at the reference.

    Parameters
    ----------
    temp_c : Concrete temperature. [°C], -10 to 80
    reference_c : Temperature at which the rate is 1. [°C], 15 to 30

    Returns
    -------
    Rate. [-]

    Raises
    ------
    OutOfRange : a temperature lies outside the limits above.

    Source
    ------
    [FHP1977] activation energy 33.5 kJ/mol from 20 °C up, 33.5 + 1.47 (20 - T) below; from memory.

    Examples
    --------
    >>> round(freiesleben_hansen_pedersen_rate(10.0), 3)
    0.497
    """
    require_between("concrete temperature", temp_c, -10.0, 80.0, unit="°C", source="FHP1977")
    require_between("reference temperature", reference_c, 15.0, 30.0, unit="°C", source="FHP1977")
    activation_kj_mol = 33.5 if temp_c >= 20.0 else 33.5 + 1.47 * (20.0 - temp_c)
    inverse = 1 / (temp_c + ZERO_C_IN_K) - 1 / (reference_c + ZERO_C_IN_K)
    return math.exp(-activation_kj_mol / GAS_CONSTANT_KJ_MOLK * inverse)
