"""What the heat of cure of one lift gives reason to say: a band for its peak, and findings against limits."""

import math
from dataclasses import dataclass

import numpy as np

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
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
    if placements.placed_c.size != 1:
        raise Unusable("placements", "the band is that of one case", source="GROUTJOBS")
    return peak_bands(layers, kinetics, placements, around)[0]


def peak_bands(
    layers: Layers, kinetics: CureKinetics, placements: Placements, around: AirAround
) -> tuple[PeakBand, ...]:
    """Return the bands of a lift placed in several cases, in one run.

    Parameters
    ----------
    layers : Plate, grout and foundation.
    kinetics : Parameters of the reaction.
    placements : Temperatures and mix of the likely cases, shape (n_batch,).
    around : Air and film from the pour on, shape (n_batch, n_hours + 1).

    Returns
    -------
    One band for each case; see peak_band.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or there is no grout.

    Source
    ------
    [GROUTJOBS] one run of curing_temperatures over low, likely and high of each case.
    """
    if layers.grout_mm is None:
        raise Unusable("layers", "heat of cure needs grout in place", source="GROUTJOBS")
    n_cases = placements.placed_c.size
    cases = Placements(
        placed_c=np.repeat(placements.placed_c, 3),
        foundation_c=np.repeat(placements.foundation_c, 3),
        plate_c=None if placements.plate_c is None else np.repeat(placements.plate_c, 3),
        binder_ratio=np.repeat(placements.binder_ratio, 3) * np.tile(BAND_BINDER_RATIO, n_cases),
        pace_ratio=np.repeat(placements.pace_ratio, 3) * np.tile(BAND_PACE_RATIO, n_cases),
    )
    air = AirAround(air_c=around.air_c.repeat(3, axis=0), film_w_m2k=around.film_w_m2k.repeat(3, axis=0))
    run = curing_temperatures(layers, kinetics, cases, air)
    peaks = [
        Peak(peak_c=float(peak_c), rise_k=float(rise_k), at_h=float(at_h))
        for peak_c, rise_k, at_h in zip(run.peak_c, run.peak_rise_k, run.peak_at_h, strict=True)
    ]
    return tuple(
        PeakBand(
            grout_mm=layers.grout_mm,
            kinetics_source=kinetics.source,
            low=peaks[first],
            likely=peaks[first + 1],
            high=peaks[first + 2],
        )
        for first in range(0, len(peaks), 3)
    )


def lifts_needed(deepest_mm: float, most_mm: float) -> int:
    """Return in how many lifts of equal thickness a bed is poured.

    Parameters
    ----------
    deepest_mm : Depth at the deepest place. [mm], above 0
    most_mm : Greatest thickness of one lift. [mm], above 0

    Returns
    -------
    Count, 1 or more. [-]

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [GROUTJOBS] depth over thickness, rounded up; a millionth of a millimetre is rounding, not grout.
    [DATASHEET] thickness of one lift.

    Examples
    --------
    >>> lifts_needed(150.0, 150.0), lifts_needed(151.0, 150.0)
    (1, 2)
    """
    require_above("deepest place of the bed", deepest_mm, 0.0, unit="mm", source="GROUTJOBS")
    require_above("thickness of one lift", most_mm, 0.0, unit="mm", source="DATASHEET")
    return max(1, math.ceil((deepest_mm - 1e-6) / most_mm))


def lift_findings(band: PeakBand, limits: LiftLimits, *, system: str = units.METRIC) -> list[Finding]:
    """Return what is to be said about the heat of one lift.

    Parameters
    ----------
    band : Low, likely and high peak of the lift.
    limits : Rise and peak to compare with.
    system : Units that the reader sees.

    Returns
    -------
    A warning where the likely case passes a limit, a note where only the high case does, nothing otherwise. The margin
    is limit less estimate.

    Source
    ------
    [GROUTJOBS] comparison with editable limits; an estimate never stands in the way of a pour.
    """
    rows = (
        ("lift_rise", "rise", "k", limits.rise_k, band.low.rise_k, band.likely.rise_k, band.high.rise_k),
        ("lift_peak", "peak", "c", limits.peak_c, band.low.peak_c, band.likely.peak_c, band.high.peak_c),
    )
    start_c = band.likely.peak_c - band.likely.rise_k
    lift, start = (
        units.shown(band.grout_mm, "mm", system, decimals=_lift_decimals(system)),
        _whole(start_c, "c", system),
    )
    hint = (GENERAL_HINT if band.kinetics_source == "GROUTJOBS" else "") + LIFT_HINT
    found = []
    for code, word, suffix, limit, low, likely, high in rows:
        if high <= limit:
            continue
        level = Level.WARNING if likely > limit else Level.NOTE
        between = f"{_number(low, suffix, system)} to {_whole(high, suffix, system)}"
        estimate = f"an estimated {word} of {_whole(likely, suffix, system)} ({between})"
        when = f"{band.likely.at_h:.0f} h after placing; limit {_whole(limit, suffix, system)}"
        message = f"The {lift} lift heats itself from {start}: {estimate} about {when}."
        found.append(
            Finding(
                level=level,
                code=code,
                message=message,
                source=limits.source,
                hint=hint,
                about=f"{lift} lift",
                margin=limit - likely,
            )
        )
    return found


def _number(value: float, suffix: str, system: str) -> str:
    return f"{units.from_si(value, suffix, units.preferred_unit(suffix, system).key):.0f}"


def _whole(value: float, suffix: str, system: str) -> str:
    """A rise in °F reads as a rise: the word before it says that it is a difference."""
    label = units.preferred_unit(suffix, system).label.removesuffix(" difference")
    return f"{_number(value, suffix, system)} {label}"


def _lift_decimals(system: str) -> int:
    """Whole millimetres, tenths of an inch."""
    return 1 if system == units.US else 0
