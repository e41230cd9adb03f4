"""Typical years: TMY3 and EPW files, read by pvlib, and their hours laid on the days of a plan.

A typical year is pieced together from months of different years. It says what is usual, and is no forecast; every
series made from it says so. Its hours are kept by month, day and hour of the station's standard time.
"""

import csv
import datetime as dt
import io
import itertools
import math
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from groutjobs.fields import quoted
from groutjobs.units import to_si, unit_for
from groutjobs.weather.files import decoded
from groutjobs.weather.series import HOUR, LIMIT_OF, WORDS, HoursRefused, Series, range_problem

FEWEST_HOURS = 24 * 60
MOST_HOURS = 8784
EARTH_KM = 6371.0
YearHours = dict[tuple[int, int, int], dict[str, float]]

_NEEDED = ("temp_c", "dew_point_c", "relative_humidity", "wind_km_h", "cloud_ratio", "solar_w_m2")


@dataclass(frozen=True)
class _Cells:
    """One column of a file: its name in pvlib, suffix and unit, and the number from which on a cell is missing."""

    column: str
    missing: float
    suffix: str = ""
    unit: str = ""


_TMY3 = {
    "temp_c": _Cells("temp_air", -900, "c", "degC"),
    "dew_point_c": _Cells("temp_dew", -900, "c", "degC"),
    "relative_humidity": _Cells("relative_humidity", -900, "ratio", "percent"),
    "wind_km_h": _Cells("wind_speed", -900, "km_h", "m_s"),
    "cloud_ratio": _Cells("TotCld (tenths)", -900),
    "solar_w_m2": _Cells("ghi", -900, "w_m2", "W_m2"),
    "rain_probability": _Cells("Lprecip depth (mm)", -900),
}
_EPW = {
    "temp_c": _Cells("temp_air", 99.9, "c", "degC"),
    "dew_point_c": _Cells("temp_dew", 99.9, "c", "degC"),
    "relative_humidity": _Cells("relative_humidity", 999, "ratio", "percent"),
    "wind_km_h": _Cells("wind_speed", 999, "km_h", "m_s"),
    "cloud_ratio": _Cells("total_sky_cover", 99),
    "solar_w_m2": _Cells("ghi", 9999, "w_m2", "W_m2"),
    "rain_probability": _Cells("liquid_precipitation_depth", 999),
}
_UNREADABLE = (ValueError, KeyError, TypeError, IndexError, AttributeError, OverflowError)


@dataclass(frozen=True)
class TypicalYear:
    """Hours of a typical year by (month, day, hour), with the station that they come from."""

    kind: str
    station: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    offset: dt.timedelta
    hours: YearHours

    def distance_km(self, latitude_deg: float, longitude_deg: float) -> float:
        """Distance over ground from the station, on a sphere."""
        here, there = math.radians(latitude_deg), math.radians(self.latitude_deg)
        turn = math.radians(longitude_deg - self.longitude_deg)
        chord = math.sin((here - there) / 2) ** 2 + math.cos(here) * math.cos(there) * math.sin(turn / 2) ** 2
        return 2 * EARTH_KM * math.asin(math.sqrt(chord))


def tmy3_year(content: bytes) -> TypicalYear:
    """Read a TMY3 file. Times stand for the end of their hour, as the format says."""
    from pvlib.iotools import read_tmy3  # noqa: PLC0415  half a second that few requests need

    text = decoded(content, "TMY3 file")
    head = _head(text, "TMY3", cells=7, numbers=(3, 4, 5, 6))
    second = next(csv.reader(io.StringIO(text.partition("\n")[2][:8000])), [])
    if "Dry-bulb (C)" not in second or "Time (HH:MM)" not in second:
        raise HoursRefused(["Line 2 lacks the columns Time (HH:MM) and Dry-bulb (C), so this is no TMY3 file [TMY3]."])
    try:
        table = _table(read_tmy3, text)
    except _UNREADABLE as error:
        raise HoursRefused([f"The TMY3 file cannot be read: {_short(error)} [TMY3]."]) from error
    hours = _hours(table, table.index, "TMY3", _TMY3)
    latitude, longitude, elevation = (float(cell) for cell in head[4:7])
    station = f"{head[1]}, {head[2]} (USAF {head[0]})"
    return TypicalYear("TMY3", station, latitude, longitude, elevation, dt.timedelta(hours=float(head[3])), hours)


