"""How fast a pour cures against its data sheet: from the data sheet alone, then from how its grout warmed itself."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from groutjobs.curing.models import Probe
from groutjobs.curing.series import GAP_H, HOUR, Floats, Series
from groutjobs.engineering.cure import CureClock
from groutjobs.engineering.cure_belief import CureBelief, belief_before
from groutjobs.engineering.cure_fit import CureFit, fit_cure
from groutjobs.engineering.grout_correction import (
    LONGEST_USED_H,
    NOTHING_FITS,
    GroutPace,
    PourSetting,
    belief_with_grout,
    grout_pace,
    product_kinetics,
)
from groutjobs.engineering.kinetics import CureKinetics
from groutjobs.engineering.layers import Layers
from groutjobs.engineering.materials import concrete, grout, steel
from groutjobs.engineering.strength import StrengthPoint
from groutjobs.equipment.geometry import baseplate_of, foundation_of
from groutjobs.equipment.models import Exposure
from groutjobs.errors import GroutJobsError, Unusable
from groutjobs.pours.models import Pour
from groutjobs.weather.models import Forecast

SURROUNDINGS = {Exposure.INDOORS: (8.0, 0.7), Exposure.SHELTERED: (12.0, 1.2), Exposure.OPEN: (18.0, 2.5)}
"""Film on the plate in W/m²·K, and how far the model strays in K: ours, wide where wind and sun reach the plate."""
NEAR_H = 2.0
"""A reading so close to the mixing tells how warm plate and foundation were then."""
TENTH = 1.2816
"""Spreads from the middle of a normal curve to its tenth part."""


@dataclass(frozen=True, kw_only=True)
class Rate:
    """What is believed of the pour, and why more is not known: in words, empty where everything was used.

    is_unlike is set where the grout temperatures fit no rate of this product; pace is what they told.
    """

    belief: CureBelief
    why_not: str = ""
    is_unlike: bool = False
    pace: GroutPace | None = None

    @property
    def is_slow(self) -> bool:
        """Nine in ten likely cures are slower than the data sheet."""
        return self.belief.rate_ratio * math.exp(TENTH * self.belief.log_rate_sd) < 1.0

    def as_json(self) -> dict[str, Any]:
        """Rate against the data sheet with its tenths, and what it rests on."""
        sd = self.belief.log_rate_sd
        return {
            "ratio": self.belief.rate_ratio,
            "low_ratio": self.belief.rate_ratio * math.exp(-TENTH * sd),
            "high_ratio": self.belief.rate_ratio * math.exp(TENTH * sd),
            "rests_on": ["data sheet", *self.belief.measured],
            "why_not": self.why_not,
            "mean": list(self.belief.mean),
            "covariance": [list(row) for row in self.belief.covariance],
            "is_unlike": self.is_unlike,
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> "Rate":
        """A rate as it was worked out behind the page."""
        belief = CureBelief(
            mean=tuple(stored["mean"]),
            covariance=tuple(tuple(row) for row in stored["covariance"]),
            basis="",
            measured=tuple(stored["rests_on"][1:]),
        )
        return cls(belief=belief, why_not=stored["why_not"], is_unlike=stored["is_unlike"])


def rate_of(
    pour: Pour, clock: CureClock, points: Sequence[StrengthPoint], series: dict[str, Series], forecast: Forecast | None
) -> Rate:
    """The rate of a pour whose last grout is placed. Unusable or NotConverged where the rows carry no fit."""
    fit = _fit(tuple(points), clock)
    before = belief_before(fit)
    try:
        found, why_not = _pace(*_compared(pour, fit, clock, series, forecast))
    except Unusable as error:
        return Rate(belief=before, why_not=error.reason)
    if found is None:
        is_unlike = why_not == NOTHING_FITS
        return Rate(
            belief=before, why_not="it fits no rate of this product" if is_unlike else why_not, is_unlike=is_unlike
        )
    return Rate(belief=belief_with_grout(before, found), pace=found)


def kinetics_of(points: Sequence[StrengthPoint], clock: CureClock) -> CureKinetics:
    """The reaction of the product as its data sheet lets expect."""
    fit = _fit(tuple(points), clock)
    return product_kinetics(fit.curve, fit.activation_kj_mol, clock)


def mixed_h(pour: Pour) -> float:
    """The mean hour of mixing, counted from placing: 0 or less."""
    if pour.placed_at is None or pour.poured_at is None:
        return 0.0
    return (pour.poured_at - pour.placed_at) / HOUR / 2


def setting_of(pour: Pour, series: dict[str, Series], air_c: float, *, is_cement: bool) -> PourSetting:
    """How the grout lies and how warm it began; what was not read is as planned, or as the air."""
    began_h = mixed_h(pour)
    read = series[Probe.GROUT].between(began_h, began_h + 1.0)
    first_c = float(read.temp_c[0]) if len(read) else pour.plan.planned_grout_c
    foundation_c = _near(series[Probe.CONCRETE], began_h, air_c)
    plate_c = _near(series[Probe.PLATE], began_h, foundation_c)
    return _setting(pour, first_c, foundation_c, plate_c, -2 * began_h, "cementitious" if is_cement else "epoxy")


@lru_cache(maxsize=64)
def _fit(points: tuple[StrengthPoint, ...], clock: CureClock) -> CureFit:
    return fit_cure(points, clock)


@lru_cache(maxsize=128)
def _pace(
    fit: CureFit,
    clock: CureClock,
    setting: PourSetting,
    air_c: tuple[float, ...],
    rows: tuple[tuple[float, float], ...],
) -> tuple[GroutPace | None, str]:
    """Worked out once for the same readings; it takes some tenths of a second."""
    at_h, temp_c = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    try:
        kinetics = product_kinetics(fit.curve, fit.activation_kj_mol, clock)
        return grout_pace(kinetics, setting, np.array(air_c), at_h, temp_c), ""
    except Unusable as error:
        return None, error.reason
    except GroutJobsError as error:
        return None, str(error)


def _compared(
    pour: Pour, fit: CureFit, clock: CureClock, series: dict[str, Series], forecast: Forecast | None
) -> tuple[CureFit, CureClock, PourSetting, tuple[float, ...], tuple[tuple[float, float], ...]]:
    """What is compared: the readings of the first day and a half, counted from the mean hour of mixing."""
    if pour.placed_at is None or pour.poured_at is None:
        raise Unusable("grout temperature", "the hour of the first batch is not known", source="GROUTJOBS")
    took_h = (pour.placed_at - pour.poured_at) / HOUR
    mixed_h = -took_h / 2
    read = series[Probe.GROUT].between(mixed_h, mixed_h + LONGEST_USED_H)
    if not len(read):
        raise Unusable("grout temperature", "no grout reading yet in the first hours", source="GROUTJOBS")
    air_c = _air_since(series[Probe.AIR], forecast, pour, mixed_h, float(read.at_h[-1]))
    first_c = float(read.temp_c[0]) if read.at_h[0] - mixed_h <= 1.0 else pour.plan.planned_grout_c
    foundation_c = _near(series[Probe.CONCRETE], mixed_h, air_c[0])
    setting = _setting(pour, first_c, foundation_c, _near(series[Probe.PLATE], mixed_h, foundation_c), took_h)
    rows = tuple((float(hour - mixed_h), float(temp)) for hour, temp in zip(read.at_h, read.temp_c, strict=True))
    return fit, clock, setting, air_c, rows


def _setting(
    pour: Pour, placed_c: float, foundation_c: float, plate_c: float, took_h: float, kind: str = "epoxy"
) -> PourSetting:
    machine = pour.plan.machine
    foundation, plate = foundation_of(machine), baseplate_of(machine)
    depths = [(row["area_m2"], row["depth_mean_mm"]) for row in pour.plan.result.get("compartments", ())]
    if foundation is None or plate is None or not depths:
        reason = "plate, foundation or grout depth of this machine is not on record"
        raise Unusable("grout temperature", reason, source="GROUTJOBS")
    film_w_m2k, model_sd_k = SURROUNDINGS[Exposure(foundation.exposure)]
    return PourSetting(
        layers=Layers(
            concrete=concrete(),
            concrete_mm=foundation.height_mm,
            plate=steel(),
            plate_mm=plate.thickness_mm,
            grout=grout(kind),
            grout_mm=sum(area * depth for area, depth in depths) / sum(area for area, _ in depths),
        ),
        placed_c=placed_c,
        foundation_c=foundation_c,
        plate_c=plate_c,
        film_w_m2k=film_w_m2k,
        model_sd_k=model_sd_k,
        start_sd_h=max(0.25, took_h / math.sqrt(12.0)),
    )


def _near(series: Series, hour: float, otherwise_c: float) -> float:
    """The reading nearest an hour, or another temperature where none is near."""
    if not len(series):
        return otherwise_c
    nearest = int(np.abs(series.at_h - hour).argmin())
    return float(series.temp_c[nearest]) if abs(series.at_h[nearest] - hour) <= NEAR_H else otherwise_c


def _air_since(air: Series, forecast: Forecast | None, pour: Pour, first_h: float, last_h: float) -> tuple[float, ...]:
    """Air at each hour from the mixing to past the last reading: measured, then as a forecast had it."""
    known = air
    if forecast is not None and not forecast.is_typical and pour.placed_at is not None:
        begins_h = (forecast.starts_at - pour.placed_at) / HOUR
        temps: Floats = np.array(forecast.values("temp_c"), dtype=np.float64)
        hours = Series(begins_h + np.arange(len(temps), dtype=np.float64), temps)
        measured = air.between(first_h - GAP_H, last_h + GAP_H)
        known = measured if len(measured) else Series()
        later = hours.between(float(known.at_h[-1]) + 1e-6 if len(known) else -math.inf, math.inf)
        known = known.then(later.at_h, later.temp_c)
    inside = known.between(first_h - GAP_H, last_h + GAP_H)
    edges = np.concatenate([[first_h], inside.at_h, [last_h]])
    if not len(inside) or np.diff(edges).max() > 2 * GAP_H:
        reason = "the air of the first hours is not known; bring readings of the air with those of the grout"
        raise Unusable("grout temperature", reason, source="GROUTJOBS")
    wanted = first_h + np.arange(math.ceil(last_h - first_h) + 1.0)
    return tuple(float(value) for value in np.interp(wanted, known.at_h, known.temp_c))
