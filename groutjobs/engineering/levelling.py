"""Level of a plate from elevations: best-fit plane, flatness, twist, and the verdict."""

import math
from dataclasses import dataclass

import numpy as np

from groutjobs import units
from groutjobs.engineering.checks import Floats, require_above, require_all_between
from groutjobs.engineering.outlines import EDGE_TOLERANCE_MM, PLAN_LIMIT_MM, Point, require_point
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

ONE_LINE = 1e-3
SURE_SD = 2.0
"""A reading this many standard deviations from a limit is on its side of it."""


@dataclass(frozen=True, kw_only=True)
class Plane:
    """The least-squares plane through elevations, at its centroid.

    `covariance` is of elevation [mm], tilt along and tilt across [mm/m], in this order, from the reading resolution
    alone. Tilt along is positive where elevation rises with x, tilt across where it rises with y.
    """

    centroid_x_mm: float
    centroid_y_mm: float
    elevation_mm: float
    tilt_along_mm_m: float
    tilt_across_mm_m: float
    residuals_mm: Floats
    covariance: Floats

    def elevation_at_mm(self, x_mm: float, y_mm: float) -> float:
        """Elevation of the plane at one place. [mm]"""
        along_m, across_m = (x_mm - self.centroid_x_mm) / 1000.0, (y_mm - self.centroid_y_mm) / 1000.0
        return self.elevation_mm + self.tilt_along_mm_m * along_m + self.tilt_across_mm_m * across_m

    @property
    def tilt_sd_mm_m(self) -> tuple[float, float]:
        """Standard deviation of tilt along and tilt across."""
        return math.sqrt(float(self.covariance[1, 1])), math.sqrt(float(self.covariance[2, 2]))


@dataclass(frozen=True, kw_only=True)
class Steepest:
    """The two readings with the largest difference for their distance; indices of the lower and the higher one."""

    slope_mm_m: float
    sd_mm_m: float
    lower: int
    higher: int
    distance_mm: float


@dataclass(frozen=True, kw_only=True)
class LevelSurvey:
    """What a set of elevations says about a plate. `twist_mm` is None where four corners cannot be told apart."""

    plane: Plane
    reading_sd_mm: float
    steepest: Steepest
    elevation_range_mm: float
    coplanarity_mm: float
    twist_mm: float | None


@dataclass(frozen=True, kw_only=True)
class LevelLimit:
    """How level, and how flat, a plate must be. `coplanarity_mm` is None where the source gives none."""

    label: str
    tilt_mm_m: float
    coplanarity_mm: float | None
    source: str


LEVEL_LIMITS: dict[str, LevelLimit] = {
    "soleplate": LevelLimit(
        label="soleplate, 0.0005 in/ft, and 0.005 in between any two points",
        tilt_mm_m=units.to_si(0.0005, "mm_m", "in_ft"),
        coplanarity_mm=units.to_si(0.005, "mm", "in"),
        source="API686",
    ),
    "turbomachinery": LevelLimit(
        label="turbomachinery baseplate, 0.001 in/ft, as some owners specify",
        tilt_mm_m=units.to_si(0.001, "mm_m", "in_ft"),
        coplanarity_mm=None,
        source="PRACTICE",
    ),
    "pump": LevelLimit(
        label="pump baseplate, 0.002 in/ft, and pads in one plane within 0.002 in",
        tilt_mm_m=units.to_si(0.002, "mm_m", "in_ft"),
        coplanarity_mm=units.to_si(0.002, "mm", "in"),
        source="PPH",
    ),
    "machined_pads": LevelLimit(
        label="machined pads, 0.15 mm/m as printed, 10 % tighter than the 0.002 in/ft beside it",
        tilt_mm_m=0.15,
        coplanarity_mm=None,
        source="API610",
    ),
    "small_process_pump": LevelLimit(
        label="small process pump baseplate, 0.005 in/ft",
        tilt_mm_m=units.to_si(0.005, "mm_m", "in_ft"),
        coplanarity_mm=None,
        source="PRACTICE",
    ),
}
"""Defaults by kind of plate; the owner's specification outranks them."""


def reading_sd_mm(resolution_mm: float) -> float:
    """Return the standard deviation that the resolution of an instrument leaves in one reading.

    Parameters
    ----------
    resolution_mm : Smallest step that is read. [mm], above 0

    Returns
    -------
    Standard deviation of a value rounded to that step. [mm]

    Raises
    ------
    OutOfRange : the resolution is not above 0.

    Source
    ------
    [GUM] F.2.2.1, uniform distribution: step / √12.
    """
    require_above("reading resolution", resolution_mm, 0.0, unit="mm", source="GUM")
    return resolution_mm / math.sqrt(12.0)


