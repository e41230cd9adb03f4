"""What the strength of a sample says: load over area, against what is required and what the clock expects."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from groutjobs import units
from groutjobs.curing.calc.cure import product_of
from groutjobs.curing.calc.judgement import judged
from groutjobs.curing.models import Probe
from groutjobs.curing.series import HOUR, series_of
from groutjobs.engineering.cure_belief import StrengthSample, belief_before, corrected_belief
from groutjobs.engineering.cure_fit import fit_cure
from groutjobs.engineering.specimens import compressive_strength_mpa, cylinder_area_mm2
from groutjobs.engineering.strength import strength_mpa
from groutjobs.errors import GroutJobsError
from groutjobs.findings import Finding, Level
from groutjobs.planning.models import DataSheet
from groutjobs.pours.models import Pour

LEAST_OF_EXPECTED = 0.85
"""A sample below this share of what the clock expects is asked about: twice the spread of 7 %. GROUTJOBS."""
SLENDER = 1.8
"""A cylinder shorter than this many diameters reads high and is corrected by the laboratory. PRACTICE."""


def expected_of(pour: Pour, cure: Mapping[str, Any], kept: str, tested_at: dt.datetime) -> dict[str, Any]:
    """Equivalent age of a sample at its test and the strength of the data sheet's curve at that age; None, with why."""
    curve = product_of(pour.plan.data_sheet).curve
    nothing: dict[str, Any] = {"age_h": None, "expected_mpa": None}
    if pour.placed_at is None:
        return nothing | {"why_not": "the clock starts when the last grout is placed"}
    at_h = (tested_at - pour.placed_at) / HOUR
    ages = cure.get("series", {}).get("age")
    if kept != "beside":
        age_h, words = at_h, "its own hours, taken as spent at the reference temperature"
    elif not ages or at_h > ages["at_h"][-1]:
        return nothing | {"why_not": "there is no grout reading up to the test"}
    else:
        age_h, words = float(np.interp(at_h, ages["at_h"], ages["age_h"])), "the cure clock at that hour"
    expected = None if curve is None or age_h <= 0 else strength_mpa(curve, age_h)
    return {"age_h": age_h, "expected_mpa": expected, "age_from": words, "why_not": ""}


def sample_result(inputs: dict[str, Any]) -> dict[str, Any]:
    """Strength and what it says. Raises OutOfRange where the values cannot be used."""
    area = _area_mm2(inputs)
    found = inputs["reported_mpa"] or compressive_strength_mpa(inputs["load_kn"], area)
    expected = inputs["expected"]["expected_mpa"]
    told = {system: _findings(inputs, area, found, expected, system) for system in (units.METRIC, units.US)}
    sources = ["ASTMC579", "GROUTJOBS", inputs["required_source"]]
    more = {"area_mm2": area, "strength_mpa": found, "ratio": found / expected if expected else None}
    return judged(told, [key for key in sources if key]) | more


def _area_mm2(inputs: dict[str, Any]) -> float:
    if inputs["shape"] == "cylinder":
        return cylinder_area_mm2(inputs["side_mm"])
    return float(inputs["side_mm"] * (inputs["width_mm"] or inputs["side_mm"]))


def _findings(
    inputs: dict[str, Any], area_mm2: float, found: float, expected: float | None, system: str
) -> list[Finding]:
    def show(value: float) -> str:
        return units.shown(value, "mpa", system)

    told = []
    required = inputs["required_mpa"]
    if required is not None and found < required:
        words = f"{show(found)} is {show(required - found)} under the {show(required)} required."
        hint = "Test another of the set, or core; raise a nonconformance, and let the engineer decide."
        told.append(_finding(Level.BLOCKER, "below", words, hint, inputs["required_source"]))
    if expected is not None and found < LEAST_OF_EXPECTED * expected:
        words = f"{show(found)} is {found / expected:.0%} of the {show(expected)} that the cure clock expects."
        hint = "Ask for mixing, casting and curing of the sample; samples cured cold stay under the data sheet."
        told.append(_finding(Level.WARNING, "unlike", words, hint, "GROUTJOBS"))
    if inputs["reported_mpa"] and inputs["load_kn"]:
        own = compressive_strength_mpa(inputs["load_kn"], area_mm2)
        if not 0.98 <= found / own <= 1.02:
            words = f"The laboratory reports {show(found)}; load over area is {show(own)}."
            told.append(
                _finding(Level.WARNING, "not_load_over_area", words, "Ask the laboratory which it means.", "ASTMC579")
            )
    if inputs["shape"] == "cylinder" and inputs["height_mm"] and inputs["height_mm"] < SLENDER * inputs["side_mm"]:
        words = f"Height over diameter is {inputs['height_mm'] / inputs['side_mm']:.2f}; a short cylinder reads high."
        told.append(_finding(Level.NOTE, "short", words, "The laboratory corrects it by its standard.", "PRACTICE"))
    return told


def _finding(level: Level, code: str, message: str, hint: str, source: str) -> Finding:
    return Finding(level=level, code=f"sample.{code}", message=message, hint=hint, source=source)


def rate_with_samples(
    pour: Pour, readings: Mapping[str, Sequence[tuple[dt.datetime, float]]], beside: Sequence[tuple[dt.datetime, float]]
) -> dict[str, Any]:
    """The rate of the pour against its data sheet before and after its own samples, or why it is not corrected.

    `beside` are moments and strengths of samples that lay as warm as the grout.
    """
    sheet: DataSheet = pour.plan.data_sheet
    product = product_of(sheet)
    if product.is_cement:
        return {"why_not": "the days of cement grout are counted, not corrected by samples"}
    if pour.placed_at is None:
        return {"why_not": "the clock starts when the last grout is placed"}
    grout = series_of(readings.get(Probe.GROUT, ()), pour.placed_at).from_start()
    hours = [((at - pour.placed_at) / HOUR, strength) for at, strength in beside]
    used = [
        StrengthSample(at_h, value)
        for at_h, value in hours
        if len(grout) > 1 and grout.at_h[0] <= at_h <= grout.at_h[-1]
    ]
    if not used:
        return {"why_not": "no sample lay beside the pour within its grout readings"}
    try:
        before = belief_before(fit_cure(product.points, product.clock))
        after = corrected_belief(before, product.clock, grout.at_h, grout.temp_c, samples=used)
    except GroutJobsError as error:
        return {"why_not": str(error)}
    return {"why_not": "", "count": len(used), "basis": after.basis, "ratio": after.rate_ratio, "sd": after.log_rate_sd,
            "before_sd": before.log_rate_sd}  # fmt: skip
