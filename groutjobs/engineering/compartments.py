"""Compartments of a baseplate: the ways grout gets in and air gets out of them, and joints along the bed."""

import enum
import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import MultiPoint, Polygon
from shapely import Point as PlanPoint

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.engineering.outlines import (
    EDGE_TOLERANCE_MM,
    Point,
    checked_polygon,
    require_apart,
    require_inside,
    require_point,
)
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

FLOW_LIMIT_MM = units.to_si(48.0, "mm", "in")
"""From a fill hole [ACI351.4] 3.1.6, where 1.2 m is the rounded metric figure."""
FILL_HOLE_MM = 100.0
VENT_HOLE_MM = 13.0
SMALLEST_VENT_MM = 6.0
JOINT_SPACING_M = 1.5
LONGEST_PANEL_M = 1.8


class HoleKind(enum.StrEnum):
    """What a hole through the plate is for."""

    FILL = "fill"
    VENT = "vent"


@dataclass(frozen=True, kw_only=True)
class Hole:
    """A round hole through the plate."""

    kind: HoleKind
    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(frozen=True, kw_only=True)
class Compartment:
    """One part of the underside, filled as a whole. `open_edge` tells that grout comes in from the side of the plate.

    `fill_above_mm` is how far grout rises above the underside elevation in it, for a box filled up to its deck.
    """

    name: str
    outline: tuple[Point, ...]
    fill_above_mm: float = 0.0
    open_edge: bool = False


def checked_compartments(plate: Polygon, compartments: Sequence[Compartment]) -> dict[str, Polygon]:
    """Return name → polygon of compartments that lie inside the plate and apart from each other.

    Parameters
    ----------
    plate : Outline of the plate. [mm]
    compartments : The compartments, each with a name of its own.

    Raises
    ------
    OutOfRange : a coordinate or a fill height is no number, or the height is negative.
    Unusable : an outline is not simple, leaves the plate, overlaps another, or a name comes twice.

    Source
    ------
    [GROUTJOBS] edges within 1 mm of each other are one edge.
    """
    polygons: dict[str, Polygon] = {}
    for compartment in compartments:
        if compartment.name in polygons:
            raise Unusable(f"compartment {compartment.name}", "the name comes twice", source="GROUTJOBS")
        label = f"compartment {compartment.name}"
        require_between(f"{label}, fill height", compartment.fill_above_mm, 0.0, 2000.0, unit="mm", source="GROUTJOBS")
        polygons[compartment.name] = checked_polygon(label, compartment.outline)
        require_inside(label, polygons[compartment.name], "plate", plate)
    require_apart({f"compartment {name}": polygon for name, polygon in polygons.items()})
    return polygons


def flow_distance_mm(compartment: Polygon, fill_holes: Sequence[Hole]) -> float:
    """Return the straight distance from the farthest place of a compartment to its nearest fill hole.

    Parameters
    ----------
    compartment : Its outline. [mm]
    fill_holes : One or more; the centre counts.

    Returns
    -------
    Distance; the way round a stiffener is longer. [mm]

    Raises
    ------
    OutOfRange : the centre of a hole is no number.
    Unusable : there is no hole.

    Source
    ------
    [GROUTJOBS] the distance to the nearest hole is largest at a corner of that hole's share of the compartment.
    """
    for number, hole in enumerate(fill_holes, start=1):
        require_point(f"fill hole {number}", hole.x_mm, hole.y_mm)
    centres = {(hole.x_mm, hole.y_mm) for hole in fill_holes}
    if not centres:
        raise Unusable("flow distance", "no fill hole", source="ACI351.4")
    shares = [compartment]
    if len(centres) > 1:
        cells = shapely.voronoi_polygons(MultiPoint(sorted(centres)), extend_to=compartment)
        shares = [compartment.intersection(cell) for cell in cells.geoms]
    corners = shapely.get_coordinates([share for share in shares if share.area > 0.0])
    return max(min(math.dist(corner, centre) for centre in centres) for corner in corners)


def compartment_findings(
    plate_outline: Sequence[Point],
    compartments: Sequence[Compartment],
    holes: Sequence[Hole],
    *,
    system: str = units.METRIC,
) -> list[Finding]:
    """Return what is wrong with the holes: none to fill or vent through, too small, or too far to flow.

    Parameters
    ----------
    plate_outline : Outline of the plate. [mm], -100000 to 100000
    compartments : Its compartments.
    holes : All fill and vent holes; one within 1 mm of a compartment's edge belongs to it.
    system : Units that the reader sees.

    Returns
    -------
    Findings in the order of the compartments.

    Raises
    ------
    OutOfRange, Unusable : as checked_compartments; a hole of no size or off the plate.

    Source
    ------
    [API686] 5-3.8.5 fill holes; [ACI351.5] 3.1.6 vents from 6 mm; [API610] vents from 13 mm; [ACI351.4] 3.1.6 flow.
    [GROUTJOBS] limits of a place in plan.
    """
    plate = checked_polygon("plate", plate_outline)
    polygons = checked_compartments(plate, compartments)
    for hole in holes:
        _require_hole(plate, hole)
    found: list[Finding] = []
    for compartment in compartments:
        polygon = polygons[compartment.name]
        own = [h for h in holes if polygon.distance(PlanPoint(h.x_mm, h.y_mm)) <= EDGE_TOLERANCE_MM]
        found += _fill_findings(compartment, polygon, [h for h in own if h.kind is HoleKind.FILL], system)
        found += _vent_findings(compartment, [h for h in own if h.kind is HoleKind.VENT], system)
    return found


