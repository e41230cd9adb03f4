"""What the sheet of a plan shows: the frozen result of an approved plan, a fresh one of a drafted plan."""

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

from groutjobs import units
from groutjobs.equipment.drawing import drawing_from_json, plan_drawing
from groutjobs.equipment.models import Machine
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Finding, Level
from groutjobs.planning.calc import compute
from groutjobs.planning.drawing import timetable_picture
from groutjobs.planning.inputs import geometry_of, inputs_of
from groutjobs.planning.models import DataSheet, GroutKind, PlanState, PourPlan
from groutjobs.planning.ordering import formwork_rows, material_rows
from groutjobs.planning.queries import lacks_of, promised_kits
from groutjobs.planning.steps import hours, step_rows

ENTERED = {
    "planned_grout_c": "Temperature of the mixed grout",
    "material_c": "Material before it is conditioned",
    "conditioning_store_c": "Store that it is brought to",
    "conditioning_h": "Time in that store before mixing",
    "core_c": "Core before mixing, at least",
    "clearance_mm": "Plate edge to formwork",
    "rise_mm": "Grout up the plate edge",
    "chamfer_mm": "Chamfer along the top edge",
    "head_mm": "Head of grout above the underside",
    "snug_kn": "Tension of all snug bolts together",
    "waste_ratio": "Waste",
    "spare_kits": "Spare kits",
    "mixers": "Mixers",
    "crew": "People on the crew",
    "kits_per_batch": "Kits in one batch",
    "place_min": "Carrying and placing of one batch",
    "turnaround_min": "Turnaround of a mixer",
}
PRINTED = {
    "kit_yield_l": "Yield of one kit or bag, mixed",
    "kit_kg": "Mass of one kit or bag",
    "density_kg_m3": "Density of the mixed grout",
    "thickness_min_mm": "Least depth of grout",
    "thickness_max_mm": "Greatest depth in one lift",
    "placing_min_c": "Coldest for placing",
    "placing_max_c": "Hottest for placing",
    "cure_min_c": "Does not cure below",
    "mix_min": "Mixing time of one kit",
    "shelf_life_d": "Shelf life",
    "activation_kj_mol": "Activation energy, kJ/mol",
}
SECTIONS = ("takeoff", "material", "formwork", "head", "timetable", "lifts", "conditioning")


def plan_context(plan: PourPlan, system: str, starts_at: dt.datetime | None) -> dict[str, Any]:
    """Result, findings in the reader's units, pictures, and the numbers by section, for a plan from plan_whole().

    `starts_at` is the hour chosen for the pour, if there is one.
    """
    result, findings = _fresh(plan, system) if plan.state == PlanState.DRAFTED else _frozen(plan, system)
    context: dict[str, Any] = {
        "plan": plan,
        "result": result,
        "findings": findings,
        "is_computed": bool(result),
        "is_epoxy": plan.data_sheet.grout_system.kind == GroutKind.EPOXY,
        "entered": plan_rows(plan, system),
    }
    if not result:
        return context
    return context | {
        "has_blocker": any(finding.level is Level.BLOCKER for finding in findings),
        "regions": [region for region in (*result["compartments"], result["rest"], result["shoulder"]) if region],
        "less_l": result["chamfer_l"] + result["displaced_l"],
        "plan_svg": plan_drawing(drawing_from_json(result["inputs"]["drawing"]), system=system),
        "material": material_rows(result, system),
        "formwork": formwork_rows(result, system),
        "timetable_svg": timetable_picture(result["timetable"]),
        "numbers": {section: _numbers(result, section) for section in SECTIONS},
        "steps": step_rows(result, system, starts_at),
        "packages": package_rows(result, starts_at),
        "store_hours": store_hours(result),
        "peaks": peak_rows(result, system),
    }


def _numbers(result: dict[str, Any], section: str) -> list[dict[str, Any]]:
    return [number for number in result["numbers"] if number["group"] == section]


@dataclass(frozen=True)
class PackageRow:
    """Hours of one package in the store, and the latest hour at which it comes in."""

    name: str
    core: str
    mean: str
    at: dt.datetime | None
    is_late: bool


def package_rows(result: dict[str, Any], starts_at: dt.datetime | None) -> list[PackageRow]:
    """The packages of a plan whose material is conditioned; none for a result of before that."""
    found = result.get("conditioning")
    if not found:
        return []
    rows = []
    for row in found["rows"]:
        core_h = float(math.ceil(row["core_h"]))
        at = starts_at - dt.timedelta(hours=core_h) if starts_at else None
        is_late = row["core_h"] > found["planned_h"]
        rows.append(PackageRow(row["name"], hours(core_h), hours(row["mean_h"]), at, is_late))
    return rows


