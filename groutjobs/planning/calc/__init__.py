"""Rows in, result of the engineering out: the only file of this stage that calls it.

A plan is computed from plain inputs, and the result keeps them: `computed(result["inputs"])` gives the same result
again, whatever has become of the rows since.
"""

import dataclasses
import itertools
import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from groutjobs import units
from groutjobs.engineering import ENGINE_VERSION
from groutjobs.engineering.batching import BatchPlan, Timetable, timetable, timetable_findings
from groutjobs.engineering.bolt_tables import threads
from groutjobs.engineering.compartments import Compartment, Hole, HoleKind, compartment_findings, expansion_joints
from groutjobs.engineering.formwork import (
    CEMENT_DEPTH_LIMITS,
    DEFAULT_RULES,
    EPOXY_DEPTH_LIMITS,
    DepthLimit,
    Formwork,
    Uplift,
    depth_findings,
    formwork_list,
    uplift,
    uplift_findings,
)
from groutjobs.engineering.materials import WorkingLife, WorkingLifePoint, working_life_min, working_life_range_c
from groutjobs.engineering.takeoff import (
    PLAN_SD_RATIO,
    KitOrder,
    Part,
    RegionVolume,
    Takeoff,
    TakeoffCase,
    cylinder_volume_m3,
    kits_to_order,
    survey_depth_sd_mm,
    take_off,
    takeoff_notes,
)
from groutjobs.equipment.models import Machine
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level
from groutjobs.planning.calc.conditioning import conditioning, findings_about_material
from groutjobs.planning.calc.lifts import findings_about_lifts, lift_heat, planned_lifts
from groutjobs.planning.inputs import Inputs, inputs_of
from groutjobs.planning.models import GroutKind, PourPlan
from groutjobs.planning.numbers import numbers_of
from groutjobs.planning.numbers_cure import cure_numbers
from groutjobs.planning.rules import plan_findings

SURVEY_POINTS_NEEDED = 3
PAD_THICKNESS_MM = 12.0
"""A round pad under a jackscrew [PRACTICE], from memory."""
BOLT_WRAP_MM = 6.0
"""What keeps grout off the exposed length of an anchor bolt [BLOCH-MCM] p. 92."""
MIX_SHARES = {GroutKind.EPOXY: (0.90, 1.10), GroutKind.CEMENT: (0.95, 1.40)}
"""Yield × density over the mass of a kit or bag [GROUTJOBS]; a bag of cementitious grout takes its water on top."""


@dataclass(frozen=True, kw_only=True)
class _Worked:
    """What the engineering returned for one plan."""

    inputs: Inputs
    takeoff: Takeoff
    order: KitOrder
    formwork: Formwork
    lift: Uplift
    life: WorkingLife
    batch_plan: BatchPlan
    times: Timetable


def compute(plan: PourPlan, machine: Machine, *, promised_kits: int = 0) -> dict[str, Any]:
    """The whole result of a plan for a machine from machine_whole(), as JSON; `promised_kits` see queries.

    Raises OutOfRange or Unusable where the engineering refuses an input.
    """
    is_of_this_engine = plan.result.get("engine_version") == ENGINE_VERSION
    kept = plan.result.get("heat") if is_of_this_engine else None
    return computed(inputs_of(plan, machine, promised_kits=promised_kits), kept_heat=kept)


def computed(inputs: Inputs, *, kept_heat: dict[str, Any] | None = None) -> dict[str, Any]:
    """The result for these inputs; the same inputs always give the same result for one engine version.

    `kept_heat` is the heat of cure of an earlier result of this engine; it spares a run where its inputs are the same.
    """
    worked = _work(inputs)
    result = {"engine_version": ENGINE_VERSION, "inputs": inputs} | _volumes(worked) | _order(worked)
    result["formwork"] = _formwork(worked)
    result |= {
        "head_kpa": worked.lift.head_pressure_kpa,
        "uplift_kn": worked.lift.uplift_kn,
        "hold_down_kn": worked.lift.hold_down_kn,
        "timetable": _timetable(worked),
        "lifts": planned_lifts(inputs, worked.takeoff),
        "conditioning": conditioning(inputs),
    }
    result["heat"] = lift_heat(inputs, result["lifts"], kept_heat)
    result |= {
        "findings": [finding.as_json() for finding in _findings(worked, result, units.METRIC)],
        "findings_us": [finding.as_json() for finding in _findings(worked, result, units.US)],
    }
    result["numbers"] = [*numbers_of(result), *cure_numbers(result)]
    result["sources"] = sorted(
        {str(row["source"]) for row in [*result["numbers"], *result["findings"]] if row["source"]}
    )
    return result