def read_year(kind: str, content: bytes) -> TypicalYear:
    """Read a file of this kind, "tmy3" or "epw"; KeyError for any other."""
    return {"tmy3": tmy3_year, "epw": epw_year}[kind](content)


def epw_year(content: bytes) -> TypicalYear:
    """Read an EPW file. Its hour 1 ends at 01:00, for which its temperatures stand; pvlib puts it at 00:00."""
    from pvlib.iotools import read_epw  # noqa: PLC0415  as above

    text = decoded(content, "EPW file")
    head = _head(text, "EPW", cells=10, numbers=(8, 6, 7, 9))
    if head[0].upper() != "LOCATION":
        raise HoursRefused([f"Line 1 begins with {quoted(head[0])}; an EPW file begins with LOCATION [EPW]."])
    try:
        table = _table(read_epw, text)
    except _UNREADABLE as error:
        raise HoursRefused([f"The EPW file cannot be read: {_short(error)} [EPW]."]) from error
    hours = _hours(table, table.index + HOUR, "EPW", _EPW)
    latitude, longitude, elevation = (float(head[place]) for place in (6, 7, 9))
    station = f"{head[1]}, {head[2]} {head[3]} (WMO {head[5]})"
    return TypicalYear("EPW", station, latitude, longitude, elevation, dt.timedelta(hours=float(head[8])), hours)


