"""Placed volume against the takeoff, compartment by compartment, while the pour runs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

ALARM_Z = 2.5
"""It must come twice running. In simulation 1 tight pour in 100 raises the alarm; a loss of a fifth always does."""


@dataclass(frozen=True, kw_only=True)
class VolumeErrors:
    """Standard deviations of what the comparison is made from, independent of each other. Edit them for the job.

    Yield is per kit as a whole (one lot, one error); residue is what stays in mixers and buckets, anew each batch.
    """

    yield_ratio: float = 0.015
    plan_ratio: float = 0.03
    level_ratio: float = 0.02
    residue_ratio: float = 0.01


@dataclass(frozen=True, kw_only=True)
class FillReading:
    """Where a compartment stands after a batch: volume placed into it so far, and how far it is filled by level."""

    placed_l: float
    batches: int
    filled_ratio: float


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """One reading against the takeoff. A positive difference is grout that is not seen in the compartment."""

    difference_l: float
    sd_l: float

    @property
    def z(self) -> float:
        return self.difference_l / self.sd_l


DEFAULT_ERRORS = VolumeErrors()


def compare(reading: FillReading, takeoff_l: float, errors: VolumeErrors = DEFAULT_ERRORS) -> Comparison:
    """Return the difference between placed and filled-by-level volume with its standard deviation.

    Parameters
    ----------
    reading : Volume placed [L], above 0; batches, 1 or more; filled ratio [-], 0 to 1.
    takeoff_l : Volume of the compartment by the takeoff. [L], above 0
    errors : Standard deviations as ratios, 0 or more, not all 0.

    Returns
    -------
    The comparison.

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [GROUTJOBS] independent errors of yield, plan, level and residue, added in quadrature.
    """
    require_above("volume by the takeoff", takeoff_l, 0.0, unit="L", source="GROUTJOBS")
    require_above("volume placed", reading.placed_l, 0.0, unit="L", source="GROUTJOBS")
    require_between("batches placed", reading.batches, 1, None, source="GROUTJOBS")
    require_between("filled share by level", reading.filled_ratio, 0.0, 1.0, source="GROUTJOBS")
    _check(errors)
    filled_l = reading.filled_ratio * takeoff_l
    sd_l = math.hypot(
        errors.yield_ratio * reading.placed_l,
        errors.plan_ratio * filled_l,
        errors.level_ratio * takeoff_l,
        errors.residue_ratio * reading.placed_l / math.sqrt(reading.batches),
    )
    require_above("standard deviation of the comparison", sd_l, 0.0, unit="L", source="GROUTJOBS")
    return Comparison(difference_l=reading.placed_l - filled_l, sd_l=sd_l)


def reconciliation_findings(
    compartment: str,
    readings: Sequence[FillReading],
    takeoff_l: float,
    errors: VolumeErrors = DEFAULT_ERRORS,
    *,
    system: str = units.METRIC,
) -> list[Finding]:
    """Return whether grout seems to be lost from a compartment, or air to be trapped in it.

    Parameters
    ----------
    compartment : Its name.
    readings : In the order taken; volume and batches never go down.
    takeoff_l : Volume of the compartment by the takeoff. [L], above 0
    errors : Standard deviations.
    system : Units that the reader sees.

    Returns
    -------
    "Check the forms" where the last two readings both lie above 2.5 standard deviations; "air may be trapped" where it
    is full by level and the volume placed lies below by more than 2.5.

    Raises
    ------
    OutOfRange : as compare.
    Unusable : volume or batches placed go down from one reading to the next.

    Source
    ------
    [GROUTJOBS] odds of a false alarm and of finding a leak are simulated in the tests.
    """
    for earlier, later in pairwise(readings):
        if later.placed_l < earlier.placed_l or later.batches < earlier.batches:
            raise Unusable(f"compartment {compartment}", "volume placed goes down between readings", source="GROUTJOBS")
    compared = [compare(reading, takeoff_l, errors) for reading in readings]
    if len(compared) >= 2 and min(compared[-2].z, compared[-1].z) > ALARM_Z:
        return [_leak(compartment, compared[-1], system)]
    if compared and readings[-1].filled_ratio >= 1.0 and compared[-1].z < -ALARM_Z:
        return [_trapped_air(compartment, compared[-1], system)]
    return []


def _leak(compartment: str, last: Comparison, system: str) -> Finding:
    return Finding(
        level=Level.WARNING,
        code="batch.check_forms",
        message=f"Compartment {compartment}: {units.shown(last.difference_l, 'l', system)} more was placed than its "
        f"level shows, twice running beyond {ALARM_Z:g} standard deviations of "
        f"{units.shown(last.sd_l, 'l', system)}.",
        hint="Check the forms, sleeves and neighbouring compartments for a leak; leaks do not seal themselves.",
        source="GROUTJOBS",
        about=compartment,
        margin=ALARM_Z - last.z,
    )


def _trapped_air(compartment: str, last: Comparison, system: str) -> Finding:
    return Finding(
        level=Level.WARNING,
        code="batch.trapped_air",
        message=f"Compartment {compartment} looks full, but {units.shown(-last.difference_l, 'l', system)} less was "
        f"placed than it holds, beyond {ALARM_Z:g} standard deviations (one is {units.shown(last.sd_l, 'l', system)}).",
        hint="Air may be trapped: see that every vent bleeds grout, and keep the head up until it does.",
        source="GROUTJOBS",
        about=compartment,
        margin=ALARM_Z + last.z,
    )


def _check(errors: VolumeErrors) -> None:
    for name, ratio in (
        ("error of the yield", errors.yield_ratio),
        ("error of the plan", errors.plan_ratio),
        ("error of the level", errors.level_ratio),
        ("error of the residue", errors.residue_ratio),
    ):
        require_between(name, ratio, 0.0, 1.0, source="GROUTJOBS")
