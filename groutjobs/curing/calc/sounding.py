"""The sounding: hollow areas from taps, findings against the limits, what the grid may have missed, resin to inject."""

from typing import Any

from shapely import Point as PlanPoint
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from groutjobs import units
from groutjobs.curing.calc.judgement import judged
from groutjobs.engineering.injection import FARTHEST_APART_MM, WASTE_RATIO, injection_holes, resin_need_l
from groutjobs.engineering.sounding import (
    Sounding,
    SoundingLimits,
    Tap,
    Void,
    sounding,
    sounding_findings,
)
from groutjobs.engineering.tap_grid import hit_probability, missed_void_mm
from groutjobs.errors import GroutJobsError
from groutjobs.findings import Finding, Level

SOLID, HOLLOW, UNSURE, NOT_REACHED = "solid", "hollow", "unsure", "not_reached"
SOUNDS = (SOLID, HOLLOW, UNSURE, NOT_REACHED)
COUNTS_AS_HOLLOW = frozenset({HOLLOW, UNSURE})
"""What may be hollow counts as hollow until it is tapped again. GROUTJOBS."""
FREE = "free"
SPACINGS_MM = (150.0, 125.0, 100.0)
EXAMPLE_VOID_MM = 100.0
ODDS_OF_MISSING = (0.5, 0.05)
DEFAULTS = SoundingLimits()


def sounding_result(inputs: dict[str, Any]) -> dict[str, Any]:
    """What the taps say. Raises OutOfRange or Unusable where they cannot be used."""
    heard = [tap for tap in inputs["taps"] if tap["sound"] != NOT_REACHED]
    survey = sounding(
        [Tap(x_mm=tap["x_mm"], y_mm=tap["y_mm"], hollow=tap["sound"] in COUNTS_AS_HOLLOW) for tap in heard],
        inputs["spacing_mm"],
        {name: _points(outline) for name, outline in inputs["compartments"].items()},
        {name: _points(outline) for name, outline in inputs["feet"].items()},
    )
    limits = SoundingLimits(
        single_void_m2=inputs["single_void_m2"], total_share=inputs["total_ratio"], source=inputs["limit_source"]
    )
    found = {system: sounding_findings(survey, limits, system=system) for system in (units.METRIC, units.US)}
    for system in found:
        found[system] += _unsure_findings(heard)
    head = judged(found, ["GUNDERSEN1987", "BLOCH-MCM", inputs["limit_source"]])
    return (
        head
        | _areas(survey, [tap["name"] for tap in heard])
        | _unseen(survey, inputs)
        | {
            "tap_count": len(heard),
            "hollow_count": sum(tap["sound"] == HOLLOW for tap in heard),
            "unsure_count": sum(tap["sound"] == UNSURE for tap in heard),
            "not_reached": [tap["name"] for tap in inputs["taps"] if tap["sound"] == NOT_REACHED],
            "change": change_of(inputs, survey.hollow_m2),
        }
    )


def _unsure_findings(heard: list[dict[str, Any]]) -> list[Finding]:
    names = [tap["name"] for tap in heard if tap["sound"] == UNSURE]
    if not names:
        return []
    listed = ", ".join(names[:10]) + (", ..." if len(names) > 10 else "")
    words = f"{len(names)} {'tap was' if len(names) == 1 else 'taps were'} unsure, counted as hollow: {listed}."
    hint = "Tap them again, with another person listening, or drill one small hole to look."
    return [Finding(level=Level.WARNING, code="sounding.unsure", message=words, hint=hint, source="GROUTJOBS")]


def change_of(inputs: dict[str, Any], hollow_m2: float) -> dict[str, Any] | None:
    """What became of each hollow place of the sounding that this one replaces, by the new taps within it."""
    before = inputs.get("before")
    if before is None:
        return None
    taps = [(PlanPoint(tap["x_mm"], tap["y_mm"]), tap["sound"]) for tap in inputs["taps"]]
    return {
        "since": before["made_at"],
        "inspection_id": before["id"],
        "hollow_before_m2": before["hollow_m2"],
        "hollow_now_m2": hollow_m2,
        "voids": [void | _became(void, taps) for void in before["voids"]],
    }


def _became(void: dict[str, Any], taps: list[tuple[PlanPoint, str]]) -> dict[str, Any]:
    shapes = [Polygon(outline) for outline in void["outlines"] if len(outline) > 2]
    inside = [sound for place, sound in taps if any(shape.covers(place) for shape in shapes)]
    heard = [sound for sound in inside if sound != NOT_REACHED]
    hollow = sum(sound in COUNTS_AS_HOLLOW for sound in heard)
    now = "not_tapped" if not heard else "hollow" if hollow else "solid"
    return {"tapped_again": len(heard), "still_hollow": hollow, "now": now}


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
    low_l, high_l, at_hand_l = (0.0, 0.0, 0.0)
    if survey.hollow_m2 > 0.0:
        need = resin_need_l(survey.hollow_m2, inputs["least_depth_mm"], inputs["greatest_depth_mm"])
        low_l, high_l, at_hand_l = need.least_l, need.greatest_l, need.at_hand_l
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
        "injection": {
            "at_hand_l": at_hand_l,
            "waste_ratio": WASTE_RATIO,
            "farthest_apart_mm": FARTHEST_APART_MM,
            "voids": [_holes(number, void) for number, void in enumerate(survey.voids, 1)],
        },
    }


def _holes(number: int, void: Void) -> dict[str, Any]:
    """Holes for one void, named H1.1, H1.2, ...; the reason where none can be laid out."""
    outlines = _outlines(void.outline)
    told: dict[str, Any] = {"number": number, "compartment": void.compartment, "area_m2": void.area_m2}
    try:
        holes = [hole for outline in outlines for hole in injection_holes(_points([*map(list, outline)]))]
    except GroutJobsError as error:
        return told | {"holes": [], "problem": str(error)}
    named = [
        {"name": f"H{number}.{place}", "x_mm": round(hole.x_mm), "y_mm": round(hole.y_mm), "use": hole.use}
        for place, hole in enumerate(holes, 1)
    ]
    return told | {"holes": named, "problem": ""}


def _outlines(shape: BaseGeometry) -> list[list[list[float]]]:
    """Outer outlines to the millimetre; the hair by which cells were grown to join them is smoothed away."""
    pieces = [piece for piece in getattr(shape, "geoms", [shape]) if isinstance(piece, Polygon)]
    rounded = [piece.simplify(1.0) for piece in pieces]
    return [[[round(x), round(y)] for x, y in piece.exterior.coords[:-1]] for piece in rounded if not piece.is_empty]


def _points(outline: list[list[float]]) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in outline]
