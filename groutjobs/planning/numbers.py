"""Unfolding: for each number that a plan shows its formula, its inputs and its source, from the result alone."""

import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

Result = dict[str, Any]
Number = dict[str, Any]
Given = tuple[str, Any, str]
"""Label, value in the storage unit of the suffix, suffix; a bare number has the suffix ""."""

_TABLE = Path(__file__).parent / "data" / "numbers.toml"


@cache
def _texts() -> dict[str, dict[str, str]]:
    with _TABLE.open("rb") as table:
        return tomllib.load(table)


def numbers_of(result: Result) -> list[Number]:
    """Numbers in the order of the page; `group` names the section. Those of the cure stand in numbers_cure.py."""
    return [
        *_regions(result),
        *_takeoff(result),
        *_material(result),
        *_formwork(result),
        *_head(result),
        *_timetable(result),
    ]


def number(text_key: str, given: list[Given], value: Any, **replaced: str) -> Number:
    """The entry of the table with its inputs and value; `replaced` are texts of this one number."""
    inputs = [{"label": label, "value": amount, "suffix": suffix} for label, amount, suffix in given]
    return {"code": text_key} | _texts()[text_key] | {"inputs": inputs, "value": value} | replaced


def _regions(result: Result) -> Iterator[Number]:
    for region in result["compartments"]:
        name = region["name"]
        given, volume_l = _region_inputs(result, region), region["volume_l"]
        yield number(
            "volume.compartment", given, volume_l, code=f"volume.compartment.{name}", label=f"Compartment {name}"
        )
    if result["rest"]:
        yield number("volume.rest", _region_inputs(result, result["rest"]), result["rest"]["volume_l"])
    if result["shoulder"]:
        rise: Given = ("rise above the underside, within the depth", result["inputs"]["plan"]["rise_mm"], "mm")
        given = [*_region_inputs(result, result["shoulder"]), rise]
        yield number("volume.shoulder", given, result["shoulder_l"])


def _region_inputs(result: Result, region: dict[str, Any]) -> list[Given]:
    return [
        ("area", region["area_m2"], "m2"),
        ("mean depth", region["depth_mean_mm"], "mm"),
        ("chipped profile, peak to valley", result["inputs"]["foundation"]["roughness_mm"], "mm"),
        ("share of the profile below the surveyed peaks", result["roughness_ratio"], "ratio"),
    ]


def _takeoff(result: Result) -> Iterator[Number]:
    chamfer: list[Given] = [
        ("chamfer", result["inputs"]["plan"]["chamfer_mm"], "mm"),
        ("length of the formwork", result["form_perimeter_m"], "m"),
    ]
    yield number("chamfer", chamfer, result["chamfer_l"])
    yield number("displaced", [(p["name"], p["volume_l"], "l") for p in result["displaced"]], result["displaced_l"])
    parts: list[Given] = [(f"compartment {row['name']}", row["volume_l"], "l") for row in result["compartments"]]
    if result["rest"]:
        parts.append(("outside the compartments", result["rest"]["volume_l"], "l"))
    parts += [
        ("shoulder", result["shoulder_l"], "l"),
        ("less chamfer", result["chamfer_l"], "l"),
        ("less pads and bolts", result["displaced_l"], "l"),
    ]
    yield number("net", parts, result["net_l"])
    spread: list[Given] = [
        ("from the survey grid", result["sd_survey_l"], "l"),
        ("spacing of the survey", result["survey_spacing_m"], "m"),
        ("from lengths and depths, 3 % of the net volume", result["sd_plan_l"], "l"),
    ]
    yield number("net_sd", spread, result["net_sd_l"])


def _material(result: Result) -> Iterator[Number]:
    plan, sheet = result["inputs"]["plan"], result["inputs"]["data_sheet"]
    waste: list[Given] = [("net volume", result["net_l"], "l"), ("waste", plan["waste_ratio"], "ratio")]
    yield number("with_waste", waste, result["with_waste_l"])
    kits: list[Given] = [
        ("volume with waste", result["with_waste_l"], "l"),
        ("yield of one kit", sheet["kit_yield_l"], "l"),
    ]
    yield number("kits_needed", kits, result["kits_needed"])
    total: list[Given] = [("kits needed", result["kits_needed"], ""), ("spare kits", plan["spare_kits"], "")]
    yield number("kits_total", total, result["kits_total"])
    mass: list[Given] = [("kits to bring", result["kits_total"], ""), ("mass of one kit", sheet["kit_kg"], "kg")]
    yield number("mass", mass, result["mass_kg"], source=f"DATASHEET {sheet['name']} rev {sheet['revision']}")


