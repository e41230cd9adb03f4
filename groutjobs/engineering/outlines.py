"""Outlines in plan, in millimetres: refused where they cross themselves, overlap or leave what must hold them."""

import math
from collections.abc import Mapping, Sequence
from itertools import combinations

from shapely import Point as PlanPoint
from shapely import Polygon
from shapely.validation import explain_validity

from groutjobs.engineering.checks import require_between
from groutjobs.errors import Unusable

Point = tuple[float, float]

PLAN_LIMIT_MM = 100_000.0
EDGE_TOLERANCE_MM = 1.0
"""Two edges nearer than this are one edge: nobody measures a plate on site more closely than that."""


def require_point(quantity: str, x_mm: float, y_mm: float) -> None:
    """Raise OutOfRange unless both coordinates are numbers that a plan can hold.

    Parameters
    ----------
    quantity : What stands at the point, for the error.
    x_mm : Along the length of the block. [mm], -100000 to 100000
    y_mm : Along its width. [mm], -100000 to 100000

    Raises
    ------
    OutOfRange : a coordinate is outside, most likely typed in another unit.

    Source
    ------
    [GROUTJOBS] no foundation is longer than a hundred metres.
    """
    for axis, value in (("x", x_mm), ("y", y_mm)):
        require_between(f"{quantity}, {axis}", value, -PLAN_LIMIT_MM, PLAN_LIMIT_MM, unit="mm", source="GROUTJOBS")


def checked_polygon(quantity: str, outline: Sequence[Point]) -> Polygon:
    """Return the polygon of an outline that runs either way round, open or closed.

    Parameters
    ----------
    quantity : What the outline is, for the error.
    outline : Corners in order. [mm], -100000 to 100000

    Raises
    ------
    OutOfRange : a coordinate is no number, or lies beyond 100 m.
    Unusable : fewer than three corners, no area, or the outline crosses or touches itself.

    Source
    ------
    [GROUTJOBS] simple polygons only.
    """
    for x_mm, y_mm in outline:
        require_point(quantity, x_mm, y_mm)
    if len(set(outline)) < 3:
        raise Unusable(quantity, f"{len(set(outline))} different corners, at least 3 are needed", source="GROUTJOBS")
    polygon = Polygon(outline)
    if not polygon.is_valid:
        raise Unusable(
            quantity, f"the outline crosses or touches itself: {explain_validity(polygon)}", source="GROUTJOBS"
        )
    return polygon


def require_inside(quantity: str, inner: Polygon, outer_name: str, outer: Polygon) -> None:
    """Raise Unusable where a polygon leaves the one that must hold it.

    Parameters
    ----------
    quantity : What must lie inside, for the error.
    inner : Its polygon, in mm.
    outer_name : What must hold it, for the error.
    outer : Polygon of that, in mm.

    Raises
    ------
    Unusable : a corner lies more than 1 mm outside.

    Source
    ------
    [GROUTJOBS] plane geometry.
    """
    if not outer.buffer(EDGE_TOLERANCE_MM, join_style="mitre").covers(inner):
        out_mm = max(float(outer.distance(PlanPoint(corner))) for corner in inner.exterior.coords)
        raise Unusable(quantity, f"lies up to {out_mm:.0f} mm outside the {outer_name}", source="GROUTJOBS")


def require_apart(polygons: Mapping[str, Polygon]) -> None:
    """Raise Unusable where two polygons overlap by more than a strip of 1 mm along their border.

    Parameters
    ----------
    polygons : Name and polygon of each, in mm.

    Raises
    ------
    Unusable : two of them overlap; the error names both and the area.

    Source
    ------
    [GROUTJOBS] plane geometry.
    """
    for (name, one), (other_name, other) in combinations(polygons.items(), 2):
        overlap_mm2 = float(one.intersection(other).area)
        if overlap_mm2 > EDGE_TOLERANCE_MM * math.sqrt(min(one.area, other.area)):
            raise Unusable(name, f"overlaps {other_name} by {overlap_mm2 / 1e6:.4f} m²", source="GROUTJOBS")


def area_m2(quantity: str, outline: Sequence[Point]) -> float:
    """Return the area inside an outline, whichever way round it runs.

    Parameters
    ----------
    quantity : What the outline is, for the error.
    outline : Corners in order. [mm], -100000 to 100000

    Returns
    -------
    Area. [m²]

    Source
    ------
    [GROUTJOBS] plane geometry.

    Examples
    --------
    >>> area_m2("plate", [(0, 0), (2000, 0), (2000, 1000), (0, 1000)])
    2.0
    """
    return float(checked_polygon(quantity, outline).area) / 1e6