def check_data_sheet(kind: GroutKind, columns: dict[str, Any], *, system: str = units.METRIC) -> None:
    """Raise Unusable where values of a data sheet contradict each other; the error's quantity names the field."""

    def show(name: str) -> str:
        return units.shown(columns[name], units.suffix_of(name), system)

    for low, high in (("thickness_min_mm", "thickness_max_mm"), ("placing_min_c", "placing_max_c")):
        if columns[low] >= columns[high]:
            raise Unusable(high, f"{show(high)} is not above the least, {show(low)}", source="DATASHEET")
    if columns["cure_min_c"] > columns["placing_max_c"]:
        reason = f"{show('cure_min_c')} is above {show('placing_max_c')}, the hottest for placing: it would never cure"
        raise Unusable("cure_min_c", reason, source="DATASHEET")
    low_share, high_share = MIX_SHARES[kind]
    mixed_kg = columns["kit_yield_l"] * columns["density_kg_m3"] / 1000.0
    if not low_share <= mixed_kg / columns["kit_kg"] <= high_share:
        reason = (
            f"{show('kit_yield_l')} at {show('density_kg_m3')} weigh {units.shown(mixed_kg, 'kg', system)}, but the "
            f"kit holds {show('kit_kg')}; {low_share:g} to {high_share:g} times that is taken"
        )
        raise Unusable("kit_yield_l", reason, source="GROUTJOBS")
    working_life_range_c(_life_points(columns["working_life"]))
    _check_strength(columns["strength"], system)


def _check_strength(rows: list[list[float]], system: str) -> None:
    by_temp: dict[float, list[tuple[float, float]]] = defaultdict(list)
    for temp_c, age_h, strength in rows:
        by_temp[temp_c].append((age_h, strength))
    for temp_c, points in by_temp.items():
        points.sort()
        at = f"at {units.shown(temp_c, 'c', system)}"
        for (early_h, early), (late_h, late) in itertools.pairwise(points):
            if early_h == late_h:
                raise Unusable("strength", f"two rows stand {at} and {late_h:g} h", source="DATASHEET")
            if late < early:
                before, after = (units.shown(value, "mpa", system) for value in (early, late))
                fall = f"{at} it falls from {before} at {early_h:g} h to {after} at {late_h:g} h"
                raise Unusable("strength", f"{fall}; grout does not lose strength with age", source="DATASHEET")


def _work(inputs: Inputs) -> _Worked:
    plan, sheet, plate = inputs["plan"], inputs["data_sheet"], inputs["plate"]
    takeoff = take_off(_case(inputs))
    order = kits_to_order(
        takeoff.net_m3,
        waste_ratio=plan["waste_ratio"],
        kit_yield_l=sheet["kit_yield_l"],
        kit_kg=sheet["kit_kg"],
        spare_kits=plan["spare_kits"],
    )
    life = working_life_min(_life_points(sheet["working_life"]), plan["planned_grout_c"])
    held_kg = inputs["machine"]["mass_kg"] if plan["machine_mounted"] else plate["mass_kg"]
    batch_plan = _batch_plan(inputs, order.kits, life.working_life_min)
    return _Worked(
        inputs=inputs,
        takeoff=takeoff,
        order=order,
        life=life,
        batch_plan=batch_plan,
        times=timetable(batch_plan),
        formwork=_forms(inputs, takeoff),
        lift=uplift(
            density_kg_m3=sheet["density_kg_m3"],
            head_mm=plan["head_mm"],
            plate_area_m2=_plate_area_m2(takeoff),
            held_mass_kg=held_kg,
            snug_bolts_kn=plan["snug_kn"],
        ),
    )


def _batch_plan(inputs: Inputs, kits: int, life_min: float) -> BatchPlan:
    """Kits of one batch are mixed one after the other, so mixing takes its time for each of them."""
    plan, sheet = inputs["plan"], inputs["data_sheet"]
    return BatchPlan(
        kits=kits,
        kits_per_batch=plan["kits_per_batch"],
        kit_yield_l=sheet["kit_yield_l"],
        mixers=plan["mixers"],
        mix_min=sheet["mix_min"] * plan["kits_per_batch"],
        turnaround_min=plan["turnaround_min"],
        place_min=plan["place_min"],
        working_life_min=life_min,
    )


def _case(inputs: Inputs) -> TakeoffCase:
    plan, plate, foundation = inputs["plan"], inputs["plate"], inputs["foundation"]
    length_mm, width_mm = foundation["length_mm"], foundation["width_mm"]
    return TakeoffCase(
        plate_outline=_points(plate["outline"]),
        block_outline=((0.0, 0.0), (length_mm, 0.0), (length_mm, width_mm), (0.0, width_mm)),
        compartments=_compartments(plate),
        survey=tuple((x, y, z) for x, y, z in foundation["survey"]),
        plate_underside_elevation_mm=plate["underside_elevation_mm"],
        clearance_mm=plan["clearance_mm"],
        roughness_mm=foundation["roughness_mm"],
        shoulder_rise_mm=plan["rise_mm"],
        chamfer_mm=plan["chamfer_mm"],
        parts=_displacing(inputs),
    )


