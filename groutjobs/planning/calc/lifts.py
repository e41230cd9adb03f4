"""Lifts of a plan, and how hot the thickest of them gets while it cures."""

import dataclasses
import re
from functools import lru_cache
from typing import Any

import numpy as np

from groutjobs import units
from groutjobs.engineering.exotherm import AirAround, Placements, adiabatic_rise_k
from groutjobs.engineering.kinetics import ILLUSTRATIVE_EPOXY
from groutjobs.engineering.layers import Layers
from groutjobs.engineering.lifts import (
    LIFT_LIMITS,
    Peak,
    PeakBand,
    lift_findings,
    lifts_needed,
    peak_bands,
)
from groutjobs.engineering.materials import concrete, grout, steel
from groutjobs.engineering.takeoff import Takeoff
from groutjobs.errors import NotConverged, OutOfRange
from groutjobs.findings import Finding, Level
from groutjobs.planning.inputs import Inputs
from groutjobs.planning.models import GroutKind

GENERAL_BINDER_RATIO = 0.15
"""Resin and hardener in a filled grout, where the data sheet does not tell their masses [GROUTJOBS]; 0.10 to 0.16 is
usual, and the band reaches from 0.10 to 0.20."""
BINDER_RATIOS = (0.05, 0.30)
"""Between these a share read from a composition is believed [GROUTJOBS]."""
STILL_AIR_W_M2K = 7.7
"""Still air and radiation over a horizontal plate [ISO6946]."""
CONCRETE_MM = 600.0
"""Concrete below the bed: the heat of a day reaches about 250 mm into it [GROUTJOBS]."""
WATCHED_H, WATCHED_WHEN_COLD_H, COLD_C = 36, 72, 8.0
"""Hours that are followed after placing: a lift at 10 °C is hottest after 8 to 21 h [GROUTJOBS]."""
_KG_PER_LB = 0.45359237


def planned_lifts(inputs: Inputs, takeoff: Takeoff) -> dict[str, Any]:
    """Count and thickness of equal lifts for the deepest place of the bed."""
    deepest_mm = max(region.bed.max_depth_mm for region in takeoff.regions)
    most_mm = inputs["data_sheet"]["thickness_max_mm"]
    count = lifts_needed(deepest_mm, most_mm)
    return {"deepest_mm": deepest_mm, "most_mm": most_mm, "count": count, "lift_mm": deepest_mm / count}


def lift_heat(inputs: Inputs, lifts: dict[str, Any], kept: dict[str, Any] | None) -> dict[str, Any] | None:
    """The peak bands of the thickest lift, cold, as planned and hot; None for cement, which the model does not know.

    `kept` is what was computed before; it is taken where its inputs are the same, because a run takes a third of a
    second. Where the model refuses a temperature or a rate, `why_not` says so: the plan does not stand or fall by it.
    """
    sheet = inputs["data_sheet"]
    if sheet["kind"] != GroutKind.EPOXY:
        return None
    share, basis, source = binder_of(sheet)
    temps = (sheet["placing_min_c"], inputs["plan"]["planned_grout_c"], sheet["placing_max_c"])
    given = {
        "lift_mm": lifts["lift_mm"],
        "plate_mm": inputs["plate"]["thickness_mm"],
        "binder_ratio": share,
        "temps_c": list(temps),
    }
    heat: dict[str, Any] = {
        "inputs": given,
        "binder_basis": basis,
        "binder_source": source,
        "adiabatic_k": _adiabatic_k(share),
        "heat_kj_kg": ILLUSTRATIVE_EPOXY.heat_kj_kg,
        "specific_heat_j_kgk": grout("epoxy").specific_heat_j_kgk,
        "film_w_m2k": STILL_AIR_W_M2K,
        "concrete_mm": CONCRETE_MM,
        "cases": [],
        "why_not": "",
    }
    if kept and kept["inputs"] == given and kept["cases"]:
        return heat | {"cases": kept["cases"]}
    try:
        bands = _bands(given["lift_mm"], given["plate_mm"], share, temps)
    except (OutOfRange, NotConverged) as error:
        return heat | {"why_not": str(error)}
    labels = (("cold", "coldest for placing"), ("planned", "as planned"), ("hot", "hottest for placing"))
    heat["cases"] = [
        {"code": code, "label": label, "temp_c": temp_c} | dataclasses.asdict(band)
        for (code, label), temp_c, band in zip(labels, temps, bands, strict=True)
    ]
    return heat


@lru_cache(maxsize=256)
def _bands(lift_mm: float, plate_mm: float, share: float, temps: tuple[float, ...]) -> tuple[PeakBand, ...]:
    """One run for all temperatures; grout, concrete, plate and air begin alike."""
    hours = WATCHED_WHEN_COLD_H if min(temps) < COLD_C else WATCHED_H
    temp_c = np.array(temps)
    layers = Layers(
        concrete=concrete(),
        concrete_mm=CONCRETE_MM,
        plate=steel(),
        plate_mm=plate_mm,
        grout=grout("epoxy"),
        grout_mm=lift_mm,
    )
    placements = Placements(
        placed_c=temp_c,
        foundation_c=temp_c,
        plate_c=temp_c,
        binder_ratio=np.full(len(temps), share),
        pace_ratio=np.ones(len(temps)),
    )
    air_c = np.repeat(temp_c[:, None], hours + 1, axis=1)
    around = AirAround(air_c=air_c, film_w_m2k=np.full_like(air_c, STILL_AIR_W_M2K))
    return peak_bands(layers, ILLUSTRATIVE_EPOXY, placements, around)


