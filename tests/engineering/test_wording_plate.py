"""Every finding and refusal about level, jackscrews and sounding, word by word. The words stand in the TOML file."""

from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import shapely

from groutjobs.engineering.jackscrews import Jackscrew, Target, jackscrew_moves
from groutjobs.engineering.levelling import (
    LevelLimit,
    LevelSurvey,
    Plane,
    Steepest,
    best_fit_plane,
    level_findings,
    level_survey,
    require_spread,
)
from groutjobs.engineering.sounding import (
    SoundedCompartment,
    Sounding,
    SoundingLimits,
    Tap,
    Void,
    sounding,
    sounding_findings,
)
from tests.engineering.plates import rectangle
from tests.engineering.wording import Attempt, Told, kept

WORDS = kept("plate")
X = np.array([0.0, 3000.0, 3000.0, 0.0])
Y = np.array([0.0, 0.0, 1500.0, 1500.0])
FLAT = np.full(4, 250.0)
LIMIT = LevelLimit(label="owner", tilt_mm_m=1.0, coplanarity_mm=2.0, source="GROUTJOBS")


def tilt(along: float, across: float = 0.0, sd: float = 0.25, limit: LevelLimit = LIMIT) -> Told:
    """A plate of these tilts, known to `sd` each; neither steep nor out of one plane anywhere."""
    plane = Plane(
        centroid_x_mm=0.0,
        centroid_y_mm=0.0,
        elevation_mm=250.0,
        tilt_along_mm_m=along,
        tilt_across_mm_m=across,
        residuals_mm=np.zeros(4),
        covariance=np.diag([0.0, sd * sd, sd * sd]),
    )
    return lambda system: level_findings(plate(plane=plane), limit, system=system)


def plate(**changes: Any) -> LevelSurvey:
    """Level and flat, read surely, but for the changes."""
    level = LevelSurvey(
        plane=best_fit_plane(X, Y, FLAT, resolution_mm=1e-6),
        reading_sd_mm=0.0,
        steepest=Steepest(slope_mm_m=0.0, sd_mm_m=0.0, lower=0, higher=1, distance_mm=1000.0),
        elevation_range_mm=0.0,
        coplanarity_mm=0.0,
        twist_mm=None,
    )
    return replace(level, **changes)


def steep(slope_mm_m: float, sd_mm_m: float) -> Told:
    steepest = Steepest(slope_mm_m=slope_mm_m, sd_mm_m=sd_mm_m, lower=0, higher=1, distance_mm=1000.0)
    return lambda system: level_findings(plate(steepest=steepest), LIMIT, system=system)


def bent(coplanarity_mm: float, reading_sd_mm: float = 0.0) -> Told:
    survey = plate(coplanarity_mm=coplanarity_mm, reading_sd_mm=reading_sd_mm)
    return lambda system: level_findings(survey, LIMIT, system=system)


def rung(
    void_m2: float = 0.0,
    limits: SoundingLimits | None = None,
    *,
    under_feet: tuple[str, ...] = (),
    untapped_m2: float = 0.0,
) -> Told:
    """A compartment of 1 m² with one void, known to 0.004 m²."""
    void = Void(compartment="A", area_m2=void_m2, taps=(0,), outline=shapely.box(0, 0, 1, 1), under_feet=under_feet)
    compartment = SoundedCompartment(name="A", area_m2=1.0, hollow_m2=void_m2, untapped_m2=untapped_m2)
    survey = Sounding(
        spacing_mm=150.0, compartments=(compartment,), voids=(void,), hollow_sd_m2=0.004, cells=(void.outline,)
    )
    if limits is None:
        return lambda system: sounding_findings(survey, system=system)
    return lambda system: sounding_findings(survey, limits, system=system)


def tap(x_mm: float, y_mm: float) -> Tap:
    return Tap(x_mm=x_mm, y_mm=y_mm, hollow=False)


def survey_of(*taps: Tap, **outlines: Any) -> object:
    return sounding(taps, 150.0, outlines or {"A": rectangle(0, 0, 900, 600)}, {})


SCREWS = [
    Jackscrew(name=f"J{number}", x_mm=x, y_mm=y, pitch_mm=2.0, gap_mm=50.0)
    for number, (x, y) in enumerate(zip(X.tolist(), Y.tolist(), strict=True), start=1)
]
PLANE = best_fit_plane(X, Y, FLAT, resolution_mm=0.01)
KEEP = Target(min_gap_mm=38.0)
WIDE = SoundingLimits(single_void_m2=0.25, total_share=0.25, source="PRACTICE")

