"""A table of hours as a CSV file: its documented header, an example, and the reader. Bytes in, plain hours out."""

import csv
import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from groutjobs import units
from groutjobs.fields import quoted, read_moment
from groutjobs.weather.series import (
    ALWAYS,
    HoursRefused,
    Series,
    first_moment,
    length_problem,
    range_problem,
    unusual_problem,
)

LARGEST_BYTES = 10 * 1024 * 1024
LONGEST_LINE = 400
MOST_LINES = 10_000


@dataclass(frozen=True)
class CsvColumn:
    """One name that the header may carry."""

    name: str
    quantity: str
    suffix: str
    unit: str
    words: str


TIME_COLUMN = "time"
COLUMNS = (
    CsvColumn("temp_c", "temp_c", "c", "degC", "air temperature, °C"),
    CsvColumn("temp_f", "temp_c", "c", "degF", "air temperature, °F"),
    CsvColumn("dew_point_c", "dew_point_c", "c", "degC", "dew point, °C"),
    CsvColumn("dew_point_f", "dew_point_c", "c", "degF", "dew point, °F"),
    CsvColumn("humidity_percent", "relative_humidity", "ratio", "percent", "relative humidity, %"),
    CsvColumn("wind_km_h", "wind_km_h", "km_h", "km_h", "wind 10 m above ground, km/h"),
    CsvColumn("wind_mph", "wind_km_h", "km_h", "mph", "wind 10 m above ground, mph"),
    CsvColumn("wind_m_s", "wind_km_h", "km_h", "m_s", "wind 10 m above ground, m/s"),
    CsvColumn("cloud_percent", "cloud_ratio", "ratio", "percent", "share of the sky under cloud, %"),
    CsvColumn("solar_w_m2", "solar_w_m2", "w_m2", "W_m2", "sunlight on level ground, W/m²; may be left out"),
    CsvColumn("rain_percent", "rain_probability", "ratio", "percent", "chance of rain, %; may be left out"),
)
COLUMN_OF = {column.name: column for column in COLUMNS}


def decoded(content: bytes, kind: str) -> str:
    """The text of an uploaded file; HoursRefused says why there is none."""
    if not content.strip():
        raise HoursRefused(
            [f"The file is empty; a file of this kind ({kind}) holds a header and one line for each hour [GROUTJOBS]."]
        )
    if len(content) > LARGEST_BYTES:
        size = len(content) / 1024 / 1024
        raise HoursRefused(
            [f"The file has {size:.1f} MB; up to {LARGEST_BYTES // 1024 // 1024} MB are taken [GROUTJOBS]."]
        )
    if b"\x00" in content:
        raise HoursRefused([f"The file is not plain text, so it is no {kind}; save it as text in UTF-8 [GROUTJOBS]."])
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise HoursRefused(
            [f"Line {line} holds a byte that is not UTF-8 text (0x{content[error.start]:02x}); save the file as UTF-8."]
        ) from error


def series_of(content: bytes, zone: ZoneInfo, *, confirmed: bool = False) -> Series:
    """Read a CSV table of hours. Times without an offset are local to the zone."""
    text = decoded(content, "CSV table")
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip() and line[0] != "#"]
    if len(lines) > MOST_LINES:
        raise HoursRefused([f"The file has {len(lines)} lines; up to {MOST_LINES} are taken [GROUTJOBS]."])
    for number, line in lines:
        if len(line) > LONGEST_LINE:
            raise HoursRefused(
                [f"Line {number} has {len(line)} characters; up to {LONGEST_LINE} are taken [GROUTJOBS]."]
            )
    separator = _separator(lines[0][1]) if lines else ","
    columns = _header(_cells(lines[0][1], separator)) if lines else []
    if problem := length_problem(len(lines) - 1):
        raise HoursRefused([problem])
    rows = [_Row(number, _cells(line, separator)) for number, line in lines[1:]]
    return _Table(columns, rows, zone).series(confirmed)


def _separator(header: str) -> str:
    return max("\t;,", key=header.count)


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]


