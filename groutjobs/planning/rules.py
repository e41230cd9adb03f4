"""What our own rules say about a plan: one function for each rule, from the inputs and results of a plan to findings.

The engineering has rules of its own (depth, openings, uplift, batches); these are about the choice of the grout, the
lot, the formwork and the allowances.
"""

import datetime as dt
from collections.abc import Callable
from typing import Any

from groutjobs import units
from groutjobs.findings import Finding, Level
from groutjobs.wording import counted

Inputs = dict[str, Any]

CEMENT_POWER_KW = 373.0
CEMENT_SPEED_RPM = 3600.0
CEMENT_MASS_KG = 2270.0
STORE_LOW_C, STORE_HIGH_C = 4.0, 32.0
EPOXY_COOL_C = 18.0
SHOULDER_LEAST_MM, SHOULDER_MOST_MM = 25.0, 150.0
HEAD_LEAST_MM = 150.0
WASTE_LEAST_RATIO = 0.10


def plan_findings(inputs: Inputs, kits: dict[str, Any], *, system: str = units.METRIC) -> list[Finding]:
    """All findings of the rules below. `kits` is the part of the result that counts kits."""
    found = [finding for rule in _RULES for finding in rule(inputs, system)]
    return found + lot_findings(inputs, kits, system)


def cement_limits(inputs: Inputs, system: str) -> list[Finding]:
    """Cementitious grout under rotating machines only below limits of power, speed and mass; never reciprocating."""
    if inputs["data_sheet"]["kind"] != "cement":
        return []
    machine = inputs["machine"]
    if machine["kind"] == "reciprocating_compressor":
        return [_cement("A reciprocating machine is never set on cementitious grout: impact and oil break it up.")]
    broken = [
        ("driver power", machine["driver_kw"], CEMENT_POWER_KW, "kw", machine["driver_kw"] >= CEMENT_POWER_KW),
        ("speed", machine["speed_rpm"], CEMENT_SPEED_RPM, "rpm", machine["speed_rpm"] > CEMENT_SPEED_RPM),
        ("mass", machine["mass_kg"], CEMENT_MASS_KG, "kg", machine["mass_kg"] > CEMENT_MASS_KG),
    ]
    return [
        _cement(
            f"Cementitious grout: {name} {units.shown(value, suffix, system)}, the limit is "
            f"{'below' if name == 'driver power' else 'at most'} {units.shown(limit, suffix, system)}."
        )
        for name, value, limit, suffix, is_broken in broken
        if is_broken
    ]


def _cement(message: str) -> Finding:
    return Finding(
        level=Level.BLOCKER,
        code="planning.cement_limits",
        message=message,
        hint="Choose an epoxy grout for this machine.",
        source="API686 ch.5",
    )


def placing_temperature(inputs: Inputs, system: str) -> list[Finding]:
    """The planned grout temperature against the data sheet, and epoxy below 18 °C."""
    sheet, planned_c = inputs["data_sheet"], inputs["plan"]["planned_grout_c"]
    low, high = (units.shown(sheet[name], "c", system) for name in ("placing_min_c", "placing_max_c"))
    if not sheet["placing_min_c"] <= planned_c <= sheet["placing_max_c"]:
        return [
            Finding(
                level=Level.BLOCKER,
                code="planning.grout_temperature",
                message=f"Planned grout temperature {units.shown(planned_c, 'c', system)} is outside the {low} to "
                f"{high} of the data sheet.",
                hint="Condition the material, or pour at another hour.",
                source=_sheet_source(inputs),
                margin=min(planned_c - sheet["placing_min_c"], sheet["placing_max_c"] - planned_c),
            )
        ]
    if sheet["kind"] != "epoxy" or planned_c >= EPOXY_COOL_C:
        return []
    return [
        Finding(
            level=Level.WARNING,
            code="planning.grout_cool",
            message=f"Planned grout temperature {units.shown(planned_c, 'c', system)} is below "
            f"{units.shown(EPOXY_COOL_C, 'c', system)}: it flows and cures slowly.",
            hint="Plan for warmed material, concrete and plate, or for a longer cure.",
            source="BLOCH-MCM p.140",
            margin=planned_c - EPOXY_COOL_C,
        )
    ]


def shoulder_width(inputs: Inputs, system: str) -> list[Finding]:
    """The grout between plate and forms: room for air to come out, but no wide rim that cracks."""
    clearance_mm = inputs["plan"]["clearance_mm"]
    if clearance_mm < SHOULDER_LEAST_MM:
        side, limit, why = "less", SHOULDER_LEAST_MM, "air cannot get out between plate and forms"
    elif clearance_mm > SHOULDER_MOST_MM and inputs["data_sheet"]["kind"] == "epoxy":
        side, limit, why = "more", SHOULDER_MOST_MM, "wide shoulders of epoxy crack and curl"
    else:
        return []
    return [
        Finding(
            level=Level.WARNING,
            code="planning.shoulder",
            message=f"Plate to formwork {units.shown(clearance_mm, 'mm', system)}, {side} than "
            f"{units.shown(limit, 'mm', system)}: {why}.",
            hint="Move the formwork.",
            source="PRACTICE",
        )
    ]


