"""What is laid over the plan for the inspections after the pour."""

from typing import Any

from groutjobs import units
from groutjobs.equipment.drawing import Area, Mark
from groutjobs.equipment.symbols import MarkShape

SCREWS = {
    "plugged": (MarkShape.SOLID, "jackscrew out, hole plugged"),
    "open": (MarkShape.HOLLOW, "jackscrew out, hole open"),
    "left": (MarkShape.CROSS, "jackscrew not backed out"),
}


def screws_overlay(inputs: dict[str, Any], result: dict[str, Any], system: str) -> list[Mark | Area]:
    return [
        Mark(x_mm=row["x_mm"], y_mm=row["y_mm"], shape=SCREWS[row["state"]][0], means=SCREWS[row["state"]][1])
        for row in inputs["screws"]
    ]


def feet_overlay(inputs: dict[str, Any], result: dict[str, Any], system: str) -> list[Mark | Area]:
    """Each foot with how far it moved when its bolt was loosened."""
    return _feet(result["feet"], "rise_mm", "foot, with its movement when loosened", system)


def handover_overlay(inputs: dict[str, Any], result: dict[str, Any], system: str) -> list[Mark | Area]:
    """Each foot with its height above the plane of all readings."""
    return _feet(inputs["feet"], "above_plane_mm", "foot, with its height above the best-fit plane", system)


def plain_overlay(inputs: dict[str, Any], result: dict[str, Any], system: str) -> list[Mark | Area]:
    return []


def _feet(feet: list[dict[str, Any]], name: str, means: str, system: str) -> list[Mark | Area]:
    decimals = 3 if system == units.METRIC else 4
    return [
        Mark(
            x_mm=foot["x_mm"],
            y_mm=foot["y_mm"],
            shape=MarkShape.POINT,
            label=units.shown(foot[name], "mm", system, decimals=decimals),
            means=means,
        )
        for foot in feet
        if foot[name] is not None
    ]
