"""How much grout a foundation takes: volume by compartment, its uncertainty, and whole kits to bring."""

import enum
import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.engineering.compartments import Compartment, checked_compartments
from groutjobs.engineering.outlines import Point, checked_polygon, require_inside
from groutjobs.engineering.survey import Bed, SurveyPoint, SurveySurface, bed_over, survey_surface
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

PLAN_SD_RATIO = 0.03
"""Standard deviation of a volume from lengths and thicknesses taken off drawings and tapes [GROUTJOBS]."""
SURVEY_SPACING_M = (0.0, 0.2, 0.4, 0.6, 1.0)
SURVEY_DEPTH_SD_MM = (0.0, 0.1, 0.2, 0.3, 1.0)
"""Error of the mean depth by survey spacing: 0.2, 0.4, 0.6 and 2 % of 50 mm, simulated on concrete chipped to 5 mm
roughness over 9 m² [GROUTJOBS]. Beyond 1 m the last slope goes on, which is a guess, and the takeoff says so."""
OUTSIDE_SURVEY_NOTE = 0.02
PAST_THE_TABLE = (SURVEY_DEPTH_SD_MM[-1] - SURVEY_DEPTH_SD_MM[-2]) / (SURVEY_SPACING_M[-1] - SURVEY_SPACING_M[-2])
UNDER_THE_REST = "outside the compartments"
ON_THE_SHOULDER = "shoulder"
NO_AREA_MM2 = 1.0


class PartRole(enum.StrEnum):
    """Whether a part takes the place of grout, or is a hollow that grout must fill."""

    DISPLACES = "displaces"
    TAKES_GROUT = "takes grout"


@dataclass(frozen=True, kw_only=True)
class Part:
    """Something in the bed: a jackscrew pad, a bolt sleeve, a head box. `compartment` is "" where it is in none."""

    name: str
    volume_m3: float
    count: int = 1
    role: PartRole = PartRole.DISPLACES
    compartment: str = ""


@dataclass(frozen=True, kw_only=True)
class TakeoffCase:
    """What the takeoff is made from; all lengths in plan share one origin, all elevations one datum.

    The grout on the shoulder reaches `shoulder_rise_mm` above the plate underside. The chipped profile of amplitude
    `roughness_mm` adds `roughness_share` of it in depth, because a survey reads the peaks.
    """

    plate_outline: tuple[Point, ...]
    block_outline: tuple[Point, ...]
    compartments: tuple[Compartment, ...]
    survey: tuple[SurveyPoint, ...]
    plate_underside_elevation_mm: float
    clearance_mm: float
    roughness_mm: float
    shoulder_rise_mm: float = 0.0
    chamfer_mm: float = 0.0
    roughness_share: float = 0.5
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, kw_only=True)
class RegionVolume:
    """The grout in one region: bed under the plate, roughness added, parts taken away or filled."""

    name: str
    bed: Bed
    roughness_m3: float
    displaced_m3: float
    taken_up_m3: float

    @property
    def net_m3(self) -> float:
        return self.bed.volume_m3 + self.roughness_m3 - self.displaced_m3 + self.taken_up_m3


@dataclass(frozen=True, kw_only=True)
class Takeoff:
    """Volumes by region. `rest` lies under the plate in no compartment, `shoulder` between plate and forms."""

    compartments: tuple[RegionVolume, ...]
    rest: RegionVolume | None
    shoulder: RegionVolume | None
    loose_parts_m3: float
    chamfer_m3: float
    net_m3: float
    sd_survey_m3: float
    sd_plan_m3: float
    survey_spacing_m: float
    outside_survey_share: float
    form_outline: tuple[Point, ...]
    form_perimeter_m: float
    bed_area_m2: float

    @property
    def sd_m3(self) -> float:
        """Standard deviation of the net volume."""
        return math.hypot(self.sd_survey_m3, self.sd_plan_m3)

    @property
    def regions(self) -> tuple[RegionVolume, ...]:
        """All regions, in the order compartments, rest, shoulder."""
        return self.compartments + tuple(region for region in (self.rest, self.shoulder) if region is not None)