def _points(outline: list[list[float]]) -> tuple[tuple[float, float], ...]:
    return tuple((x, y) for x, y in outline)


def _compartments(plate: Inputs) -> tuple[Compartment, ...]:
    return tuple(
        Compartment(
            name=row["name"],
            outline=_points(row["outline"]),
            fill_above_mm=row["fill_above_mm"],
            open_edge=row["open_edge"],
        )
        for row in plate["compartments"]
    )


def _displacing(inputs: Inputs) -> tuple[Part, ...]:
    """Pads under jackscrews and wrapped bolts; a bolt whose thread is not in the table is left in the volume."""
    plate, foundation = inputs["plate"], inputs["foundation"]
    parts = [
        Part(name=f"pad {row['label']}", volume_m3=cylinder_volume_m3(row["diameter_mm"], PAD_THICKNESS_MM))
        for row in plate["parts"]
        if row["kind"] == "jackscrew" and row["diameter_mm"]
    ]
    depth_mm = _mean_gap_mm(inputs)
    if depth_mm <= 0.0:
        return tuple(parts)
    for bolt in foundation["bolts"]:
        thread = threads().get(bolt["thread"])
        if thread:
            volume_m3 = cylinder_volume_m3(thread.diameter_mm + 2.0 * BOLT_WRAP_MM, depth_mm)
            parts.append(Part(name=f"bolt {bolt['label']}", volume_m3=volume_m3))
    return tuple(parts)


def _mean_gap_mm(inputs: Inputs) -> float:
    """Underside less the plain mean of the surveyed points; for small parts, not for the bed."""
    elevations = [z for _, _, z in inputs["foundation"]["survey"]]
    return (
        float(inputs["plate"]["underside_elevation_mm"] - math.fsum(elevations) / len(elevations))
        if elevations
        else 0.0
    )


def _plate_area_m2(takeoff: Takeoff) -> float:
    return sum(region.bed.area_m2 for region in takeoff.regions if region is not takeoff.shoulder)


def _forms(inputs: Inputs, takeoff: Takeoff) -> Formwork:
    length_m = _bed_length_m(takeoff)
    is_epoxy = inputs["data_sheet"]["kind"] == GroutKind.EPOXY
    return formwork_list(
        takeoff,
        bed_length_m=length_m,
        chamfered=inputs["plan"]["chamfer_mm"] > 0.0,
        epoxy_joints=expansion_joints(length_m) if is_epoxy else 0,
    )


def _bed_length_m(takeoff: Takeoff) -> float:
    """The longer side of the bed, along which joints are counted."""
    xs, ys = zip(*takeoff.form_outline, strict=True)
    return float(max(max(xs) - min(xs), max(ys) - min(ys))) / 1000.0


def _life_points(rows: list[list[float]]) -> list[WorkingLifePoint]:
    return [WorkingLifePoint(temp_c, minutes) for temp_c, minutes in rows]


def _volumes(worked: _Worked) -> dict[str, Any]:
    takeoff = worked.takeoff
    displaced_m3 = -takeoff.loose_parts_m3
    return {
        "compartments": [_region(takeoff, region) for region in takeoff.compartments],
        "rest": _region(takeoff, takeoff.rest) if takeoff.rest else None,
        "shoulder": _region(takeoff, takeoff.shoulder) if takeoff.shoulder else None,
        "shoulder_l": takeoff.shoulder.net_m3 * 1000.0 if takeoff.shoulder else 0.0,
        "chamfer_l": takeoff.chamfer_m3 * 1000.0,
        "displaced_l": displaced_m3 * 1000.0,
        "displaced": [{"name": part.name, "volume_l": part.volume_m3 * 1000.0} for part in _displacing(worked.inputs)],
        "net_l": takeoff.net_m3 * 1000.0,
        "net_sd_l": takeoff.sd_m3 * 1000.0,
        "sd_survey_l": takeoff.sd_survey_m3 * 1000.0,
        "sd_plan_l": takeoff.sd_plan_m3 * 1000.0,
        "roughness_ratio": _case(worked.inputs).roughness_share,
        "bed_area_m2": takeoff.bed_area_m2,
        "plate_area_m2": _plate_area_m2(takeoff),
        "survey_spacing_m": takeoff.survey_spacing_m,
        "form_outline": [[x, y] for x, y in takeoff.form_outline],
        "form_perimeter_m": takeoff.form_perimeter_m,
    }