def store_hours(result: dict[str, Any]) -> dict[str, str]:
    """As it stands and opened, in whole hours up, and as planned."""
    found = result.get("conditioning")
    if not found or not found["rows"]:
        return {}
    needed = {name: hours(float(math.ceil(found[name]))) for name in ("as_it_stands_h", "opened_h")}
    return needed | {"planned_h": hours(found["planned_h"])}


@dataclass(frozen=True)
class PeakRow:
    """The peak of the thickest lift, placed at one temperature."""

    placed: str
    temp: str
    likely: str
    band: str
    rise: str
    when: str


def peak_rows(result: dict[str, Any], system: str) -> list[PeakRow]:
    """Cold, as planned and hot; none for cement, and for a result of before that."""
    heat = result.get("heat")

    def whole(value: float, suffix: str) -> str:
        return units.shown(value, suffix, system, decimals=0)

    return [
        PeakRow(
            placed=case["label"].capitalize(),
            temp=whole(case["temp_c"], "c"),
            likely=whole(case["likely"]["peak_c"], "c"),
            band=f"{whole(case['low']['peak_c'], 'c')} to {whole(case['high']['peak_c'], 'c')}",
            rise=whole(case["likely"]["rise_k"], "k"),
            when=hours(case["likely"]["at_h"]),
        )
        for case in (heat["cases"] if heat else [])
    ]


def _fresh(plan: PourPlan, system: str) -> tuple[dict[str, Any], list[Finding]]:
    lacks = lacks_of(plan.machine)
    if lacks:
        return {}, [_stopped(f"{plan.machine.tag} lacks: {lack.part}, {lack.why}.") for lack in lacks]
    try:
        result = compute(plan, plan.machine, promised_kits=promised_kits(plan))
    except (OutOfRange, Unusable) as error:
        return {}, [_stopped(f"It cannot be computed: {error}.")]
    return result, findings_of(result, system)


def _stopped(message: str) -> Finding:
    hint = "Change the machine's data or this plan."
    return Finding(level=Level.BLOCKER, code="planning.not_computed", message=message, hint=hint, source="GROUTJOBS")


def _frozen(plan: PourPlan, system: str) -> tuple[dict[str, Any], list[Finding]]:
    if "numbers" not in plan.result:
        return {}, []
    found = findings_of(plan.result, system)
    if plan.state == PlanState.APPROVED and _has_changed(plan, plan.machine):
        changed = Finding(
            level=Level.WARNING,
            code="planning.machine_changed",
            message=f"The data of {plan.machine.tag} were changed after this plan was approved; it shows them as they "
            "were then.",
            hint="Make a new revision, so that volume, formwork and findings follow the machine.",
            source="GROUTJOBS",
        )
        found.insert(0, changed)
    return plan.result, found


def _has_changed(plan: PourPlan, machine: Machine) -> bool:
    return bool(lacks_of(machine)) or geometry_of(inputs_of(plan, machine)) != geometry_of(plan.result["inputs"])


@dataclass(frozen=True)
class EnteredRow:
    """One planned value: in the reader's unit, and as it was typed."""

    label: str
    shown: str
    typed: str


def entered_rows(row: PourPlan | DataSheet, labels: dict[str, str], system: str) -> list[EnteredRow]:
    """These columns of a row, in the order of the labels; a value that nobody gave is left out."""
    rows = []
    for name, label in labels.items():
        value, suffix = getattr(row, name), _suffix(name)
        if value is None:
            continue
        shown = units.shown(value, suffix, system) if suffix else f"{value:g}"
        entered = row.as_entered.get(name)
        typed = f"{entered['text']} {units.unit_for(suffix, entered['unit']).label}" if entered and suffix else ""
        rows.append(EnteredRow(label, shown, typed))
    return rows


def plan_rows(plan: PourPlan, system: str) -> list[EnteredRow]:
    """What the planner typed."""
    on_plate = "machine and driver" if plan.machine_mounted else "nothing: the plate alone"
    return [*entered_rows(plan, ENTERED, system), EnteredRow("On the plate during the pour", on_plate, "")]


def _suffix(name: str) -> str:
    try:
        return units.suffix_of(name)
    except KeyError:
        return ""


def findings_of(result: dict[str, Any], system: str) -> list[Finding]:
    """The findings of a stored result in the reader's units."""
    stored = result["findings_us"] if system == units.US else result["findings"]
    return [Finding.from_json(finding) for finding in stored]
