"""How long the material of a plan stands in a store until its core has the wanted temperature."""

import math
from typing import Any

from groutjobs import units
from groutjobs.engineering.preconditioning import STORED, Brick, Stored, conditioning_findings, hours_in_store
from groutjobs.errors import NotAllowed, OutOfRange
from groutjobs.findings import Finding, Level
from groutjobs.planning.inputs import Inputs
from groutjobs.planning.models import GroutKind, PourPlan

EPOXY_LEAST_C, EPOXY_MOST_C, EPOXY_USUAL_H = 18.0, 27.0, 48.0
"""65 to 80 °F [BLOCH-MCM] p. 121 and 138; 48 h at 65 °F or more [BLOCH-MCM] p. 138."""
SHORT_OF_STORE_K = 0.5
"""Material never quite reaches its store; nearer than this the hours say nothing [GROUTJOBS]."""
AS_IT_STANDS, OPENED = ("pallet_wrapped",), ("pallet_opened",)
PAILS = ("pail_20_l", "pail_5_l")
_ORDER = ("pallet_wrapped", "pallet_opened", "bag", *PAILS)


def conditioning(inputs: Inputs) -> dict[str, Any] | None:
    """Hours in the store for each package; None where nobody knows how warm the material is.

    Raises OutOfRange where the store or the core entered cannot do what is wanted.
    """
    plan, lot, sheet = inputs["plan"], inputs["lot"], inputs["data_sheet"]
    low_c, low_basis, low_source = _least_c(inputs)
    high_c = _most_c(inputs, low_c)
    start_c = plan["material_c"] if plan["material_c"] is not None or lot is None else lot["store_c"]
    if start_c is None:
        return None
    is_cold, is_hot = start_c < low_c, start_c > high_c
    found: dict[str, Any] = {
        "start_c": start_c,
        "start_basis": "as entered" if plan["material_c"] is not None else f"store of lot {lot['lot_no']}",
        "least_c": low_c,
        "least_basis": low_basis,
        "least_source": low_source,
        "most_c": high_c,
        "is_needed": is_cold or is_hot,
        "wanted_c": low_c if is_cold else high_c if is_hot else start_c,
        "store_c": plan["conditioning_store_c"],
        "rows": [],
    }
    if found["is_needed"] and found["store_c"] is not None:
        _require_store(found)
        found |= _hours(found, is_epoxy=sheet["kind"] == GroutKind.EPOXY, entered_h=plan["conditioning_h"])
    return found


def store_hours(plan: PourPlan, store_c: float | None, wanted_c: float) -> dict[str, Any] | None:
    """Hours in another store until the material of a plan is as warm, or as cool, as wanted; None without a store.

    OutOfRange where that store cannot do it, NotAllowed where nobody knows how warm the material is now.
    """
    if store_c is None:
        return None
    now = plan.result.get("conditioning")
    if now is None:
        raise NotAllowed(f"{plan} does not tell how warm its material is now; enter it in the plan, or choose its lot")
    found = {"start_c": now["start_c"], "store_c": store_c, "wanted_c": wanted_c}
    _require_store(found)
    kind = plan.result["inputs"]["data_sheet"]["kind"]
    hours = _hours(found, is_epoxy=kind == GroutKind.EPOXY, entered_h=None)
    return found | {name: hours[name] for name in ("opened_h", "as_it_stands_h")} | {"last": STORED[hours["last"]].name}


def _least_c(inputs: Inputs) -> tuple[float, str, str]:
    """The coldest core at which it is mixed, where that comes from, and its source."""
    entered_c, sheet = inputs["plan"]["core_c"], inputs["data_sheet"]
    coldest_c, hottest_c, paper = sheet["placing_min_c"], sheet["placing_max_c"], _paper(inputs)
    if entered_c is not None:
        if not coldest_c <= entered_c <= hottest_c:
            raise OutOfRange(
                "core before mixing", entered_c, low=coldest_c, high=hottest_c, unit="°C", source="DATASHEET"
            )
        return entered_c, "as entered", "GROUTJOBS"
    if sheet["kind"] == GroutKind.EPOXY and coldest_c <= EPOXY_LEAST_C < hottest_c:
        return EPOXY_LEAST_C, "general for epoxy", "BLOCH-MCM p.138"
    return coldest_c, "coldest for placing on the data sheet", paper