@dataclass(frozen=True, kw_only=True)
class KitOrder:
    """Whole kits to bring. `exact_kits` is what the volume with waste would need if kits could be split."""

    with_waste_m3: float
    exact_kits: float
    kits: int
    spare_kits: int
    total_kits: int
    mass_kg: float


def cylinder_volume_m3(diameter_mm: float, height_mm: float) -> float:
    """Return the volume of a round pad or sleeve.

    Parameters
    ----------
    diameter_mm : Outside diameter. [mm], above 0
    height_mm : Height inside the bed. [mm], above 0

    Returns
    -------
    Volume. [m³]

    Raises
    ------
    OutOfRange : a length is not above 0.

    Source
    ------
    [GROUTJOBS] solid geometry.
    """
    require_above("diameter", diameter_mm, 0.0, unit="mm", source="GROUTJOBS")
    require_above("height", height_mm, 0.0, unit="mm", source="GROUTJOBS")
    return math.pi / 4.0 * diameter_mm * diameter_mm * height_mm / 1e9


def take_off(case: TakeoffCase) -> Takeoff:
    """Return the grout volume of one foundation, region by region.

    Parameters
    ----------
    case : Outlines, survey, elevations and parts.

    Returns
    -------
    The takeoff. Its volume is what the forms hold: waste and spare kits come with kits_to_order.

    Raises
    ------
    OutOfRange : a number is missing or beyond its limits, or the concrete stands above the plate underside.
    Unusable : an outline crosses itself, a compartment leaves the plate or overlaps another, the forms stand off the
        block, a survey point is outside it, or a part names no compartment.

    Source
    ------
    [GROUTJOBS] bed down to the surveyed concrete + shoulder + roughness − chamfer − parts; [API686] 5-3.7.5 chamfer.
    """
    _check(case)
    plate = checked_polygon("plate", case.plate_outline)
    block = checked_polygon("block", case.block_outline)
    polygons = checked_compartments(plate, case.compartments)
    form = _form(case, plate, block)
    surface = survey_surface(case.survey, block)
    compartments = tuple(
        _region(case, surface, (c.name, polygons[c.name]), c.fill_above_mm, parts_of=c.name) for c in case.compartments
    )
    between = plate.difference(shapely.unary_union(list(polygons.values())))
    rest = _region_if_any(case, surface, (UNDER_THE_REST, between), 0.0)
    shoulder = _region_if_any(case, surface, (ON_THE_SHOULDER, form.difference(plate)), case.shoulder_rise_mm)
    return _summed(case, surface, form, compartments, rest, shoulder)


def kits_to_order(net_m3: float, *, waste_ratio: float, kit_yield_l: float, kit_kg: float, spare_kits: int) -> KitOrder:
    """Return how many whole kits to bring; a kit is never split.

    Parameters
    ----------
    net_m3 : Volume of the takeoff. [m³], above 0
    waste_ratio : Added for what stays in mixers, on boards and in leaks. [-], 0 to 1
    kit_yield_l : Volume of one mixed kit or bag. [L], above 0
    kit_kg : Mass of one kit or bag. [kg], above 0
    spare_kits : Kits beyond the need. [-], 0 or more

    Returns
    -------
    The order.

    Raises
    ------
    OutOfRange : a number is outside the limits above.

    Source
    ------
    [BLOCH-MCM] appendix 3-D, whole units only; waste of 15 % and one spare kit is [PRACTICE]; [GROUTJOBS] volume.
    """
    require_above("volume of the takeoff", net_m3, 0.0, unit="m³", source="GROUTJOBS")
    require_between("waste", waste_ratio, 0.0, 1.0, source="BLOCH-MCM")
    require_above("yield of a kit", kit_yield_l, 0.0, unit="L", source="BLOCH-MCM")
    require_above("mass of a kit", kit_kg, 0.0, unit="kg", source="BLOCH-MCM")
    require_between("spare kits", spare_kits, 0, None, source="PRACTICE")
    with_waste_m3 = net_m3 * (1.0 + waste_ratio)
    exact = with_waste_m3 * 1000.0 / kit_yield_l
    kits = math.ceil(exact - 1e-9)
    return KitOrder(
        with_waste_m3=with_waste_m3,
        exact_kits=exact,
        kits=kits,
        spare_kits=spare_kits,
        total_kits=kits + spare_kits,
        mass_kg=(kits + spare_kits) * kit_kg,
    )


