"""Degree of cure of epoxy from its reaction rate: an autocatalytic law that slows down where the resin turns to glass.

The parameters here illustrate the class of material; they belong to no product. Planning and the cure clock use what
the data sheet says about strength and working life; this model estimates the heat of cure and shows why cold grout
stops short of full cure.
"""

import math
from dataclasses import dataclass

import numpy as np

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.cure import GAS_CONSTANT_KJ_MOLK, ZERO_C_IN_K
from groutjobs.errors import NotConverged, Unusable

HOTTEST_C = 250.0
"""Resin decomposes above about this. Common practice, no source: PRACTICE."""
SUBSTEP, TURN = 0.1, 0.25
"""Longest step of the integration, times the steepness of the rate, and the change of its logarithm with temperature in
one step: together within 1e-6 of an exact solution. GROUTJOBS."""
MOST_STEPS = 10_000
"""Steps in one interval between two temperatures; a slower answer is no answer. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class GlassLimit:
    """Where the resin turns to glass. Cure at a temperature runs freely until its glass temperature is lead_k above.

    uncured_c and cured_c are the glass temperatures before and after full cure, shape the constant of [DIBENEDETTO1987]
    between them, steepness how abruptly the rate falls [CHERN1987].
    """

    uncured_c: float
    cured_c: float
    shape: float
    lead_k: float
    steepness: float
    source: str

    def __post_init__(self) -> None:
        require_between("glass temperature before cure", self.uncured_c, -80.0, 20.0, unit="°C", source=self.source)
        require_between(
            "glass temperature after cure", self.cured_c, self.uncured_c + 10, 220.0, unit="°C", source=self.source
        )
        require_between("shape of the glass temperature", self.shape, 0.1, 1.0, source=self.source)
        require_between("lead of the glass temperature", self.lead_k, 0.0, 40.0, unit="K", source=self.source)
        require_between("steepness of the glass limit", self.steepness, 1.0, 200.0, source=self.source)

    @property
    def coldest_c(self) -> float:
        """Below this even fresh resin is glass, and the model says nothing."""
        return self.uncured_c - self.lead_k


@dataclass(frozen=True, kw_only=True)
class CureKinetics:
    """Rates at reference_c without and with the help of what has reacted, their activation energies, heat of cure.

    heat_kj_kg is per mass of resin and hardener. Without a glass limit the cure always ends at 1.
    """

    first_rate_per_h: float
    first_activation_kj_mol: float
    second_rate_per_h: float
    second_activation_kj_mol: float
    reference_c: float
    heat_kj_kg: float
    glass: GlassLimit | None
    source: str

    def __post_init__(self) -> None:
        for label, rate in (("first rate", self.first_rate_per_h), ("second rate", self.second_rate_per_h)):
            require_above(label, rate, 0.0, unit="1/h", source=self.source)
        for label, energy in (
            ("first activation energy", self.first_activation_kj_mol),
            ("second activation energy", self.second_activation_kj_mol),
        ):
            require_between(label, energy, 10.0, 150.0, unit="kJ/mol", source=self.source)
        require_between("reference temperature", self.reference_c, -20.0, 120.0, unit="°C", source=self.source)
        require_between("heat of cure", self.heat_kj_kg, 50.0, 700.0, unit="kJ/kg", source=self.source)

    @property
    def coldest_c(self) -> float:
        return -40.0 if self.glass is None else self.glass.coldest_c


ILLUSTRATIVE_GLASS = GlassLimit(
    uncured_c=-20.0, cured_c=65.0, shape=0.4, lead_k=10.0, steepness=50.0, source="GROUTJOBS"
)
"""Shape 0.3 to 0.5 and a lead of 10 to 25 K are usual; these lead to 0.81 at 23 °C."""
ILLUSTRATIVE_EPOXY = CureKinetics(
    first_rate_per_h=0.036,
    first_activation_kj_mol=58.6,
    second_rate_per_h=0.72,
    second_activation_kj_mol=58.6,
    reference_c=23.0,
    heat_kj_kg=430.0,
    glass=ILLUSTRATIVE_GLASS,
    source="GROUTJOBS",
)
"""Illustration only, no product: energy of the helped step [RICCARDI1984], heat after [HORIE1970], rates are ours."""


def rate_constants_per_h(kinetics: CureKinetics, temp_c: float) -> tuple[float, float]:
    """Return the two rate constants at a temperature.

    Parameters
    ----------
    kinetics : Parameters of the reaction.
    temp_c : Temperature of the resin. [°C], from kinetics.coldest_c to 250

    Returns
    -------
    Constants without and with the help of what has reacted. [1/h]

    Raises
    ------
    OutOfRange : the temperature lies outside the limits above.

    Source
    ------
    [KAMAL1973] Arrhenius law for each constant, written against a reference temperature.

    Examples
    --------
    >>> [round(rate, 4) for rate in rate_constants_per_h(ILLUSTRATIVE_EPOXY, 33.0)]
    [0.0783, 1.5665]
    """
    _require_temperatures(kinetics, np.array([temp_c]))
    first, second = _constants(kinetics, np.array([temp_c]))
    return float(first[0]), float(second[0])


def limiting_degree(glass: GlassLimit, temp_c: float) -> float:
    """Return the degree of cure at which glass slows the reaction down at a temperature.

    Parameters
    ----------
    glass : Glass temperatures of the resin.
    temp_c : Temperature of the resin. [°C], from glass.coldest_c to 250

    Returns
    -------
    Degree of cure. [-], 0 or more; above 1 the resin never turns to glass at this temperature

    Raises
    ------
    OutOfRange : the temperature lies outside the limits above.

    Source
    ------
    [DIBENEDETTO1987] solved for the degree at which the glass temperature is glass.lead_k above the resin.

    Examples
    --------
    >>> round(limiting_degree(ILLUSTRATIVE_GLASS, 23.0), 3)
    0.805
    """
    require_between("resin temperature", temp_c, glass.coldest_c, HOTTEST_C, unit="°C", source="GROUTJOBS")
    return float(_limits(glass, np.array([temp_c]))[0])


def rates_per_h(kinetics: CureKinetics, degree: Floats, temp_c: Floats) -> Floats:
    """Return how fast the degree of cure grows.

    Parameters
    ----------
    kinetics : Parameters of the reaction.
    degree : Degree of cure. [-], 0 to 1, any shape
    temp_c : Temperature of the resin, same shape. [°C], from kinetics.coldest_c to 250

    Returns
    -------
    Growth of the degree. [1/h], same shape

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [KAMAL1973] with exponents 1 and 2, times the factor of [CHERN1987] for diffusion.
    """
    require_all_between("degree of cure", degree, 0.0, 1.0, source="KAMAL1973")
    _require_temperatures(kinetics, temp_c)
    return unchecked_rates_per_h(kinetics, degree, temp_c)


def unchecked_rates_per_h(kinetics: CureKinetics, degree: Floats, temp_c: Floats) -> Floats:
    """Return the same as rates_per_h, inside a simulation whose inputs were checked once at its start.

    Parameters
    ----------
    kinetics : Parameters of the reaction.
    degree : Degree of cure. [-], any shape, not checked
    temp_c : Temperature of the resin. [°C], shape as degree, not checked

    Returns
    -------
    Rate. [1/h], shape as degree

    Source
    ------
    As rates_per_h.
    """
    first, second = _constants(kinetics, temp_c)
    free = (first + second * degree) * (1 - degree) ** 2
    return free if kinetics.glass is None else free * _freedom(kinetics.glass, degree, temp_c)


def closed_form_hours(kinetics: CureKinetics, temp_c: float, degree: float) -> float:
    """Return the time to a degree of cure at a constant temperature where glass does not hold the reaction back.

    Parameters
    ----------
    kinetics : Parameters of the reaction, without a glass limit.
    temp_c : Temperature of the resin. [°C], -40 to 250
    degree : Degree of cure to be reached from 0. [-], 0 to below 1

    Returns
    -------
    Time. [h]

    Raises
    ------
    OutOfRange : a value lies outside the limits above.
    Unusable : the kinetics have a glass limit; then there is no closed form, use degrees_of_cure.

    Source
    ------
    [KAMAL1973] with exponents 1 and 2, integrated by partial fractions.

    Examples
    --------
    >>> from dataclasses import replace
    >>> round(closed_form_hours(replace(ILLUSTRATIVE_EPOXY, glass=None), 23.0, 0.5), 3)
    5.217
    """
    if kinetics.glass is not None:
        raise Unusable("time to a degree of cure", "no closed form exists with a glass limit", source="GROUTJOBS")
    require_between("degree of cure", degree, 0.0, math.nextafter(1.0, 0.0), source="KAMAL1973")
    k1, k2 = rate_constants_per_h(kinetics, temp_c)
    s = k1 + k2
    return degree / (s * (1 - degree)) + k2 / (s * s) * math.log((k1 + k2 * degree) / (k1 * (1 - degree)))


def degrees_of_cure(kinetics: CureKinetics, at_h: Floats, temp_c: Floats, *, start_degree: float) -> Floats:
    """Return the degree of cure along a history of temperature.

    Parameters
    ----------
    kinetics : Parameters of the reaction.
    at_h : Times of the temperatures. [h], shape (n_times,), strictly rising
    temp_c : Temperatures, straight lines between them. [°C], shape (n_times,) or (n_batch, n_times), time last, from
        kinetics.coldest_c to 250
    start_degree : Degree of cure at index 0. [-], 0 to 1

    Returns
    -------
    Degree of cure at each time. [-], shape of temp_c

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, times do not grow, or shapes do not match.
    NotConverged : the temperature rises too far between two times.

    Source
    ------
    [KAMAL1973] and [CHERN1987], integrated by the classical Runge-Kutta method of fourth order.
    """
    _require_history(kinetics, at_h, temp_c)
    require_between("degree of cure at the start", start_degree, 0.0, 1.0, source="KAMAL1973")
    degrees = np.empty(temp_c.shape)
    degrees[..., 0] = start_degree
    for index in range(1, len(at_h)):
        span_h = float(at_h[index] - at_h[index - 1])
        first_c, last_c = temp_c[..., index - 1], temp_c[..., index]
        degrees[..., index] = _advanced(kinetics, degrees[..., index - 1], first_c, last_c, span_h)
    return degrees


def _require_temperatures(kinetics: CureKinetics, temp_c: Floats) -> None:
    require_all_between("resin temperature", temp_c, kinetics.coldest_c, HOTTEST_C, unit="°C", source="GROUTJOBS")


def _require_history(kinetics: CureKinetics, at_h: Floats, temp_c: Floats) -> None:
    require_all_between("time", at_h, None, None, unit="h", source="GROUTJOBS")
    if at_h.ndim != 1 or len(at_h) < 2 or temp_c.shape[-1:] != at_h.shape:
        reason = f"{temp_c.shape} temperatures for {at_h.shape} times; two or more of each are needed"
        raise Unusable("history of temperature", reason, source="GROUTJOBS")
    if not (np.diff(at_h) > 0).all():
        raise Unusable("history of temperature", "the times do not grow", source="GROUTJOBS")
    _require_temperatures(kinetics, temp_c)


def _constants(kinetics: CureKinetics, temp_c: Floats) -> tuple[Floats, Floats]:
    inverse = (1 / (kinetics.reference_c + ZERO_C_IN_K) - 1 / (temp_c + ZERO_C_IN_K)) / GAS_CONSTANT_KJ_MOLK
    first = kinetics.first_rate_per_h * np.exp(kinetics.first_activation_kj_mol * inverse)
    second = kinetics.second_rate_per_h * np.exp(kinetics.second_activation_kj_mol * inverse)
    return np.asarray(first), np.asarray(second)


def _limits(glass: GlassLimit, temp_c: Floats) -> Floats:
    reached = (temp_c + glass.lead_k - glass.uncured_c) / (glass.cured_c - glass.uncured_c)
    return np.asarray(reached / (glass.shape + (1 - glass.shape) * reached))


def _freedom(glass: GlassLimit, degree: Floats, temp_c: Floats) -> Floats:
    """Share of the rate that diffusion leaves: 1 far before the glass limit, one half at it, 0 far beyond."""
    return np.asarray(1 / (1 + np.exp(glass.steepness * (degree - _limits(glass, temp_c)))))


def _advanced(kinetics: CureKinetics, degree: Floats, first_c: Floats, last_c: Floats, span_h: float) -> Floats:
    """Degree of cure after one interval, in steps as short as the rate needs where the rest of it is warmest."""
    change_k, done, fewest = last_c - first_c, 0.0, _turn(kinetics, first_c, last_c) / TURN
    for _ in range(MOST_STEPS):
        temp_c = first_c + done * change_k
        needed = span_h * _steepness_per_h(kinetics, degree, np.maximum(temp_c, last_c)) / SUBSTEP
        share = 1 / max(1.0, fewest, needed)
        share = min(share, 1 - done)
        degree = _stepped(kinetics, degree, temp_c, change_k * share, span_h * share)
        done += share
        if done >= 1.0:
            return degree
    raise NotConverged(f"cure: {MOST_STEPS} steps do not carry over {span_h:g} h; give temperatures closer together")


def _stepped(kinetics: CureKinetics, degree: Floats, temp_c: Floats, change_k: Floats, step_h: float) -> Floats:
    middle_c, end_c = temp_c + change_k / 2, temp_c + change_k
    r1 = unchecked_rates_per_h(kinetics, degree, temp_c)
    r2 = unchecked_rates_per_h(kinetics, degree + r1 * step_h / 2, middle_c)
    r3 = unchecked_rates_per_h(kinetics, degree + r2 * step_h / 2, middle_c)
    r4 = unchecked_rates_per_h(kinetics, degree + r3 * step_h, end_c)
    return degree + (r1 + 2 * r2 + 2 * r3 + r4) * step_h / 6


def _turn(kinetics: CureKinetics, first_c: Floats, last_c: Floats) -> float:
    """How much the logarithm of the rate changes along an interval because its temperature does."""
    (cold_1, cold_2), (warm_1, warm_2) = _constants(kinetics, first_c), _constants(kinetics, last_c)
    turn = np.maximum(np.abs(np.log(warm_1 / cold_1)), np.abs(np.log(warm_2 / cold_2)))
    if kinetics.glass is not None:
        moved = _limits(kinetics.glass, last_c) - _limits(kinetics.glass, first_c)
        turn = turn + kinetics.glass.steepness * np.abs(moved)
    return float(np.max(turn))


def _steepness_per_h(kinetics: CureKinetics, degree: Floats, temp_c: Floats) -> float:
    """Bound on the change of the rate with the degree of cure. The rate falls as the degree grows, so it holds on."""
    first, second = _constants(kinetics, temp_c)
    left, bound = 1 - degree, first + second
    if kinetics.glass is None:
        return float(np.max(bound * (2 * left + left**2)))
    freedom = _freedom(kinetics.glass, degree, temp_c)
    return float(np.max(bound * freedom * (2 * left + (1 + kinetics.glass.steepness) * left**2)))
