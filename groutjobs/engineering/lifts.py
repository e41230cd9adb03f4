"""What the heat of cure of one lift gives reason to say: a band for its peak, and findings against limits."""

from dataclasses import dataclass

import numpy as np

from groutjobs.engineering.checks import require_between
from groutjobs.engineering.exotherm import AirAround, Placements, curing_temperatures
from groutjobs.engineering.kinetics import CureKinetics
from groutjobs.engineering.layers import Layers
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

BAND_BINDER_RATIO = (2 / 3, 1.0, 4 / 3)
BAND_PACE_RATIO = (2 / 3, 1.0, 3 / 2)
"""Low, likely and high case: a third less or more binder, and a reaction two thirds or one and a half as fast.
GROUTJOBS: filled grouts hold 10 to 16 % of resin and hardener, and the pace of a product is seldom known."""
GENERAL_HINT = "The estimate rests on general figures, not on those of a product. "
LIFT_HINT = (
    "Pour thinner lifts and let each cool before the next, place cooler, or ask the supplier for the heat of this "
    "thickness. The supplier's written lift thickness decides. Mixed epoxy left in a pail gets far hotter and can "
    "smoke: follow the supplier's instruction and the plant's safety engineer."
)


@dataclass(frozen=True, kw_only=True)
class Peak:
    """The hottest a lift gets, how far that is above the warmer of grout and foundation, and when after the pour."""

    peak_c: float
    rise_k: float
    at_h: float


@dataclass(frozen=True, kw_only=True)
class PeakBand:
    """Low, likely and high estimate of the peak of one lift, and the source of the reaction's parameters."""

    grout_mm: float
    kinetics_source: str
    low: Peak
    likely: Peak
    high: Peak


@dataclass(frozen=True, kw_only=True)
class LiftLimits:
    """What a lift may do before somebody should ask. The supplier's lift thickness outranks both."""

    rise_k: float
    peak_c: float
    source: str

    def __post_init__(self) -> None:
        require_between("limit of the rise", self.rise_k, 1.0, 150.0, unit="K", source=self.source)
        require_between("limit of the peak", self.peak_c, 20.0, 200.0, unit="°C", source=self.source)


LIFT_LIMITS = LiftLimits(rise_k=30.0, peak_c=60.0, source="GROUTJOBS")
"""Cooling by 30 K shortens a filled epoxy by 0.9 mm/m at 30e-6 per kelvin, near what it can stretch before it cracks;
60 °C is near the glass temperature of a shop-cured resin. Both from memory; edit them for the job."""


def peak_band(layers: Layers, kinetics: CureKinetics, placements: Placements, around: AirAround) -> PeakBand:
    """Return low, likely and high peak of one lift.

    Parameters
    ----------
    layers : Plate, grout and foundation.
    kinetics : Parameters of the reaction.
    placements : Temperatures and mix of the likely case, shape (1,).
    around : Air and film from the pour on, shape (1, n_hours + 1).

    Returns
    -------
    The band; BAND_BINDER_RATIO and BAND_PACE_RATIO say what stands behind low and high.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or there is more than one case.

    Source
    ------
    [GROUTJOBS] three runs of curing_temperatures.
    """
    if layers.grout_mm is None:
        raise Unusable("layers", "heat of cure needs grout in place", source="GROUTJOBS")
    if placements.placed_c.size != 1:
        raise Unusable("placements", "the band is that of one case", source="GROUTJOBS")
    cases = Placements(
        placed_c=np.repeat(placements.placed_c, 3),
        foundation_c=np.repeat(placements.foundation_c, 3),
        plate_c=None if placements.plate_c is None else np.repeat(placements.plate_c, 3),
        binder_ratio=placements.binder_ratio * np.array(BAND_BINDER_RATIO),
        pace_ratio=placements.pace_ratio * np.array(BAND_PACE_RATIO),
    )
    air = AirAround(air_c=around.air_c.repeat(3, axis=0), film_w_m2k=around.film_w_m2k.repeat(3, axis=0))
    run = curing_temperatures(layers, kinetics, cases, air)
    low, likely, high = (
        Peak(peak_c=float(run.peak_c[i]), rise_k=float(run.peak_rise_k[i]), at_h=float(run.peak_at_h[i]))
        for i in range(3)
    )
    return PeakBand(
        grout_mm=layers.grout_mm,
        kinetics_source=kinetics.source,
        low=low,
        likely=likely,
        high=high,
    )


def lift_findings(band: PeakBand, limits: LiftLimits) -> list[Finding]:
    """Return what is to be said about the heat of one lift.

    Parameters
    ----------
    band : Low, likely and high peak of the lift.
    limits : Rise and peak to compare with.

    Returns
    -------
    A warning where the likely case passes a limit, a note where only the high case does, nothing otherwise. The margin
    is limit less estimate.

    Source
    ------
    [GROUTJOBS] comparison with editable limits; an estimate never stands in the way of a pour.
    """
    rows = (
        ("lift_rise", "rise", "K", limits.rise_k, band.low.rise_k, band.likely.rise_k, band.high.rise_k),
        ("lift_peak", "peak", "°C", limits.peak_c, band.low.peak_c, band.likely.peak_c, band.high.peak_c),
    )
    hint = (GENERAL_HINT if band.kinetics_source == "GROUTJOBS" else "") + LIFT_HINT
    found = []
    for code, word, unit, limit, low, likely, high in rows:
        if high <= limit:
            continue
        level = Level.WARNING if likely > limit else Level.NOTE
        estimate = f"an estimated {word} of {likely:.0f} {unit} ({low:.0f} to {high:.0f} {unit})"
        when = f"{band.likely.at_h:.0f} h after placing"
        message = f"The {band.grout_mm:.0f} mm lift heats itself: {estimate} about {when}; limit {limit:g} {unit}."
        about = f"{band.grout_mm:.0f} mm lift"
        found.append(
            Finding(
                level=level,
                code=code,
                message=message,
                source=limits.source,
                hint=hint,
                about=about,
                margin=limit - likely,
            )
        )
    return found
