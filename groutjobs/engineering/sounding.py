"""Sounding of a grouted plate: hollow area from a grid of taps, voids joined by edges, and the decision."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPoint, Polygon
from shapely import Point as PlanPoint

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.engineering.outlines import EDGE_TOLERANCE_MM, Point, checked_polygon, require_apart, require_point
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

GRID_VARIANCE = 0.0724
"""Variance of an area counted on a square grid of spacing s is 0.0724·s³·L for a boundary L long [GUNDERSEN1987]."""
STAIRCASE = math.pi / 4.0
"""Mean length of a boundary over the length of the staircase of square cells along it, over all directions."""
SHARED_EDGE = 0.05
UNTAPPED_NOTE = 0.05


@dataclass(frozen=True, kw_only=True)
class Tap:
    """One tap on the deck and how it rang."""

    x_mm: float
    y_mm: float
    hollow: bool


@dataclass(frozen=True, kw_only=True)
class Void:
    """Hollow cells that share edges, in one compartment. `taps` are indices into the survey's taps."""

    compartment: str
    area_m2: float
    taps: tuple[int, ...]
    outline: Polygon
    under_feet: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SoundedCompartment:
    """What the taps in one compartment stand for. The untapped area lies in no tap's cell."""

    name: str
    area_m2: float
    hollow_m2: float
    untapped_m2: float


@dataclass(frozen=True, kw_only=True)
class Sounding:
    """The whole survey. Voids come largest first."""

    spacing_mm: float
    compartments: tuple[SoundedCompartment, ...]
    voids: tuple[Void, ...]
    hollow_sd_m2: float
    cells: tuple[Polygon, ...]
    """Per tap the area that it stands for, clipped by its compartment."""

    @property
    def area_m2(self) -> float:
        return sum(compartment.area_m2 for compartment in self.compartments)

    @property
    def hollow_m2(self) -> float:
        return sum(compartment.hollow_m2 for compartment in self.compartments)

    @property
    def hollow_share(self) -> float:
        return self.hollow_m2 / self.area_m2


@dataclass(frozen=True, kw_only=True)
class SoundingLimits:
    """From what on a hollow place is repaired. Our proposal: the owner's rule outranks it."""

    single_void_m2: float = 0.01
    total_share: float = 0.05
    source: str = "GROUTJOBS"


DEFAULT_LIMITS = SoundingLimits()


def sounding(
    taps: Sequence[Tap],
    spacing_mm: float,
    compartments: Mapping[str, Sequence[Point]],
    feet: Mapping[str, Sequence[Point]],
) -> Sounding:
    """Return hollow areas and voids from taps on a square grid, finer in places if need be.

    Parameters
    ----------
    taps : One or more; two never at one place.
    spacing_mm : Spacing of the coarse grid. [mm], 20 to 1000
    compartments : Name → outline of each. [mm], -100000 to 100000
    feet : Name → outline of each foot, jackscrew or bolt surround that must not be hollow. [mm], -100000 to 100000

    Returns
    -------
    The survey. A tap stands for the places nearer to it than to any other tap, within its grid square and compartment.

    Raises
    ------
    OutOfRange : the spacing is outside its limits, or a coordinate is no number.
    Unusable : no tap or compartment, two taps at one place, outlines that cross or overlap, a tap in no compartment.

    Source
    ------
    [GROUTJOBS] cells and edges; [GUNDERSEN1987] sd of the area; [PRACTICE] grid of 100 to 150 mm.
    """
    require_between("spacing of the taps", spacing_mm, 20.0, 1000.0, unit="mm", source="GROUTJOBS")
    polygons = {name: checked_polygon(f"compartment {name}", outline) for name, outline in compartments.items()}
    feet_polygons = {name: checked_polygon(f"foot {name}", outline) for name, outline in feet.items()}
    if not polygons:
        raise Unusable("sounding", "no compartment", source="GROUTJOBS")
    require_apart({f"compartment {name}": polygon for name, polygon in polygons.items()})
    _check_taps(taps)
    homes = _homes(taps, polygons)
    cells = [
        square.intersection(polygons[home]) for square, home in zip(_squares(taps, spacing_mm), homes, strict=True)
    ]
    found = [void for name in polygons for void in _voids(taps, cells, homes, name, spacing_mm, feet_polygons)]
    return Sounding(
        spacing_mm=spacing_mm,
        compartments=tuple(_sounded(taps, cells, homes, name, polygon) for name, polygon in polygons.items()),
        voids=tuple(sorted(found, key=lambda void: -void.area_m2)),
        hollow_sd_m2=math.hypot(*(_area_sd_m2(void, polygons[void.compartment], spacing_mm) for void in found), 0.0),
        cells=tuple(cells),
    )