def best_fit_plane(x_mm: Floats, y_mm: Floats, elevation_mm: Floats, *, resolution_mm: float) -> Plane:
    """Return the least-squares plane through elevations read on a plate.

    Parameters
    ----------
    x_mm, y_mm : Places along and across the machine. [mm], shape (n_readings,), -100000 to 100000; three or more
    elevation_mm : Elevations read there. [mm], shape (n_readings,), -1000000 to 1000000
    resolution_mm : Smallest step that is read. [mm], above 0

    Returns
    -------
    The plane, its residuals (reading less plane) and covariance.

    Raises
    ------
    OutOfRange : a value is no number.
    Unusable : fewer than three readings, different lengths, or all places on one line.

    Source
    ------
    [GROUTJOBS] ordinary least squares; [GUM] 5.1 for the covariance.
    """
    sd_mm = reading_sd_mm(resolution_mm)
    x, y, z = _readings(x_mm, y_mm, elevation_mm)
    design = np.column_stack([np.ones_like(x), (x - x.mean()) / 1000.0, (y - y.mean()) / 1000.0])
    middle = float(z.mean())
    found, *_ = np.linalg.lstsq(design, z - middle, rcond=None)
    return Plane(
        centroid_x_mm=float(x.mean()),
        centroid_y_mm=float(y.mean()),
        elevation_mm=middle + float(found[0]),
        tilt_along_mm_m=float(found[1]),
        tilt_across_mm_m=float(found[2]),
        residuals_mm=z - middle - design @ found,
        covariance=sd_mm**2 * np.linalg.inv(design.T @ design),
    )


def level_survey(x_mm: Floats, y_mm: Floats, elevation_mm: Floats, *, resolution_mm: float) -> LevelSurvey:
    """Return plane, steepest pair, coplanarity and twist of elevations read on a plate.

    Parameters
    ----------
    x_mm, y_mm : Places along and across the machine. [mm], shape (n_readings,), -100000 to 100000; three or more
    elevation_mm : Elevations read there. [mm], shape (n_readings,), -1000000 to 1000000
    resolution_mm : Smallest step that is read. [mm], above 0

    Returns
    -------
    The survey. Coplanarity is the span of the residuals from the best-fit plane; twist is how far the diagonal of the
    first and third corner stands above the other one where they cross, corners counted from low x and low y.

    Raises
    ------
    OutOfRange, Unusable : as best_fit_plane; two readings at one place.

    Source
    ------
    [GROUTJOBS] definitions above; two readings have the sd of one, [GUM] F.2.2.1, times √2.
    """
    plane = best_fit_plane(x_mm, y_mm, elevation_mm, resolution_mm=resolution_mm)
    sd_mm = reading_sd_mm(resolution_mm)
    return LevelSurvey(
        plane=plane,
        reading_sd_mm=sd_mm,
        steepest=_steepest(x_mm, y_mm, elevation_mm, sd_mm),
        elevation_range_mm=float(np.ptp(elevation_mm)),
        coplanarity_mm=float(np.ptp(plane.residuals_mm)),
        twist_mm=_twist_mm(x_mm, y_mm, elevation_mm),
    )


def level_findings(survey: LevelSurvey, limit: LevelLimit, *, system: str = units.METRIC) -> list[Finding]:
    """Return where a plate is out of its limit, and where the readings are too coarse to tell.

    Parameters
    ----------
    survey : From level_survey().
    limit : One of LEVEL_LIMITS, or the owner's.
    system : Units that the reader sees.

    Returns
    -------
    Blockers for tilt along, tilt across, any two points and coplanarity; warnings within two standard deviations of a
    limit. An empty list means level and flat within the limit, surely.

    Raises
    ------
    OutOfRange : a limit is not above 0.

    Source
    ------
    [GROUTJOBS] the comparison; the limit carries its own source.
    """
    require_above("limit of level", limit.tilt_mm_m, 0.0, unit="mm/m", source=limit.source)
    along_sd, across_sd = survey.plane.tilt_sd_mm_m
    steepest = survey.steepest
    rows = [
        ("tilt_along", "tilt along the machine", abs(survey.plane.tilt_along_mm_m), limit.tilt_mm_m, along_sd, "mm_m"),
        (
            "tilt_across",
            "tilt across the machine",
            abs(survey.plane.tilt_across_mm_m),
            limit.tilt_mm_m,
            across_sd,
            "mm_m",
        ),
        ("two_points", "steepest two points", steepest.slope_mm_m, limit.tilt_mm_m, steepest.sd_mm_m, "mm_m"),
    ]
    if limit.coplanarity_mm is not None:
        require_above("limit of coplanarity", limit.coplanarity_mm, 0.0, unit="mm", source=limit.source)
        range_sd = math.sqrt(2.0) * survey.reading_sd_mm
        rows.append(
            ("coplanarity", "span about one plane", survey.coplanarity_mm, limit.coplanarity_mm, range_sd, "mm")
        )
    found = [_level_finding(row, limit.source, system) for row in rows]
    return [finding for finding in found if finding is not None]


