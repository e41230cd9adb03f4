"""Milestones of the cure and the strength curve that turns a share of strength into hours on the cure clock."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from groutjobs.engineering.checks import Floats, require_above, require_between
from groutjobs.engineering.cure import CureClock, hours_until_ages, rate_ratio
from groutjobs.errors import NotConverged, OutOfRange, Unusable

FULL_CURE_H = 168.0
"""The age, at the reference temperature, whose strength a share refers to. PRACTICE: the 7-day value of data sheets."""
FALL_WITH_AGE_RATIO = 0.14
"""How far strength may seem to fall with age before the rows contradict: twice the spread of 7 %. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class Milestone:
    """A step that waits for the grout: either an equivalent age, or a share of the strength at 168 h, is needed."""

    code: str
    label: str
    source: str
    needed_equivalent_age_h: float | None = None
    needed_strength_ratio: float | None = None

    def __post_init__(self) -> None:
        if (self.needed_equivalent_age_h is None) == (self.needed_strength_ratio is None):
            raise Unusable(self.label, "give either an equivalent age or a share of strength", source=self.source)
        if self.needed_equivalent_age_h is not None:
            require_above(
                f"{self.label}: equivalent age", self.needed_equivalent_age_h, 0.0, unit="h", source=self.source
            )
        if self.needed_strength_ratio is not None:
            require_above(f"{self.label}: share of strength", self.needed_strength_ratio, 0.0, source=self.source)
            require_between(
                f"{self.label}: share of strength", self.needed_strength_ratio, 0.0, 1.0, source=self.source
            )


def _at_age(code: str, label: str, age_h: float, source: str) -> Milestone:
    return Milestone(code=code, label=label, needed_equivalent_age_h=age_h, source=source)


EPOXY_MILESTONES = (
    _at_age("strip", "strip the formwork", 24.0, "BLOCH-MCM"),
    _at_age("jackscrews", "take the jackscrews out", 36.0, "GROUTJOBS"),
    _at_age("tension", "tension the anchor bolts", 48.0, "GROUTJOBS"),
    _at_age("align", "start the alignment", 48.0, "GROUTJOBS"),
    _at_age("full_cure", "full cure", FULL_CURE_H, "PRACTICE"),
)
"""Hours at 23 °C. [BLOCH-MCM] leaves the jackscrews in for three days; our 36 h need the strength to be checked."""
CEMENT_MILESTONES = (
    _at_age("strip", "strip the formwork", 24.0, "PRACTICE"),
    _at_age("wet_cure", "end of wet curing", 72.0, "BLOCH-MCM"),
    _at_age("tension", "tension the anchor bolts", FULL_CURE_H, "BLOCH-MCM"),
    _at_age("align", "start the alignment", FULL_CURE_H, "BLOCH-MCM"),
)
"""Hours at 10 to 20 °C on CEMENT_CLOCK: the machine waits seven days at 10 °C or more."""


@dataclass(frozen=True)
class StrengthPoint:
    """One row of a data sheet: strength after so many hours at a constant temperature."""

    age_h: float
    temp_c: float
    strength_mpa: float


@dataclass(frozen=True)
class StrengthCurve:
    """Strength = ultimate_mpa · exp(-(time_h/te)^shape), te the equivalent age; scatter_ratio is the fit's error."""

    ultimate_mpa: float
    time_h: float
    shape: float
    scatter_ratio: float

    def __post_init__(self) -> None:
        require_above("ultimate strength of the curve", self.ultimate_mpa, 0.0, unit="MPa", source="FHP1977")
        require_above("time of the curve", self.time_h, 0.0, unit="h", source="FHP1977")
        require_above("shape of the curve", self.shape, 0.0, source="FHP1977")
        require_between("scatter of the curve", self.scatter_ratio, 0.0, None, source="GROUTJOBS")


def strength_mpa(curve: StrengthCurve, equivalent_age_h: float) -> float:
    """Return the strength at an equivalent age.

    Parameters
    ----------
    curve : Fitted curve of the product.
    equivalent_age_h : Age at the clock's reference temperature. [h], 0 or more

    Returns
    -------
    Compressive strength. [MPa], 0 at age 0

    Raises
    ------
    OutOfRange : the age is negative.

    Source
    ------
    [FHP1977] three-parameter curve; for epoxy our model.

    Examples
    --------
    >>> round(strength_mpa(StrengthCurve(100.0, 20.0, 1.0, 0.0), 20.0), 1)
    36.8
    """
    require_between("equivalent age", equivalent_age_h, 0.0, None, unit="h", source="FHP1977")
    if equivalent_age_h == 0.0:
        return 0.0
    return curve.ultimate_mpa * math.exp(-math.pow(curve.time_h / equivalent_age_h, curve.shape))


def equivalent_age_at_strength_h(curve: StrengthCurve, needed_mpa: float) -> float:
    """Return the equivalent age at which a strength is reached.

    Parameters
    ----------
    curve : Fitted curve of the product.
    needed_mpa : Strength asked for. [MPa], above 0, below curve.ultimate_mpa

    Returns
    -------
    Age at the clock's reference temperature. [h]

    Raises
    ------
    OutOfRange : the curve never reaches this strength.

    Source
    ------
    [FHP1977] three-parameter curve, inverted. [DATASHEET] its ultimate strength.

    Examples
    --------
    >>> round(equivalent_age_at_strength_h(StrengthCurve(100.0, 20.0, 1.0, 0.0), 50.0), 2)
    28.85
    """
    require_above("strength asked for", needed_mpa, 0.0, unit="MPa", source="FHP1977")
    if not needed_mpa < curve.ultimate_mpa:
        high = math.nextafter(curve.ultimate_mpa, 0.0)
        raise OutOfRange("strength asked for", needed_mpa, high=high, unit="MPa", source="DATASHEET")
    return curve.time_h / math.pow(math.log(curve.ultimate_mpa / needed_mpa), 1 / curve.shape)


