"""What is believed of the cure of one pour, before and after its own strength samples and age matches.

To the fit of the data sheet comes one number, the log of the rate at which this pour cures against its data sheet.
Measurements move it and the fit together: a weak sample may mean a slow pour or a weak grout, and the spreads of both
decide how much of each. For epoxy this is our model.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares
from scipy.special import chdtrc

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.cure import CureClock, equivalent_age_h
from groutjobs.engineering.cure_fit import LEAST_LIKELY, STRENGTH_SD_RATIO, CureFit
from groutjobs.errors import NotConverged, Unusable

LOG_RATE_SD = 0.3
"""Spread of the log of the rate of cure of a pour about its data sheet, before anything is measured. GROUTJOBS."""
MATCH_SD_RATIO = 0.1
"""Spread of an age found by comparison with specimens kept at the reference temperature. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class CureBelief:
    """What is believed of the cure of one pour: means and covariance, and the words for what it rests on.

    In the order ln ultimate strength [MPa], ln time of the curve [h], ln shape, activation energy [kJ/mol], ln rate.
    measured names what of this pour went into it, each with its count.
    """

    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    basis: str
    measured: tuple[str, ...] = ()

    @property
    def rate_ratio(self) -> float:
        """How fast the pour cures against its data sheet."""
        return math.exp(self.mean[4])

    @property
    def log_rate_sd(self) -> float:
        return math.sqrt(self.covariance[4][4])

    @classmethod
    def after(cls, mean: Floats, covariance: Floats, measured: tuple[str, ...]) -> "CureBelief":
        """A belief that measurements moved, with its words."""
        rate, sd = math.exp(float(mean[4])), math.sqrt(float(covariance[4, 4]))
        moved = f"this pour cures at {rate:.2f} times the rate of its data sheet, give or take {sd:.0%}"
        return cls(
            mean=tuple(float(value) for value in mean),
            covariance=tuple(tuple(float(value) for value in row) for row in covariance),
            basis=f"{moved} ({', '.join(measured)})",
            measured=measured,
        )


@dataclass(frozen=True)
class StrengthSample:
    """Strength of a sample that lay beside the pour at the temperature of the pour."""

    at_h: float
    strength_mpa: float


@dataclass(frozen=True)
class AgeMatch:
    """At this hour the grout of the pour was as hard as a specimen of this age kept at the reference temperature."""

    at_h: float
    equivalent_age_h: float


def belief_before(fit: CureFit, log_rate_sd: float = LOG_RATE_SD) -> CureBelief:
    """Return what is believed of a pour before anything of it is measured.

    Parameters
    ----------
    fit : Cure of the product from its data sheet.
    log_rate_sd : Spread of the log of the rate of this pour about the data sheet. [-], above 0, up to 1

    Returns
    -------
    The fit with a rate of 1, independent of it.

    Raises
    ------
    OutOfRange : the spread lies outside its limits.

    Source
    ------
    [GROUTJOBS] one number for all that makes a pour slower or faster; its spread of 0.3 is ours.
    """
    require_above("spread of the rate of cure", log_rate_sd, 0.0, source="GROUTJOBS")
    require_between("spread of the rate of cure", log_rate_sd, 0.0, 1.0, source="GROUTJOBS")
    return CureBelief(
        mean=(*(float(value) for value in fit.mean), 0.0),
        covariance=(*((*row, 0.0) for row in fit.covariance), (0.0, 0.0, 0.0, 0.0, log_rate_sd**2)),
        basis="the data sheet alone; nothing of this pour is measured",
    )


