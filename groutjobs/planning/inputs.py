"""What a plan is computed from, taken out of the rows as plain JSON, so that a result can be computed again."""

from typing import Any

from groutjobs.equipment.geometry import drawing_of
from groutjobs.equipment.models import Baseplate, Foundation, Machine
from groutjobs.planning.models import DataSheet, GroutLot, PourPlan

Inputs = dict[str, Any]


def inputs_of(plan: PourPlan, machine: Machine, *, promised_kits: int = 0) -> Inputs:
    """Everything that the result depends on, as plain JSON."""
    return {
        "machine": _columns(machine, "tag", "kind", "driver_kw", "speed_rpm", "mass_kg"),
        "foundation": _foundation_inputs(machine.foundation),
        "plate": _plate_inputs(machine.baseplate),
        "data_sheet": _sheet_inputs(plan.data_sheet),
        "lot": _lot_inputs(plan.lot, promised_kits),
        "plan": _columns(
            plan, "clearance_mm", "rise_mm", "chamfer_mm", "head_mm", "waste_ratio", "spare_kits", "mixers", "crew",
            "place_min", "turnaround_min", "kits_per_batch", "planned_grout_c", "snug_kn", "machine_mounted",
            "material_c", "conditioning_store_c", "core_c", "conditioning_h",
        )
        | {"pour_on": plan.pour_on.isoformat() if plan.pour_on else None},
        "drawing": drawing_of(machine).as_json(),
    }  # fmt: skip


def geometry_of(inputs: Inputs) -> Inputs:
    """The part of the inputs that comes from the machine; for telling whether it has changed since."""
    return {name: inputs[name] for name in ("machine", "foundation", "plate")}


def _columns(row: Any, *names: str) -> Inputs:
    return {name: getattr(row, name) for name in names}


def _foundation_inputs(foundation: Foundation) -> Inputs:
    return _columns(foundation, "length_mm", "width_mm", "roughness_mm") | {
        "survey": [[p.x_mm, p.y_mm, p.elevation_mm] for p in foundation.survey_points.all()],
        "bolts": [_columns(bolt, "label", "x_mm", "y_mm", "thread") for bolt in foundation.bolts.all()],
    }


def _plate_inputs(plate: Baseplate) -> Inputs:
    return _columns(plate, "is_soleplate", "underside_elevation_mm", "thickness_mm", "mass_kg") | {
        "outline": [[x, y] for x, y in plate.outline_points()],
        "compartments": [
            _columns(row, "name", "fill_above_mm", "open_edge") | {"outline": [[x, y] for x, y in row.outline_points()]}
            for row in plate.compartments.all()
        ],
        "parts": [_columns(part, "kind", "label", "x_mm", "y_mm", "diameter_mm") for part in plate.parts.all()],
    }


def _sheet_inputs(sheet: DataSheet) -> Inputs:
    return {"name": sheet.grout_system.name, "kind": sheet.grout_system.kind} | _columns(
        sheet, "revision", "kit_yield_l", "kit_kg", "composition", "density_kg_m3", "thickness_min_mm",
        "thickness_max_mm", "placing_min_c", "placing_max_c", "cure_min_c", "mix_min", "working_life", "strength",
        "activation_kj_mol",
    )  # fmt: skip


def _lot_inputs(lot: GroutLot | None, promised_kits: int) -> Inputs | None:
    if lot is None:
        return None
    stored = _columns(lot, "lot_no", "kits", "store_c", "place")
    return stored | {"expires_on": lot.expires_on.isoformat(), "promised_kits": promised_kits}
