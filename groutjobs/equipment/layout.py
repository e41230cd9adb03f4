"""A first layout of a plate from a few numbers: a rectangle divided along x, with the holes that standards ask for."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from groutjobs.equipment.models import PartKind

NAMES = "ABCDEFGHIJKLMNOPQRST"
VENT_INSET_MM = 75.0
"""Distance of a vent from both edges of its corner; a quarter of the shorter side where that is less [GROUTJOBS]."""


@dataclass(frozen=True, kw_only=True)
class Rectangle:
    """A plate parallel to the block: its size, the place of its lower left corner, and the holes to start with."""

    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    compartments_along: int
    fill_hole_mm: float
    vent_mm: float


def outline_of(rectangle: Rectangle) -> list[list[float]]:
    """The corners of the plate, from the lower left one against the clock."""
    return _corners(rectangle.x_mm, rectangle.x_mm + rectangle.length_mm, rectangle)


def compartments_of(rectangle: Rectangle) -> list[dict[str, Any]]:
    """Equal compartments side by side along x, named from A on."""
    return [
        {"name": NAMES[number], "outline": _corners(west, east, rectangle), "fill_above_mm": 0.0, "open_edge": False}
        for number, (west, east) in enumerate(_strips(rectangle))
    ]


def parts_of_rectangle(rectangle: Rectangle) -> list[dict[str, Any]]:
    """One fill hole at the centre of each compartment and a vent in each of its corners."""
    return [*_fill_holes(rectangle), *_vents(rectangle)]


def _strips(rectangle: Rectangle) -> list[tuple[float, float]]:
    step = rectangle.length_mm / rectangle.compartments_along
    edges = [rectangle.x_mm + step * number for number in range(rectangle.compartments_along + 1)]
    return list(pairwise(edges))


def _corners(west: float, east: float, rectangle: Rectangle) -> list[list[float]]:
    south, north = rectangle.y_mm, rectangle.y_mm + rectangle.width_mm
    return [[west, south], [east, south], [east, north], [west, north]]


def _fill_holes(rectangle: Rectangle) -> list[dict[str, Any]]:
    middle = rectangle.y_mm + rectangle.width_mm / 2
    return [
        _hole(PartKind.FILL_HOLE, f"F{number}", (west + east) / 2, middle, rectangle.fill_hole_mm)
        for number, (west, east) in enumerate(_strips(rectangle), 1)
    ]


def _vents(rectangle: Rectangle) -> list[dict[str, Any]]:
    strips = _strips(rectangle)
    inset = min(VENT_INSET_MM, (strips[0][1] - strips[0][0]) / 4, rectangle.width_mm / 4)
    south, north = rectangle.y_mm + inset, rectangle.y_mm + rectangle.width_mm - inset
    places = [(x, y) for west, east in strips for x in (west + inset, east - inset) for y in (south, north)]
    return [_hole(PartKind.VENT, f"V{number}", x, y, rectangle.vent_mm) for number, (x, y) in enumerate(places, 1)]


def _hole(kind: PartKind, label: str, x_mm: float, y_mm: float, diameter_mm: float) -> dict[str, Any]:
    return {"kind": kind, "label": label, "x_mm": x_mm, "y_mm": y_mm, "diameter_mm": diameter_mm}
