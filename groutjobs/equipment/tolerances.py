"""How level a plate must be, by class of machine. Defaults: the owner's specification outranks them."""

from dataclasses import dataclass

from groutjobs import units
from groutjobs.equipment.models import LevelClass


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """Tilt in any direction, and the largest difference of elevation on the plate (None where the source has none)."""

    tilt_mm_m: float
    coplanarity_mm: float | None
    source: str
    sentence: str


def _per_foot(inches: float) -> float:
    return units.to_si(inches, "mm_m", "in_ft")


TOLERANCES: dict[LevelClass, Tolerance] = {
    LevelClass.SPECIAL_PURPOSE: Tolerance(
        tilt_mm_m=_per_foot(0.0005),
        coplanarity_mm=units.to_si(0.005, "mm", "in"),
        source="API686",
        sentence="Each soleplate level within 0.0005 in/ft (0.042 mm/m) both ways; no two points of it, and no two "
        "soleplates of one machine, more than 0.005 in (0.13 mm) apart in elevation.",
    ),
    LevelClass.TURBOMACHINERY: Tolerance(
        tilt_mm_m=_per_foot(0.001),
        coplanarity_mm=None,
        source="PRACTICE",
        sentence="Level within 0.001 in/ft (0.083 mm/m), as some owners specify for turbomachinery baseplates; common "
        "practice, from memory. Enter a limit of flatness from the machine's drawing.",
    ),
    LevelClass.API_PUMP: Tolerance(
        tilt_mm_m=_per_foot(0.002),
        coplanarity_mm=units.to_si(0.002, "mm", "in"),
        source="PPH",
        sentence="Level within 0.002 in/ft (0.17 mm/m), all pads in one plane within 0.002 in (0.05 mm) overall.",
    ),
    LevelClass.PROCESS_PUMP: Tolerance(
        tilt_mm_m=_per_foot(0.005),
        coplanarity_mm=None,
        source="PRACTICE",
        sentence="Flat or level within 0.005 in/ft (0.42 mm/m), usual for process pump baseplates; common practice.",
    ),
}


def tolerance_of(level_class: str) -> Tolerance:
    """The tolerance of a level class; ValueError for a class that does not exist."""
    return TOLERANCES[LevelClass(level_class)]
