"""The sounding: hollow areas from taps, findings against the limits, what the grid may have missed, resin to inject."""

from typing import Any

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from groutjobs import units
from groutjobs.curing.calc.judgement import judged
from groutjobs.engineering.sounding import (
    Sounding,
    SoundingLimits,
    Tap,
    Void,
    injection_volume_l,
    sounding,
    sounding_findings,
)
from groutjobs.engineering.tap_grid import hit_probability, missed_void_mm

SOLID, HOLLOW, NOT_REACHED = "solid", "hollow", "not_reached"
SPACINGS_MM = (150.0, 125.0, 100.0)
EXAMPLE_VOID_MM = 100.0
ODDS_OF_MISSING = (0.5, 0.05)
DEFAULTS = SoundingLimits()


def sounding_result(inputs: dict[str, Any]) -> dict[str, Any]:
    """What the taps say. Raises OutOfRange or Unusable where they cannot be used."""
    heard = [tap for tap in inputs["taps"] if tap["sound"] != NOT_REACHED]
    survey = sounding(
        [Tap(x_mm=tap["x_mm"], y_mm=tap["y_mm"], hollow=tap["sound"] == HOLLOW) for tap in heard],
        inputs["spacing_mm"],
        {name: _points(outline) for name, outline in inputs["compartments"].items()},
        {name: _points(outline) for name, outline in inputs["feet"].items()},
    )
    limits = SoundingLimits(
        single_void_m2=inputs["single_void_m2"], total_share=inputs["total_ratio"], source=inputs["limit_source"]
    )
    found = {system: sounding_findings(survey, limits, system=system) for system in (units.METRIC, units.US)}
    head = judged(found, ["GUNDERSEN1987", "BLOCH-MCM", inputs["limit_source"]])
    return (
        head
        | _areas(survey, [tap["name"] for tap in heard])
        | _unseen(survey, inputs)
        | {
            "tap_count": len(heard),
            "hollow_count": sum(tap["sound"] == HOLLOW for tap in heard),
            "not_reached": [tap["name"] for tap in inputs["taps"] if tap["sound"] == NOT_REACHED],
        }
    )


def _areas(survey: Sounding, names: list[str]) -> dict[str, Any]:
    return {
        "area_m2": survey.area_m2,
        "hollow_m2": survey.hollow_m2,
        "hollow_ratio": survey.hollow_share,
        "hollow_sd_m2": survey.hollow_sd_m2,
        "largest_m2": survey.voids[0].area_m2 if survey.voids else 0.0,
        "compartments": [
            {
                "name": row.name,
                "area_m2": row.area_m2,
                "hollow_m2": row.hollow_m2,
                "hollow_ratio": row.hollow_m2 / row.area_m2,
                "untapped_m2": row.untapped_m2,
            }
            for row in survey.compartments
        ],
        "voids": [_void(void, names) for void in survey.voids],
    }


def _void(void: Void, names: list[str]) -> dict[str, Any]:
    return {
        "compartment": void.compartment,
        "area_m2": void.area_m2,
        "taps": [names[index] for index in void.taps],
        "outlines": _outlines(void.outline),
        "under_feet": list(void.under_feet),
    }


def _unseen(survey: Sounding, inputs: dict[str, Any]) -> dict[str, Any]:
    low_l, high_l = (0.0, 0.0)
    if survey.hollow_m2 > 0.0:
        low_l, high_l = injection_volume_l(survey.hollow_m2, inputs["least_depth_mm"], inputs["greatest_depth_mm"])
    return {
        "missed": [
            {"odds_ratio": odds, "diameter_mm": missed_void_mm(survey.spacing_mm, probability=odds)}
            for odds in ODDS_OF_MISSING
        ],
        "example": {
            "diameter_mm": EXAMPLE_VOID_MM,
            "hit_ratio": hit_probability(EXAMPLE_VOID_MM, survey.spacing_mm),
        },
        "injection_low_l": low_l,
        "injection_high_l": high_l,
    }


def _outlines(shape: BaseGeometry) -> list[list[list[float]]]:
    """Outer outlines to the millimetre; the hair by which cells were grown to join them is smoothed away."""
    pieces = [piece for piece in getattr(shape, "geoms", [shape]) if isinstance(piece, Polygon)]
    rounded = [piece.simplify(1.0) for piece in pieces]
    return [[[round(x), round(y)] for x, y in piece.exterior.coords[:-1]] for piece in rounded if not piece.is_empty]


def _points(outline: list[list[float]]) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in outline]