def _readings(x_mm: Floats, y_mm: Floats, elevation_mm: Floats) -> tuple[Floats, Floats, Floats]:
    if not x_mm.shape == y_mm.shape == elevation_mm.shape or x_mm.ndim != 1:
        raise Unusable("level readings", "places and elevations are not of one length", source="GROUTJOBS")
    if len(x_mm) < 3:
        raise Unusable("level readings", f"{len(x_mm)} readings, at least 3 are needed", source="GROUTJOBS")
    for number, (x, y) in enumerate(zip(x_mm, y_mm, strict=True), start=1):
        require_point(f"level reading {number}", float(x), float(y))
    require_all_between("level reading", elevation_mm, -1e6, 1e6, unit="mm", source="GROUTJOBS")
    require_spread("level readings", np.column_stack([x_mm, y_mm]))
    return x_mm.astype(np.float64), y_mm.astype(np.float64), elevation_mm.astype(np.float64)


def require_spread(quantity: str, places: Floats) -> None:
    """Raise Unusable where places in plan lie on one line, on which no plane stands.

    Parameters
    ----------
    quantity : What stands at the places, for the error.
    places : Places in plan. [mm], shape (n, 2), -100000 to 100000

    Raises
    ------
    OutOfRange : a place is no number, or lies beyond 100 m.
    Unusable : the spread across is a thousandth of that along, or less.

    Source
    ------
    [GROUTJOBS] ratio of the singular values of the places.
    """
    require_all_between(quantity, places, -PLAN_LIMIT_MM, PLAN_LIMIT_MM, unit="mm", source="GROUTJOBS")
    along, across = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if across <= ONE_LINE * along:
        raise Unusable(quantity, "all places lie on one line", source="GROUTJOBS")


def _steepest(x_mm: Floats, y_mm: Floats, elevation_mm: Floats, sd_mm: float) -> Steepest:
    first, second = np.triu_indices(len(x_mm), k=1)
    distance = np.hypot(x_mm[first] - x_mm[second], y_mm[first] - y_mm[second])
    if distance.min() < EDGE_TOLERANCE_MM:
        raise Unusable("level readings", "two readings stand at the same place", source="GROUTJOBS")
    difference = elevation_mm[first] - elevation_mm[second]
    at = int((np.abs(difference) / distance).argmax())
    pair = (int(second[at]), int(first[at])) if difference[at] > 0 else (int(first[at]), int(second[at]))
    return Steepest(
        slope_mm_m=float(abs(difference[at]) / distance[at]) * 1000.0,
        sd_mm_m=math.sqrt(2.0) * sd_mm / float(distance[at]) * 1000.0,
        lower=pair[0],
        higher=pair[1],
        distance_mm=float(distance[at]),
    )


def _twist_mm(x_mm: Floats, y_mm: Floats, elevation_mm: Floats) -> float | None:
    """Corners are the readings farthest out towards (−x, −y), (+x, −y), (+x, +y) and (−x, +y)."""
    corners = [int((sx * x_mm + sy * y_mm).argmax()) for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    if len(set(corners)) < 4:
        return None
    places = [(float(x_mm[c]), float(y_mm[c])) for c in corners]
    along_first, along_second = _crossing(*places)
    a, b, c, d = (float(elevation_mm[corner]) for corner in corners)
    return (a + along_first * (c - a)) - (b + along_second * (d - b))


def _crossing(a: Point, b: Point, c: Point, d: Point) -> tuple[float, float]:
    """Where the diagonals a–c and b–d cross, as a share of each."""
    rows = np.array([[c[0] - a[0], b[0] - d[0]], [c[1] - a[1], b[1] - d[1]]])
    shares = np.linalg.solve(rows, np.array([b[0] - a[0], b[1] - a[1]]))
    return float(shares[0]), float(shares[1])


def _level_finding(row: tuple[str, str, float, float, float, str], source: str, system: str) -> Finding | None:
    code, what, value, limit, sd, suffix = row
    if limit - value >= SURE_SD * sd:
        return None
    out = value > limit
    places = 4 if system == units.US else 3
    shown, at_most, twice_sd = (
        units.shown(part, suffix, system, decimals=places) for part in (value, limit, SURE_SD * sd)
    )
    numbers = f"{shown}, limit {at_most}"
    unsure = "" if value - limit >= SURE_SD * sd else f"; the readings tell it to ± {twice_sd}"
    return Finding(
        level=Level.BLOCKER if out else Level.WARNING,
        code=f"level.{code}",
        message=f"{what.capitalize()} {numbers}{unsure}.",
        hint="Correct the plate on its jackscrews and read again."
        if out
        else "Read again with a finer instrument, or over a longer base.",
        source=source,
        margin=limit - value,
    )