def _most_c(inputs: Inputs, low_c: float) -> float:
    hottest_c = float(inputs["data_sheet"]["placing_max_c"])
    is_epoxy = inputs["data_sheet"]["kind"] == GroutKind.EPOXY
    return EPOXY_MOST_C if is_epoxy and low_c < EPOXY_MOST_C < hottest_c else hottest_c


def _paper(inputs: Inputs) -> str:
    return f"DATASHEET {inputs['data_sheet']['name']} rev {inputs['data_sheet']['revision']}"


def _require_store(found: dict[str, Any]) -> None:
    """The store lies beyond the wanted temperature."""
    store_c, wanted_c, is_cold = found["store_c"], found["wanted_c"], found["start_c"] < found["wanted_c"]
    low = wanted_c + SHORT_OF_STORE_K if is_cold else None
    high = None if is_cold else wanted_c - SHORT_OF_STORE_K
    if (low is not None and store_c < low) or (high is not None and store_c > high):
        raise OutOfRange("conditioning store", store_c, low=low, high=high, unit="°C", source="GROUTJOBS")


def _hours(found: dict[str, Any], *, is_epoxy: bool, entered_h: float | None) -> dict[str, Any]:
    rows = [_row(key, found) for key in _ORDER if is_epoxy or key not in PAILS]
    core_h = {row["key"]: row["core_h"] for row in rows}
    pails = PAILS if is_epoxy else ()
    last = max((*OPENED, *pails), key=lambda key: core_h[key])
    opened_h, usual_h = core_h[last], EPOXY_USUAL_H if is_epoxy else 0.0
    planned_h = entered_h if entered_h is not None else float(max(usual_h, math.ceil(opened_h)))
    return {
        "rows": rows,
        "last": last,
        "as_it_stands_h": max(core_h[key] for key in (*AS_IT_STANDS, *pails)),
        "opened_h": opened_h,
        "planned_h": planned_h,
        "is_entered": entered_h is not None,
    }


def _row(key: str, found: dict[str, Any]) -> dict[str, Any]:
    stored = STORED[key]
    hours = hours_in_store(stored, found["start_c"], found["store_c"], found["wanted_c"])
    return {
        "key": key,
        "name": stored.name,
        "core_h": hours.core_h,
        "mean_h": hours.mean_h,
        "sizes_mm": _sizes_mm(stored),
        "conductivity_w_mk": stored.solid.conductivity_w_mk,
        "density_kg_m3": stored.solid.density_kg_m3,
        "specific_heat_j_kgk": stored.solid.specific_heat_j_kgk,
        "film_w_m2k": stored.film_w_m2k,
    }


def _sizes_mm(stored: Stored) -> list[list[Any]]:
    shape = stored.shape
    if isinstance(shape, Brick):
        return [["length", shape.length_mm], ["width", shape.width_mm], ["height", shape.height_mm]]
    return [["diameter", shape.diameter_mm], ["height", shape.height_mm]]


def findings_about_material(inputs: Inputs, found: dict[str, Any] | None, system: str) -> list[Finding]:
    """The package that is last when all is opened; the wrapped pallet too where it alone comes late."""
    if found is None or not found["is_needed"]:
        return []
    if not found["rows"]:
        return [_no_store(inputs, found, system)]
    temps = (found["start_c"], found["store_c"], found["wanted_c"])
    left_h = found["planned_h"]
    told = conditioning_findings(STORED[found["last"]], *temps, left_h, system=system)
    if told[0].level is Level.NOTE:
        wrapped = conditioning_findings(STORED["pallet_wrapped"], *temps, left_h, system=system)
        told += [finding for finding in wrapped if finding.level is Level.WARNING]
    return told


def _no_store(inputs: Inputs, found: dict[str, Any], system: str) -> Finding:
    start, least, most = (units.shown(found[name], "c", system) for name in ("start_c", "least_c", "most_c"))
    side = f"below {least}" if found["start_c"] < found["least_c"] else f"above {most}"
    hint = (
        "Enter the store that it is brought to, to see the hours; the core lags far behind the air. Open the pallet, "
        "leave air between bags and pails, and read a core before mixing."
    )
    if inputs["data_sheet"]["kind"] == GroutKind.EPOXY:
        hint += f" 48 hours at {least} to {most} are common."
    return Finding(
        level=Level.WARNING,
        code="planning.condition_material",
        message=f"The material is at {start}, {side}, and no store is planned to bring it there.",
        hint=hint,
        source=found["least_source"],
    )
