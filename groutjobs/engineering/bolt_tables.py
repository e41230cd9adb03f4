"""Tables of anchor bolts: threads and their stress areas, steels, friction, and the printed 30 ksi torque table."""

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.errors import Unusable

TABLES = Path(__file__).parent / "data" / "bolts.toml"
MM_PER_INCH = units.to_si(1.0, "mm", "in")


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

    def __post_init__(self) -> None:
        require_above(f"yield strength of {self.name}", self.yield_mpa, 0.0, unit="MPa", source=self.source)
        require_between(f"yield strength of {self.name}", self.yield_mpa, None, 3000.0, unit="MPa", source="GROUTJOBS")
        if self.largest_mm is not None:
            require_above(f"largest size of {self.name}", self.largest_mm, 0.0, unit="mm", source=self.source)


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


def threads() -> dict[str, Thread]:
    """Return name → thread: UNC and 8UN inch threads, ISO coarse metric threads.

    Source
    ------
    [ASMEB1.1] and [ISO261] sizes and pitches.
    """
    metric = [Thread(series="ISO", **row) for row in _rows()["metric_threads"]]
    return {thread.name: thread for thread in [*map(_inch_thread, _rows()["inch_threads"]), *metric]}


def grades() -> dict[str, Grade]:
    """Return name → bolt steel with its yield strength; the certificate of the bolt outranks it.

    Source
    ------
    [ASTMF1554], [ASTMA193], [ISO898-1] yield strengths.
    """
    return {grade.name: grade for grade in map(_grade, _rows()["grades"])}


def frictions() -> dict[str, Friction]:
    """Return condition of the threads → range of the friction factor.

    Source
    ------
    [PRACTICE] handbook ranges.
    """
    return {row["name"]: Friction(**row) for row in _rows()["friction"]}


def stress_area_mm2(diameter_mm: float, pitch_mm: float, series: str) -> float:
    """Return the tensile stress area of a thread.

    Parameters
    ----------
    diameter_mm : Nominal diameter. [mm], above 0
    pitch_mm : Pitch; 25.4 over threads per inch for inch threads. [mm], above 0, to half the diameter
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
    for row in _rows()["torque_30_ksi"]:
        same_size = math.isclose(row["diameter_in"] * MM_PER_INCH, thread.diameter_mm)
        same_pitch = math.isclose(MM_PER_INCH / row["tpi"], thread.pitch_mm)
        if thread.series == "UN" and same_size and same_pitch:
            return _torque_row(row)
    raise Unusable(
        "30 ksi torque table",
        f"there is no row for {thread.name}; it has UNC from 1/2 to 1 in and 8 threads per inch from 1 1/8 to 3 in",
        source="TORQUE30KSI",
    )


@cache
def _rows() -> dict[str, Any]:
    return tomllib.loads(TABLES.read_text(encoding="utf-8"))


def _inch_thread(row: dict[str, Any]) -> Thread:
    diameter_mm = row["diameter_in"] * MM_PER_INCH
    return Thread(name=row["name"], series="UN", diameter_mm=diameter_mm, pitch_mm=MM_PER_INCH / row["tpi"])


def _grade(row: dict[str, Any]) -> Grade:
    inches, largest_mm = row.get("up_to_in"), row.get("up_to_mm")
    in_mpa = row["yield_mpa"] if "yield_mpa" in row else units.to_si(row["yield_ksi"], "mpa", "ksi")
    return Grade(
        name=row["name"],
        yield_mpa=in_mpa,
        largest_mm=largest_mm if inches is None else inches * MM_PER_INCH,
        source=row["source"],
    )


def _torque_row(row: dict[str, Any]) -> TorqueRow:
    return TorqueRow(
        size=row["size"],
        root_area_mm2=row["root_area_in2"] * MM_PER_INCH * MM_PER_INCH,
        load_kn=units.to_si(row["load_lbf"], "kn", "lbf"),
        torque_nm=units.to_si(row["torque_ftlb"], "nm", "ftlb"),
        note=_rows()["notes_30_ksi"].get(row["size"], ""),
    )
