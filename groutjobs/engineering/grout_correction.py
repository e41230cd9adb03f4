"""The rate of cure of one pour, found from how its grout warmed itself.

Grout that cures faster than its data sheet peaks earlier. The coupled model of exotherm.py is run at several paces of
the reaction, each is compared with the readings, and Bayes' rule makes a mean and a spread of them. The heat of a
product is seldom known, so how hot the grout gets tells little, and when it warms tells most: resin and hardener in
the mix, film on the plate, foundation temperature, place of the probe and hour of mixing are all left open and
averaged over. What the model cannot follow counts as an error that lasts for hours, so that a hundred readings do not
count as a hundred.

The data sheet tells strength and not heat. That a product whose strength comes twice as fast also warms twice as fast
is our link, known to a factor of 1.35 only. It is the largest part of what stays unknown.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.special import chdtrc

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.cure import GAS_CONSTANT_KJ_MOLK, ZERO_C_IN_K, CureClock
from groutjobs.engineering.cure_belief import CureBelief
from groutjobs.engineering.cure_fit import LEAST_LIKELY
from groutjobs.engineering.exotherm import (
    FILLED_BINDER_RATIO,
    AirAround,
    CuringTemperatures,
    Placements,
    curing_temperatures,
)
from groutjobs.engineering.kinetics import (
    ILLUSTRATIVE_EPOXY,
    ILLUSTRATIVE_GLASS,
    CureKinetics,
    degrees_of_cure,
    limiting_degree,
)
from groutjobs.engineering.layers import Layers
from groutjobs.engineering.strength import FULL_CURE_H, StrengthCurve, equivalent_age_at_strength_h, strength_mpa
from groutjobs.errors import NotConverged, Unusable

LINK_LOG_SD = 0.3
"""Spread of the log of the pace of the reaction about what the strength rows let expect. GROUTJOBS."""
PACE_LOG_SD = 0.45
"""Spread of the log of the pace before any reading, rate of the pour and link together. GROUTJOBS."""
FARTHEST_LOG_PACE = 1.2
RUNS, FINE_PACES = 13, 97
"""The model is run at 13 paces; between them its temperatures are a smooth curve."""
BINDER_LOG_SD, FILM_LOG_SD, FOUNDATION_SD_K = 0.25, 0.4, 2.0
PROBE_SHARE_SD = 0.6
"""How far from the middle the probe may sit, as a share of the way to the hottest or coldest grout. GROUTJOBS."""
READING_SD_K, LASTING_H = 0.5, 4.0
"""Spread of one reading, and how long the model's own errors last. GROUTJOBS."""
LEAST_TOLD_RATIO = 0.11
"""What readings must tell of the pace, as a share of what was known before. The paces end at FARTHEST_LOG_PACE, which
alone seems to tell 0.06; less than 0.05 beyond that is nothing. GROUTJOBS."""
LONGEST_USED_H = 36.0
FEWEST_READINGS, LEAST_SPAN_H = 4, 3.0
STEPS_PER_HOUR = (20, 60)
NOTHING_FITS = (
    "the grout did not warm as any rate of cure of this product lets expect; look for a wrong mix, a probe outside the "
    "grout, sun on the plate or wrong thickness, and rest no step on these hours"
)


