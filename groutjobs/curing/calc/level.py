"""The level survey: plane, residuals, findings against the limit, and jackscrew turns while the plate can be moved."""

from typing import Any

import numpy as np

from groutjobs import units
from groutjobs.curing.calc.judgement import judged
from groutjobs.engineering.jackscrews import FLATS_PER_TURN, Correction, Jackscrew, Target, jackscrew_moves
from groutjobs.engineering.level_change import LevelChange, level_change
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
    return (
        judged(found, ["GUM", inputs["limit_source"]])
        | _survey_json(survey, points)
        | _turns(survey, inputs)
        | {"change": change_of(inputs)}
    )


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


def change_of(inputs: dict[str, Any]) -> dict[str, Any] | None:
    """What moved since the survey that this one replaces; None where there is none, a note where it cannot be told."""
    before = inputs.get("before")
    if before is None:
        return None
    old = {(point["label"], point["x_mm"], point["y_mm"]): point["reading_mm"] for point in before["points"]}
    both = [point for point in inputs["points"] if (point["label"], point["x_mm"], point["y_mm"]) in old]
    head = {"since": before["made_at"], "inspection_id": before["id"]}
    names = [point["label"] for point in inputs["points"]]
    head["left_out"] = [name for name in names if name not in {point["label"] for point in both}]
    x_mm, y_mm, after = (np.array([point[name] for point in both]) for name in ("x_mm", "y_mm", "reading_mm"))
    earlier = np.array([old[point["label"], point["x_mm"], point["y_mm"]] for point in both])
    try:
        change = level_change(
            x_mm, y_mm, earlier, after,
            before_resolution_mm=before["resolution_mm"], after_resolution_mm=inputs["resolution_mm"],
        )  # fmt: skip
    except GroutJobsError as error:
        return head | {"note": f"What moved since then is not worked out. {error}"}
    return head | {"note": ""} | _change_json(change, both)


def _change_json(change: LevelChange, points: list[dict[str, Any]]) -> dict[str, Any]:
    numbers = ("rise_sd_mm", "mean_rise_mm", "shape_sd_mm", "tilt_along_mm_m", "tilt_across_mm_m")
    return {name: getattr(change, name) for name in (*numbers, "tilt_along_sd_mm_m", "tilt_across_sd_mm_m")} | {
        "points": [
            {
                "label": point["label"],
                "x_mm": point["x_mm"],
                "y_mm": point["y_mm"],
                "rise_mm": float(change.rise_mm[number]),
                "shape_mm": float(change.shape_mm[number]),
                "is_sure": change.is_sure(number),
            }
            for number, point in enumerate(points)
        ]
    }