def survey_depth_sd_mm(spacing_m: float) -> float:
    """Return the standard deviation of the mean depth that a survey of this spacing leaves.

    Parameters
    ----------
    spacing_m : Spacing of the survey points. [m], above 0

    Returns
    -------
    Standard deviation. [mm]

    Raises
    ------
    OutOfRange : the spacing is not above 0.

    Source
    ------
    [GROUTJOBS] simulated on chipped concrete up to 1 m, carried on beyond.
    """
    require_above("survey spacing", spacing_m, 0.0, unit="m", source="GROUTJOBS")
    beyond_m = spacing_m - SURVEY_SPACING_M[-1]
    if beyond_m > 0.0:
        return SURVEY_DEPTH_SD_MM[-1] + PAST_THE_TABLE * beyond_m
    return float(np.interp(spacing_m, SURVEY_SPACING_M, SURVEY_DEPTH_SD_MM))


def takeoff_notes(takeoff: Takeoff, *, system: str = units.METRIC) -> list[Finding]:
    """Return what the reader of a takeoff must know about its survey.

    Parameters
    ----------
    takeoff : The takeoff.
    system : Units that the reader sees.

    Returns
    -------
    Notes: regions beyond the survey, and a survey too coarse for its ± to be more than a guess.

    Source
    ------
    [GROUTJOBS] nearest edge value outside the survey; ± known up to 1 m of spacing.
    """
    found = []
    for region in takeoff.regions:
        share = region.bed.outside_survey_share
        if share > OUTSIDE_SURVEY_NOTE:
            found.append(
                Finding(
                    level=Level.NOTE,
                    code="takeoff.outside_survey",
                    message=f"{region.name}: {share:.0%} of the area lies outside the surveyed points; the elevation "
                    "of the nearest surveyed edge is used there.",
                    hint="Take elevations up to the edge of the block.",
                    source="GROUTJOBS",
                    about=region.name,
                )
            )
    if takeoff.survey_spacing_m > SURVEY_SPACING_M[-1]:
        found.append(
            Finding(
                level=Level.NOTE,
                code="takeoff.survey_coarse",
                message=f"The survey has a point about every {units.shown(takeoff.survey_spacing_m, 'm', system)}; "
                f"its ± is known up to {units.shown(SURVEY_SPACING_M[-1], 'm', system)} and guessed beyond.",
                hint="Survey the concrete on a closer grid.",
                source="GROUTJOBS",
            )
        )
    return found


def _check(case: TakeoffCase) -> None:
    require_between("plate-to-form clearance", case.clearance_mm, 0.0, 1000.0, unit="mm", source="PRACTICE")
    require_between("rise of the shoulder", case.shoulder_rise_mm, 0.0, 500.0, unit="mm", source="PRACTICE")
    require_between("chamfer", case.chamfer_mm, 0.0, 100.0, unit="mm", source="API686")
    require_between("amplitude of the chipped profile", case.roughness_mm, 0.0, 100.0, unit="mm", source="ACI351.5")
    require_between("share of the profile that is filled", case.roughness_share, 0.0, 1.0, source="GROUTJOBS")
    names = {compartment.name for compartment in case.compartments} | {""}
    for part in case.parts:
        require_above(f"{part.name}, volume", part.volume_m3, 0.0, unit="m³", source="GROUTJOBS")
        require_between(f"{part.name}, count", part.count, 1, None, source="GROUTJOBS")
        if part.compartment not in names:
            raise Unusable(part.name, f"there is no compartment {part.compartment}", source="GROUTJOBS")


