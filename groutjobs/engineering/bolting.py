"""Anchor bolts: stress area, torque and tension, stretch, free length, order of tightening, bearing on the grout.

Two ways to a torque stand apart on purpose. `torque_at_30_ksi` looks up a printed table, whose loads are on the root
area. `torque_nm` is T = K·D·F for a tension of your own, usually on the stress area. Never mix the two.
"""

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

STEEL_MODULUS_MPA = 200_000.0
FREE_LENGTH_DIAMETERS = 12.0
SHORT_FREE_LENGTH_DIAMETERS = 8.0
ADVISED_YIELD_SHARE = 0.6
HIGHEST_YIELD_SHARE = 0.75
PASS_SHARES = (0.30, 0.70, 1.00)
BEARING_LIMIT_KPA = 3500.0
BOLT_TENSION_CAUTION = (
    "A bolt under tension can break and throw its parts; a wrench or tensioner can slip. Stand clear of the bolt axis, "
    "guard hands from pinch points, use a calibrated tool within its date, and stay out of the line of fire. Tighten "
    "only when the grout has the strength that its supplier asks for and the jackscrews are backed off. Numbers here are "
    "a planning aid: the owner's specification, the supplier's instruction and the engineer in charge come first."
)


@dataclass(frozen=True, kw_only=True)
class Thread:
    """One thread of the table. `series` is "UN" for inch threads and "ISO" for metric ones."""

    name: str
    series: str
    diameter_mm: float
    pitch_mm: float

    @property
    def stress_area_mm2(self) -> float:
        return stress_area_mm2(self.diameter_mm, self.pitch_mm, self.series)


@dataclass(frozen=True, kw_only=True)
class Grade:
    """One bolt steel; the yield holds up to `largest_mm`, or for every size of the table where that is None."""

    name: str
    yield_mpa: float
    largest_mm: float | None
    source: str


@dataclass(frozen=True, kw_only=True)
class Friction:
    """The range of the friction factor K for one condition of threads and nut face."""

    name: str
    low: float
    usual: float
    high: float


@dataclass(frozen=True, kw_only=True)
class TorqueRow:
    """One row of the 30 ksi table as printed, in SI units. `note` tells of a table that disagrees."""

    size: str
    root_area_mm2: float
    load_kn: float
    torque_nm: float
    note: str


@dataclass(frozen=True, kw_only=True)
class TensionBand:
    """What tension one torque gives for the highest, usual and lowest friction. [kN]"""

    low_kn: float
    usual_kn: float
    high_kn: float


@dataclass(frozen=True, kw_only=True)
class TighteningPass:
    """One round over all bolts in the order of tightening."""

    number: int
    label: str
    share: float
    torque_nm: float


@dataclass(frozen=True, kw_only=True)
class BoltPlace:
    """Where a bolt stands in plan."""

    name: str
    x_mm: float
    y_mm: float


def threads() -> dict[str, Thread]:
    """Return name → thread: UNC and 8UN inch threads, ISO coarse metric threads.

    Source
    ------
    [ASMEB1.1] and [ISO261] sizes and pitches.
    """
    return dict(_tables().threads)


def grades() -> dict[str, Grade]:
    """Return name → bolt steel with its yield strength; the certificate of the bolt outranks it.

    Source
    ------
    [ASTMF1554], [ASTMA193], [ISO898-1] yield strengths.
    """
    return dict(_tables().grades)


def frictions() -> dict[str, Friction]:
    """Return condition of the threads → range of the friction factor.

    Source
    ------
    [PRACTICE] handbook ranges.
    """
    return dict(_tables().frictions)


def stress_area_mm2(diameter_mm: float, pitch_mm: float, series: str) -> float:
    """Return the tensile stress area of a thread.

    Parameters
    ----------
    diameter_mm : Nominal diameter. [mm], above 0
    pitch_mm : Pitch; 25.4 over threads per inch for inch threads. [mm], above 0, below half the diameter
    series : "UN" or "ISO".

    Returns
    -------
    Area. [mm²]

    Raises
    ------
    OutOfRange : a length is outside the limits above.
    Unusable : another series.

    Source
    ------
    [ASMEB1.1] π/4·(D − 0.9743/n)² for UN; [ISO898-1] π/4·(d − 0.9382 P)² for ISO.

    Examples
    --------
    >>> round(stress_area_mm2(24, 3, "ISO"), 1)
    352.5
    """
    factors = {"UN": 0.9743, "ISO": 0.9382}
    if series not in factors:
        raise Unusable("thread series", f"{series} is neither UN nor ISO", source="ISO898-1")
    require_above("bolt diameter", diameter_mm, 0.0, unit="mm", source="ISO898-1")
    require_above("thread pitch", pitch_mm, 0.0, unit="mm", source="ISO898-1")
    require_between("thread pitch", pitch_mm, None, diameter_mm / 2.0, unit="mm", source="ISO898-1")
    effective_mm = diameter_mm - factors[series] * pitch_mm
    return math.pi / 4.0 * effective_mm * effective_mm


