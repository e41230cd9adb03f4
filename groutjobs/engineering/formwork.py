"""Formwork round the bed: what to cut and bring, the pressure on it, the lift under the plate, and depth limits."""

import math
from dataclasses import dataclass

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.engineering.takeoff import Takeoff
from groutjobs.findings import Finding, Level

STANDARD_GRAVITY_M_S2 = 9.80665
"""[SI] adopted by the 3rd General Conference on Weights and Measures, 1901."""
BEAD_M_PER_CARTRIDGE = 12.0
"""A 300 mL cartridge over a bead of 5 × 5 mm."""


@dataclass(frozen=True, kw_only=True)
class FormworkRules:
    """How the shop builds forms. Edit them for the job.

    Two rails run along each face and a 45° brace stands at each `brace_spacing_m`. Two beads seal each form: along the
    concrete, and along the joints of the boards, counted as one more length.
    """

    board_above_grout_mm: float = 25.0
    cutting_allowance: float = 0.10
    rails: int = 2
    brace_spacing_m: float = 0.5
    brace_foot_m: float = 0.3
    beads: int = 2
    wax_coats: int = 3


@dataclass(frozen=True, kw_only=True)
class Formwork:
    """The list to bring."""

    height_mm: float
    face_area_m2: float
    board_area_m2: float
    lumber_m: float
    chamfer_strip_m: float
    sealant_cartridges: int
    wax_area_m2: float
    joints: int
    joint_foam_m2: float


@dataclass(frozen=True, kw_only=True)
class Uplift:
    """Lift of the grout head under a plate, and what holds the plate down. [kN]"""

    head_pressure_kpa: float
    uplift_kn: float
    hold_down_kn: float

    @property
    def reserve_kn(self) -> float:
        return self.hold_down_kn - self.uplift_kn


@dataclass(frozen=True, kw_only=True)
class DepthLimit:
    """One limit on the depth of a bed: which side of it is refused, how much that weighs, and who says so."""

    depth_mm: float
    is_least: bool
    level: Level
    hint: str
    source: str

    def __post_init__(self) -> None:
        require_above("limit of the depth", self.depth_mm, 0.0, unit="mm", source=self.source)


EPOXY_DEPTH_LIMITS = (
    DepthLimit(
        depth_mm=25.0,
        is_least=True,
        level=Level.BLOCKER,
        hint="Raise the plate or remove more concrete; the test for flow and bearing covers 25 to 150 mm.",
        source="ASTMC1339",
    ),
    DepthLimit(
        depth_mm=38.0,
        is_least=True,
        level=Level.WARNING,
        hint="Ask the supplier whether this grout flows and warms itself enough in so thin a bed.",
        source="BLOCH-MCM",
    ),
    DepthLimit(
        depth_mm=100.0,
        is_least=False,
        level=Level.WARNING,
        hint="Epoxy heats itself in depth: pour in lifts, or have the supplier confirm a deep-pour grade in writing.",
        source="PRACTICE",
    ),
)
CEMENT_DEPTH_LIMITS = (
    DepthLimit(
        depth_mm=25.0,
        is_least=True,
        level=Level.BLOCKER,
        hint="Raise the plate or remove more concrete.",
        source="PRACTICE",
    ),
    DepthLimit(
        depth_mm=75.0,
        is_least=False,
        level=Level.WARNING,
        hint="Ask the supplier whether pea gravel is to be added at this depth, and how much.",
        source="PRACTICE",
    ),
)
DEFAULT_RULES = FormworkRules()