def _adiabatic_k(share: float) -> float:
    return adiabatic_rise_k(share, ILLUSTRATIVE_EPOXY.heat_kj_kg, grout("epoxy").specific_heat_j_kgk)


def binder_of(sheet: dict[str, Any]) -> tuple[float, str, str]:
    """Share of resin and hardener in the mass of a kit, in words where it comes from, and its source.

    It is read from a composition that tells both masses, such as "resin 4.9 kg, hardener 1.7 kg, 2 bags of 25.5 kg".
    """
    masses = [_mass_kg(word, sheet["composition"]) for word in ("resin", "hardener")]
    if None not in masses:
        share = sum(mass for mass in masses if mass is not None) / sheet["kit_kg"]
        if BINDER_RATIOS[0] <= share <= BINDER_RATIOS[1]:
            basis = "resin and hardener in the composition on the data sheet ÷ mass of one kit"
            return share, basis, f"DATASHEET {sheet['name']} rev {sheet['revision']}"
    basis = "a general share; write the masses of resin and hardener into the composition of the data sheet to use them"
    return GENERAL_BINDER_RATIO, basis, "GROUTJOBS"


def _mass_kg(word: str, composition: str) -> float | None:
    """The mass that follows the word, where it stands there once."""
    found = re.findall(rf"\b{word}\D{{0,3}}(\d+(?:[.,]\d+)?)\s*(kg|lb)\b", composition, re.IGNORECASE)
    if len(found) != 1:
        return None
    number, unit = found[0]
    return float(number.replace(",", ".")) * (_KG_PER_LB if unit.lower() == "lb" else 1.0)


def findings_about_lifts(inputs: Inputs, result: dict[str, Any], system: str) -> list[Finding]:
    """What lifts and their heat give reason to say."""
    return [*_count_findings(inputs, result["lifts"], system), *_heat_findings(result["heat"], system)]


def _count_findings(inputs: Inputs, lifts: dict[str, Any], system: str) -> list[Finding]:
    if lifts["count"] == 1:
        return []
    sheet = inputs["data_sheet"]
    deepest, most, each = (units.shown(lifts[name], "mm", system) for name in ("deepest_mm", "most_mm", "lift_mm"))
    source = f"DATASHEET {sheet['name']} rev {sheet['revision']}"
    message = f"{deepest} at the deepest place are {lifts['count']} lifts of {each}; one lift is {most} at most."
    if lifts["lift_mm"] < sheet["thickness_min_mm"]:
        least = units.shown(sheet["thickness_min_mm"], "mm", system)
        message += f" Each is thinner than {least}, the least of the data sheet."
        hint = "No number of lifts fits this depth. Change the depth, or choose a grout made for it."
        return [Finding(level=Level.BLOCKER, code="planning.lifts_misfit", message=message, hint=hint, source=source)]
    hint = (
        "Each lift is a pour of its own with a cold joint on the one before: let that one cool, abrade and clean it. "
        "Ask the supplier in writing, or choose a grout made for this depth in one lift."
    )
    return [Finding(level=Level.WARNING, code="planning.lifts", message=message, hint=hint, source=source)]


def _heat_findings(heat: dict[str, Any] | None, system: str) -> list[Finding]:
    """Those of the planned temperature; where it gives none, a note on what the hottest placing would give."""
    if heat is None:
        return []
    if heat["why_not"]:
        message = f"The heat of cure is not estimated: {heat['why_not']}."
        hint = "Ask the supplier for the peak temperature of this thickness."
        return [Finding(level=Level.NOTE, code="planning.no_heat", message=message, hint=hint, source="GROUTJOBS")]
    bands = {case["code"]: _band(case) for case in heat["cases"]}
    found = lift_findings(bands["planned"], LIFT_LIMITS, system=system)
    if found:
        first, *others = sorted(found, key=lambda finding: list(Level).index(finding.level))
        return [first, *(dataclasses.replace(finding, hint="") for finding in others)]
    return [
        dataclasses.replace(
            finding,
            level=Level.NOTE,
            message=f"Placed as hot as the data sheet allows: {finding.message[0].lower()}{finding.message[1:]}",
            hint="Place it cooler, as planned. The supplier's written lift thickness decides.",
        )
        for finding in lift_findings(bands["hot"], LIFT_LIMITS, system=system)[-1:]
    ]


def _band(case: dict[str, Any]) -> PeakBand:
    low, likely, high = (Peak(**case[name]) for name in ("low", "likely", "high"))
    return PeakBand(
        grout_mm=case["grout_mm"], kinetics_source=case["kinetics_source"], low=low, likely=likely, high=high
    )