def _form(case: TakeoffCase, plate: Polygon, block: Polygon) -> Polygon:
    form = plate.buffer(case.clearance_mm, join_style="mitre") if case.clearance_mm > 0.0 else plate
    require_inside("forms", form, "block", block)
    return form


def _parts_m3(case: TakeoffCase, compartment: str, role: PartRole) -> float:
    return sum(p.volume_m3 * p.count for p in case.parts if p.compartment == compartment and p.role is role)


def _region(
    case: TakeoffCase,
    surface: SurveySurface,
    place: tuple[str, Polygon],
    rise_mm: float,
    *,
    parts_of: str | None = None,
) -> RegionVolume:
    name, polygon = place
    bed = bed_over(surface, polygon, case.plate_underside_elevation_mm + rise_mm)
    region = RegionVolume(
        name=name,
        bed=bed,
        roughness_m3=bed.area_m2 * case.roughness_mm * case.roughness_share / 1000.0,
        displaced_m3=0.0 if parts_of is None else _parts_m3(case, parts_of, PartRole.DISPLACES),
        taken_up_m3=0.0 if parts_of is None else _parts_m3(case, parts_of, PartRole.TAKES_GROUT),
    )
    require_above(f"grout volume, {name}", region.net_m3, 0.0, unit="m³", source="GROUTJOBS")
    return region


def _region_if_any(
    case: TakeoffCase, surface: SurveySurface, place: tuple[str, Polygon], rise_mm: float
) -> RegionVolume | None:
    """None for what only rounding leaves between polygons that share an edge."""
    return _region(case, surface, place, rise_mm) if place[1].area > NO_AREA_MM2 else None


def _chamfer_m3(case: TakeoffCase, form: Polygon, shoulder: RegionVolume | None) -> float:
    """The strip is a right triangle along the top edge of the forms; it must fit on the shoulder."""
    if case.chamfer_mm == 0.0:
        return 0.0
    depth_mm = 0.0 if shoulder is None else shoulder.bed.min_depth_mm
    room_mm = min(case.clearance_mm, depth_mm)
    require_between("chamfer", case.chamfer_mm, 0.0, room_mm, unit="mm", source="GROUTJOBS")
    return 0.5 * case.chamfer_mm * case.chamfer_mm * float(form.exterior.length) / 1e9


def _summed(
    case: TakeoffCase,
    surface: SurveySurface,
    form: Polygon,
    compartments: tuple[RegionVolume, ...],
    rest: RegionVolume | None,
    shoulder: RegionVolume | None,
) -> Takeoff:
    regions = [*compartments, *(region for region in (rest, shoulder) if region is not None)]
    area_m2 = sum(region.bed.area_m2 for region in regions)
    chamfer_m3 = _chamfer_m3(case, form, shoulder)
    loose_m3 = _parts_m3(case, "", PartRole.TAKES_GROUT) - _parts_m3(case, "", PartRole.DISPLACES)
    net_m3 = sum(region.net_m3 for region in regions) + loose_m3 - chamfer_m3
    require_above("grout volume", net_m3, 0.0, unit="m³", source="GROUTJOBS")
    return Takeoff(
        compartments=compartments,
        rest=rest,
        shoulder=shoulder,
        loose_parts_m3=loose_m3,
        chamfer_m3=chamfer_m3,
        net_m3=net_m3,
        sd_survey_m3=area_m2 * survey_depth_sd_mm(surface.spacing_m) / 1000.0,
        sd_plan_m3=PLAN_SD_RATIO * net_m3,
        survey_spacing_m=surface.spacing_m,
        outside_survey_share=sum(r.bed.area_m2 * r.bed.outside_survey_share for r in regions) / area_m2,
        form_outline=tuple((float(x), float(y)) for x, y in form.exterior.coords[:-1]),
        form_perimeter_m=float(form.exterior.length) / 1000.0,
        bed_area_m2=area_m2,
    )