def _header(names: list[str]) -> list[CsvColumn | None]:
    """The columns in the order of the file, None for the time."""
    plain = [name.lower() for name in names]
    known = [TIME_COLUMN, *COLUMN_OF]
    problems = [
        f"The header names {quoted(name)}, which is none of: {', '.join(known)}." for name in plain if name not in known
    ]
    quantities = [COLUMN_OF[name].quantity for name in plain if name in COLUMN_OF]
    problems += [
        f"The header gives the {name} twice." for name in sorted({q for q in quantities if quantities.count(q) > 1})
    ]
    if plain.count(TIME_COLUMN) != 1:
        problems.append(f"The header has {plain.count(TIME_COLUMN)} columns named time; it needs one.")
    for quantity in ALWAYS:
        if quantity not in quantities:
            names_for = " or ".join(column.name for column in COLUMNS if column.quantity == quantity)
            problems.append(f"The header lacks {names_for}.")
    if not {"dew_point_c", "relative_humidity"} & set(quantities):
        problems.append("The header lacks humidity_percent, or in its place dew_point_c or dew_point_f.")
    if problems:
        raise HoursRefused(problems)
    return [COLUMN_OF.get(name) for name in plain]


@dataclass(frozen=True)
class _Row:
    number: int
    cells: list[str]


@dataclass(frozen=True)
class _Table:
    columns: list[CsvColumn | None]
    rows: list[_Row]
    zone: ZoneInfo

    def series(self, confirmed: bool) -> Series:
        problems = [
            f"Line {row.number} has {len(row.cells)} cells; the header has {len(self.columns)}."
            for row in self.rows
            if len(row.cells) != len(self.columns)
        ]
        if problems:
            raise HoursRefused(problems)
        starts_at = self._starts_at()
        hours, unusual = self._quantities()
        if unusual and not confirmed:
            question = "Correct the file, or tick “The values are right” and send it again."
            raise HoursRefused([*unusual[:6], question], only_unusual=True)
        return Series(starts_at, hours)

    def _starts_at(self) -> dt.datetime:
        place = self.columns.index(None)
        problems, moments = [], []
        for row in self.rows:
            where = f"Line {row.number}, time {quoted(row.cells[place])}"
            try:
                moments.append((where, read_moment(row.cells[place], self.zone)))
            except ValueError as error:
                problems.append(f"{where}: {error} [ISO8601].")
        if problems:
            raise HoursRefused(problems)
        return first_moment(moments)

    def _quantities(self) -> tuple[dict[str, list[float]], list[str]]:
        hours: dict[str, list[float]] = {column.quantity: [] for column in self.columns if column}
        problems, unusual = [], []
        for row, column, cell in self._cells():
            value, problem = _read(column, cell)
            here = f"Line {row.number}, {column.name}: "
            if problem:
                problems.append(here + problem + ".")
            elif question := unusual_problem(column.quantity, _typed(column, cell), value):
                unusual.append(here + question + ".")
            hours[column.quantity].append(value)
        if problems:
            raise HoursRefused(problems)
        return hours, unusual

    def _cells(self) -> Iterator[tuple[_Row, CsvColumn, str]]:
        for row in self.rows:
            for column, cell in zip(self.columns, row.cells, strict=True):
                if column:
                    yield row, column, cell


def _typed(column: CsvColumn, cell: str) -> str:
    return f"{cell} {units.unit_for(column.suffix, column.unit).label}"


def _read(column: CsvColumn, cell: str) -> tuple[float, str]:
    try:
        value = units.to_si(units.read_number(cell), column.suffix, column.unit)
    except units.NotANumber as error:
        return 0.0, str(error)
    return value, range_problem(column.quantity, _typed(column, cell), value)


def example_csv() -> str:
    """A short table that the reader takes, to be downloaded and filled in. Its values are invented."""
    lines = ["time,temp_c,humidity_percent,wind_km_h,cloud_percent,solar_w_m2,rain_percent"]
    for hour in range(48):
        warm = abs((hour % 24) - 3)
        temp_c = 12.0 + 0.5 * min(warm, 24 - warm)
        sun = max(0, 500 - 90 * abs((hour % 24) - 13)) if 7 <= hour % 24 <= 18 else 0
        day = 14 + hour // 24
        lines.append(f"2026-04-{day} {hour % 24:02d}:00,{temp_c:.1f},{85 - 2 * min(warm, 24 - warm)},9,40,{sun},10")
    return "\n".join(lines) + "\n"
