"""Unfolding of lifts, heat of cure and conditioning; see numbers.py."""

from collections.abc import Iterator
from typing import Any

from groutjobs.planning.numbers import Given, Number, Result, number


def cure_numbers(result: Result) -> Iterator[Number]:
    """Numbers of the lifts, of their heat and of the material's hours in the store, in the order of the page."""
    yield from _lifts(result["lifts"])
    if result["heat"] and result["heat"]["cases"]:
        yield from _heat(result["heat"], result["inputs"]["data_sheet"])
    if result["conditioning"] and result["conditioning"]["rows"]:
        yield from _conditioning(result["conditioning"])


def _lifts(lifts: dict[str, Any]) -> Iterator[Number]:
    depth: Given = ("deepest place of the bed", lifts["deepest_mm"], "mm")
    yield number("lifts.count", [depth, ("greatest depth in one lift", lifts["most_mm"], "mm")], lifts["count"])
    yield number("lifts.lift_mm", [depth, ("lifts", lifts["count"], "")], lifts["lift_mm"])


def _heat(heat: dict[str, Any], sheet: dict[str, Any]) -> Iterator[Number]:
    share = heat["inputs"]["binder_ratio"]
    composition: list[Given] = [("what one kit holds", sheet["composition"], ""), ("one kit", sheet["kit_kg"], "kg")]
    yield number("lifts.binder_ratio", composition, share, formula=heat["binder_basis"], source=heat["binder_source"])
    given: list[Given] = [
        ("share of resin and hardener", share, "ratio"),
        ("heat of cure, kJ per kg of them", heat["heat_kj_kg"], ""),
        ("specific heat of the grout, J/kg·K", heat["specific_heat_j_kgk"], ""),
    ]
    yield number("lifts.adiabatic_k", given, heat["adiabatic_k"])
    for case in heat["cases"]:
        yield _peak(heat, case)


def _peak(heat: dict[str, Any], case: dict[str, Any]) -> Number:
    given: list[Given] = [
        ("grout, concrete, plate and air at first", case["temp_c"], "c"),
        ("lift", heat["inputs"]["lift_mm"], "mm"),
        ("plate", heat["inputs"]["plate_mm"], "mm"),
        ("concrete below", heat["concrete_mm"], "mm"),
        ("film to still air, W/m²·K", heat["film_w_m2k"], ""),
        ("share of resin and hardener", heat["inputs"]["binder_ratio"], "ratio"),
        ("peak, low case", case["low"]["peak_c"], "c"),
        ("peak, high case", case["high"]["peak_c"], "c"),
        ("likely rise", case["likely"]["rise_k"], "k"),
        ("likely time after placing", case["likely"]["at_h"], "h"),
    ]
    return number(
        "lifts.peak_c",
        given,
        case["likely"]["peak_c"],
        code=f"lifts.peak_c.{case['code']}",
        label=f"Likely peak, placed {case['label']}",
    )


def _conditioning(found: dict[str, Any]) -> Iterator[Number]:
    temps: list[Given] = [
        (f"material, {found['start_basis']}", found["start_c"], "c"),
        ("store", found["store_c"], "c"),
        (f"core wanted, {found['least_basis']}" if _is_cold(found) else "core wanted", found["wanted_c"], "c"),
    ]
    for row in found["rows"]:
        body: list[Given] = [
            *[(name, size_mm, "mm") for name, size_mm in row["sizes_mm"]],
            ("conductivity", row["conductivity_w_mk"], "w_mk"),
            ("density", row["density_kg_m3"], "kg_m3"),
            ("specific heat, J/kg·K", row["specific_heat_j_kgk"], ""),
            ("film, wrapping included, W/m²·K", row["film_w_m2k"], ""),
            ("mean of the package there after", row["mean_h"], "h"),
        ]
        yield number(
            "conditioning.core_h",
            [*temps, *body],
            row["core_h"],
            code=f"conditioning.core_h.{row['key']}",
            label=f"Core of {_with_article(row['name'])}",
        )


def _is_cold(found: dict[str, Any]) -> bool:
    return bool(found["start_c"] < found["wanted_c"])


def _with_article(name: str) -> str:
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"