SILENT: dict[str, Told] = {
    "level, and two sd from the limit": tilt(0.5, -0.5),
    "steepest pair two sd from the limit": steep(0.5, 0.25),
    "flat, and surely so": bent(2.0),
    "no limit of flatness": lambda system: level_findings(
        plate(coplanarity_mm=9.0), replace(LIMIT, coplanarity_mm=None), system=system
    ),
    "a void as large as one may be": rung(0.01),
    "hollow to the limit": rung(0.25, WIDE),
    "untapped to the limit": rung(untapped_m2=0.05),
}
FINDINGS: dict[str, Told] = {
    "tilted along, surely": tilt(1.5),
    "tilted along, not surely": tilt(1.25),
    "tilted along, just at the limit": tilt(1.0),
    "tilted the other way along": tilt(-1.5),
    "tilted across": tilt(0.0, 1.5),
    "tilted the other way across, within the limit, not surely": tilt(0.0, -0.75),
    "steepest pair, surely": steep(1.5, 0.25),
    "steepest pair, not surely": steep(0.75, 0.25),
    "out of one plane": bent(2.5),
    "out of one plane, not surely": bent(2.5, 0.25),
    "in one plane, not surely": bent(1.5, 0.25),
    "a void too large": rung(0.0125),
    "a void under a foot": rung(0.005, under_feet=("F1",)),
    "a void under two feet": rung(0.005, under_feet=("F1", "F2")),
    "hollow beyond the limit": rung(0.0625),
    "hollow beyond the owner's limit": rung(0.26, WIDE, under_feet=("F1",)),
    "untapped": rung(untapped_m2=0.07),
}
REFUSED: dict[str, Attempt] = {
    "no level limit": partial(level_findings, plate(), replace(LIMIT, tilt_mm_m=0.0, source="PPH")),
    "no limit of flatness above 0": partial(level_findings, plate(), replace(LIMIT, coplanarity_mm=0.0, source="PPH")),
    "two readings": partial(best_fit_plane, X[:2], Y[:2], FLAT[:2], resolution_mm=0.01),
    "an elevation short": partial(best_fit_plane, X, Y, FLAT[:3], resolution_mm=0.01),
    "a place short": partial(best_fit_plane, X, Y[:3], FLAT[:3], resolution_mm=0.01),
    "readings in a table": partial(
        best_fit_plane, X.reshape(2, 2), Y.reshape(2, 2), FLAT.reshape(2, 2), resolution_mm=0.01
    ),
    "readings on one line": partial(best_fit_plane, X, X / 2.0, FLAT, resolution_mm=0.01),
    "places a thousandth across": partial(
        require_spread, "pads", np.array([[-1e3, -1], [1e3, -1], [1e3, 1], [-1e3, 1]])
    ),
    "two readings at one place": partial(
        level_survey, np.append(X, 0.5), np.append(Y, 0.5), np.append(FLAT, 1.0), resolution_mm=0.01
    ),
    "two screws": partial(jackscrew_moves, PLANE, SCREWS[:2], KEEP),
    "screws on one line": partial(jackscrew_moves, PLANE, [replace(one, y_mm=0.0) for one in SCREWS], KEEP),
    "a gap and an elevation that exclude each other": partial(
        jackscrew_moves, PLANE, SCREWS, Target(min_gap_mm=60.0, highest_elevation_mm=251.0)
    ),
    "no compartment to sound": partial(sounding, [tap(75, 75)], 150.0, {}, {}),
    "no tap": survey_of,
    "two taps at one place": partial(survey_of, tap(225, 75), tap(75, 75), tap(75.7, 75.7)),
    "a tap beside the plate": partial(survey_of, tap(75, 75), tap(450, 601.2)),
    "compartments that overlap": partial(
        survey_of, tap(75, 75), A=rectangle(0, 0, 900, 600), B=rectangle(800, 0, 900, 600)
    ),
    "a compartment that crosses itself": partial(survey_of, tap(75, 75), A=((0, 0), (900, 600), (900, 0), (0, 600))),
    "a foot that crosses itself": partial(
        sounding, [tap(75, 75)], 150.0, {"A": rectangle(0, 0, 900, 600)}, {"F1": ((0, 0), (90, 60), (90, 0), (0, 60))}
    ),
}


def test_taps_and_readings_a_millimetre_apart_are_two_places() -> None:
    assert len(sounding([tap(75, 75), tap(76.5, 75)], 150.0, {"A": rectangle(0, 0, 900, 600)}, {}).cells) == 2
    apart = level_survey(np.append(X, 1.0), np.append(Y, 0.0), np.append(FLAT, 250.0), resolution_mm=0.01)
    assert apart.steepest.slope_mm_m == 0.0