def corrected_belief(
    before: CureBelief,
    clock: CureClock,
    at_h: Floats,
    temp_c: Floats,
    samples: Sequence[StrengthSample] = (),
    matches: Sequence[AgeMatch] = (),
) -> CureBelief:
    """Return what is believed of a pour after measurements of it, all of them given at once.

    Parameters
    ----------
    before : What was believed before these; a belief that these corrected already would count them twice.
    clock : Reference temperature and limits of the product.
    at_h : Time of each temperature after placing. [h], shape (n,), strictly rising
    temp_c : Measured grout temperature. [°C], shape (n,), -40 to 200
    samples : Strengths of this pour. [h, MPa], inside at_h
    matches : Ages of this pour by comparison. [h, h], inside at_h

    Returns
    -------
    Likeliest parameters and their covariance; strength and rate share the blame by their spreads.

    Raises
    ------
    OutOfRange : a time, a strength or an age lies outside its limits.
    Unusable : nothing measured, the clock stood still until then, or the measurements contradict what was believed.
    NotConverged : the search did not end.

    Source
    ------
    [BDA3] 4.1, maximum of the posterior and normal approximation about it; spreads 7 and 10 %, [GROUTJOBS].
    """
    if not samples and not matches:
        raise Unusable("correction of the cure", "no strength and no age of this pour is given", source="GROUTJOBS")
    _require_values(samples, matches)
    hours = [*(sample.at_h for sample in samples), *(match.at_h for match in matches)]
    measured = _measured(clock, at_h, temp_c, hours)
    mean, root = np.array(before.mean), np.linalg.cholesky(np.array(before.covariance))

    def residuals(moved: Floats) -> Floats:
        guess = mean + root @ moved
        log_ages = measured.log_ages(float(guess[3])) + guess[4]
        of_samples = _strength_differences(guess, log_ages[: len(samples)], samples)
        return np.concatenate([moved, of_samples, _age_differences(log_ages[len(samples) :], matches)])

    found = least_squares(residuals, np.zeros(5), xtol=1e-10, ftol=1e-12)
    if not found.success:
        raise NotConverged("the search for the rate of cure of this pour did not end")
    _require_belief(float(2 * found.cost), len(hours))
    covariance = root @ np.linalg.inv(found.jac.T @ found.jac) @ root.T
    given = (*before.measured, f"strength samples: {len(samples)}", f"age matches: {len(matches)}")
    return CureBelief.after(mean + root @ found.x, covariance, given)


@dataclass(frozen=True)
class _Measured:
    """The measured temperatures up to the last measurement, and where on them the measurements stand."""

    clock: CureClock
    at_h: Floats
    temp_c: Floats
    index: npt.NDArray[np.intp]

    def log_ages(self, activation_kj_mol: float) -> Floats:
        """ln of the equivalent age at each measurement; -inf where the clock has not moved."""
        clock = replace(self.clock, activation_kj_mol=activation_kj_mol)
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(equivalent_age_h(self.at_h, self.temp_c, clock)[self.index]))


def _measured(clock: CureClock, at_h: Floats, temp_c: Floats, hours: Sequence[float]) -> _Measured:
    at_h, temp_c = np.asarray(at_h, dtype=np.float64), np.asarray(temp_c, dtype=np.float64)
    require_all_between("grout temperature", temp_c, -40.0, 200.0, unit="°C", source="GROUTJOBS")
    equivalent_age_h(at_h, temp_c, clock)
    if temp_c.ndim != 1:
        raise Unusable("cure readings", "one row of temperatures is needed, the measured one", source="GROUTJOBS")
    for hour in hours:
        require_between("time of a measurement", hour, float(at_h[0]), float(at_h[-1]), unit="h", source="GROUTJOBS")
    grid = np.union1d(at_h[at_h <= max(hours)], [*hours, at_h[1]])
    measured = _Measured(clock, grid, np.interp(grid, at_h, temp_c), np.searchsorted(grid, hours))
    for hour, log_age in zip(hours, measured.log_ages(clock.activation_kj_mol), strict=True):
        if not math.isfinite(log_age):
            reason = f"the cure clock had not moved by {hour:g} h; a measurement there tells nothing of the rate"
            raise Unusable("correction of the cure", reason, source="GROUTJOBS")
    return measured


def _require_values(samples: Sequence[StrengthSample], matches: Sequence[AgeMatch]) -> None:
    for sample in samples:
        require_above("strength of a sample", sample.strength_mpa, 0.0, unit="MPa", source="GROUTJOBS")
        require_between("strength of a sample", sample.strength_mpa, 0.0, 250.0, unit="MPa", source="GROUTJOBS")
    for match in matches:
        require_above("age by comparison", match.equivalent_age_h, 0.0, unit="h", source="GROUTJOBS")
        require_between("age by comparison", match.equivalent_age_h, 0.0, 10_000.0, unit="h", source="GROUTJOBS")


def _strength_differences(guess: Floats, log_ages: Floats, samples: Sequence[StrengthSample]) -> Floats:
    unripe = np.exp(np.minimum(np.exp(guess[2]) * (guess[1] - log_ages), 50.0))
    log_strengths = np.log([sample.strength_mpa for sample in samples])
    return np.asarray((guess[0] - unripe - log_strengths) / STRENGTH_SD_RATIO)


def _age_differences(log_ages: Floats, matches: Sequence[AgeMatch]) -> Floats:
    return np.asarray((log_ages - np.log([match.equivalent_age_h for match in matches])) / MATCH_SD_RATIO)


def _require_belief(squares: float, count: int) -> None:
    if float(chdtrc(count, squares)) < LEAST_LIKELY:
        reason = (
            "what was measured on this pour lies outside what its data sheet and a rate of its own can explain; "
            "look for a wrong mix, a wrong temperature or a bad sample, and rest no step on these hours"
        )
        raise Unusable("correction of the cure", reason, source="GROUTJOBS")