def _region(takeoff: Takeoff, region: RegionVolume) -> dict[str, Any]:
    survey_sd_m3 = region.bed.area_m2 * survey_depth_sd_mm(takeoff.survey_spacing_m) / 1000.0
    return {
        "name": region.name,
        "area_m2": region.bed.area_m2,
        "depth_min_mm": region.bed.min_depth_mm,
        "depth_mean_mm": region.bed.mean_depth_mm,
        "depth_max_mm": region.bed.max_depth_mm,
        "roughness_l": region.roughness_m3 * 1000.0,
        "volume_l": region.net_m3 * 1000.0,
        "sd_l": math.hypot(survey_sd_m3, PLAN_SD_RATIO * region.net_m3) * 1000.0,
    }


def _order(worked: _Worked) -> dict[str, Any]:
    order = worked.order
    return {
        "with_waste_l": order.with_waste_m3 * 1000.0,
        "exact_kits": order.exact_kits,
        "kits_needed": order.kits,
        "kits_total": order.total_kits,
        "mass_kg": order.mass_kg,
    }


def _formwork(worked: _Worked) -> dict[str, Any]:
    """The list, with the rules of the shop that it was made by."""
    return dataclasses.asdict(worked.formwork) | {
        "perimeter_m": worked.takeoff.form_perimeter_m,
        "bed_length_m": _bed_length_m(worked.takeoff),
        "rules": dataclasses.asdict(DEFAULT_RULES),
    }


def _timetable(worked: _Worked) -> dict[str, Any]:
    times, plan = worked.times, worked.batch_plan
    return {
        "batches": [
            {
                "number": batch.number,
                "mixer": batch.mixer,
                "kits": batch.kits,
                "start_min": batch.mix_start_min,
                "mixed_min": batch.mix_end_min,
                "finish_min": batch.place_end_min,
                "age_min": batch.age_when_placed_min,
            }
            for batch in times.batches
        ],
        "mix_min": plan.mix_min,
        "cycle_min": plan.mix_min + plan.turnaround_min,
        "rate_l_h": times.pour_rate_l_min * 60.0,
        "duration_min": times.placing_min,
        "working_life_min": worked.life.working_life_min,
        "working_life_basis": worked.life.basis,
        "working_life_source": worked.life.source,
        "gap_min": times.longest_gap_min,
        "oldest_min": times.oldest_min,
    }


def _findings(worked: _Worked, result: dict[str, Any], system: str) -> list[Finding]:
    """Heaviest first; findings of one level keep the order of the work."""
    inputs = worked.inputs
    found = [
        *plan_findings(inputs, result, system=system),
        *compartment_findings(
            _points(inputs["plate"]["outline"]), _compartments(inputs["plate"]), _holes(inputs), system=system
        ),
        *depth_findings(worked.takeoff, _depth_limits(inputs), system=system),
        *findings_about_lifts(inputs, result, system),
        *findings_about_material(inputs, result["conditioning"], system),
        *uplift_findings(worked.lift, system=system),
        *timetable_findings(worked.batch_plan, system=system),
        *takeoff_notes(worked.takeoff, system=system),
    ]
    return sorted(found, key=lambda finding: list(Level).index(finding.level))


def _holes(inputs: Inputs) -> list[Hole]:
    kinds = {"fill_hole": HoleKind.FILL, "vent": HoleKind.VENT}
    return [
        Hole(kind=kinds[row["kind"]], x_mm=row["x_mm"], y_mm=row["y_mm"], diameter_mm=row["diameter_mm"])
        for row in inputs["plate"]["parts"]
        if row["kind"] in kinds
    ]


def _depth_limits(inputs: Inputs) -> tuple[DepthLimit, ...]:
    """The supplier's limits stand in the way; general ones only ask, because the supplier's word outranks them."""
    sheet = inputs["data_sheet"]
    general = EPOXY_DEPTH_LIMITS if sheet["kind"] == GroutKind.EPOXY else CEMENT_DEPTH_LIMITS
    source = f"DATASHEET {sheet['name']} rev {sheet['revision']}"
    hint = "Raise or lower the plate, remove more concrete, pour in lifts, or choose a grout made for this depth."
    limits = [
        DepthLimit(depth_mm=depth_mm, is_least=is_least, level=Level.BLOCKER, hint=hint, source=source)
        for depth_mm, is_least in ((sheet["thickness_min_mm"], True), (sheet["thickness_max_mm"], False))
    ]
    return (*limits, *(dataclasses.replace(limit, level=Level.WARNING) for limit in general))
