"""Anchor bolts: torque and tension, stretch, free length, share of yield, bearing on the grout.

Two ways to a torque stand apart on purpose. `bolt_tables.torque_at_30_ksi` looks up a printed table, whose
loads are on the root area. `torque_nm` is T = K·D·F for a tension of your own, usually on the stress area. Never
mix the two.
"""

from dataclasses import dataclass

from groutjobs import units
from groutjobs.engineering.bolt_tables import Friction, Grade, Thread
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.findings import Finding, Level

STEEL_MODULUS_MPA = 200_000.0
FREE_LENGTH_DIAMETERS = 12.0
ADVISED_YIELD_SHARE = 0.6
HIGHEST_YIELD_SHARE = 0.75
BEARING_LIMIT_KPA = 3500.0
BOLT_TENSION_CAUTION = (
    "A bolt under tension can break and throw its parts; a wrench or tensioner can slip. Stand clear of the bolt axis, "
    "guard hands from pinch points, use a calibrated tool within its date, and stay out of the line of fire. Tighten "
    "only when the grout has the strength that its supplier asks for and the jackscrews are backed off. Numbers here "
    "are a planning aid: the owner's specification, the supplier's instruction and the engineer in charge come first."
)


@dataclass(frozen=True, kw_only=True)
class TensionBand:
    """What tension one torque gives for the highest, usual and lowest friction. [kN]"""

    low_kn: float
    usual_kn: float
    high_kn: float


def torque_nm(tension_kn: float, diameter_mm: float, friction_factor: float) -> float:
    """Return the torque for a tension, T = K·D·F.

    Parameters
    ----------
    tension_kn : Tension in the bolt. [kN], above 0
    diameter_mm : Nominal diameter. [mm], above 0
    friction_factor : K of threads and nut face. [-], 0.05 to 0.5

    Returns
    -------
    Torque. [N·m]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [SHIGLEY] 8-8, T = K·F·d; torque control scatters by 25 to 35 %. [PRACTICE] limits of K.

    Examples
    --------
    >>> round(torque_nm(72.9, 24, 0.15), 1)
    262.4
    """
    require_above("bolt tension", tension_kn, 0.0, unit="kN", source="SHIGLEY")
    _check_wrench(diameter_mm, friction_factor)
    return friction_factor * diameter_mm * tension_kn


def tension_kn(torque_nm: float, diameter_mm: float, friction_factor: float) -> float:
    """Return the tension that a torque gives, F = T / (K·D).

    Parameters
    ----------
    torque_nm : Torque on the nut. [N·m], above 0
    diameter_mm : Nominal diameter. [mm], above 0
    friction_factor : K of threads and nut face. [-], 0.05 to 0.5

    Returns
    -------
    Tension. [kN]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [SHIGLEY] 8-8, T = K·F·d. [PRACTICE] limits of K.
    """
    require_above("torque", torque_nm, 0.0, unit="N·m", source="SHIGLEY")
    _check_wrench(diameter_mm, friction_factor)
    return torque_nm / (friction_factor * diameter_mm)


def tension_band(torque_nm: float, diameter_mm: float, friction: Friction) -> TensionBand:
    """Return the band of tension that one torque gives over the range of friction.

    Parameters
    ----------
    torque_nm : Torque on the nut. [N·m], above 0
    diameter_mm : Nominal diameter. [mm], above 0
    friction : Condition of the threads.

    Returns
    -------
    Tension for the highest, the usual and the lowest K.

    Raises
    ------
    OutOfRange : an input lies outside the limits of tension_kn.

    Source
    ------
    [SHIGLEY] 8-8; [PRACTICE] range of K.
    """
    return TensionBand(
        low_kn=tension_kn(torque_nm, diameter_mm, friction.high),
        usual_kn=tension_kn(torque_nm, diameter_mm, friction.usual),
        high_kn=tension_kn(torque_nm, diameter_mm, friction.low),
    )


def elongation_mm(
    tension_kn: float, free_length_mm: float, stress_area_mm2: float, modulus_mpa: float = STEEL_MODULUS_MPA
) -> float:
    """Return the stretch of a bolt, δ = F·L / (A·E).

    Parameters
    ----------
    tension_kn : Tension in the bolt. [kN], above 0
    free_length_mm : Length free to stretch; centre of nut to centre of nut on a stud. [mm], above 0
    stress_area_mm2 : Area that carries it. [mm²], above 0
    modulus_mpa : Modulus of the steel. [MPa], above 0

    Returns
    -------
    Stretch. [mm]

    Raises
    ------
    OutOfRange : an input is not above 0.

    Source
    ------
    [SHIGLEY] elastic bar; [NAVY14119] length between nut centres; modulus 200 GPa is [PRACTICE].
    """
    require_above("bolt tension", tension_kn, 0.0, unit="kN", source="SHIGLEY")
    require_above("free length", free_length_mm, 0.0, unit="mm", source="SHIGLEY")
    require_above("stress area", stress_area_mm2, 0.0, unit="mm²", source="SHIGLEY")
    require_above("modulus of the bolt", modulus_mpa, 0.0, unit="MPa", source="SHIGLEY")
    return tension_kn * 1000.0 * free_length_mm / (stress_area_mm2 * modulus_mpa)


def stress_mpa(tension_kn: float, area_mm2: float) -> float:
    """Return the stress in a bolt.

    Parameters
    ----------
    tension_kn : Tension in the bolt. [kN], 0 or more
    area_mm2 : Stress or root area; say which beside the number. [mm²], above 0

    Returns
    -------
    Stress. [MPa]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [SHIGLEY] force over area.
    """
    require_between("bolt tension", tension_kn, 0.0, None, unit="kN", source="SHIGLEY")
    require_above("area of the bolt", area_mm2, 0.0, unit="mm²", source="SHIGLEY")
    return tension_kn * 1000.0 / area_mm2


