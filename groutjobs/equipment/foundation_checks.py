"""What the data of a foundation say by themselves: age and strength of the concrete, its surface, survey and mass."""

import datetime as dt
from dataclasses import dataclass

from groutjobs import units
from groutjobs.equipment.models import Foundation
from groutjobs.findings import Finding, Level
from groutjobs.wording import counted

FEWEST_SURVEY_POINTS = 3
YOUNGEST_D, EPOXY_ADVISED_D = 7, 28
STRENGTH_SHARE = 0.70
ROUGHNESS_MM = 12.7
"""Half an inch; the standard prints 13 mm beside it."""


@dataclass(frozen=True, kw_only=True)
class BlockMass:
    """The mass of the block beside that of the machine, with what it was computed from."""

    block_kg: float
    ratio: float
    needed_ratio: float
    density_kg_m3: float
    density_source: str
    source: str = "ACI351.3"


def missing(part: str, hint: str) -> Finding:
    return Finding(
        level=Level.BLOCKER,
        code=f"equipment.{part}_missing",
        message=f"No {part} is entered.",
        hint=hint,
        source="GROUTJOBS",
        about=part,
    )


def concrete_findings(foundation: Foundation, on: dt.date, system: str) -> list[Finding]:
    """Age, strength and surface of the concrete, and whether survey and bolts are entered."""
    checks = [
        _age_finding(foundation, on),
        _strength_finding(foundation, system),
        _roughness_finding(foundation, system),
        _survey_finding(foundation),
        None if foundation.bolts.all() else _no_bolts(),
    ]
    return [finding for finding in checks if finding]


def _age_finding(foundation: Foundation, on: dt.date) -> Finding | None:
    age_d = (on - foundation.placed_on).days
    if age_d >= EPOXY_ADVISED_D:
        return None
    ready, advised = (foundation.placed_on + dt.timedelta(days=days) for days in (YOUNGEST_D, EPOXY_ADVISED_D))
    young = age_d < YOUNGEST_D
    was = f"is {counted(age_d, 'day')} old" if age_d >= 0 else "is not placed yet"
    return Finding(
        level=Level.BLOCKER if young else Level.NOTE,
        code="equipment.concrete_young",
        message=f"On {on} the concrete {was}; "
        + (f"{YOUNGEST_D} days are the least." if young else f"{EPOXY_ADVISED_D} days are often asked before epoxy."),
        hint=f"Set the plate on {ready} or later; for epoxy on new concrete aim at {advised}, unless the supplier of "
        "the grout says otherwise.",
        source="API686" if young else "PRACTICE",
        about="foundation",
        margin=float(age_d - (YOUNGEST_D if young else EPOXY_ADVISED_D)),
    )


def _strength_finding(foundation: Foundation, system: str) -> Finding | None:
    needed = STRENGTH_SHARE * foundation.concrete_mpa
    if foundation.tested_mpa is None:
        return Finding(
            level=Level.WARNING,
            code="equipment.concrete_untested",
            message="No tested strength of the concrete is entered.",
            hint=f"Enter a test result; {units.shown(needed, 'mpa', system)} (70 % of the specified strength) is the "
            "least before the plate is set.",
            source="OWNERFDN",
            about="foundation",
        )
    if foundation.tested_mpa >= needed:
        return None
    return Finding(
        level=Level.BLOCKER,
        code="equipment.concrete_weak",
        message=f"The concrete tested {units.shown(foundation.tested_mpa, 'mpa', system)}, less than "
        f"{units.shown(needed, 'mpa', system)}, 70 % of the specified strength.",
        hint="Wait and test again before the plate is set.",
        source="OWNERFDN",
        about="foundation",
        margin=foundation.tested_mpa - needed,
    )


def mass_finding(mass: BlockMass) -> Finding | None:
    if mass.ratio >= mass.needed_ratio:
        return None
    return Finding(
        level=Level.WARNING,
        code="equipment.block_light",
        message=f"The block weighs {mass.ratio:.1f} times the machine, less than {mass.needed_ratio:.0f} times.",
        hint="Check the dimensions and the mass; a light block is a question for the designer of the foundation.",
        source=mass.source,
        about="foundation",
        margin=mass.ratio - mass.needed_ratio,
    )


def _roughness_finding(foundation: Foundation, system: str) -> Finding | None:
    if foundation.roughness_mm >= ROUGHNESS_MM:
        return None
    return Finding(
        level=Level.WARNING,
        code="equipment.surface_smooth",
        message=f"The chipped surface has a profile of {units.shown(foundation.roughness_mm, 'mm', system)}, less than "
        f"{units.shown(ROUGHNESS_MM, 'mm', system)} from peak to valley.",
        hint="Chip on until coarse aggregate is broken and exposed; no laitance or weak paste may stay.",
        source="ACI351.5",
        about="foundation",
        margin=foundation.roughness_mm - ROUGHNESS_MM,
    )


def _survey_finding(foundation: Foundation) -> Finding | None:
    count = len(foundation.survey_points.all())
    if count >= FEWEST_SURVEY_POINTS:
        return None
    return Finding(
        level=Level.BLOCKER,
        code="equipment.survey_missing",
        message=f"{count} surveyed points of concrete; the depth of the grout needs {FEWEST_SURVEY_POINTS} or more.",
        hint="Survey the chipped concrete on a grid over the whole block and enter the points with the foundation.",
        source="GROUTJOBS",
        about="foundation",
    )


def _no_bolts() -> Finding:
    return Finding(
        level=Level.WARNING,
        code="equipment.bolts_missing",
        message="No anchor bolts are entered.",
        hint="Enter each bolt with its place, thread, grade and free length; tightening needs them.",
        source="GROUTJOBS",
        about="foundation",
    )
