"""Invented products and pours whose truth is known, for the tests of the fit and of the bands."""

import math
from dataclasses import dataclass, replace

import numpy as np

from groutjobs.engineering import cure, strength
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.cure import EPOXY_CLOCK, CureClock
from groutjobs.engineering.cure_fit import EPOXY_PRIOR, SHAPE_PRIOR_LOG_SD, STRENGTH_SD_RATIO
from groutjobs.engineering.strength import StrengthCurve, StrengthPoint

ONE_TEMPERATURE = ((23.0, 24.0), (23.0, 72.0), (23.0, 168.0))
THREE_TEMPERATURES = tuple((temp_c, age_h) for temp_c in (15.0, 23.0, 30.0) for age_h in (16.0, 24.0, 48.0, 168.0))
AT_H = np.arange(0.0, 300.0)
DAYS_AND_NIGHTS_C = 17 + 4 * np.sin(2 * math.pi * AT_H / 24)


@dataclass(frozen=True)
class Truth:
    """A product and a pour of it, both known exactly."""

    curve: StrengthCurve
    activation_kj_mol: float = 58.0
    rate: float = 1.0

    @property
    def clock(self) -> CureClock:
        return replace(EPOXY_CLOCK, activation_kj_mol=self.activation_kj_mol)

    @property
    def parameters(self) -> Floats:
        logs = np.log([self.curve.ultimate_mpa, self.curve.time_h, self.curve.shape])
        return np.array([*logs, self.activation_kj_mol, math.log(self.rate)])

    def rows(
        self, places: tuple[tuple[float, float], ...], random: np.random.Generator | None = None
    ) -> list[StrengthPoint]:
        """Data-sheet rows at (temperature, age), with the scatter of tests where random numbers are given."""
        factors = np.ones(len(places)) if random is None else scatter(random, len(places))
        return [
            StrengthPoint(age_h, temp_c, factor * self.at(age_h * cure.rate_ratio(self.clock, temp_c)))
            for (temp_c, age_h), factor in zip(places, factors, strict=True)
        ]

    def at(self, equivalent_age_h: float) -> float:
        return strength.strength_mpa(self.curve, equivalent_age_h)

    def ages_h(self, at_h: Floats, temp_c: Floats) -> Floats:
        """Ages of the pour by its own rate."""
        return self.rate * cure.equivalent_age_h(at_h, temp_c, self.clock)


PLAIN = Truth(StrengthCurve(ultimate_mpa=110.0, time_h=18.0, shape=1.0, scatter_ratio=0.0))


def scatter(random: np.random.Generator, count: int) -> Floats:
    return np.exp(random.normal(0.0, STRENGTH_SD_RATIO, count))


def drawn_truth(random: np.random.Generator, log_rate_sd: float) -> Truth:
    """A truth drawn from what the fit believes beforehand, and from all ordinary strengths and times."""
    curve = StrengthCurve(
        ultimate_mpa=random.uniform(80.0, 120.0),
        time_h=math.exp(random.uniform(math.log(10.0), math.log(25.0))),
        shape=math.exp(random.normal(0.0, SHAPE_PRIOR_LOG_SD)),
        scatter_ratio=0.0,
    )
    activation = random.normal(EPOXY_PRIOR.mean_kj_mol, EPOXY_PRIOR.sd_kj_mol)
    return Truth(curve, activation, math.exp(random.normal(0.0, log_rate_sd)))