def formwork_list(
    takeoff: Takeoff,
    *,
    bed_length_m: float,
    chamfered: bool,
    epoxy_joints: int,
    rules: FormworkRules = DEFAULT_RULES,
) -> Formwork:
    """Return the boards, lumber, strips, sealant, wax and foam for the forms of a takeoff.

    Parameters
    ----------
    takeoff : Its form outline, depth and bed area are used.
    bed_length_m : Length of the bed along which joints are counted. [m], above 0
    chamfered : Whether a strip runs along the top edge and up each corner.
    epoxy_joints : Number of expansion joints, from compartments.expansion_joints; none in cementitious. [-], 0 or more
    rules : How the shop builds forms.

    Returns
    -------
    The list. Boards, lumber and strips carry the cutting allowance.

    Raises
    ------
    OutOfRange : a length is not above 0, or the number of joints is negative.

    Source
    ------
    [BLOCH-MCM] p. 117 boards on bracing, three coats of wax; [API686] 5-3.7 wax, seal, chamfer; [GROUTJOBS] counts.
    """
    require_above("length of the bed", bed_length_m, 0.0, unit="m", source="API686")
    require_between("number of joints", epoxy_joints, 0, None, source="API686")
    _check_rules(rules)
    perimeter_m = takeoff.form_perimeter_m
    deepest_mm = _depth_at_forms_mm(takeoff)
    height_m = (deepest_mm + rules.board_above_grout_mm) / 1000.0
    extra = 1.0 + rules.cutting_allowance
    braces = math.ceil(perimeter_m / rules.brace_spacing_m)
    brace_m = math.sqrt(2.0) * height_m + rules.brace_foot_m
    strip_m = perimeter_m + len(takeoff.form_outline) * height_m
    cross_section_m2 = takeoff.bed_area_m2 / bed_length_m * _mean_depth_m(takeoff)
    return Formwork(
        height_mm=height_m * 1000.0,
        face_area_m2=perimeter_m * height_m,
        board_area_m2=perimeter_m * height_m * extra,
        lumber_m=(rules.rails * perimeter_m + braces * brace_m) * extra,
        chamfer_strip_m=strip_m * extra if chamfered else 0.0,
        sealant_cartridges=math.ceil(rules.beads * perimeter_m / BEAD_M_PER_CARTRIDGE - 1e-9),
        wax_area_m2=perimeter_m * height_m * rules.wax_coats,
        joints=epoxy_joints,
        joint_foam_m2=cross_section_m2 * epoxy_joints,
    )


def head_pressure_kpa(density_kg_m3: float, head_mm: float) -> float:
    """Return the pressure of fresh grout under a head of it: full liquid head, no relief for setting.

    Parameters
    ----------
    density_kg_m3 : Density of the mixed grout. [kg/m³], 800 to 3500
    head_mm : Height of the grout surface above the place. [mm], 0 to 5000

    Returns
    -------
    Pressure. [kPa]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [SI] hydrostatics, standard gravity. [PRACTICE] limits of the density; [GROUTJOBS] those of the head.

    Examples
    --------
    >>> round(head_pressure_kpa(2000, 300), 2)
    5.88
    """
    require_between("density of the grout", density_kg_m3, 800.0, 3500.0, unit="kg/m³", source="PRACTICE")
    require_between("grout head", head_mm, 0.0, 5000.0, unit="mm", source="GROUTJOBS")
    return density_kg_m3 * STANDARD_GRAVITY_M_S2 * head_mm / 1e6


def uplift(
    *, density_kg_m3: float, head_mm: float, plate_area_m2: float, held_mass_kg: float, snug_bolts_kn: float
) -> Uplift:
    """Return the lift of the grout head under a plate and what holds the plate down.

    Parameters
    ----------
    density_kg_m3 : Density of the mixed grout. [kg/m³], 800 to 3500
    head_mm : Height of the grout surface in the head box or funnel above the plate underside. [mm], 0 to 5000
    plate_area_m2 : Area that the grout wets from below. [m²], above 0
    held_mass_kg : Mass of the plate and what stands on it during the pour. [kg], above 0
    snug_bolts_kn : Tension of all snug bolts together. [kN], 0 or more

    Returns
    -------
    Pressure, lift and hold-down.

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [SI] pressure × area against weight; buoyancy of the plate's own edge is neglected.
    [PRACTICE] limits of the density; [GROUTJOBS] the others.
    """
    require_above("plate area", plate_area_m2, 0.0, unit="m²", source="GROUTJOBS")
    require_above("mass on the grout", held_mass_kg, 0.0, unit="kg", source="GROUTJOBS")
    require_between("tension of the snug bolts", snug_bolts_kn, 0.0, None, unit="kN", source="GROUTJOBS")
    pressure_kpa = head_pressure_kpa(density_kg_m3, head_mm)
    return Uplift(
        head_pressure_kpa=pressure_kpa,
        uplift_kn=pressure_kpa * plate_area_m2,
        hold_down_kn=held_mass_kg * STANDARD_GRAVITY_M_S2 / 1000.0 + snug_bolts_kn,
    )