def grout_level(inputs: Inputs, system: str) -> list[Finding]:
    """The grout ends on the edge of the plate, never over its top, and its head stands above that level."""
    rise_mm, head_mm = inputs["plan"]["rise_mm"], inputs["plan"]["head_mm"]
    thickness_mm = inputs["plate"]["thickness_mm"]
    found = []
    if rise_mm > thickness_mm:
        found.append(
            Finding(
                level=Level.WARNING,
                code="planning.rise_over_plate",
                message=f"Grout would rise {units.shown(rise_mm, 'mm', system)} on a plate "
                f"{units.shown(thickness_mm, 'mm', system)} thick and run over its top.",
                hint="End the grout on the edge of the plate, below its top.",
                source="PRACTICE",
                margin=thickness_mm - rise_mm,
            )
        )
    if head_mm <= rise_mm:
        found.append(
            Finding(
                level=Level.BLOCKER,
                code="planning.head_below_grout",
                message=f"A head of {units.shown(head_mm, 'mm', system)} does not push grout up to "
                f"{units.shown(rise_mm, 'mm', system)} above the underside.",
                hint="Plan a head box or funnel that stands higher.",
                source="GROUTJOBS",
                margin=head_mm - rise_mm,
            )
        )
    elif head_mm < HEAD_LEAST_MM:
        found.append(
            Finding(
                level=Level.WARNING,
                code="planning.head_low",
                message=f"A head of {units.shown(head_mm, 'mm', system)} is below the usual "
                f"{units.shown(HEAD_LEAST_MM, 'mm', system)} or more; grout may stop before it reaches the far side.",
                hint="Raise the head box, and check the uplift.",
                source="PRACTICE",
                margin=head_mm - HEAD_LEAST_MM,
            )
        )
    return found


def allowances(inputs: Inputs, system: str) -> list[Finding]:
    """Waste below a tenth, or no spare kit."""
    found = []
    waste = inputs["plan"]["waste_ratio"]
    if waste < WASTE_LEAST_RATIO:
        found.append(
            Finding(
                level=Level.WARNING,
                code="planning.waste_low",
                message=f"Waste of {units.shown(waste, 'ratio', system)} is below the usual 10 to 15 %; one handbook "
                "adds 25 %.",
                hint="Running out in the middle of a pour costs the whole pour.",
                source="BLOCH-MCM p.121, PRACTICE",
                margin=waste - WASTE_LEAST_RATIO,
            )
        )
    if inputs["plan"]["spare_kits"] < 1:
        found.append(
            Finding(
                level=Level.WARNING,
                code="planning.no_spare",
                message="No spare kit is planned.",
                hint="Bring one kit or bag more than the need.",
                source="PRACTICE",
            )
        )
    return found


def lot_findings(inputs: Inputs, kits: dict[str, Any], system: str) -> list[Finding]:
    """The lot: enough of it, not past its date on the day of the pour, stored within its temperatures."""
    lot = inputs["lot"]
    if lot is None:
        return [_lot(Level.WARNING, "planning.no_lot", "No lot is chosen; age and store of the material are unknown.")]
    return [*_enough(lot, kits), *_in_date(lot, inputs["plan"]["pour_on"]), *_stored_well(lot, system)]


def _enough(lot: dict[str, Any], kits: dict[str, Any]) -> list[Finding]:
    promised, needed = lot["promised_kits"], kits["kits_total"]
    if lot["kits"] - promised >= needed:
        return []
    others = f", {promised} of them promised to other approved plans" if promised else ""
    return [
        _lot(
            Level.WARNING,
            "planning.lot_short",
            f"Lot {lot['lot_no']} holds {lot['kits']} kits{others}; this plan brings {needed}.",
            "Order more now; another lot in one pour is sampled and recorded apart.",
        )
    ]


def _in_date(lot: dict[str, Any], pour_on: str | None) -> list[Finding]:
    if pour_on is None:
        text = f"No day is planned, so the expiry of lot {lot['lot_no']} on {lot['expires_on']} is not checked."
        return [_lot(Level.NOTE, "planning.no_day", text, "Enter the day as soon as it is known.")]
    left_d = (dt.date.fromisoformat(lot["expires_on"]) - dt.date.fromisoformat(pour_on)).days
    if left_d >= 0:
        return []
    text = (
        f"Lot {lot['lot_no']} expires on {lot['expires_on']}, {counted(-left_d, 'day')} before the pour on {pour_on}."
    )
    return [_lot(Level.BLOCKER, "planning.lot_expired", text, "Bring a lot that is in date; never mix an expired one.")]


def _stored_well(lot: dict[str, Any], system: str) -> list[Finding]:
    store_c = lot["store_c"]
    shown, low, high = (units.shown(value, "c", system) for value in (store_c, STORE_LOW_C, STORE_HIGH_C))
    if not STORE_LOW_C <= store_c <= STORE_HIGH_C:
        text = f"Lot {lot['lot_no']} is stored at {shown}, outside {low} to {high}."
        hint = "Ask the supplier in writing whether it may still be used."
        return [_lot(Level.WARNING, "planning.store_temperature", text, hint, "BLOCH-MCM p.134")]
    return []


def _lot(level: Level, code: str, message: str, hint: str = "", source: str = "GROUTJOBS") -> Finding:
    return Finding(level=level, code=code, message=message, hint=hint, source=source)


def _sheet_source(inputs: Inputs) -> str:
    return f"DATASHEET {inputs['data_sheet']['name']} rev {inputs['data_sheet']['revision']}"


_RULES: tuple[Callable[[Inputs, str], list[Finding]], ...] = (
    cement_limits,
    placing_temperature,
    shoulder_width,
    grout_level,
    allowances,
)
