"""Where to drill into a hollow place for resin and for its vent, and how much resin to have at hand."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.outlines import Point, checked_polygon
from groutjobs.engineering.sounding import injection_volume_l
from groutjobs.errors import Unusable

FARTHEST_APART_MM = 450.0
"""Holes of a larger void stand no farther apart than this. PRACTICE, 300 to 450 mm."""
WASTE_RATIO = 0.25
"""Epoxy to have at hand beyond the computed volume [BLOCH-MCM] p. 121."""
FROM_EDGE_MM = 25.0
"""Holes keep this far inside the hollow outline where it is wide enough. GROUTJOBS."""
STEP_MM = 25.0
MOST_HOLES = 40
INJECT, VENT, NEXT = "inject", "vent", "next"


@dataclass(frozen=True, kw_only=True)
class InjectionHole:
    """One hole through the deck. `use` is inject (first), vent (farthest from it) or next: a vent until resin shows
    there, then the hole to inject through."""

    x_mm: float
    y_mm: float
    use: str


@dataclass(frozen=True, kw_only=True)
class ResinNeed:
    """Resin for voids between two depths, and what to have at hand with waste. [L]"""

    least_l: float
    greatest_l: float
    at_hand_l: float


def injection_holes(
    outline: Sequence[Point], *, farthest_apart_mm: float = FARTHEST_APART_MM
) -> tuple[InjectionHole, ...]:
    """Return the holes for one void: two in opposite corners, more where they would stand too far apart.

    Parameters
    ----------
    outline : Corners of the hollow place. [mm], -100000 to 100000
    farthest_apart_mm : Longest way between neighbouring holes. [mm], 100 to 1000

    Returns
    -------
    The first hole to inject, the vent farthest from it, then holes between: no place of the void is farther than half
    the way from a hole.

    Raises
    ------
    OutOfRange : a limit above is broken.
    Unusable : the outline crosses itself, or needs more than 40 holes: no work for injection.

    Source
    ------
    [BLOCH-MCM] p. 135 two holes in opposite corners, one of them a vent; [PRACTICE] 300 to 450 mm for larger ones;
    [GROUTJOBS] limits of the outline and number of holes.
    """
    require_between("way between holes", farthest_apart_mm, 100.0, 1000.0, unit="mm", source="PRACTICE")
    shape = checked_polygon("hollow place", outline)
    places = _places(shape)
    first, vent = _farthest_pair(places)
    chosen = [first, vent]
    nearest = np.minimum(_ways(places, first), _ways(places, vent))
    while float(nearest.max()) > farthest_apart_mm / 2.0:
        if len(chosen) == MOST_HOLES:
            raise Unusable("hollow place", f"it needs more than {MOST_HOLES} holes", source="GROUTJOBS")
        chosen.append(int(nearest.argmax()))
        nearest = np.minimum(nearest, _ways(places, chosen[-1]))
    uses = [INJECT, VENT, *[NEXT] * (len(chosen) - 2)]
    return tuple(
        InjectionHole(x_mm=float(places[index, 0]), y_mm=float(places[index, 1]), use=use)
        for index, use in zip(chosen, uses, strict=True)
    )


def resin_need_l(
    area_m2: float, least_depth_mm: float, greatest_depth_mm: float, waste_ratio: float = WASTE_RATIO
) -> ResinNeed:
    """Return the resin that voids may take, and what to have at hand.

    Parameters
    ----------
    area_m2 : Hollow area. [m²], 0 or more
    least_depth_mm : Depth of the shallowest void, a guess until drilled. [mm], above 0
    greatest_depth_mm : Depth of the deepest void. [mm], least_depth_mm or more
    waste_ratio : Waste on top of the greater volume. [-], 0 to 2

    Returns
    -------
    Least and greatest volume, and the greater one with its waste.

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [BLOCH-MCM] p. 121 a quarter more epoxy than computed; [GROUTJOBS] area × depth.
    """
    require_between("waste of resin", waste_ratio, 0.0, 2.0, source="BLOCH-MCM")
    least_l, greatest_l = injection_volume_l(area_m2, least_depth_mm, greatest_depth_mm)
    return ResinNeed(least_l=least_l, greatest_l=greatest_l, at_hand_l=greatest_l * (1.0 + waste_ratio))


def _places(shape: Polygon) -> Floats:
    """Corners of the outline drawn in, and a fine grid inside it."""
    inner = shape.buffer(-FROM_EDGE_MM, join_style="mitre")
    if inner.is_empty:
        inner = shape
    west, south, east, north = inner.bounds
    xs, ys = np.arange(west, east + 1e-6, STEP_MM), np.arange(south, north + 1e-6, STEP_MM)
    grid = np.array([(x, y) for x in xs for y in ys])
    inside = grid[shapely.contains_xy(inner, grid)] if len(grid) else grid
    pieces = getattr(inner, "geoms", [inner])
    corners = np.array([place for piece in pieces for place in piece.exterior.coords[:-1]])
    return np.vstack([corners, inside.reshape(-1, 2)])


def _ways(places: Floats, index: int) -> Floats:
    ways: Floats = np.hypot(*(places - places[index]).T)
    return ways


def _farthest_pair(places: Floats) -> tuple[int, int]:
    """The two places that lie farthest apart; they are corners of the hull, of which there are few."""
    hull = shapely.MultiPoint(places).convex_hull
    corners = list(np.asarray(shapely.get_coordinates(hull)))
    indices = [int(np.hypot(*(places - corner).T).argmin()) for corner in corners]
    _, first, second = max((float(np.hypot(*(places[a] - places[b]))), a, b) for a in indices for b in indices)
    return first, second