def fit_strength(points: Sequence[StrengthPoint], clock: CureClock) -> StrengthCurve:
    """Return the curve through the strength rows of a data sheet, by least squares of relative differences.

    Parameters
    ----------
    points : Rows of the data sheet at one or more temperatures. [h, °C, MPa], three or more different ages
    clock : Cure clock of the product; it brings rows of several temperatures to one age.

    Returns
    -------
    Fitted curve. Its scatter is the root mean square relative difference, 0 where three rows fix it.

    Raises
    ------
    OutOfRange : an age, a strength or a temperature lies outside its limits.
    Unusable : too few ages, or strength that falls with age by more than 14 %.
    NotConverged : no curve of this kind follows the rows.

    Source
    ------
    [FHP1977] three-parameter curve; for epoxy our model.
    """
    ages_h, strengths_mpa = _on_one_clock(points, clock)

    def relative_difference(guess: Floats) -> Floats:
        ultimate, time_h, shape = np.exp(guess)
        modelled = ultimate * np.exp(-np.minimum((time_h / ages_h) ** shape, 50.0))
        return np.asarray(modelled / strengths_mpa - 1)

    first = np.log([1.1 * strengths_mpa.max(), float(np.median(ages_h)) / 2, 0.8])
    bounds = (np.log([strengths_mpa.max() * 0.8, 0.01, 0.1]), np.log([strengths_mpa.max() * 5, 1e4, 5.0]))
    found = least_squares(relative_difference, first, bounds=bounds, xtol=1e-12, ftol=1e-12)
    scatter = math.sqrt(float(np.mean(found.fun**2)))
    if not found.success or scatter > 2 * FALL_WITH_AGE_RATIO:
        raise NotConverged(f"no strength curve follows the {len(points)} rows closer than {scatter:.0%}")
    ultimate, time_h, shape = (float(value) for value in np.exp(found.x))
    return StrengthCurve(ultimate, time_h, shape, scatter)


def _on_one_clock(points: Sequence[StrengthPoint], clock: CureClock) -> tuple[Floats, Floats]:
    for point in points:
        require_above("age", point.age_h, 0.0, unit="h", source="DATASHEET")
        require_above("strength", point.strength_mpa, 0.0, unit="MPa", source="DATASHEET")
        require_between("strength", point.strength_mpa, 0.0, 250.0, unit="MPa", source="GROUTJOBS")
        require_between("temperature", point.temp_c, clock.minimum_c, clock.hottest_c, unit="°C", source=clock.source)
    rows = sorted((point.age_h * rate_ratio(clock, point.temp_c), point.strength_mpa) for point in points)
    ages_h, strengths_mpa = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    if len(np.unique(np.round(ages_h, 6))) < 3:
        raise Unusable("strength rows", "three different ages are needed to draw a curve", source="DATASHEET")
    fall = 1 - strengths_mpa / np.maximum.accumulate(strengths_mpa)
    if fall.max() > FALL_WITH_AGE_RATIO:
        worst = int(fall.argmax())
        reason = f"{strengths_mpa[worst]:.4g} MPa at {ages_h[worst]:.4g} h on the cure clock is {fall[worst]:.0%} lower"
        raise Unusable("strength rows", reason + " than at a smaller age", source="DATASHEET")
    return ages_h, strengths_mpa


def milestone_age_h(milestone: Milestone, curve: StrengthCurve | None = None) -> float:
    """Return the equivalent age that a milestone waits for.

    Parameters
    ----------
    milestone : What is waited for.
    curve : Strength curve of the product, needed where the milestone is a share of strength.

    Returns
    -------
    Age at the clock's reference temperature. [h]

    Raises
    ------
    Unusable : the milestone is a share of strength and there is no curve.

    Source
    ------
    [GROUTJOBS] a share refers to the strength at 168 h on the clock.
    """
    if milestone.needed_equivalent_age_h is not None:
        return milestone.needed_equivalent_age_h
    if curve is None or milestone.needed_strength_ratio is None:
        reason = "a share of strength needs the strength rows of the data sheet"
        raise Unusable(milestone.label, reason, source=milestone.source)
    needed_mpa = milestone.needed_strength_ratio * strength_mpa(curve, FULL_CURE_H)
    return equivalent_age_at_strength_h(curve, needed_mpa)


def milestone_hours(
    milestones: Sequence[Milestone],
    at_h: Floats,
    temp_c: Floats,
    clock: CureClock,
    curve: StrengthCurve | None = None,
) -> dict[str, Floats]:
    """Return for each milestone when each row of temperatures reaches it.

    Parameters
    ----------
    milestones : What is waited for.
    at_h : Time of each temperature after placing. [h], shape (n,), strictly rising
    temp_c : Grout temperature. [°C], shape (n_rows, n), time last, -40 to 200; it may end in NaN
    clock : Cure clock of the product.
    curve : Strength curve of the product, where a milestone is a share of strength.

    Returns
    -------
    Code → clock time. [h], shape (n_rows,); NaN where the temperatures end before

    Source
    ------
    [ASTMC1074] equivalent age; for epoxy our model.
    """
    ages_h = np.array([milestone_age_h(milestone, curve) for milestone in milestones])
    found_h = hours_until_ages(ages_h, at_h, temp_c, clock)
    return {milestone.code: hours for milestone, hours in zip(milestones, found_h, strict=True)}
