"""The surveyed concrete under a plate: a triangulated surface, and exact volumes between it and a level plane.

Inside the hull of the survey points the surface is linear in each Delaunay triangle. Outside, it keeps the value of the
nearest point on the edge of the hull: nothing is extrapolated. Both are pieces on which the elevation is linear, so
area, volume and extremes follow without a grid. Where four points lie on one circle, as in a square grid, either
diagonal is a true triangulation; the difference is part of the survey's share of the uncertainty.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from scipy.spatial import Delaunay
from shapely import Polygon

from groutjobs.engineering.checks import Floats, require_all_between, require_between
from groutjobs.engineering.outlines import EDGE_TOLERANCE_MM, require_point
from groutjobs.errors import Unusable

Corners = npt.NDArray[np.int64]
SurveyPoint = tuple[float, float, float]
"""x, y and elevation. [mm]"""

ELEVATION_LIMIT_MM = 1_000_000.0
FLAT_TRIANGLE = 1e-9
ONE_LINE = 1e-3
"""Points whose spread across is less than this share of their spread along count as one line."""


@dataclass(frozen=True, kw_only=True)
class SurveySurface:
    """Pieces in plan, each with the plane that its elevation follows; coordinates run from `origin`."""

    origin: tuple[float, float]
    pieces: Any
    """Polygons, shape (n_pieces,)."""
    planes: Floats
    """Elevation at the origin [mm] and slopes in x and y [-], shape (n_pieces, 3)."""
    hull: Polygon
    spacing_m: float


@dataclass(frozen=True, kw_only=True)
class Bed:
    """The grout between the concrete and a level plane over one region in plan."""

    area_m2: float
    volume_m3: float
    mean_depth_mm: float
    min_depth_mm: float
    max_depth_mm: float
    outside_survey_share: float


def survey_surface(points: Sequence[SurveyPoint], block: Polygon) -> SurveySurface:
    """Return the surface through surveyed points of a foundation block.

    Parameters
    ----------
    points : x, y, elevation of the concrete. [mm], -1000000 to 1000000; three or more, on the block, not on one line
    block : Plan of the block; the surface reaches over all of it. [mm]

    Returns
    -------
    The surface; its spacing is the side of the square grid with the same mean triangle.

    Raises
    ------
    OutOfRange : a coordinate is no number.
    Unusable : too few points, two at one place, all on one line, or a point outside the block.

    Source
    ------
    [GROUTJOBS] linear in Delaunay triangles, nearest edge value outside their hull.
    """
    survey = _checked(points, block)
    origin = survey[:, :2].mean(axis=0)
    local = survey - np.array([origin[0], origin[1], 0.0])
    triangles = _triangles(local[:, :2])
    reach_mm = 4.0 * float(np.hypot(*np.ptp(np.vstack([survey[:, :2], block.exterior.coords]), axis=0)))
    inside, inside_planes = _inside_pieces(local, triangles)
    outside, outside_planes = _outside_pieces(local, _border(triangles), reach_mm)
    hull = shapely.unary_union(inside)
    return SurveySurface(
        origin=(float(origin[0]), float(origin[1])),
        pieces=np.concatenate([inside, outside]),
        planes=np.vstack([inside_planes, outside_planes]),
        hull=hull,
        spacing_m=math.sqrt(2.0 * float(hull.area) / len(inside)) / 1000.0,
    )


def bed_over(surface: SurveySurface, region: Polygon, top_elevation_mm: float) -> Bed:
    """Return area, volume and depths of the grout between the surface and a level plane.

    Parameters
    ----------
    surface : The concrete.
    region : Where the grout lies in plan; polygon or several polygons, of some area. [mm]
    top_elevation_mm : Elevation that the grout fills up to. [mm], -1000000 to 1000000

    Returns
    -------
    The bed. Depths are exact extremes of the linear pieces, not samples.

    Raises
    ------
    OutOfRange : the concrete stands above the plane somewhere.

    Source
    ------
    [GROUTJOBS] a linear function integrates to area × value at the centroid.
    """
    limit_mm = ELEVATION_LIMIT_MM
    require_between("elevation of the grout top", top_elevation_mm, -limit_mm, limit_mm, unit="mm", source="GROUTJOBS")
    local = shapely.transform(region, lambda xy: xy - np.array(surface.origin))
    parts = shapely.intersection(surface.pieces, local)
    areas = shapely.area(parts)
    held = areas > 0.0
    parts, areas, planes = parts[held], areas[held], surface.planes[held]
    depths = top_elevation_mm - _elevations(planes, shapely.get_coordinates(shapely.centroid(parts)))
    corners, part_of = shapely.get_coordinates(parts, return_index=True)
    corner_depths = top_elevation_mm - _elevations(planes[part_of], corners)
    require_between("least grout depth", float(corner_depths.min()), 0.0, None, unit="mm", source="GROUTJOBS")
    area_mm2, volume_mm3 = float(areas.sum()), float(areas @ depths)
    return Bed(
        area_m2=area_mm2 / 1e6,
        volume_m3=volume_mm3 / 1e9,
        mean_depth_mm=volume_mm3 / area_mm2,
        min_depth_mm=float(corner_depths.min()),
        max_depth_mm=float(corner_depths.max()),
        outside_survey_share=float(local.difference(surface.hull).area) / area_mm2,
    )


def _elevations(planes: Floats, places: Floats) -> Floats:
    return planes[:, 0] + planes[:, 1] * places[:, 0] + planes[:, 2] * places[:, 1]


def _checked(points: Sequence[SurveyPoint], block: Polygon) -> Floats:
    if len(points) < 3:
        raise Unusable("survey of the concrete", f"{len(points)} points, at least 3 are needed", source="GROUTJOBS")
    for number, (x_mm, y_mm, _) in enumerate(points, start=1):
        require_point(f"survey point {number}", x_mm, y_mm)
    survey = np.asarray(points, dtype=np.float64)
    limit_mm = ELEVATION_LIMIT_MM
    require_all_between("elevation of the concrete", survey[:, 2], -limit_mm, limit_mm, unit="mm", source="GROUTJOBS")
    outside_mm = shapely.distance(block, shapely.points(survey[:, :2]))
    worst = int(outside_mm.argmax())
    if outside_mm[worst] > EDGE_TOLERANCE_MM:
        x_mm, y_mm = survey[worst, :2]
        raise Unusable(
            "survey of the concrete",
            f"point {worst + 1} at ({x_mm:.0f}, {y_mm:.0f}) mm lies {outside_mm[worst]:.0f} mm outside the block",
            source="GROUTJOBS",
        )
    _require_spread(survey[:, :2])
    return survey


def _require_spread(places: Floats) -> None:
    rounded = np.round(places / EDGE_TOLERANCE_MM)
    if len(np.unique(rounded, axis=0)) < len(places):
        raise Unusable("survey of the concrete", "two points stand at the same place", source="GROUTJOBS")
    along, across = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if across < ONE_LINE * along:
        raise Unusable("survey of the concrete", "all points lie on one line", source="GROUTJOBS")


def _triangles(places: Floats) -> Corners:
    """Delaunay triangles, counter-clockwise, without the flat ones that rounding leaves along a straight border."""
    triangles: Corners = Delaunay(places).simplices.astype(np.int64)
    clockwise = _doubled_areas(places, triangles) < 0.0
    triangles[clockwise] = triangles[clockwise][:, ::-1]
    while True:
        border = _border(triangles)
        on_border = np.array([any(border.get(start) == end for start, end in _edges(t)) for t in triangles])
        drop = on_border & _flat(places, triangles)
        if not drop.any():
            return triangles
        triangles = triangles[~drop]


def _doubled_areas(places: Floats, triangles: Corners) -> Floats:
    a, b, c = (places[triangles[:, corner]] for corner in range(3))
    doubled: Floats = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    return doubled


def _flat(places: Floats, triangles: Corners) -> npt.NDArray[np.bool_]:
    doubled = _doubled_areas(places, triangles)
    return doubled < FLAT_TRIANGLE * float(doubled.sum())


def _edges(triangle: Corners) -> list[tuple[int, int]]:
    a, b, c = (int(corner) for corner in triangle)
    return [(a, b), (b, c), (c, a)]


def _border(triangles: Corners) -> dict[int, int]:
    """Edges that belong to one triangle, start → end, counter-clockwise round the hull."""
    edges = {edge for triangle in triangles for edge in _edges(triangle)}
    return {start: end for start, end in edges if (end, start) not in edges}


def _inside_pieces(local: Floats, triangles: Corners) -> tuple[Any, Floats]:
    triangles = triangles[~_flat(local[:, :2], triangles)]
    a, b, c = (local[triangles[:, corner]] for corner in range(3))
    normal = np.cross(b - a, c - a)
    slope = -normal[:, :2] / normal[:, 2:]
    at_origin = a[:, 2] - (slope * a[:, :2]).sum(axis=1)
    return shapely.polygons(local[triangles][:, :, :2]), np.column_stack([at_origin, slope])


def _outside_pieces(local: Floats, border: dict[int, int], reach_mm: float) -> tuple[Any, Floats]:
    """A strip beyond each border edge, where the value runs along the edge, and a fan beyond each corner, constant."""
    rings, planes = [], []
    previous = {end: start for start, end in border.items()}
    for start, end in border.items():
        p, q = local[start], local[end]
        out = _outward(p, q)
        rings.append([p[:2], p[:2] + reach_mm * out, q[:2] + reach_mm * out, q[:2]])
        run = q[:2] - p[:2]
        slope = (q[2] - p[2]) / float(run @ run) * run
        planes.append([p[2] - float(slope @ p[:2]), *slope])
        before = _outward(local[previous[start]], p)
        middle = (before + out) / math.hypot(*(before + out))
        rings.append([p[:2], p[:2] + reach_mm * before, p[:2] + reach_mm * middle, p[:2] + reach_mm * out])
        planes.append([p[2], 0.0, 0.0])
    strips = shapely.polygons(np.array(rings))
    turned = shapely.area(strips) > FLAT_TRIANGLE * reach_mm**2
    return strips[turned], np.array(planes)[turned]


def _outward(p: Floats, q: Floats) -> Floats:
    run = q[:2] - p[:2]
    out: Floats = np.array([run[1], -run[0]]) / math.hypot(*run)
    return out
