"""When a milestone of the cure is reached, as a band: the hours by which 10, 50 and 90 % of likely cures are there.

What is uncertain: the fit of the data sheet, how fast this pour cures against it, and the temperatures where several
rows of them are given. For epoxy this is our model.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.cure import CureClock, equivalent_age_h
from groutjobs.engineering.cure_belief import CureBelief
from groutjobs.engineering.strength import FULL_CURE_H, Milestone
from groutjobs.errors import Unusable

SAMPLE_COUNT = 512
FINE_STEP_H = 0.25
AIR_PATHS = 12
"""Weathers to follow; their errors come in pairs of opposite sign. The spread of the cure is wider. GROUTJOBS."""
ENERGY_NODES = 13
"""Along few rows, ages are computed at so many activation energies and interpolated between, exact to 1e-5."""


@dataclass(frozen=True)
class CureSamples:
    """Equally likely cures, one per index of each array."""

    ultimate_mpa: Floats
    time_h: Floats
    shape: Floats
    activation_kj_mol: Floats
    rate: Floats


@dataclass(frozen=True)
class Band:
    """Hours by which 10, 50 and 90 % of the cures are there; None where the temperatures end before.

    reached_ratio is the share of the cures that are there before the temperatures end.
    """

    p10_h: float | None
    p50_h: float | None
    p90_h: float | None
    reached_ratio: float


def draw_cures(belief: CureBelief, seed: int, count: int = SAMPLE_COUNT) -> CureSamples:
    """Return equally likely cures of a pour; one seed gives one set.

    Parameters
    ----------
    belief : What is believed of the pour.
    seed : Start of the random numbers. [-], 0 or more
    count : How many cures. [-], 100 or more

    Returns
    -------
    Arrays of shape (count,). A cure whose activation energy no clock may have, 10 to 150 kJ/mol, is drawn again.

    Raises
    ------
    OutOfRange : fewer than 100 cures, or a negative seed.

    Source
    ------
    [BDA3] 4.1, samples of the normal approximation. [GROUTJOBS] limits of seed and count.
    """
    require_between("number of cures", count, 100, None, source="GROUTJOBS")
    require_between("seed", seed, 0, None, source="GROUTJOBS")
    random = np.random.default_rng(seed)
    drawn: Floats = np.zeros((0, 5))
    while len(drawn) < count:
        more = random.multivariate_normal(belief.mean, belief.covariance, count, method="eigh")
        drawn = np.vstack([drawn, more[(more[:, 3] >= 10.0) & (more[:, 3] <= 150.0)]])
    logs = drawn[:count]
    return CureSamples(
        ultimate_mpa=np.exp(logs[:, 0]),
        time_h=np.exp(logs[:, 1]),
        shape=np.exp(logs[:, 2]),
        activation_kj_mol=logs[:, 3],
        rate=np.exp(logs[:, 4]),
    )


@dataclass(frozen=True)
class CureAhead:
    """Equivalent ages of many cures along the temperatures of a pour; see cures_ahead."""

    samples: CureSamples
    at_h: Floats
    age_h: Floats

    def age_band(self, needed_equivalent_age_h: float) -> Band:
        """When the pour is as ripe as the product after so many hours at the reference temperature. [h], 0 or more"""
        require_between("needed equivalent age", needed_equivalent_age_h, 0.0, None, unit="h", source="GROUTJOBS")
        return self._band(np.full(len(self.age_h), needed_equivalent_age_h))

    def strength_band(self, needed_mpa: float) -> Band:
        """When the pour has a strength. [MPa], above 0; cures whose strength ends below it never have it"""
        require_above("strength asked for", needed_mpa, 0.0, unit="MPa", source="GROUTJOBS")
        require_between("strength asked for", needed_mpa, 0.0, 250.0, unit="MPa", source="GROUTJOBS")
        return self._band(self._needed_age_h(np.log(self.samples.ultimate_mpa / needed_mpa)))

    def share_band(self, needed_strength_ratio: float) -> Band:
        """When the pour has a share of the strength of the data sheet at 168 h. [-], above 0, up to 1"""
        require_above("share of strength", needed_strength_ratio, 0.0, source="GROUTJOBS")
        require_between("share of strength", needed_strength_ratio, 0.0, 1.0, source="GROUTJOBS")
        unripe = np.power(self.samples.time_h / FULL_CURE_H, self.samples.shape)
        return self._band(self._needed_age_h(unripe - math.log(needed_strength_ratio)))

    def age_quantiles_h(self, every: int = 1) -> tuple[Floats, Floats]:
        """Times, each so many-th, and the ages that 10, 50 and 90 % of the cures have not passed. [h], shape (3, n)"""
        return self.at_h[::every], np.asarray(np.quantile(self.age_h[:, ::every], [0.1, 0.5, 0.9], axis=0))

    def _needed_age_h(self, unripe: Floats) -> Floats:
        """Age at which ln(Su/strength) has come down to a number; infinite where it never does."""
        with np.errstate(divide="ignore", invalid="ignore"):
            ages_h = self.samples.time_h * np.power(unripe, -1 / self.samples.shape)
        return np.where(unripe > 0, ages_h, np.inf)

    def _band(self, needed_h: Floats) -> Band:
        reached = self.age_h >= needed_h[:, None]
        after = np.maximum(reached.argmax(axis=1), 1)
        rows = np.arange(len(self.age_h))
        low, high = self.age_h[rows, after - 1], self.age_h[rows, after]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(reached[:, 0], 0.0, (needed_h - low) / (high - low))
            found = self.at_h[after - 1] + share * (self.at_h[after] - self.at_h[after - 1])
        hours = np.where(reached.any(axis=1), found, np.inf)
        p10_h, p50_h, p90_h = (
            float(value) if math.isfinite(value) else None
            for value in np.quantile(hours, [0.1, 0.5, 0.9], method="inverted_cdf")
        )
        return Band(p10_h, p50_h, p90_h, float(np.mean(reached.any(axis=1))))


def air_paths_c(temp_c: Floats, sd_k: Floats, time_constant_h: float, seed: int) -> Floats:
    """Return equally likely courses of the air about a forecast; one seed gives one set.

    Parameters
    ----------
    temp_c : Forecast of each hour. [°C], shape (n_hours,), -60 to 60
    sd_k : Spread of its error at each hour. [K], shape (n_hours,), 0 to 20
    time_constant_h : After this time an error has faded to 37 %. [h], above 0
    seed : Start of the random numbers. [-], 0 or more

    Returns
    -------
    Air. [°C], shape (AIR_PATHS, n_hours); their mean is the forecast

    Raises
    ------
    OutOfRange : a value lies outside its limits.

    Source
    ------
    [GROUTJOBS] normal errors, each leaning on that of the hour before.
    """
    require_above("time constant of the errors", time_constant_h, 0.0, unit="h", source="GROUTJOBS")
    require_all_between("forecast of the air", temp_c, -60.0, 60.0, unit="°C", source="GROUTJOBS")
    require_all_between("spread of the air", sd_k, 0.0, 20.0, unit="K", source="GROUTJOBS")
    require_between("seed", seed, 0, None, source="GROUTJOBS")
    kept = math.exp(-1 / time_constant_h)
    errors = np.random.default_rng(seed).standard_normal((AIR_PATHS // 2, len(temp_c)))
    for hour in range(1, len(temp_c)):
        errors[:, hour] = kept * errors[:, hour - 1] + math.sqrt(1 - kept * kept) * errors[:, hour]
    return np.asarray(temp_c + sd_k * np.vstack([errors, -errors]))


def cures_ahead(
    samples: CureSamples, clock: CureClock, at_h: Floats, temp_c: Floats, fine_step_h: float = FINE_STEP_H
) -> CureAhead:
    """Return the equivalent ages of many cures along the temperatures of a pour, measured and ahead.

    Parameters
    ----------
    samples : Equally likely cures.
    clock : Reference temperature and limits of the product; its activation energy is not used.
    at_h : Time of each temperature after placing. [h], shape (n,), strictly rising
    temp_c : Grout temperature. [°C], shape (n_rows, n), time last, -40 to 200; cure i follows row i modulo n_rows
    fine_step_h : Within so long the age is taken as a straight line. [h], 0.01 to 24

    Returns
    -------
    The cures, which give a band for each need.

    Raises
    ------
    OutOfRange : a temperature lies outside its limits or is missing.
    Unusable : times do not rise, or the shapes differ.

    Source
    ------
    [ASTMC1074] equivalent age; for epoxy our model, [GROUTJOBS].
    """
    at_h, temp_c = np.asarray(at_h, dtype=np.float64), np.asarray(temp_c, dtype=np.float64)
    if temp_c.ndim != 2 or not len(temp_c) or temp_c.shape[-1:] != at_h.shape:
        reason = f"{at_h.shape} times and {temp_c.shape} temperatures; one or more rows are needed, one value a time"
        raise Unusable("cure readings", reason, source="GROUTJOBS")
    require_all_between("grout temperature", temp_c, -40.0, 200.0, unit="°C", source="GROUTJOBS")
    require_between("step", fine_step_h, 0.01, 24.0, unit="h", source="GROUTJOBS")
    grid, fine_c = _finer(at_h, temp_c, fine_step_h)
    ages_h = _ages_by_rows(samples.activation_kj_mol, clock, grid, fine_c)
    return CureAhead(samples, grid, ages_h * samples.rate[:, None])


def _ages_by_rows(activation_kj_mol: Floats, clock: CureClock, at_h: Floats, temp_c: Floats) -> Floats:
    """Equivalent ages of each activation energy along its row. [h], shape (n_cures, n)"""
    followed = np.arange(len(activation_kj_mol)) % len(temp_c)
    if len(temp_c) > ENERGY_NODES:
        each = zip(activation_kj_mol, temp_c[followed], strict=True)
        return np.array([_ages_h(energy, clock, at_h, row_c) for energy, row_c in each])
    nodes = _nodes(activation_kj_mol)
    weights = _weights(nodes, activation_kj_mol)
    at_nodes = np.array([_ages_h(node, clock, at_h, temp_c) for node in nodes])
    ages_h = np.zeros((len(followed), len(at_h)))
    for row in range(len(temp_c)):
        ages_h[followed == row] = weights[followed == row] @ at_nodes[:, row]
    return ages_h


def _ages_h(activation_kj_mol: float, clock: CureClock, at_h: Floats, temp_c: Floats) -> Floats:
    return equivalent_age_h(at_h, temp_c, replace(clock, activation_kj_mol=float(activation_kj_mol)))


def _finer(at_h: Floats, temp_c: Floats, step_h: float) -> tuple[Floats, Floats]:
    """The temperatures at steps that are no longer than asked for."""
    if at_h.ndim != 1 or len(at_h) < 2 or not np.isfinite(at_h).all() or not (np.diff(at_h) > 0).all():
        reason = "the times do not rise from each temperature to the next, or there are fewer than two"
        raise Unusable("cure readings", reason, source="GROUTJOBS")
    grid = np.union1d(at_h, np.arange(at_h[0], at_h[-1], step_h))
    return grid, np.array([np.interp(grid, at_h, row) for row in temp_c])


def _nodes(activation_kj_mol: Floats) -> Floats:
    """Chebyshev points over the activation energies of the samples."""
    low, high = float(activation_kj_mol.min()) - 0.01, float(activation_kj_mol.max()) + 0.01
    turns = np.cos(math.pi * (np.arange(ENERGY_NODES) + 0.5) / ENERGY_NODES)
    return np.asarray((low + high) / 2 + (high - low) / 2 * turns)


def _weights(nodes: Floats, values: Floats) -> Floats:
    """Shares of each node in the polynomial through all of them. [-], shape (n_values, n_nodes)"""
    columns = [
        np.prod([(values - other) / (node - other) for other in nodes if other != node], axis=0) for node in nodes
    ]
    return np.array(columns).T


def milestone_bands(milestones: Sequence[Milestone], ahead: CureAhead) -> dict[str, Band]:
    """Return the band of each milestone of a pour.

    Parameters
    ----------
    milestones : What is waited for: an equivalent age, or a share of the strength at 168 h.
    ahead : Cures along the temperatures of the pour.

    Returns
    -------
    Code → band. [h]

    Source
    ------
    [GROUTJOBS] hours by which 10, 50 and 90 % of equally likely cures are there.
    """
    bands = {}
    for milestone in milestones:
        if milestone.needed_equivalent_age_h is not None:
            bands[milestone.code] = ahead.age_band(milestone.needed_equivalent_age_h)
        elif milestone.needed_strength_ratio is not None:
            bands[milestone.code] = ahead.share_band(milestone.needed_strength_ratio)
    return bands