@dataclass(frozen=True, kw_only=True)
class PourSetting:
    """How the grout lies and how it began.

    model_sd_k is how far the model strays where nothing is wrong: little in a hall, much in the sun. start_sd_h is how
    well the hour is known at which the grout at the probe was mixed.
    """

    layers: Layers
    placed_c: float
    foundation_c: float
    plate_c: float | None
    film_w_m2k: float
    model_sd_k: float
    start_sd_h: float
    binder_ratio: float = 0.13

    def __post_init__(self) -> None:
        require_above("spread of the model", self.model_sd_k, 0.0, unit="K", source="GROUTJOBS")
        require_between("spread of the hour of mixing", self.start_sd_h, 0.0, 12.0, unit="h", source="GROUTJOBS")
        require_above("binder share", self.binder_ratio, 0.0, source="GROUTJOBS")
        require_between("binder share", self.binder_ratio, None, FILLED_BINDER_RATIO, source="GROUTJOBS")
        require_between("grout temperature as placed", self.placed_c, 0.0, 60.0, unit="°C", source="GROUTJOBS")
        require_between("foundation temperature", self.foundation_c, -20.0, 60.0, unit="°C", source="GROUTJOBS")
        if self.plate_c is not None:
            require_between("plate temperature", self.plate_c, -20.0, 80.0, unit="°C", source="GROUTJOBS")
        require_between("film", self.film_w_m2k, 1e-9, 200.0, unit="W/m²·K", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class GroutPace:
    """The log of the pace of the reaction that the readings tell, without what was believed before.

    inverse_mol_kj brings an error of the activation energy to an error of it. surprise is the chance of readings that
    fit worse.
    """

    log_pace: float
    log_pace_sd: float
    inverse_mol_kj: float
    reading_count: int
    surprise: float


def product_kinetics(curve: StrengthCurve, activation_kj_mol: float, clock: CureClock) -> CureKinetics:
    """Return the illustrative reaction at the pace that the strength curve of a product lets expect.

    Parameters
    ----------
    curve : Strength curve of the product.
    activation_kj_mol : Activation energy of both steps. [kJ/mol], 10 to 150
    clock : Gives the reference temperature of the curve.

    Returns
    -------
    The reaction: it turns to glass when the curve reaches half of its strength at 168 h.

    Raises
    ------
    OutOfRange : the activation energy lies outside its limits.
    Unusable : the reaction would be more than ten times slower or faster than the illustrative one.

    Source
    ------
    [GROUTJOBS] strength comes as the resin turns to glass; known to a factor of 1.35 only, see LINK_LOG_SD.
    """
    kinetics = replace(
        ILLUSTRATIVE_EPOXY, first_activation_kj_mol=activation_kj_mol, second_activation_kj_mol=activation_kj_mol
    )
    half_h = equivalent_age_at_strength_h(curve, strength_mpa(curve, FULL_CURE_H) / 2)
    at_h = np.arange(0.0, 49.0)
    degree = degrees_of_cure(kinetics, at_h, np.full(len(at_h), clock.reference_c), start_degree=0.0)
    glass_h = float(np.interp(limiting_degree(ILLUSTRATIVE_GLASS, clock.reference_c), degree, at_h))
    pace = glass_h / half_h
    if not 0.1 <= pace <= 10.0:
        reason = f"half of the strength after {half_h:.3g} h is no pace of an epoxy grout"
        raise Unusable("strength rows", reason, source="GROUTJOBS")
    return replace(
        kinetics,
        first_rate_per_h=kinetics.first_rate_per_h * pace,
        second_rate_per_h=kinetics.second_rate_per_h * pace,
    )


def grout_pace(kinetics: CureKinetics, setting: PourSetting, air_c: Floats, at_h: Floats, temp_c: Floats) -> GroutPace:
    """Return what the grout temperatures of a pour tell of the pace of its reaction.

    Parameters
    ----------
    kinetics : Reaction of the product as its data sheet lets expect, see product_kinetics.
    setting : How the grout lies and how it began.
    air_c : Air at each hour after mixing. [°C], shape (n_hours + 1,), -40 to 80; as long as the readings to be used
    at_h : Time of each reading after mixing. [h], shape (n,), 0 or more, strictly rising
    temp_c : Grout temperature. [°C], shape (n,), -20 to 120

    Returns
    -------
    The pace; readings after 36 h or after the air ends, and more than one an hour, are left out.

    Raises
    ------
    OutOfRange, Unusable : too few readings, or none of the paces fits them.
    NotConverged : the product reacts too fast for the steps of the model; the page then keeps its data-sheet dates.

    Source
    ------
    [BDA3] 14.8 correlated errors, nuisances linear about each pace; temperatures of curing_temperatures [GROUTJOBS].
    """
    at_h, temp_c = _used_readings(at_h, temp_c, min(LONGEST_USED_H, len(air_c) - 1.0))
    hours = math.ceil(at_h[-1] - 1e-9)
    paces = np.linspace(-FARTHEST_LOG_PACE, FARTHEST_LOG_PACE, RUNS)
    modelled_c, moved_k = _modelled(_runs(kinetics, setting, paces, air_c[: hours + 1]), setting, at_h)
    fine = np.linspace(-FARTHEST_LOG_PACE, FARTHEST_LOG_PACE, FINE_PACES)
    differences = temp_c - CubicSpline(paces, modelled_c)(fine)
    log_likely, squares = _log_likelihoods(differences, CubicSpline(paces, moved_k)(fine), _covariance(setting, at_h))
    surprise = float(chdtrc(len(at_h), squares[log_likely.argmax()]))
    if surprise < LEAST_LIKELY:
        raise Unusable("grout temperatures", NOTHING_FITS, source="GROUTJOBS")
    mean, sd = _without_prior(fine, log_likely)
    inverse = float(np.mean(1 / (temp_c + ZERO_C_IN_K))) - 1 / (kinetics.reference_c + ZERO_C_IN_K)
    return GroutPace(
        log_pace=mean,
        log_pace_sd=sd,
        inverse_mol_kj=-inverse / GAS_CONSTANT_KJ_MOLK,
        reading_count=len(at_h),
        surprise=surprise,
    )


def _used_readings(at_h: Floats, temp_c: Floats, until_h: float) -> tuple[Floats, Floats]:
    """Readings up to an hour, at most one an hour."""
    at_h, temp_c = np.asarray(at_h, dtype=np.float64), np.asarray(temp_c, dtype=np.float64)
    if at_h.ndim != 1 or at_h.shape != temp_c.shape or not (np.diff(at_h) > 0).all():
        raise Unusable("cure readings", "rising times are needed, with one temperature each", source="GROUTJOBS")
    require_all_between("time of a reading", at_h, 0.0, None, unit="h", source="GROUTJOBS")
    require_all_between("grout temperature", temp_c, -20.0, 120.0, unit="°C", source="GROUTJOBS")
    kept, last_h = [], -math.inf
    for index in np.flatnonzero(at_h <= until_h):
        if at_h[index] - last_h >= 1.0 - 1e-3:
            kept.append(index)
            last_h = at_h[index]
    if len(kept) < FEWEST_READINGS or at_h[kept[-1]] - at_h[kept[0]] < LEAST_SPAN_H:
        reason = f"{FEWEST_READINGS} readings an hour apart in the first {LONGEST_USED_H:.0f} h are needed"
        raise Unusable("cure readings", reason, source="GROUTJOBS")
    return at_h[kept], temp_c[kept]


def _runs(kinetics: CureKinetics, setting: PourSetting, paces: Floats, air_c: Floats) -> CuringTemperatures:
    """The pour at each pace; then again with more binder, with a better film, and on a warmer foundation."""
    cases = len(paces) * 4
    row = np.repeat(np.arange(4), len(paces))
    placements = Placements(
        placed_c=np.full(cases, setting.placed_c),
        foundation_c=setting.foundation_c + FOUNDATION_SD_K * (row == 3),
        plate_c=None if setting.plate_c is None else setting.plate_c + FOUNDATION_SD_K * (row == 3),
        binder_ratio=setting.binder_ratio * np.exp(BINDER_LOG_SD * (row == 1)),
        pace_ratio=np.exp(np.tile(paces, 4)),
    )
    film = setting.film_w_m2k * np.exp(FILM_LOG_SD * (row == 2))
    around = AirAround(air_c=np.tile(air_c, (cases, 1)), film_w_m2k=np.repeat(film[:, None], len(air_c), axis=1))
    for steps in STEPS_PER_HOUR[:-1]:
        try:
            return curing_temperatures(setting.layers, kinetics, placements, around, steps_per_hour=steps)
        except NotConverged:
            continue
    return curing_temperatures(setting.layers, kinetics, placements, around, steps_per_hour=STEPS_PER_HOUR[-1])


def _modelled(run: CuringTemperatures, setting: PourSetting, at_h: Floats) -> tuple[Floats, Floats]:
    """Temperatures at the readings for each pace, shape (n_paces, n), and what one spread of each nuisance adds to
    them, shape (n_paces, 5, n): binder, film, foundation, hour of mixing, place of the probe."""
    hours = np.arange(run.hottest_c.shape[1], dtype=np.float64)
    middle_c, half_k = (run.hottest_c + run.coldest_c) / 2, (run.hottest_c - run.coldest_c) / 2
    slope_k_h = CubicSpline(hours, middle_c[: len(middle_c) // 4], axis=1)(at_h, 1)
    at_reading = CubicSpline(hours, middle_c, axis=1)(at_h).reshape(4, -1, len(at_h))
    apart_k = CubicSpline(hours, half_k[: len(half_k) // 4], axis=1)(at_h)
    plain = at_reading[0]
    moved = [*(at_reading[1:] - plain), setting.start_sd_h * slope_k_h, PROBE_SHARE_SD * apart_k]
    return plain, np.stack(moved, axis=1)


def _covariance(setting: PourSetting, at_h: Floats) -> Floats:
    """Errors of the readings about the right model: their own, and one that lasts for hours. [K²], shape (n, n)"""
    apart_h = np.abs(at_h[:, None] - at_h[None, :])
    return np.asarray(setting.model_sd_k**2 * np.exp(-apart_h / LASTING_H) + READING_SD_K**2 * np.eye(len(at_h)))


def _log_likelihoods(differences: Floats, moved_k: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """For each pace the log of the likelihood, nuisances averaged over, and the sum of squares that goes into it."""
    spread = covariance + np.einsum("pki,pkj->pij", moved_k, moved_k)
    squares = np.einsum("pi,pi->p", differences, np.linalg.solve(spread, differences[..., None])[..., 0])
    return -0.5 * (squares + np.linalg.slogdet(spread)[1]), squares


def _without_prior(log_pace: Floats, log_likely: Floats) -> tuple[float, float]:
    """Mean and spread of the normal curve that, times the prior, has the mean and spread of the posterior."""
    weights = np.exp(log_likely - log_likely.max() - 0.5 * (log_pace / PACE_LOG_SD) ** 2)
    weights /= weights.sum()
    mean = float(weights @ log_pace)
    variance = float(weights @ (log_pace - mean) ** 2) + (log_pace[1] - log_pace[0]) ** 2 / 12
    told = 1 / variance - 1 / PACE_LOG_SD**2
    if told < LEAST_TOLD_RATIO / PACE_LOG_SD**2:
        raise Unusable("cure readings", "so far they tell nothing of the rate of cure", source="GROUTJOBS")
    return mean / variance / told, math.sqrt(1 / told)


def belief_with_grout(before: CureBelief, found: GroutPace, link_log_sd: float = LINK_LOG_SD) -> CureBelief:
    """Return what is believed of a pour after its grout temperatures.

    Parameters
    ----------
    before : What was believed before; the kinetics of the comparison rest on its activation energy.
    found : What the temperatures tell.
    link_log_sd : Spread of the log of the pace about what the strength rows let expect. [-], 0 to 1

    Returns
    -------
    The belief; rate, link and activation energy share what the pace tells by their spreads.

    Raises
    ------
    OutOfRange : the spread lies outside its limits.

    Source
    ------
    [BDA3] 3.5, normal belief and one normal measurement. [GROUTJOBS] limits of the spread.
    """
    require_between("spread of the link", link_log_sd, 0.0, 1.0, source="GROUTJOBS")
    covariance, mean = np.array(before.covariance), np.array(before.mean)
    seen = np.array([0.0, 0.0, 0.0, found.inverse_mol_kj, 1.0])
    moved = covariance @ seen
    variance = float(seen @ moved) + found.log_pace_sd**2 + link_log_sd**2
    after = mean + moved / variance * (found.log_pace - mean[4])
    narrowed = covariance - np.outer(moved, moved) / variance
    measured = (*before.measured, f"grout temperature: {found.reading_count} readings")
    return CureBelief.after(after, narrowed, measured)