def sounding_findings(
    survey: Sounding, limits: SoundingLimits = DEFAULT_LIMITS, *, system: str = units.METRIC
) -> list[Finding]:
    """Return what must be repaired, and what the survey did not cover.

    Parameters
    ----------
    survey : From sounding().
    limits : The owner's rule, or our proposal.
    system : Units that the reader sees.

    Returns
    -------
    A blocker for each void above the single limit or under a foot, one for the total; warnings for area not tapped.

    Raises
    ------
    OutOfRange : a limit is negative or no number.

    Source
    ------
    [GROUTJOBS] limits by default; [BLOCH-MCM] p. 137: every void found is filled before the grouting is accepted.
    """
    require_between("limit of a single void", limits.single_void_m2, 0.0, None, unit="m²", source=limits.source)
    require_between("limit of the hollow share", limits.total_share, 0.0, 1.0, source=limits.source)
    found = []
    for void in survey.voids:
        found += _void_findings(void, limits, system)
    if survey.hollow_share > limits.total_share:
        found.append(_total_finding(survey, limits, system))
    for compartment in survey.compartments:
        share = compartment.untapped_m2 / compartment.area_m2
        if share > UNTAPPED_NOTE:
            found.append(
                Finding(
                    level=Level.WARNING,
                    code="sounding.untapped",
                    message=f"Compartment {compartment.name}: {share:.0%} of its area was not tapped.",
                    hint="Tap the rest on the same grid.",
                    source="GROUTJOBS",
                    about=compartment.name,
                    margin=UNTAPPED_NOTE - share,
                )
            )
    return found


def injection_volume_l(area_m2: float, least_depth_mm: float, greatest_depth_mm: float) -> tuple[float, float]:
    """Return the range of resin that voids may take.

    Parameters
    ----------
    area_m2 : Hollow area. [m²], 0 or more
    least_depth_mm : Depth of the shallowest void, a guess until drilled. [mm], above 0
    greatest_depth_mm : Depth of the deepest void. [mm], least_depth_mm or more

    Returns
    -------
    Least and greatest volume. [L]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [GROUTJOBS] area × depth. Inject by hand pressure and watch a dial: resin under pressure can lift the plate.
    """
    require_between("hollow area", area_m2, 0.0, None, unit="m²", source="GROUTJOBS")
    require_above("least depth of the void", least_depth_mm, 0.0, unit="mm", source="GROUTJOBS")
    require_between(
        "greatest depth of the void", greatest_depth_mm, least_depth_mm, None, unit="mm", source="GROUTJOBS"
    )
    return area_m2 * least_depth_mm, area_m2 * greatest_depth_mm


def _check_taps(taps: Sequence[Tap]) -> None:
    if not taps:
        raise Unusable("sounding", "no tap was recorded", source="GROUTJOBS")
    for number, tap in enumerate(taps, start=1):
        require_point(f"tap {number}", tap.x_mm, tap.y_mm)
    places = shapely.points([(tap.x_mm, tap.y_mm) for tap in taps])
    near = shapely.STRtree(places).query(places, predicate="dwithin", distance=EDGE_TOLERANCE_MM)
    twice = near[0][near[0] < near[1]]
    if len(twice):
        tap = taps[int(twice[0])]
        raise Unusable("sounding", f"two taps stand at ({tap.x_mm:.0f}, {tap.y_mm:.0f}) mm", source="GROUTJOBS")


def _homes(taps: Sequence[Tap], polygons: Mapping[str, Polygon]) -> list[str]:
    """The compartment of each tap; a tap on a shared edge belongs to the first."""
    names, shapes = list(polygons), list(polygons.values())
    homes = []
    for number, tap in enumerate(taps, start=1):
        distances = shapely.distance(shapes, PlanPoint(tap.x_mm, tap.y_mm))
        at = int(np.argmin(distances))
        if distances[at] > EDGE_TOLERANCE_MM:
            place = f"({tap.x_mm:.0f}, {tap.y_mm:.0f}) mm"
            raise Unusable(f"tap {number}", f"{place} lies in no compartment", source="GROUTJOBS")
        homes.append(names[at])
    return homes


def _squares(taps: Sequence[Tap], spacing_mm: float) -> list[Polygon]:
    """The grid square of each tap, cut down to the places that are nearer to it than to any other tap."""
    half = spacing_mm / 2.0
    squares = [shapely.box(t.x_mm - half, t.y_mm - half, t.x_mm + half, t.y_mm + half) for t in taps]
    if len(taps) == 1:
        return squares
    places = MultiPoint([(tap.x_mm, tap.y_mm) for tap in taps])
    nearest = shapely.voronoi_polygons(places, extend_to=shapely.unary_union(squares), ordered=True)
    return [square.intersection(near) for square, near in zip(squares, nearest.geoms, strict=True)]


