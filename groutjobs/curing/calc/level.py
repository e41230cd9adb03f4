"""The level survey: plane, residuals, findings against the limit, and jackscrew turns while the plate can be moved."""

from typing import Any

import numpy as np

from groutjobs import units
from groutjobs.curing.calc.judgement import judged
from groutjobs.engineering.jackscrews import FLATS_PER_TURN, Correction, Jackscrew, Target, jackscrew_moves
from groutjobs.engineering.levelling import LevelLimit, LevelSurvey, level_findings, level_survey
from groutjobs.errors import GroutJobsError, Unusable

BEFORE, AFTER, TENSIONED = "before_pour", "after_grout", "after_tension"
OCCASIONS = {
    BEFORE: "plate set, before the pour",
    AFTER: "after the grout has cured",
    TENSIONED: "after the bolts were tensioned",
}


def level_result(inputs: dict[str, Any]) -> dict[str, Any]:
    """What the readings say. Raises OutOfRange or Unusable where they cannot be used."""
    points = inputs["points"]
    survey = level_survey(
        *(np.array([point[name] for point in points], dtype=float) for name in ("x_mm", "y_mm", "reading_mm")),
        resolution_mm=inputs["resolution_mm"],
    )
    limit = LevelLimit(
        label="limit of this survey",
        tilt_mm_m=inputs["tilt_limit_mm_m"],
        coplanarity_mm=inputs["coplanarity_limit_mm"],
        source=inputs["limit_source"],
    )
    found = {system: level_findings(survey, limit, system=system) for system in (units.METRIC, units.US)}
    return judged(found, ["GUM", inputs["limit_source"]]) | _survey_json(survey, points) | _turns(survey, inputs)


def _survey_json(survey: LevelSurvey, points: list[dict[str, Any]]) -> dict[str, Any]:
    plane, steepest = survey.plane, survey.steepest
    along_sd, across_sd = plane.tilt_sd_mm_m
    return {
        "tilt_along_mm_m": plane.tilt_along_mm_m,
        "tilt_across_mm_m": plane.tilt_across_mm_m,
        "tilt_along_sd_mm_m": along_sd,
        "tilt_across_sd_mm_m": across_sd,
        "centroid_x_mm": plane.centroid_x_mm,
        "centroid_y_mm": plane.centroid_y_mm,
        "elevation_mm": plane.elevation_mm,
        "coplanarity_mm": survey.coplanarity_mm,
        "range_mm": survey.elevation_range_mm,
        "twist_mm": survey.twist_mm,
        "reading_sd_mm": survey.reading_sd_mm,
        "steepest": {
            "slope_mm_m": steepest.slope_mm_m,
            "distance_mm": steepest.distance_mm,
            "lower": points[steepest.lower]["label"],
            "higher": points[steepest.higher]["label"],
        },
        "points": [
            point | {"plane_mm": point["reading_mm"] - float(residual), "residual_mm": float(residual)}
            for point, residual in zip(points, plane.residuals_mm, strict=True)
        ],
    }


def _turns(survey: LevelSurvey, inputs: dict[str, Any]) -> dict[str, Any]:
    """Turns of the jackscrews that bring the plate level; only while no grout holds it."""
    if inputs["occasion"] != BEFORE:
        return {"turns": [], "turns_note": "The grout holds the plate: jackscrews can no longer correct it."}
    try:
        correction = _correction(survey, inputs)
    except GroutJobsError as error:
        return {"turns": [], "turns_note": f"No turns are worked out. {error}"}
    return {
        "turns": [
            {"name": move.name, "move_mm": move.move_mm, "turns": move.turns, "flats": move.flats}
            for move in correction.moves
        ],
        "turns_note": f"One turn is {FLATS_PER_TURN} flats; the least total movement that brings the plate level.",
        "turns_total_mm": correction.total_move_mm,
    }


def _correction(survey: LevelSurvey, inputs: dict[str, Any]) -> Correction:
    screws = []
    for screw in inputs["screws"]:
        for name, words in (("pitch_mm", "thread pitch"), ("gap_mm", "survey of the concrete")):
            if screw[name] is None:
                raise Unusable(f"jackscrew {screw['name']}", f"no {words} is entered", source="GROUTJOBS")
        screws.append(Jackscrew(**screw))
    return jackscrew_moves(survey.plane, screws, Target(min_gap_mm=inputs["min_gap_mm"]))
