"""Conversions and the list of unit suffixes; the only place that knows °F, psi or inches.

Storage is SI. A column, argument or JSON key ends in a suffix from UNITS_OF, and that suffix fixes the unit.
Text typed by a person never reaches pint's parser: it is read here, and pint converts plain numbers between
units that this file names.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache

import pint

METRIC = "metric"
US = "us"


@dataclass(frozen=True)
class Unit:
    """One unit a person may choose: its key in forms, what is printed, its name in pint, decimals to print."""

    key: str
    label: str
    pint_name: str
    decimals: int = 1


def _units(*rows: tuple[str, str, str, int]) -> tuple[Unit, ...]:
    return tuple(Unit(*row) for row in rows)


# suffix → units, the SI unit of storage first, then the US customary one, then others in use on site
UNITS_OF: dict[str, tuple[Unit, ...]] = {
    "c": _units(("degC", "°C", "degC", 1), ("degF", "°F", "degF", 1)),
    "k": _units(("delta_degC", "K", "delta_degC", 1), ("delta_degF", "°F difference", "delta_degF", 1)),
    "mm": _units(
        ("mm", "mm", "mm", 1),
        ("in", "in", "inch", 3),
        ("m", "m", "m", 3),
        ("ft", "ft", "foot", 3),
    ),
    "m": _units(("m", "m", "m", 2), ("ft", "ft", "foot", 2)),
    "m2": _units(("m2", "m²", "m**2", 3), ("ft2", "ft²", "foot**2", 2)),
    "m3": _units(("m3", "m³", "m**3", 4), ("ft3", "ft³", "foot**3", 3), ("L", "L", "liter", 1)),
    "l": _units(("L", "L", "liter", 1), ("ft3", "ft³", "foot**3", 3), ("gal", "gal", "gallon", 2)),
    "l_h": _units(("L_h", "L/h", "liter/hour", 0), ("ft3_h", "ft³/h", "foot**3/hour", 1)),
    "kg": _units(("kg", "kg", "kg", 1), ("lb", "lb", "pound", 1)),
    "kg_m3": _units(("kg_m3", "kg/m³", "kg/m**3", 0), ("lb_ft3", "lb/ft³", "pound/foot**3", 1)),
    "kw": _units(("kW", "kW", "kW", 1), ("hp", "hp", "horsepower", 1)),
    "heat_kw": _units(("kW", "kW", "kW", 1), ("Btu_h", "Btu/h", "Btu/hour", 0)),
    "rpm": _units(("rpm", "rpm", "rpm", 0)),
    "kn": _units(("kN", "kN", "kN", 1), ("lbf", "lbf", "lbf", 0)),
    "nm": _units(("Nm", "N·m", "N*m", 0), ("ftlb", "ft·lb", "foot*lbf", 0)),
    "kpa": _units(("kPa", "kPa", "kPa", 1), ("psi", "psi", "psi", 2)),
    "mpa": _units(("MPa", "MPa", "MPa", 1), ("psi", "psi", "psi", 0), ("ksi", "ksi", "ksi", 2)),
    "mm_m": _units(("mm_m", "mm/m", "mm/m", 3), ("in_ft", "in/ft", "inch/foot", 4)),
    "s": _units(("s", "s", "s", 0)),
    "min": _units(("min", "min", "minute", 0), ("h", "h", "hour", 2)),
    "h": _units(("h", "h", "hour", 1), ("d", "days", "day", 2), ("min", "min", "minute", 0)),
    "d": _units(("d", "days", "day", 0)),
    "km_h": _units(("km_h", "km/h", "km/hour", 1), ("mph", "mph", "mile/hour", 1), ("m_s", "m/s", "m/s", 1)),
    "w_m2": _units(("W_m2", "W/m²", "W/m**2", 0)),
    "w_mk": _units(("W_mK", "W/m·K", "W/(m*delta_degC)", 2)),
    "kg_m2_h": _units(("kg_m2_h", "kg/m²/h", "kg/m**2/hour", 2), ("lb_ft2_h", "lb/ft²/h", "pound/foot**2/hour", 2)),
    "deg": _units(("deg", "°", "degree", 4)),
    "ratio": _units(("percent", "%", "percent", 0)),
}
# A ratio is stored as 0 to 1 and is typed and printed in percent.
_STORAGE_NAME = {"ratio": "dimensionless"}
_US_FIRST = {"l": "ft3", "h": "h", "min": "min"}
_LONGEST_FIRST = sorted(UNITS_OF, key=len, reverse=True)


class NotANumber(ValueError):
    """The text is no number that this program can read without guessing. The message says how to write it."""


@cache
def _registry() -> "pint.UnitRegistry[float]":
    return pint.UnitRegistry(cache_folder=None)


def suffix_of(name: str) -> str:
    """The unit suffix of a column or key, such as "km_h" for "wind_km_h"; KeyError where it has none."""
    for suffix in _LONGEST_FIRST:
        if name.endswith("_" + suffix):
            return suffix
    raise KeyError(f"{name} ends in no unit suffix")


def unit_for(suffix: str, key: str) -> Unit:
    """The unit with this key among those that the suffix allows; KeyError for any other."""
    for unit in UNITS_OF[suffix]:
        if unit.key == key:
            return unit
    raise KeyError(f"{key} is no unit for {suffix}")


def preferred_unit(suffix: str, system: str) -> Unit:
    """The unit a person sees first: storage unit for metric, the US customary one where there is one."""
    units = UNITS_OF[suffix]
    if system != US or len(units) == 1:
        return units[0]
    return unit_for(suffix, _US_FIRST[suffix]) if suffix in _US_FIRST else units[1]


@lru_cache(maxsize=4096)
def to_si(value: float, suffix: str, key: str) -> float:
    """Convert a number in the unit `key` to the storage unit of the suffix."""
    return _convert(value, unit_for(suffix, key).pint_name, _storage(suffix))


@lru_cache(maxsize=4096)
def from_si(value: float, suffix: str, key: str) -> float:
    """Convert a stored number to the unit `key`."""
    return _convert(value, _storage(suffix), unit_for(suffix, key).pint_name)


def _storage(suffix: str) -> str:
    return _STORAGE_NAME.get(suffix, UNITS_OF[suffix][0].pint_name)


def _convert(value: float, source: str, target: str) -> float:
    if source == target:
        return value
    return float(_registry().Quantity(value, source).to(target).magnitude)


_DECIMAL = re.compile(r"([+-]?)(\d{1,12})(?:[.,](\d{0,12}))?|([+-]?)[.,](\d{1,12})")
_FRACTION = re.compile(r"([+-]?)(?:(\d{1,6})[ -])?(\d{1,4})/(\d{1,4})")
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?")


def read_number(text: str, *, fractions: bool = False) -> float:
    """Read a number as people write it on site: point or comma, any sign, and fractions of an inch where asked.

    Raises NotANumber, with the way to write it, for all else: "1,500" is refused because it means 1500 to one
    reader and 1.5 to another; exponents, NaN, infinity and two units in one field are refused too.
    """
    if len(text) > 40:
        raise NotANumber(f"{len(text)} characters are too many for one number; write up to 40")
    plain = text.strip().replace("\u2212", "-").replace("\u00a0", " ")
    if not plain:
        raise NotANumber("nothing was entered")
    if _THOUSANDS.fullmatch(plain):
        whole = plain.replace(",", "")
        raise NotANumber(f"“{plain}” can be read in two ways; write {whole} or {plain.replace(',', '.', 1)}0")
    if fractions and (match := _FRACTION.fullmatch(plain)):
        sign, whole_part, top, bottom = match.groups()
        if int(bottom) == 0:
            raise NotANumber(f"“{plain}” divides by zero")
        size = float(int(whole_part or 0) + Fraction(int(top), int(bottom)))
        return -size if sign == "-" else size
    if not plain.isascii() or not _DECIMAL.fullmatch(plain):
        raise NotANumber(f"“{plain}” is not a number; write digits such as 12.5, the unit is chosen beside the field")
    return float(plain.replace(",", "."))


def shown(value: float | None, suffix: str, system: str = METRIC, *, decimals: int | None = None) -> str:
    """Print a stored number with its unit in the person's system: "18.0 °C" or "64.4 °F"; an en dash for none."""
    if value is None or math.isnan(value):
        return "–"
    unit = preferred_unit(suffix, system)
    places = unit.decimals if decimals is None else decimals
    number = f"{from_si(value, suffix, unit.key):z,.{places}f}".replace(",", "\u202f").replace("-", "\u2212")
    return f"{number} {unit.label}" if unit.label not in {"%", "°"} else f"{number}{unit.label}"