def uplift_findings(lift: Uplift, *, system: str = units.METRIC) -> list[Finding]:
    """Return a blocker where the grout head would float the plate, a warning where less than half is in reserve.

    Parameters
    ----------
    lift : From uplift().
    system : Units that the reader sees.

    Returns
    -------
    No finding, or one.

    Source
    ------
    [GROUTJOBS] hold-down of 1.5 times the lift.
    """
    if lift.hold_down_kn >= 1.5 * lift.uplift_kn:
        return []
    floats = lift.reserve_kn < 0.0
    return [
        Finding(
            level=Level.BLOCKER if floats else Level.WARNING,
            code="takeoff.uplift",
            message=f"A grout head of {units.shown(lift.head_pressure_kpa, 'kpa', system)} lifts the plate with "
            f"{units.shown(lift.uplift_kn, 'kn', system)}; weight and snug bolts hold "
            f"{units.shown(lift.hold_down_kn, 'kn', system)}, 1.5 times the lift is asked for.",
            hint="Lower the head, or snug more anchor bolts before the pour and check the level again.",
            source="GROUTJOBS",
            margin=lift.hold_down_kn - 1.5 * lift.uplift_kn,
        )
    ]


def depth_findings(takeoff: Takeoff, limits: tuple[DepthLimit, ...], *, system: str = units.METRIC) -> list[Finding]:
    """Return where the bed is thinner or deeper than the limits of the grout.

    Parameters
    ----------
    takeoff : The takeoff; the least and the greatest depth of each region count, not the mean.
    limits : EPOXY_DEPTH_LIMITS, CEMENT_DEPTH_LIMITS, or the supplier's own.
    system : Units that the reader sees.

    Returns
    -------
    For each region the heaviest finding on each side.

    Source
    ------
    [ASTMC1339] scope 25 to 150 mm; [BLOCH-MCM] p. 74 1½ in; [PRACTICE] lifts. The supplier's instruction outranks them.
    """
    found = []
    for region in takeoff.regions:
        for is_least in (True, False):
            depth_mm = region.bed.min_depth_mm if is_least else region.bed.max_depth_mm
            broken = [lim for lim in limits if lim.is_least is is_least and _breaks(lim, depth_mm)]
            if broken:
                limit = min(broken, key=lambda lim: list(Level).index(lim.level))
                found.append(_depth_finding(region.name, depth_mm, limit, system))
    return found


def _breaks(limit: DepthLimit, depth_mm: float) -> bool:
    """Depths are exact sums of surveyed numbers; a millionth of a millimetre is rounding, not grout."""
    beyond_mm = limit.depth_mm - depth_mm if limit.is_least else depth_mm - limit.depth_mm
    return beyond_mm > 1e-6


def _depth_finding(name: str, depth_mm: float, limit: DepthLimit, system: str) -> Finding:
    side, where, sign = (
        ("thin", "at its thinnest, less", 1.0) if limit.is_least else ("deep", "at its deepest, more", -1.0)
    )
    return Finding(
        level=limit.level,
        code=f"takeoff.bed_{side}",
        message=f"{name}: the grout is {units.shown(depth_mm, 'mm', system)} {where} than "
        f"{units.shown(limit.depth_mm, 'mm', system)}.",
        hint=limit.hint,
        source=limit.source,
        about=name,
        margin=sign * (depth_mm - limit.depth_mm),
    )


def _depth_at_forms_mm(takeoff: Takeoff) -> float:
    if takeoff.shoulder is not None:
        return takeoff.shoulder.bed.max_depth_mm
    return max(region.bed.max_depth_mm for region in takeoff.regions)


def _mean_depth_m(takeoff: Takeoff) -> float:
    return sum(region.bed.volume_m3 for region in takeoff.regions) / takeoff.bed_area_m2


def _check_rules(rules: FormworkRules) -> None:
    source = "GROUTJOBS"
    require_between(
        "board above the grout on the shoulder", rules.board_above_grout_mm, 0.0, 1500.0, unit="mm", source=source
    )
    require_between("cutting allowance", rules.cutting_allowance, 0.0, 1.0, source=source)
    require_between("spacing of braces", rules.brace_spacing_m, 0.1, 5.0, unit="m", source=source)
    require_between("foot of a brace", rules.brace_foot_m, 0.0, 3.0, unit="m", source=source)
    for name, count in (("rails", rules.rails), ("beads", rules.beads), ("coats of wax", rules.wax_coats)):
        require_between(name, count, 0, 20, source=source)
