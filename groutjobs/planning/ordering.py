"""What the foreman orders from: material and formwork of a plan as rows in the reader's units."""

from dataclasses import dataclass
from functools import partial
from typing import Any

from groutjobs import units


@dataclass(frozen=True)
class OrderRow:
    """One line of a list to order from."""

    item: str
    quantity: str
    note: str


def material_rows(result: dict[str, Any], system: str) -> list[OrderRow]:
    """Grout, and what mixes it."""
    sheet, plan, lot = (result["inputs"][name] for name in ("data_sheet", "plan", "lot"))
    show = partial(units.shown, system=system)
    word = "Bags" if sheet["kind"] == "cement" else "Kits"
    from_lot = f", lot {lot['lot_no']} from {lot['place']}" if lot else ", lot not chosen yet"
    needed = f"{result['kits_needed']} needed and {plan['spare_kits']} spare; one: {sheet['composition']}"
    return [
        OrderRow(f"{word} of {sheet['name']}{from_lot}", str(result["kits_total"]), needed),
        OrderRow("Mass to carry", show(result["mass_kg"], "kg", decimals=0), f"{show(sheet['kit_kg'], 'kg')} each"),
        OrderRow("Mixers", str(plan["mixers"]), f"{show(sheet['mix_min'], 'min')} for one kit; guards fitted"),
        OrderRow("People", str(plan["crew"]), f"one batch carried and placed in {show(plan['place_min'], 'min')}"),
    ]


def formwork_rows(result: dict[str, Any], system: str) -> list[OrderRow]:
    """Boards, lumber, strips, sealant, wax and joint foam; lines of nothing are left out."""
    forms, rules = result["formwork"], result["formwork"]["rules"]
    show = partial(units.shown, system=system)
    height, length = show(forms["height_mm"], "mm"), show(forms["perimeter_m"], "m")
    allowance = show(rules["cutting_allowance"], "ratio")
    brace = show(rules["brace_spacing_m"], "m")
    face = show(forms["face_area_m2"], "m2", decimals=2)
    rows = [
        OrderRow(
            "Plywood, 19 mm (3/4 in) or thicker",
            show(forms["board_area_m2"], "m2", decimals=2),
            f"boards {height} high, {length} round the plate, with {allowance} for cutting",
        ),
        OrderRow(
            "Lumber, 2 × 4",
            show(forms["lumber_m"], "m", decimals=1),
            f"{rules['rails']} rails along each face and a brace every {brace}, with {allowance} for cutting",
        ),
        OrderRow(
            "Sealant, cartridges of 300 mL",
            str(forms["sealant_cartridges"]),
            f"{rules['beads']} beads of {length}: along the concrete and in the joints of the boards",
        ),
        OrderRow(
            "Paste wax, for",
            show(forms["wax_area_m2"], "m2", decimals=2),
            f"{rules['wax_coats']} coats on a face of {face}, each soaked in and dry",
        ),
    ]
    if forms["chamfer_strip_m"]:
        chamfer = show(result["inputs"]["plan"]["chamfer_mm"], "mm")
        note = f"{chamfer}, 45°, along the top edge and up each corner"
        rows.insert(2, OrderRow("Chamfer strip", show(forms["chamfer_strip_m"], "m", decimals=1), note))
    if forms["joints"]:
        note = f"{forms['joints']} expansion joint{'s' if forms['joints'] > 1 else ''} through the full depth"
        rows.append(OrderRow("Closed-cell foam, 25 mm (1 in)", show(forms["joint_foam_m2"], "m2", decimals=2), note))
    return rows