def _require_hole(plate: Polygon, hole: Hole) -> None:
    label = f"{hole.kind} hole at ({hole.x_mm:g}, {hole.y_mm:g}) mm"
    require_point(label, hole.x_mm, hole.y_mm)
    require_above(f"{label}, diameter", hole.diameter_mm, 0.0, unit="mm", source="API686")
    off_mm = float(plate.distance(PlanPoint(hole.x_mm, hole.y_mm)))
    if off_mm > EDGE_TOLERANCE_MM:
        raise Unusable(label, f"lies {off_mm:.0f} mm off the plate", source="GROUTJOBS")


def _fill_findings(compartment: Compartment, polygon: Polygon, fill: list[Hole], system: str) -> list[Finding]:
    if not fill:
        return [] if compartment.open_edge else [_no_fill_hole(compartment.name, system)]
    found = []
    smallest_mm = min(hole.diameter_mm for hole in fill)
    if smallest_mm < FILL_HOLE_MM:
        found.append(_small_fill_hole(compartment.name, smallest_mm, system))
    flow_mm = flow_distance_mm(polygon, fill)
    if flow_mm > FLOW_LIMIT_MM:
        found.append(_far_flow(compartment.name, flow_mm, system))
    return found


def _no_fill_hole(about: str, system: str) -> Finding:
    return Finding(
        level=Level.BLOCKER,
        code="takeoff.fill_hole_missing",
        message=f"Compartment {about} has no fill hole.",
        hint=f"Cut one of {units.shown(FILL_HOLE_MM, 'mm', system)} or more at its centre, or mark the compartment as "
        "open at the edge if grout is poured in from the side.",
        source="API686",
        about=about,
    )


def _small_fill_hole(about: str, smallest_mm: float, system: str) -> Finding:
    return Finding(
        level=Level.WARNING,
        code="takeoff.fill_hole_small",
        message=f"Compartment {about}: fill hole {units.shown(smallest_mm, 'mm', system)}, "
        f"{units.shown(FILL_HOLE_MM, 'mm', system)} or more is asked for.",
        hint="Open the hole up, or plan a slower pour through a funnel that fits it.",
        source="API686",
        about=about,
        margin=smallest_mm - FILL_HOLE_MM,
    )


def _far_flow(about: str, flow_mm: float, system: str) -> Finding:
    return Finding(
        level=Level.WARNING,
        code="takeoff.flow_far",
        message=f"Compartment {about}: grout flows {units.shown(flow_mm, 'mm', system)} from the nearest fill hole, "
        f"more than {units.shown(FLOW_LIMIT_MM, 'mm', system)}.",
        hint="Add a fill hole, so that the pour can go on from one hole to the next.",
        source="ACI351.4",
        about=about,
        margin=FLOW_LIMIT_MM - flow_mm,
    )


def _vent_findings(compartment: Compartment, vents: list[Hole], system: str) -> list[Finding]:
    if not vents:
        return [] if compartment.open_edge else [_no_vent(compartment.name, system)]
    smallest_mm = min(hole.diameter_mm for hole in vents)
    return [] if smallest_mm >= VENT_HOLE_MM else [_small_vent(compartment.name, smallest_mm, system)]


def _no_vent(about: str, system: str) -> Finding:
    return Finding(
        level=Level.BLOCKER,
        code="takeoff.vent_missing",
        message=f"Compartment {about} has no vent hole; air stays under the plate.",
        hint=f"Drill vents of {units.shown(VENT_HOLE_MM, 'mm', system)} at its corners and at each air trap.",
        source="ACI351.5",
        about=about,
    )


def _small_vent(about: str, smallest_mm: float, system: str) -> Finding:
    too_small = smallest_mm < SMALLEST_VENT_MM
    limit_mm = SMALLEST_VENT_MM if too_small else VENT_HOLE_MM
    return Finding(
        level=Level.WARNING if too_small else Level.NOTE,
        code="takeoff.vent_small",
        message=f"Compartment {about}: vent hole {units.shown(smallest_mm, 'mm', system)}, "
        f"{units.shown(limit_mm, 'mm', system)} or more is asked for.",
        hint="Drill it out, or watch that it bleeds and note the time.",
        source="ACI351.5" if too_small else "API610",
        about=about,
        margin=smallest_mm - limit_mm,
    )


def expansion_joints(length_m: float) -> int:
    """Return how many expansion joints divide an epoxy bed along its length.

    Parameters
    ----------
    length_m : Length of the bed. [m], above 0

    Returns
    -------
    Number of joints: length / 1.5 m less one, rounded, and one more where a panel would be longer than 1.8 m. [-]

    Raises
    ------
    OutOfRange : the length is not above 0, or above 100 m.

    Source
    ------
    [API686] chapter 5, joints 4 to 6 ft (1.2 to 1.8 m) apart; [GROUTJOBS] 1.5 m as the aim.

    Examples
    --------
    >>> expansion_joints(3.0)
    1
    """
    require_above("length of the bed", length_m, 0.0, unit="m", source="API686")
    require_between("length of the bed", length_m, None, 100.0, unit="m", source="GROUTJOBS")
    rounded = math.floor(length_m / JOINT_SPACING_M - 1.0 + 0.5)
    needed = math.ceil(length_m / LONGEST_PANEL_M - 1e-9) - 1
    return max(rounded, needed)