def grout_bearing_kpa(total_tension_kn: float, weight_kn: float, contact_area_m2: float) -> float:
    """Return the mean pressure on the grout from all bolts and the weight.

    Parameters
    ----------
    total_tension_kn : Tension of all bolts together. [kN], 0 or more
    weight_kn : Weight of machine and plate. [kN], 0 or more
    contact_area_m2 : Area in contact, voids taken off. [m²], above 0

    Returns
    -------
    Pressure. [kPa]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [SHIGLEY] force over area.
    """
    require_between("tension of all bolts", total_tension_kn, 0.0, None, unit="kN", source="SHIGLEY")
    require_between("weight", weight_kn, 0.0, None, unit="kN", source="SHIGLEY")
    require_above("contact area", contact_area_m2, 0.0, unit="m²", source="SHIGLEY")
    return (total_tension_kn + weight_kn) / contact_area_m2


def bolt_findings(
    thread: Thread, tension_kn: float, grade: Grade, free_length_mm: float, *, system: str = units.METRIC
) -> list[Finding]:
    """Return what speaks against a tension in a bolt: its share of yield, and a bolt too short to stretch.

    Parameters
    ----------
    thread : The thread; the stress is on its stress area.
    tension_kn : Target tension. [kN], above 0
    grade : Steel of the bolt.
    free_length_mm : Length free to stretch. [mm], above 0
    system : Units that the reader sees.

    Returns
    -------
    Findings, none where all is well.

    Raises
    ------
    OutOfRange : a number is outside the limits above, or the bolt is thicker than its grade covers.

    Source
    ------
    [PRACTICE] 0.60 to 0.75 of yield at most; [API686] chapter 4 free length of 12 diameters; [SHIGLEY] tension.
    """
    require_above("bolt tension", tension_kn, 0.0, unit="kN", source="SHIGLEY")
    require_above("free length", free_length_mm, 0.0, unit="mm", source="API686")
    require_between(
        f"diameter for {grade.name}", thread.diameter_mm, 0.0, grade.largest_mm, unit="mm", source=grade.source
    )
    return _yield_findings(thread, tension_kn, grade, system) + _length_findings(thread, free_length_mm, system)


def bearing_findings(bearing_kpa: float, *, system: str = units.METRIC) -> list[Finding]:
    """Return a warning where the bolts press harder on the grout than is usual.

    Parameters
    ----------
    bearing_kpa : From grout_bearing_kpa. [kPa], 0 or more
    system : Units that the reader sees.

    Returns
    -------
    No finding, or one. Limits differ widely between suppliers: this one is advice.

    Raises
    ------
    OutOfRange : the pressure is no number or negative.

    Source
    ------
    [PRACTICE] 3.5 MPa long term at up to 60 °C.
    """
    require_between("pressure on the grout", bearing_kpa, 0.0, None, unit="kPa", source="PRACTICE")
    if bearing_kpa <= BEARING_LIMIT_KPA:
        return []
    return [
        Finding(
            level=Level.WARNING,
            code="bolt.bearing",
            message=f"The grout carries {units.shown(bearing_kpa, 'kpa', system)}, more than "
            f"{units.shown(BEARING_LIMIT_KPA, 'kpa', system)}.",
            hint="Ask the supplier for the long-term bearing pressure at service temperature.",
            source="PRACTICE",
            margin=BEARING_LIMIT_KPA - bearing_kpa,
        )
    ]


def _check_wrench(diameter_mm: float, friction_factor: float) -> None:
    require_above("bolt diameter", diameter_mm, 0.0, unit="mm", source="SHIGLEY")
    require_between("friction factor K", friction_factor, 0.05, 0.5, source="PRACTICE")


def _yield_findings(thread: Thread, tension_kn: float, grade: Grade, system: str) -> list[Finding]:
    stress = stress_mpa(tension_kn, thread.stress_area_mm2)
    share = stress / grade.yield_mpa
    if share <= ADVISED_YIELD_SHARE:
        return []
    too_much = share > HIGHEST_YIELD_SHARE
    limit = HIGHEST_YIELD_SHARE if too_much else ADVISED_YIELD_SHARE
    return [
        Finding(
            level=Level.BLOCKER if too_much else Level.WARNING,
            code="bolt.yield_share",
            message=f"{thread.name}: {units.shown(stress, 'mpa', system)} is {share:.0%} of the yield strength of "
            f"{grade.name}, more than {limit:.0%}.",
            hint="Lower the tension, or have the engineer in charge approve it in writing.",
            source="PRACTICE",
            about=thread.name,
            margin=limit - share,
        )
    ]


def _length_findings(thread: Thread, free_length_mm: float, system: str) -> list[Finding]:
    needed_mm = FREE_LENGTH_DIAMETERS * thread.diameter_mm
    if free_length_mm >= needed_mm:
        return []
    return [
        Finding(
            level=Level.WARNING,
            code="bolt.free_length",
            message=f"{thread.name}: {units.shown(free_length_mm, 'mm', system)} of free length is "
            f"{free_length_mm / thread.diameter_mm:.1f} diameters, less than {FREE_LENGTH_DIAMETERS:.0f} "
            f"({units.shown(needed_mm, 'mm', system)}); it loses tension quickly when the joint settles.",
            hint="Sleeve the bolt deeper, or use a spacer; tighten again after a day and after the hot run.",
            source="API686",
            about=thread.name,
            margin=free_length_mm - needed_mm,
        )
    ]
