"""What moved between two level surveys of one plate: rise and sink of each place, and the turn of the plane."""

import math
from dataclasses import dataclass

import numpy as np

from groutjobs.engineering.checks import Floats, require_all_between
from groutjobs.engineering.levelling import SURE_SD, best_fit_plane, reading_sd_mm
from groutjobs.errors import Unusable


@dataclass(frozen=True, kw_only=True)
class LevelChange:
    """Change from one survey to the next; positive is a rise. `rise_sd_mm` holds for one place as read.

    `shape_mm` is what is left when the mean of all rises is taken out: it needs no datum that both surveys share.
    """

    rise_mm: Floats
    rise_sd_mm: float
    mean_rise_mm: float
    shape_mm: Floats
    shape_sd_mm: float
    tilt_along_mm_m: float
    tilt_across_mm_m: float
    tilt_along_sd_mm_m: float
    tilt_across_sd_mm_m: float

    def is_sure(self, number: int) -> bool:
        """Whether the place moved against the others by more than the readings leave open."""
        return abs(float(self.shape_mm[number])) >= SURE_SD * self.shape_sd_mm


def level_change(
    x_mm: Floats,
    y_mm: Floats,
    before_mm: Floats,
    after_mm: Floats,
    *,
    before_resolution_mm: float,
    after_resolution_mm: float,
) -> LevelChange:
    """Return what moved between two surveys read at the same places.

    Parameters
    ----------
    x_mm, y_mm : Places along and across the machine. [mm], shape (n_places,), -100000 to 100000; three or more
    before_mm : Elevations of the earlier survey. [mm], shape (n_places,), -1000000 to 1000000
    after_mm : Elevations of the later survey. [mm], shape (n_places,), -1000000 to 1000000
    before_resolution_mm : Smallest step read in the earlier survey. [mm], above 0
    after_resolution_mm : Smallest step read in the later survey. [mm], above 0

    Returns
    -------
    The change. The rise as read is one of the plate only where both surveys were read against one datum.

    Raises
    ------
    OutOfRange, Unusable : as best_fit_plane, for either survey.

    Source
    ------
    [GUM] 5.1, variances of independent readings add; a value less the mean of n has (n - 1)/n of its variance.
    [GROUTJOBS] limits of places and readings.
    """
    require_all_between("earlier level reading", before_mm, -1e6, 1e6, unit="mm", source="GROUTJOBS")
    require_all_between("later level reading", after_mm, -1e6, 1e6, unit="mm", source="GROUTJOBS")
    if not x_mm.shape == y_mm.shape == before_mm.shape == after_mm.shape:
        raise Unusable("level surveys", "places and elevations are not of one length", source="GROUTJOBS")
    first = best_fit_plane(x_mm, y_mm, before_mm, resolution_mm=before_resolution_mm)
    second = best_fit_plane(x_mm, y_mm, after_mm, resolution_mm=after_resolution_mm)
    rise = after_mm.astype(np.float64) - before_mm
    mean, sd = float(rise.mean()), math.hypot(reading_sd_mm(before_resolution_mm), reading_sd_mm(after_resolution_mm))
    along_sd, across_sd = (
        math.hypot(old, new) for old, new in zip(first.tilt_sd_mm_m, second.tilt_sd_mm_m, strict=True)
    )
    return LevelChange(
        rise_mm=rise,
        rise_sd_mm=sd,
        mean_rise_mm=mean,
        shape_mm=rise - mean,
        shape_sd_mm=sd * math.sqrt(1.0 - 1.0 / len(rise)),
        tilt_along_mm_m=second.tilt_along_mm_m - first.tilt_along_mm_m,
        tilt_across_mm_m=second.tilt_across_mm_m - first.tilt_across_mm_m,
        tilt_along_sd_mm_m=along_sd,
        tilt_across_sd_mm_m=across_sd,
    )
