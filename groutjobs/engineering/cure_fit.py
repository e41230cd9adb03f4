"""Cure of a product fitted to the strength rows of its data sheet, with what the rows leave uncertain.

strength = Su · exp(-(tau/te)^a), te the age at the reference temperature of the clock, which rests on the activation
energy Ea. Rows of several temperatures tell Ea; rows of one temperature do not, and Ea then stays what was believed
before. Strengths scatter by 7 % of their value, independently. The shape a is believed to be 1, give or take a factor
of 1.5, so that the three rows of a usual data sheet carry a curve. For epoxy all of this is our model.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares
from scipy.special import chdtrc

from groutjobs.engineering.checks import Floats, require_above, require_between
from groutjobs.engineering.cure import GAS_CONSTANT_KJ_MOLK, ZERO_C_IN_K, CureClock
from groutjobs.engineering.strength import StrengthCurve, StrengthPoint
from groutjobs.errors import NotConverged, Unusable

STRENGTH_SD_RATIO = 0.07
"""Spread of one strength row or sample about the curve, as a share of its value. GROUTJOBS."""
LEAST_LIKELY = 0.001
"""Rows that scatter so much that fewer than one set in a thousand would do so contradict each other. GROUTJOBS."""
LOOSEST_LOG_SD = 0.7
"""A parameter known to a factor of two (ln 2) at best is not known: the rows do not carry the fit. GROUTJOBS."""
FARTHEST_PRIOR_SD = 3.0
"""How many of its prior spreads the activation energy may move before the rows contradict the prior. GROUTJOBS."""
SHAPE_PRIOR_LOG_SD = 0.4
"""Spread of ln shape about 0 before the rows are read; shapes from about 0.5 to 2 are met. GROUTJOBS."""
FALL_RATIO = 3 * math.sqrt(2) * STRENGTH_SD_RATIO
"""How far one strength may lie below one that should be smaller: three spreads of a difference of two. GROUTJOBS."""
FIRST_SHAPES = (0.5, 1.0, 2.0)


@dataclass(frozen=True, kw_only=True)
class ActivationPrior:
    """What is believed of the activation energy before the rows are read: a mean and a standard deviation."""

    mean_kj_mol: float
    sd_kj_mol: float
    source: str

    def __post_init__(self) -> None:
        require_between("prior activation energy", self.mean_kj_mol, 10.0, 150.0, unit="kJ/mol", source=self.source)
        require_above("spread of the activation energy", self.sd_kj_mol, 0.0, unit="kJ/mol", source=self.source)


EPOXY_PRIOR = ActivationPrior(mean_kj_mol=58.0, sd_kj_mol=10.0, source="GROUTJOBS")
"""55 to 60 kJ/mol for the amine step [SBIRRAZZUOLI2006]; products differ, so the spread is ours."""


@dataclass(frozen=True, kw_only=True)
class CureFit:
    """The likeliest curve and activation energy, and how far they may be off together.

    covariance is 4 by 4, in the order ln ultimate_mpa, ln time_h, ln shape, activation_kj_mol.
    """

    curve: StrengthCurve
    activation_kj_mol: float
    covariance: tuple[tuple[float, ...], ...]
    row_count: int
    temps_c: tuple[float, ...]
    activation_basis: str

    @property
    def is_activation_fitted(self) -> bool:
        """Whether the rows say anything of the activation energy: they stand at two temperatures or more."""
        return len(self.temps_c) > 1

    @property
    def activation_sd_kj_mol(self) -> float:
        return math.sqrt(self.covariance[3][3])

    @property
    def mean(self) -> Floats:
        """The parameters in the order of the covariance."""
        curve = self.curve
        logs = [math.log(curve.ultimate_mpa), math.log(curve.time_h), math.log(curve.shape)]
        return np.array([*logs, self.activation_kj_mol])


@dataclass(frozen=True)
class _Rows:
    """The rows as arrays; inverse_mol_kj brings an activation energy to the log of the time factor."""

    log_age: Floats
    inverse_mol_kj: Floats
    log_strength: Floats


def fit_cure(points: Sequence[StrengthPoint], clock: CureClock, prior: ActivationPrior = EPOXY_PRIOR) -> CureFit:
    """Return the likeliest strength curve and activation energy of a product, with their covariance.

    Parameters
    ----------
    points : Rows of the data sheet at one or more temperatures. [h, °C, MPa], three or more ages
    clock : Gives the reference temperature and the limits of the product; its activation energy is not used.
    prior : What is believed of the activation energy without the rows.

    Returns
    -------
    The fit. The scatter of its curve is the root mean square log difference of the rows.

    Raises
    ------
    OutOfRange : an age, a strength or a temperature lies outside its limits.
    Unusable : too few ages, rows that contradict each other or the prior, or rows that leave the curve open.
    NotConverged : the search for the likeliest curve did not end.

    Source
    ------
    [FHP1977] three-parameter curve; [BDA3] 4.1, maximum of the posterior and normal approximation about it.
    """
    ordered = _checked(points, clock)
    rows = _arrays(ordered, clock)
    found = _likeliest(rows, prior)
    residuals = _residuals(found, rows, prior)
    temps_c = tuple(sorted({point.temp_c for point in ordered}))
    _require_agreement(found, residuals, ordered, prior)
    covariance = _covariance(_slopes(found, rows, prior))
    scatter = math.sqrt(float(np.mean(residuals[:-2] ** 2))) * STRENGTH_SD_RATIO
    ultimate, time_h, shape = (float(value) for value in np.exp(found[:3]))
    activation, sd = float(found[3]), math.sqrt(covariance[3, 3])
    return CureFit(
        curve=StrengthCurve(ultimate, time_h, shape, scatter),
        activation_kj_mol=activation,
        covariance=tuple(tuple(float(value) for value in row) for row in covariance),
        row_count=len(ordered),
        temps_c=temps_c,
        activation_basis=_basis(temps_c, activation, sd, prior),
    )


def _basis(temps_c: tuple[float, ...], activation: float, sd: float, prior: ActivationPrior) -> str:
    believed = f"{prior.mean_kj_mol:g} ± {prior.sd_kj_mol:g} kJ/mol"
    if len(temps_c) == 1:
        return f"all rows stand at {temps_c[0]:g} °C, so the activation energy stays as believed, {believed}"
    listed = ", ".join(f"{temp_c:g}" for temp_c in temps_c)
    return f"{activation:.0f} ± {sd:.0f} kJ/mol from rows at {listed} °C; {believed} was believed before"


def _checked(points: Sequence[StrengthPoint], clock: CureClock) -> list[StrengthPoint]:
    for point in points:
        require_above("age", point.age_h, 0.0, unit="h", source="DATASHEET")
        require_above("strength", point.strength_mpa, 0.0, unit="MPa", source="DATASHEET")
        require_between("strength", point.strength_mpa, 0.0, 250.0, unit="MPa", source="GROUTJOBS")
        require_between("temperature", point.temp_c, -40.0, 80.0, unit="°C", source="GROUTJOBS")
        require_between("temperature", point.temp_c, clock.minimum_c, clock.hottest_c, unit="°C", source=clock.source)
    ordered = sorted(points, key=lambda point: (point.temp_c, point.age_h))
    if len({(point.temp_c, point.age_h) for point in ordered}) < 3:
        reason = f"{len(ordered)} given; three at different ages or temperatures are needed to draw a curve"
        raise Unusable("strength rows", reason, source="DATASHEET")
    _require_growth(ordered)
    return ordered


def _require_growth(ordered: Sequence[StrengthPoint]) -> None:
    """Refuse strength that falls, beyond scatter, with age at one temperature or with temperature at one age."""
    for first in ordered:
        for second in ordered:
            is_riper = second.age_h >= first.age_h and second.temp_c >= first.temp_c
            fall = 1 - second.strength_mpa / first.strength_mpa
            if is_riper and (second.age_h, second.temp_c) != (first.age_h, first.temp_c) and fall > FALL_RATIO:
                reason = (
                    f"{_named(second)} is {fall:.0%} lower than {_named(first)}; older and warmer grout is stronger"
                )
                raise Unusable("strength rows", reason, source="DATASHEET")


def _named(point: StrengthPoint) -> str:
    return f"{point.strength_mpa:.4g} MPa after {point.age_h:g} h at {point.temp_c:g} °C"


def _arrays(points: Sequence[StrengthPoint], clock: CureClock) -> _Rows:
    temps_k = np.array([point.temp_c for point in points]) + ZERO_C_IN_K
    return _Rows(
        log_age=np.log([point.age_h for point in points]),
        inverse_mol_kj=(1 / temps_k - 1 / (clock.reference_c + ZERO_C_IN_K)) / GAS_CONSTANT_KJ_MOLK,
        log_strength=np.log([point.strength_mpa for point in points]),
    )


def _log_share(guess: Floats, rows: _Rows) -> Floats:
    """ln(tau/te) of each row."""
    return np.asarray(guess[1] - rows.log_age + guess[3] * rows.inverse_mol_kj)


def _residuals(guess: Floats, rows: _Rows, prior: ActivationPrior) -> Floats:
    """Log differences of the rows in units of their spread, and last those of shape and activation energy."""
    unripe = np.exp(np.minimum(np.exp(guess[2]) * _log_share(guess, rows), 50.0))
    differences = (guess[0] - unripe - rows.log_strength) / STRENGTH_SD_RATIO
    believed = [guess[2] / SHAPE_PRIOR_LOG_SD, (guess[3] - prior.mean_kj_mol) / prior.sd_kj_mol]
    return np.concatenate([differences, believed])


def _slopes(guess: Floats, rows: _Rows, prior: ActivationPrior) -> Floats:
    """Derivatives of the residuals. [-], shape (n_rows + 2, 4)"""
    shape, log_share = np.exp(guess[2]), _log_share(guess, rows)
    steep = shape * np.exp(np.minimum(shape * log_share, 50.0))
    columns = np.array([np.ones_like(steep), -steep, -steep * log_share, -steep * rows.inverse_mol_kj])
    believed = [[0.0, 0.0, 1 / SHAPE_PRIOR_LOG_SD, 0.0], [0.0, 0.0, 0.0, 1 / prior.sd_kj_mol]]
    return np.vstack([columns.T / STRENGTH_SD_RATIO, believed])


def _likeliest(rows: _Rows, prior: ActivationPrior) -> Floats:
    """Parameters of the smallest sum of squares, from several first guesses of the shape."""
    strongest, middle = float(rows.log_strength.max()), float(np.median(rows.log_age))
    low = [strongest - 0.5, math.log(1e-3), math.log(0.05), prior.mean_kj_mol - 6 * prior.sd_kj_mol]
    high = [strongest + 4.0, math.log(1e5), math.log(20.0), prior.mean_kj_mol + 6 * prior.sd_kj_mol]
    tries = [
        least_squares(
            _residuals,
            [strongest + 0.1, middle - 0.7, math.log(shape), prior.mean_kj_mol],
            jac=_slopes,
            bounds=(low, high),
            x_scale=[0.1, 0.1, 0.1, 1.0],
            xtol=1e-12,
            ftol=1e-12,
            args=(rows, prior),
        )
        for shape in FIRST_SHAPES
    ]
    best = min(tries, key=lambda found: float(found.cost))
    if not best.success:
        raise NotConverged(f"the search for a strength curve through {len(rows.log_age)} rows did not end")
    return np.asarray(best.x)


def _require_agreement(
    found: Floats, residuals: Floats, points: Sequence[StrengthPoint], prior: ActivationPrior
) -> None:
    moved = float(residuals[-1])
    if not -FARTHEST_PRIOR_SD <= moved <= FARTHEST_PRIOR_SD:
        reason = (
            f"the rows of several temperatures ask for {found[3]:.0f} kJ/mol, beyond "
            f"{prior.mean_kj_mol:g} ± {FARTHEST_PRIOR_SD * prior.sd_kj_mol:g} kJ/mol"
        )
        raise Unusable("activation energy", reason, source=prior.source)
    if float(chdtrc(len(points) - 2, float(np.sum(residuals**2)))) < LEAST_LIKELY:
        worst = int(np.argmax(np.abs(residuals[:-2])))
        reason = (
            f"no curve follows the rows within their scatter of {STRENGTH_SD_RATIO:.0%}; "
            f"{_named(points[worst])} lies farthest from the best one"
        )
        raise Unusable("strength rows", reason, source="DATASHEET")


def _covariance(slopes: Floats) -> Floats:
    """Inverse of the curvature at the likeliest parameters; refused where the rows leave one of them open."""
    scale = np.linalg.norm(slopes, axis=0)
    _, sizes, axes = np.linalg.svd(slopes / scale, full_matrices=False)
    loose = sizes[-1] < 1e-7
    scaled = axes.T / (scale[:, None] * np.where(loose, 1.0, sizes))
    covariance: Floats = scaled @ scaled.T
    names = ("ultimate strength", "time of the curve", "shape of the curve")
    for name, variance in zip(names, np.diag(covariance), strict=False):
        if loose or variance > LOOSEST_LOG_SD**2:
            reason = f"they fix the {name} to a factor of two at best; add rows at other ages, early and late"
            raise Unusable("strength rows", reason, source="GROUTJOBS")
    return covariance
