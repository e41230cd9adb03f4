"""Thermal properties of concrete, steel, grout and soil, and the working life of mixed grout.

Values for a job come from the data sheet or the shop; the table in data/materials.toml holds general ones with their
sources. The supplier's written instruction always outranks what is computed here.
"""

import itertools
import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from groutjobs.engineering.checks import Floats, require_above, require_between
from groutjobs.errors import OutOfRange, Unusable

_TABLE = Path(__file__).parent / "data" / "materials.toml"

HALVING_K = 10.0
"""Mixed epoxy lives half as long for each 10 K of warming. BLOCH-MCM."""
HALVING_REACH_K = 15.0
"""How far from its one point the halving rule is used. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class Solid:
    """What conduction needs to know about a material."""

    conductivity_w_mk: float
    density_kg_m3: float
    specific_heat_j_kgk: float
    source: str
    note: str = ""

    def __post_init__(self) -> None:
        require_above("conductivity", self.conductivity_w_mk, 0.0, unit="W/m·K", source=self.source)
        require_above("density", self.density_kg_m3, 0.0, unit="kg/m³", source=self.source)
        require_above("specific heat", self.specific_heat_j_kgk, 0.0, unit="J/kg·K", source=self.source)

    @property
    def heat_capacity_j_m3k(self) -> float:
        return self.density_kg_m3 * self.specific_heat_j_kgk

    @property
    def diffusivity_m2_s(self) -> float:
        return self.conductivity_w_mk / self.heat_capacity_j_m3k


@dataclass(frozen=True, kw_only=True)
class _Exposed(Solid):
    """A material whose surface meets sun and sky."""

    absorptance: float
    emissivity: float

    def __post_init__(self) -> None:
        super().__post_init__()
        require_between("absorptance", self.absorptance, 0.0, 1.0, source=self.source)
        require_between("emissivity", self.emissivity, 0.0, 1.0, source=self.source)


@dataclass(frozen=True, kw_only=True)
class ConcreteProperties(_Exposed):
    """Concrete of a foundation."""


@dataclass(frozen=True, kw_only=True)
class SteelProperties(_Exposed):
    """Steel of a baseplate or soleplate."""


@dataclass(frozen=True, kw_only=True)
class GroutProperties(_Exposed):
    """Grout in place."""


@cache
def _rows() -> dict[str, dict[str, dict[str, Any]]]:
    with _TABLE.open("rb") as table:
        return tomllib.load(table)


def concrete(key: str = "stone_mix") -> ConcreteProperties:
    """Return the thermal properties of concrete.

    Parameters
    ----------
    key : Its row in data/materials.toml; KeyError for any other.

    Source
    ------
    [INCROPERA] appendix A, from memory; absorptance for sunlight is [GROUTJOBS].
    """
    return ConcreteProperties(**_rows()["concrete"][key])


def steel(key: str = "carbon") -> SteelProperties:
    """Return the thermal properties of steel.

    Parameters
    ----------
    key : Its row in data/materials.toml; KeyError for any other.

    Source
    ------
    [INCROPERA] appendix A, from memory; absorptance for sunlight is [GROUTJOBS].
    """
    return SteelProperties(**_rows()["steel"][key])


def grout(kind: str) -> GroutProperties:
    """Return the thermal properties of grout.

    Parameters
    ----------
    kind : "epoxy" or "cementitious"; KeyError for any other.

    Source
    ------
    [GROUTJOBS] and [PRACTICE] as each row of data/materials.toml says; the data sheet outranks them.
    """
    return GroutProperties(**_rows()["grout"][kind])


def soil() -> Solid:
    """Return the thermal properties of the ground under a foundation.

    Source
    ------
    [INCROPERA] appendix A, from memory.
    """
    return Solid(**_rows()["soil"]["soil"])


@dataclass(frozen=True)
class WorkingLifePoint:
    """One row of a data sheet: mixed grout of this temperature can be placed for so long."""

    temp_c: float
    working_life_min: float


@dataclass(frozen=True)
class WorkingLife:
    """A working life and what it rests on, in words that a person can read."""

    working_life_min: float
    basis: str
    source: str


def working_life_range_c(points: Sequence[WorkingLifePoint]) -> tuple[float, float]:
    """Return the temperatures between which the working life is known.

    Parameters
    ----------
    points : Rows of the data sheet, in any order. [°C, min], one or more

    Returns
    -------
    Coldest and hottest temperature. [°C]

    Source
    ------
    [GROUTJOBS] the range of the data sheet; 15 K to each side where it has one row only.
    """
    rows = _checked_points(points)
    reach_k = HALVING_REACH_K if len(rows) == 1 else 0.0
    return rows[0].temp_c - reach_k, rows[-1].temp_c + reach_k


def working_life_min(points: Sequence[WorkingLifePoint], temp_c: float) -> WorkingLife:
    """Return how long grout mixed at a temperature can be placed.

    Parameters
    ----------
    points : Rows of the data sheet, in any order. [°C, min], one or more
    temp_c : Temperature of the mixed grout. [°C], from the coldest row to the hottest; 15 K to each side of one row

    Returns
    -------
    The minutes, the words that say what they rest on, and the source key.

    Raises
    ------
    OutOfRange : the temperature lies outside the data sheet. The life there is not known.
    Unusable : no rows, two rows of one temperature, or a life that grows with temperature.

    Source
    ------
    [GROUTJOBS] straight line in the logarithm between rows; [BLOCH-MCM] half as long per 10 K with one row only.
    [DATASHEET] the rows, which are the limits.

    Examples
    --------
    >>> working_life_min([WorkingLifePoint(23.0, 90.0)], 33.0).working_life_min
    45.0
    """
    low_c, high_c = working_life_range_c(points)
    if not low_c <= temp_c <= high_c:
        raise OutOfRange("grout temperature", temp_c, low=low_c, high=high_c, unit="°C", source="DATASHEET")
    minutes = float(working_lives_min(points, np.array([temp_c]))[0])
    if len(points) == 1:
        basis = f"half as long for each {HALVING_K:g} K above the one data-sheet point at {points[0].temp_c:g} °C"
        return WorkingLife(minutes, basis, "BLOCH-MCM")
    return WorkingLife(minutes, "between the points of the data sheet, straight in the logarithm", "GROUTJOBS")


def working_lives_min(points: Sequence[WorkingLifePoint], temp_c: Floats) -> Floats:
    """Return working lives for an array of grout temperatures; see working_life_min.

    Parameters
    ----------
    points : Rows of the data sheet, in any order. [°C, min], one or more
    temp_c : Temperature of the mixed grout. [°C], shape (n,)

    Returns
    -------
    Working life. [min], shape (n,); NaN where the temperature lies outside the data sheet

    Source
    ------
    [GROUTJOBS] straight line in the logarithm between rows; [BLOCH-MCM] half as long per 10 K with one row only.
    """
    rows = _checked_points(points)
    low_c, high_c = working_life_range_c(points)
    if len(rows) == 1:
        lives = rows[0].working_life_min * np.power(2.0, (rows[0].temp_c - temp_c) / HALVING_K)
    else:
        logs = [math.log(row.working_life_min) for row in rows]
        lives = np.exp(np.interp(temp_c, [row.temp_c for row in rows], logs))
    return np.where((temp_c >= low_c) & (temp_c <= high_c), lives, np.nan)


def _checked_points(points: Sequence[WorkingLifePoint]) -> list[WorkingLifePoint]:
    if not points:
        raise Unusable("working life", "the data sheet has no row; enter at least one", source="DATASHEET")
    for point in points:
        require_between("temperature of a working-life row", point.temp_c, -40.0, 80.0, unit="°C", source="GROUTJOBS")
        require_above("working life", point.working_life_min, 0.0, unit="min", source="DATASHEET")
    rows = sorted(points, key=lambda point: point.temp_c)
    for cold, warm in itertools.pairwise(rows):
        if cold.temp_c == warm.temp_c:
            raise Unusable("working life", f"two rows stand at {cold.temp_c:g} °C", source="DATASHEET")
        if warm.working_life_min > cold.working_life_min:
            longer = f"{warm.working_life_min:g} min at {warm.temp_c:g} °C is longer than"
            reason = (
                f"{longer} {cold.working_life_min:g} min at {cold.temp_c:g} °C; mixed grout lives shorter when warm"
            )
            raise Unusable("working life", reason, source="DATASHEET")
    return rows
