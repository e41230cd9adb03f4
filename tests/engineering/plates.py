"""One rectangular plate with two compartments on a flat or tilted block, to vary in the tests of the takeoff."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from groutjobs.engineering.compartments import Compartment
from groutjobs.engineering.outlines import Point
from groutjobs.engineering.survey import SurveyPoint
from groutjobs.engineering.takeoff import TakeoffCase

UNDERSIDE_MM = 175.0
Surface = Callable[[float, float], float]


def rectangle(x_mm: float, y_mm: float, length_mm: float, width_mm: float) -> tuple[Point, ...]:
    return (x_mm, y_mm), (x_mm + length_mm, y_mm), (x_mm + length_mm, y_mm + width_mm), (x_mm, y_mm + width_mm)


def flat(x_mm: float, y_mm: float) -> float:
    return 100.0


def tilted(x_mm: float, y_mm: float) -> float:
    return 100.0 + 0.004 * x_mm - 0.006 * y_mm


def surveyed(surface: Surface, xs: list[float], ys: list[float]) -> tuple[SurveyPoint, ...]:
    return tuple((x, y, surface(x, y)) for x in xs for y in ys)


def whole_block(surface: Surface) -> tuple[SurveyPoint, ...]:
    return surveyed(surface, [-75.0, 700.0, 1500.0, 2300.0, 3075.0], [-75.0, 500.0, 1000.0, 1575.0])


def plate_case(surface: Surface = flat, **changes: Any) -> TakeoffCase:
    case = TakeoffCase(
        plate_outline=rectangle(0, 0, 3000, 1500),
        block_outline=rectangle(-75, -75, 3150, 1650),
        compartments=(
            Compartment(name="A", outline=rectangle(0, 0, 1200, 1500)),
            Compartment(name="B", outline=rectangle(1200, 0, 1800, 1500)),
        ),
        survey=whole_block(surface),
        plate_underside_elevation_mm=UNDERSIDE_MM,
        clearance_mm=75.0,
        roughness_mm=0.0,
    )
    return replace(case, **changes)


def scattered_case(seed: int) -> TakeoffCase:
    """The plate over concrete surveyed at scattered places, so that its triangulation is unique."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(-75, 3075, 25), rng.uniform(-75, 1575, 25)
    return plate_case(
        survey=tuple((float(a), float(b), float(c)) for a, b, c in zip(x, y, rng.uniform(90, 130, 25), strict=True))
    )


def moved(case: TakeoffCase, place: Callable[[Point], Point]) -> TakeoffCase:
    """The same case with every place in plan sent through `place`."""

    def outline(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple(place(point) for point in points)

    return replace(
        case,
        plate_outline=outline(case.plate_outline),
        block_outline=outline(case.block_outline),
        compartments=tuple(replace(c, outline=outline(c.outline)) for c in case.compartments),
        survey=tuple((*place((x, y)), z) for x, y, z in case.survey),
    )


def turned(angle: float, shift: Point) -> Callable[[Point], Point]:
    cos, sin = math.cos(angle), math.sin(angle)
    return lambda p: (cos * p[0] - sin * p[1] + shift[0], sin * p[0] + cos * p[1] + shift[1])