def torque_at_30_ksi(thread: Thread) -> TorqueRow:
    """Return the row of the 30 ksi table for a thread; there is nothing between the rows.

    Parameters
    ----------
    thread : An inch thread of the table: UNC up to 1 in, 8 threads per inch above.

    Returns
    -------
    The row, with its note where another printed table disagrees.

    Raises
    ------
    Unusable : the table has no row for this thread.

    Source
    ------
    [TORQUE30KSI] well lubricated threads, load on the root area; [NAVY14119] where it differs.
    """
    for row in _tables().torque_rows:
        same_size = math.isclose(row[0], thread.diameter_mm) and math.isclose(row[1], thread.pitch_mm)
        if same_size and thread.series == "UN":
            return row[2]
    raise Unusable(
        "30 ksi torque table",
        f"there is no row for {thread.name}; it has UNC from 1/2 to 1 in and 8 threads per inch from 1 1/8 to 3 in",
        source="TORQUE30KSI",
    )


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
    [SHIGLEY] 8-8, T = K·F·d; torque control scatters by 25 to 35 %.

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
    [SHIGLEY] 8-8, T = K·F·d.
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


def tightening_passes(final_torque_nm: float) -> tuple[TighteningPass, ...]:
    """Return the rounds of tightening: 30, 70 and 100 % criss-cross, then once round in order at 100 %.

    Parameters
    ----------
    final_torque_nm : Torque to reach. [N·m], above 0

    Returns
    -------
    The passes, the final round last.

    Raises
    ------
    OutOfRange : the torque is not above 0.

    Source
    ------
    [PRACTICE] three passes and a final round; tighten again after 24 h and after the first hot run.
    """
    require_above("final torque", final_torque_nm, 0.0, unit="N·m", source="PRACTICE")
    rounds = [(f"{share:.0%} in the order of tightening", share) for share in PASS_SHARES]
    rounds.append(("once round, bolt by bolt, none may turn", 1.0))
    return tuple(
        TighteningPass(number=number, label=label, share=share, torque_nm=share * final_torque_nm)
        for number, (label, share) in enumerate(rounds, start=1)
    )


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
    [PRACTICE] 0.60 to 0.75 of yield at most; [API686] chapter 4 free length of 12 diameters, 8 to 10 taken by some.
    """
    require_above("bolt tension", tension_kn, 0.0, unit="kN", source="SHIGLEY")
    require_above("free length", free_length_mm, 0.0, unit="mm", source="API686")
    require_between(f"diameter for {grade.name}", thread.diameter_mm, 0.0, grade.largest_mm, unit="mm", source=grade.source)
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


def tightening_order(bolts: Sequence[BoltPlace]) -> tuple[str, ...]:
    """Return the names of bolts in the order of tightening.

    Parameters
    ----------
    bolts : Two or more, each with a name and a place of its own.

    Returns
    -------
    On a circle: a bolt, the one opposite, then the widest gap left and its opposite, and so on. In rows: from the
    middle of the plate outwards, crossing over to the far corner each time.

    Raises
    ------
    OutOfRange : a coordinate is no number.
    Unusable : fewer than two bolts, or a name or place comes twice.

    Source
    ------
    [PRACTICE] criss-cross, centre outwards.
    """
    _check_places(bolts)
    centre = (sum(b.x_mm for b in bolts) / len(bolts), sum(b.y_mm for b in bolts) / len(bolts))
    radii = [math.dist((b.x_mm, b.y_mm), centre) for b in bolts]
    on_circle = len(bolts) > 2 and max(radii) - min(radii) <= 0.02 * max(radii)
    return _circle_order(bolts, centre) if on_circle else _rows_order(bolts, centre)


def _check_wrench(diameter_mm: float, friction_factor: float) -> None:
    require_above("bolt diameter", diameter_mm, 0.0, unit="mm", source="SHIGLEY")
    require_between("friction factor K", friction_factor, 0.05, 0.5, source="PRACTICE")
