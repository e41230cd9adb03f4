"""How level a plate must be, by class of machine. Defaults: the owner's specification outranks them."""

from dataclasses import dataclass

from groutjobs.equipment.calc import level_limit
from groutjobs.equipment.models import LevelClass


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """Tilt in any direction, and the largest difference of elevation on the plate (None where the source has none)."""

    tilt_mm_m: float
    coplanarity_mm: float | None
    source: str
    sentence: str


def _of(kind: str, sentence: str) -> Tolerance:
    limit = level_limit(kind)
    return Tolerance(
        tilt_mm_m=limit.tilt_mm_m, coplanarity_mm=limit.coplanarity_mm, source=limit.source, sentence=sentence
    )


TOLERANCES: dict[LevelClass, Tolerance] = {
    LevelClass.SPECIAL_PURPOSE: _of(
        "soleplate",
        "Each soleplate level within 0.0005 in/ft (0.042 mm/m) both ways; no two points of it, and no two "
        "soleplates of one machine, more than 0.005 in (0.13 mm) apart in elevation.",
    ),
    LevelClass.TURBOMACHINERY: _of(
        "turbomachinery",
        "Level within 0.001 in/ft (0.083 mm/m), as some owners specify for turbomachinery baseplates; common "
        "practice, from memory. Enter a limit of flatness from the machine's drawing.",
    ),
    LevelClass.API_PUMP: _of(
        "pump",
        "Level within 0.002 in/ft (0.17 mm/m), all pads in one plane within 0.002 in (0.05 mm) overall.",
    ),
    LevelClass.PROCESS_PUMP: _of(
        "small_process_pump",
        "Flat or level within 0.005 in/ft (0.42 mm/m), usual for process pump baseplates; common practice.",
    ),
}


def tolerance_of(level_class: str) -> Tolerance:
    """The tolerance of a level class; ValueError for a class that does not exist."""
    return TOLERANCES[LevelClass(level_class)]