def _table(reader: Callable[[io.StringIO], Any], text: str) -> Any:
    """The hours as pvlib reads them. Its parser warns of text among numbers; _read refuses each such cell."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        table, _ = reader(io.StringIO(text))
    return table


def _short(error: Exception) -> str:
    return str(error).strip().partition("\n")[0][:160] or type(error).__name__


def _head(text: str, kind: str, *, cells: int, numbers: tuple[int, ...]) -> list[str]:
    """The cells of the first line, the offset first among those that must be numbers."""
    head = [cell.strip() for cell in next(csv.reader(io.StringIO(text[:2000])), [])]
    if len(head) < cells:
        raise HoursRefused([f"Line 1 has {len(head)} cells; the first line of a {kind} file has {cells} [{kind}]."])
    for place in numbers:
        try:
            if not math.isfinite(float(head[place])):
                raise ValueError
        except ValueError as error:
            raise HoursRefused(
                [f"Line 1: {quoted(head[place])} is not a number, so this is no {kind} file."]
            ) from error
    offset = head[numbers[0]]
    if not -12 <= float(offset) <= 14:
        raise HoursRefused([f"Line 1: the offset {offset} h is not between -12 h and 14 h from UTC [{kind}]."])
    return head


def _hours(table: Any, stamps: Any, kind: str, columns: dict[str, _Cells]) -> YearHours:
    if not FEWEST_HOURS <= len(table) <= MOST_HOURS:
        raise HoursRefused(
            [f"The {kind} file has {len(table)} hours; {FEWEST_HOURS} to {MOST_HOURS} are taken [GROUTJOBS]."]
        )
    hours: YearHours = {key: {} for key in zip(stamps.month, stamps.day, stamps.hour, strict=True)}
    problems: list[str] = []
    for quantity, cells in columns.items():
        if cells.column not in table:
            raise HoursRefused([f"The {kind} file lacks the column {cells.column}, the {WORDS[quantity]} [{kind}]."])
        for number, (values, cell) in enumerate(zip(hours.values(), table[cells.column].tolist(), strict=False), 1):
            value, problem = _read(quantity, cells, cell)
            if problem:
                problems.append(f"Hour {number} of the file, {WORDS[quantity]}: {problem}.")
            elif value is not None:
                values[quantity] = value
    if problems:
        raise HoursRefused(problems)
    return hours


def _read(quantity: str, cells: _Cells, cell: Any) -> tuple[float | None, str]:
    """Value as stored, None where missing. Cloud comes in tenths; of a depth of rain only "it fell" is kept."""
    try:
        number = float(cell)
    except (TypeError, ValueError):
        return None, f"{quoted(str(cell))} is not a number"
    missing = number <= cells.missing if cells.missing < 0 else number >= cells.missing
    if missing or math.isnan(number):
        return None, ""
    if quantity == "rain_probability":
        return (1.0 if number > 0 else 0.0), ""
    value = to_si(number, cells.suffix, cells.unit) if cells.suffix else number / 10
    typed = f"{number:g} {unit_for(cells.suffix, cells.unit).label if cells.suffix else 'tenths'}"
    return value, range_problem(quantity, typed, value)


def series_on_days(year: TypicalYear, first_day: dt.date, days: int, past_days: int, zone: ZoneInfo) -> Series:
    """The hours of the typical year laid on `days` days of the site's calendar, with past_days days before them."""
    plan_starts_at = dt.datetime.combine(first_day, dt.time(), zone).astimezone(dt.UTC)
    ends_at = dt.datetime.combine(first_day + dt.timedelta(days=days), dt.time(), zone).astimezone(dt.UTC)
    count = round((ends_at - plan_starts_at) / HOUR) + 24 * past_days
    starts_at = plan_starts_at - past_days * 24 * HOUR
    rows = [_row(year, starts_at + index * HOUR) for index in range(count + 1)]
    hours = {quantity: [row[quantity] for row in rows[:-1]] for quantity in LIMIT_OF if _complete(quantity, rows)}
    sun = [row["solar_w_m2"] for row in rows]
    hours["solar_w_m2"] = [round((before + after) / 2, 1) for before, after in itertools.pairwise(sun)]
    read_for = f"read for {first_day.isoformat()} to {(first_day + dt.timedelta(days=days - 1)).isoformat()}"
    return Series(
        starts_at,
        hours,
        past_hours=24 * past_days,
        source_name=f"Typical year of {year.station[:80]} {read_for}; not a forecast",
        note=_note(year, past_days, "rain_probability" in hours),
    )


def _row(year: TypicalYear, moment: dt.datetime) -> dict[str, float]:
    """The hour of the typical year for a moment; 29 February takes the hours of the 28th, as the year has none."""
    there = moment + year.offset
    day = 28 if (there.month, there.day) == (2, 29) and (2, 29, there.hour) not in year.hours else there.day
    row = year.hours.get((there.month, day, there.hour), {})
    missing = [WORDS[quantity] for quantity in _NEEDED if quantity not in row]
    if missing:
        when = f"{there.month:02d}-{day:02d} {there.hour:02d}:00"
        way_out = "choose other days or another file"
        raise HoursRefused([f"The {year.kind} file has no {', '.join(missing)} for {when}; {way_out} [{year.kind}]."])
    return row


def _complete(quantity: str, rows: list[dict[str, float]]) -> bool:
    return all(quantity in row for row in rows)


def _note(year: TypicalYear, past_days: int, has_rain: bool) -> str:
    rain = (
        "Chance of rain: 100 % where the file records rain in that hour, else 0 %."
        if has_rain
        else "The file records no rain for these days, so rain is not judged."
    )
    place = f"{year.latitude_deg:.3f}°, {year.longitude_deg:.3f}°, {year.elevation_m:g} m"
    return (
        f"A {year.kind} file pieces a usual year together from months of several years; the weather of a given day "
        f"will differ. Station at {place}. "
        f"The {past_days} days before the first day warm or cool the foundation. {rain}"
    )