def _formwork(result: Result) -> Iterator[Number]:
    forms, rules = result["formwork"], result["formwork"]["rules"]
    length: Given = ("length of the formwork", forms["perimeter_m"], "m")
    height: Given = ("height of the boards", forms["height_mm"], "mm")
    extra: Given = ("cutting allowance", rules["cutting_allowance"], "ratio")
    above: Given = ("board above the grout", rules["board_above_grout_mm"], "mm")
    lumber: list[Given] = [
        ("rails", rules["rails"], ""),
        ("a brace every", rules["brace_spacing_m"], "m"),
        ("foot of a brace", rules["brace_foot_m"], "m"),
    ]
    given: dict[str, list[Given]] = {
        "height_mm": [("deepest place of the bed", forms["height_mm"] - rules["board_above_grout_mm"], "mm"), above],
        "face_area_m2": [length, height],
        "board_area_m2": [length, height, extra],
        "lumber_m": [length, height, *lumber, extra],
        "chamfer_strip_m": [length, ("corners", len(result["form_outline"]), ""), height, extra],
        "sealant_cartridges": [length, ("beads", rules["beads"], ""), ("bead from one cartridge", 12.0, "m")],
        "wax_area_m2": [("face of the formwork", forms["face_area_m2"], "m2"), ("coats", rules["wax_coats"], "")],
        "joints": [("length of the bed", forms["bed_length_m"], "m")],
        "joint_foam_m2": [
            ("joints", forms["joints"], ""),
            ("area of the bed", result["bed_area_m2"], "m2"),
            ("length of the bed", forms["bed_length_m"], "m"),
        ],
    }
    for name, inputs in given.items():
        yield number(f"formwork.{name}", inputs, forms[name])


def _head(result: Result) -> Iterator[Number]:
    plan, sheet = result["inputs"]["plan"], result["inputs"]["data_sheet"]
    pressure: list[Given] = [
        ("density", sheet["density_kg_m3"], "kg_m3"),
        ("head above the underside", plan["head_mm"], "mm"),
    ]
    yield number("head", pressure, result["head_kpa"])
    lift: list[Given] = [
        ("pressure", result["head_kpa"], "kpa"),
        ("area of the plate on grout", result["plate_area_m2"], "m2"),
    ]
    yield number("uplift", lift, result["uplift_kn"])
    mounted = plan["machine_mounted"]
    held = result["inputs"]["machine" if mounted else "plate"]["mass_kg"]
    hold: list[Given] = [
        ("mass of machine, driver and plate" if mounted else "mass of the plate alone", held, "kg"),
        ("tension of the snug bolts", plan["snug_kn"], "kn"),
    ]
    yield number("hold_down", hold, result["hold_down_kn"])


def _timetable(result: Result) -> Iterator[Number]:
    times, plan, sheet = result["timetable"], result["inputs"]["plan"], result["inputs"]["data_sheet"]
    life: list[Given] = [("planned grout temperature", plan["planned_grout_c"], "c")]
    for temp_c, minutes in sheet["working_life"]:
        life += [("data sheet: at", temp_c, "c"), ("data sheet: working life there", minutes, "min")]
    yield number(
        "timetable.working_life_min",
        life,
        times["working_life_min"],
        formula=times["working_life_basis"],
        source=times["working_life_source"],
    )
    mixing: list[Given] = [
        ("mixing of one kit", sheet["mix_min"], "min"),
        ("kits in a batch", plan["kits_per_batch"], ""),
    ]
    turn: Given = ("turnaround of a mixer", plan["turnaround_min"], "min")
    place: Given = ("carrying and placing of one batch", plan["place_min"], "min")
    mixers: Given = ("mixers", plan["mixers"], "")
    given: dict[str, list[Given]] = {
        "cycle_min": [*mixing, turn],
        "duration_min": [("batches", len(times["batches"]), ""), mixers, *mixing, turn, place],
        "rate_l_h": [
            ("kits needed", result["kits_needed"], ""),
            ("yield of one kit", sheet["kit_yield_l"], "l"),
            ("from first to last placing", times["duration_min"], "min"),
        ],
        "gap_min": [mixers, *mixing, turn, place],
        "oldest_min": [*mixing, place],
    }
    for name, inputs in given.items():
        yield number(f"timetable.{name}", inputs, times[name])