def _sounded(
    taps: Sequence[Tap], cells: Sequence[Polygon], homes: Sequence[str], name: str, polygon: Polygon
) -> SoundedCompartment:
    own = [(tap, cell) for tap, cell, home in zip(taps, cells, homes, strict=True) if home == name]
    tapped_mm2 = sum(float(cell.area) for _, cell in own)
    return SoundedCompartment(
        name=name,
        area_m2=float(polygon.area) / 1e6,
        hollow_m2=sum(float(cell.area) for tap, cell in own if tap.hollow) / 1e6,
        untapped_m2=(float(polygon.area) - tapped_mm2) / 1e6,
    )


def _voids(
    taps: Sequence[Tap],
    cells: Sequence[Polygon],
    homes: Sequence[str],
    name: str,
    spacing_mm: float,
    feet: Mapping[str, Polygon],
) -> list[Void]:
    left = [i for i, tap in enumerate(taps) if tap.hollow and homes[i] == name and cells[i].area > 0.0]
    voids = []
    while left:
        group = [left.pop(0)]
        for member in group:
            joined = [i for i in left if _share_an_edge(cells[member], cells[i], spacing_mm)]
            left = [i for i in left if i not in joined]
            group += joined
        outline = shapely.unary_union([cells[i].buffer(EDGE_TOLERANCE_MM / 100.0, join_style="mitre") for i in group])
        voids.append(
            Void(
                compartment=name,
                area_m2=sum(float(cells[i].area) for i in group) / 1e6,
                taps=tuple(sorted(group)),
                outline=outline,
                under_feet=tuple(foot for foot, shape in feet.items() if outline.intersection(shape).area > 1.0),
            )
        )
    return voids


def _share_an_edge(cell: Polygon, other: Polygon, spacing_mm: float) -> bool:
    """Corners alone do not join two cells: the edge in common must be a twentieth of the spacing."""
    thin_mm = EDGE_TOLERANCE_MM / 10.0
    overlap_mm2 = cell.buffer(thin_mm, join_style="mitre").intersection(other).area
    return bool(overlap_mm2 > thin_mm * SHARED_EDGE * spacing_mm)


def _area_sd_m2(void: Void, compartment: Polygon, spacing_mm: float) -> float:
    """Edges along the compartment are known; only the ones drawn by taps are uncertain."""
    drawn = void.outline.boundary.difference(compartment.boundary.buffer(EDGE_TOLERANCE_MM))
    length_m = STAIRCASE * float(drawn.length) / 1000.0
    return math.sqrt(GRID_VARIANCE * math.pow(spacing_mm / 1000.0, 3.0) * length_m)


def _void_findings(void: Void, limits: SoundingLimits, system: str) -> list[Finding]:
    found = []
    area = units.shown(void.area_m2, "m2", system)
    if void.under_feet:
        found.append(
            Finding(
                level=Level.BLOCKER,
                code="sounding.under_foot",
                message=f"Compartment {void.compartment}: a hollow place of {area} reaches under "
                f"{', '.join(void.under_feet)}.",
                hint="Inject it and tap again before the bolts are tensioned.",
                source=limits.source,
                about=void.compartment,
            )
        )
    if void.area_m2 > limits.single_void_m2:
        found.append(
            Finding(
                level=Level.BLOCKER,
                code="sounding.single_void",
                message=f"Compartment {void.compartment}: a hollow place of {area}, more than "
                f"{units.shown(limits.single_void_m2, 'm2', system)}.",
                hint="Tap a finer grid round it, then inject it through two holes at opposite corners and tap again.",
                source=limits.source,
                about=void.compartment,
                margin=limits.single_void_m2 - void.area_m2,
            )
        )
    return found


def _total_finding(survey: Sounding, limits: SoundingLimits, system: str) -> Finding:
    return Finding(
        level=Level.BLOCKER,
        code="sounding.total",
        message=f"{survey.hollow_share:.1%} of the tapped plate rings hollow, "
        f"{units.shown(survey.hollow_m2, 'm2', system)} ± {units.shown(2.0 * survey.hollow_sd_m2, 'm2', system)}, "
        f"more than {limits.total_share:.0%}.",
        hint="Stop, and let the engineer decide between injection and grouting again.",
        source=limits.source,
        margin=limits.total_share - survey.hollow_share,
    )
