"""A file of cure readings: its documented header, an example, and the reader. Bytes in, plain readings out."""

import csv
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from groutjobs import units
from groutjobs.curing.models import Probe
from groutjobs.errors import GroutJobsError
from groutjobs.fields import quoted
from groutjobs.limits import LIMITS

LARGEST_BYTES = 8 * 1024 * 1024
MOST_ROWS = 50_000
LONGEST_LINE = 400
SHOWN_PROBLEMS = 12
UNIT_OF = {"c": "degC", "f": "degF"}
LIMIT_OF = {Probe.GROUT: "grout_c", Probe.CONCRETE: "surface_c", Probe.PLATE: "surface_c", Probe.AIR: "air_c"}
WIDE_COLUMNS = {f"{probe}_{letter}": (probe, letter) for probe in Probe for letter in UNIT_OF}
LONG_COLUMNS = {f"temp_{letter}": letter for letter in UNIT_OF}
SITE_CLOCK, SITE_CLOCK_TWICE = "site", "site_twice"
EXAMPLE = "time,grout_c,concrete_c,air_c\n2026-04-30 07:00,21.5,18.2,14.0\n2026-04-30 07:30,22.1,18.3,14.8\n"


class ReadingsRefused(GroutJobsError):
    """A file that cannot be taken: one sentence for each problem, naming row, column, value, limit and source."""

    def __init__(self, sentences: Sequence[str]) -> None:
        self.sentences = list(sentences[:SHOWN_PROBLEMS])
        if len(sentences) > SHOWN_PROBLEMS:
            self.sentences.append(f"And {len(sentences) - SHOWN_PROBLEMS} more rows like these.")
        super().__init__(*self.sentences)

    def __str__(self) -> str:
        return " ".join(self.sentences)


@dataclass(frozen=True)
class Reading:
    """One temperature of a file, with the row it stands in and the text as it was written."""

    probe: str
    read_at: dt.datetime
    temp_c: float
    typed: str
    row: int


@dataclass(frozen=True)
class Clock:
    """How the times of a file run: on the clock of the site, or at one offset all the time."""

    zone: ZoneInfo
    manner: str = SITE_CLOCK

    def read(self, text: str, before: dt.datetime | None) -> dt.datetime:
        """The moment; ValueError with the question where it can be read in two ways."""
        try:
            moment = dt.datetime.fromisoformat(text.strip()[:40])
        except ValueError as error:
            raise ValueError("is not a time; write it as 2026-04-30 07:00, or with its offset") from error
        if moment.tzinfo is not None:
            return moment.astimezone(dt.UTC)
        if self.manner not in {SITE_CLOCK, SITE_CLOCK_TWICE}:
            return moment.replace(tzinfo=fixed_offset(self.manner)).astimezone(dt.UTC)
        return self._site_time(moment, before)

    def _site_time(self, moment: dt.datetime, before: dt.datetime | None) -> dt.datetime:
        early, late = (moment.replace(tzinfo=self.zone, fold=fold).astimezone(dt.UTC) for fold in (0, 1))
        if early == late:
            return early
        if early.astimezone(self.zone).replace(tzinfo=None) != moment:
            raise ValueError(
                f"is skipped by the clocks of {self.zone.key}; if the logger did not follow, choose its offset"
            )
        if self.manner == SITE_CLOCK:
            raise ValueError(
                f"comes twice that day by the clocks of {self.zone.key}; choose how the logger's clock ran, "
                "or write the offset behind the time"
            )
        return late if before is not None and early <= before else early


def fixed_offset(text: str) -> dt.timezone:
    """The offset written as +hh:mm or -hh:mm."""
    hours, minutes = int(text[1:3]), int(text[4:6])
    size = dt.timedelta(hours=hours, minutes=minutes)
    return dt.timezone(-size if text[0] == "-" else size)


def clock_choices(zone: ZoneInfo, year: int) -> list[tuple[str, str]]:
    """The ways in which the clock of a logger may have run at this site in this year."""
    months = (dt.datetime(year, month, 1, 12, tzinfo=zone) for month in range(1, 13))
    offsets = sorted({month.strftime("%z") for month in months} | {"+0000"})
    fixed = [f"{text[:3]}:{text[3:5]}" for text in offsets]
    return [
        (SITE_CLOCK, f"on the clock of the site ({zone.key}); ask me about an hour that comes twice"),
        (SITE_CLOCK_TWICE, "on the clock of the site; an hour that comes twice stands twice in the file, in order"),
        *((text, f"at UTC{text.replace('-', '−')} all the time") for text in fixed),
    ]


def readings_of(
    content: bytes,
    clock: Clock,
    *,
    earliest: dt.datetime,
    latest: dt.datetime,
    confirmed: bool = False,
    layout: "Layout | None" = None,
) -> list[Reading]:
    """Read a file of readings, each within these times. ReadingsRefused names every row that cannot be taken.

    Unusual temperatures, such as °C in a column for °F, are refused with a question unless they are `confirmed`.
    Without a `layout` the file has our own header.
    """
    rows = _rows(_decoded(content))
    names = [cell.strip().lower() for cell in rows[0][1]]
    columns = _columns(names) if layout is None else layout.found_in(names)
    reader = _Reader(clock, earliest, latest, confirmed)
    problems: list[str] = []
    for number, cells in rows[1:]:
        try:
            reader.take(number, cells, columns)
        except ValueError as error:
            problems.append(f"Row {number}: {error}")
    if problems:
        raise ReadingsRefused(problems)
    if not reader.readings:
        raise ReadingsRefused(["The file holds no temperature under its header [GROUTJOBS]."])
    return reader.readings


class _Reader:
    """Takes row after row and remembers the last time of each probe."""

    def __init__(self, clock: Clock, earliest: dt.datetime, latest: dt.datetime, confirmed: bool) -> None:
        self.clock, self.earliest, self.latest, self.confirmed = clock, earliest, latest, confirmed
        self.readings: list[Reading] = []
        self.last: dict[str, Reading] = {}

    def take(self, row: int, cells: list[str], columns: "_Columns") -> None:
        if len(cells) != columns.count:
            raise ValueError(f"{len(cells)} cells, but the header has {columns.count} [GROUTJOBS].")
        temperatures = columns.temperatures(cells)
        before = [self.last[probe].read_at for probe, *_ in temperatures if probe in self.last]
        moment = self._moment(columns.time_of(cells), max(before, default=None))
        for probe, name, text, letter in temperatures:
            if text.strip():
                temp_c, typed = _temperature(probe, name, text, letter, self.confirmed)
                self._keep(Reading(probe, moment, temp_c, typed, row))

    def _moment(self, text: str, before: dt.datetime | None) -> dt.datetime:
        try:
            moment = self.clock.read(text, before)
        except ValueError as error:
            raise ValueError(f"time {quoted(text.strip())} {error} [ISO8601].") from error
        for is_out, word, limit in (
            (moment < self.earliest, "before", self.earliest),
            (moment > self.latest, "after", self.latest),
        ):
            if is_out:
                shown = limit.astimezone(self.clock.zone).isoformat(sep=" ", timespec="minutes")
                raise ValueError(f"time {quoted(text.strip())} is {word} {shown}, the limit for this pour [GROUTJOBS].")
        return moment

    def _keep(self, reading: Reading) -> None:
        last = self.last.get(reading.probe)
        if last is not None and reading.read_at <= last.read_at:
            same = reading.read_at == last.read_at and reading.temp_c == last.temp_c
            if not same:
                raise ValueError(
                    f"the time of the {reading.probe} reading does not come after that of row {last.row}; "
                    "times must rise for each probe [GROUTJOBS]."
                )
            return
        self.last[reading.probe] = reading
        self.readings.append(reading)


@dataclass(frozen=True)
class _Columns:
    """Where time and temperatures stand: one column for each probe, or one for the name of the probe."""

    count: int
    time: int
    wide: tuple[tuple[int, str, str], ...] = ()
    probe: int = -1
    value: int = -1
    letter: str = ""
    day: int = -1
    names: tuple[str, ...] = ()

    def time_of(self, cells: list[str]) -> str:
        """The text of day and time of a row."""
        return cells[self.time] if self.day < 0 else f"{cells[self.day].strip()} {cells[self.time].strip()}"

    def temperatures(self, cells: list[str]) -> list[tuple[str, str, str, str]]:
        """Probe, name of the column, text and unit letter of each temperature of a row."""
        if self.wide:
            names = self.names or tuple(f"{probe}_{letter}" for _, probe, letter in self.wide)
            return [
                (probe, name, cells[place], letter)
                for name, (place, probe, letter) in zip(names, self.wide, strict=True)
            ]
        probe = cells[self.probe].strip().lower()
        if probe not in Probe.values:
            raise ValueError(f"probe {quoted(probe)} is none of {', '.join(Probe.values)} [GROUTJOBS].")
        return [(probe, f"temp_{self.letter}", cells[self.value], self.letter)]


@dataclass(frozen=True)
class Layout:
    """How the file of one logger is laid out: names of the columns of day and time, and of each probe with its unit."""

    time: str
    day: str
    probes: tuple[tuple[str, str, str], ...]

    def found_in(self, header: list[str]) -> _Columns:
        """The columns by their places; ReadingsRefused where one is missing or stands twice."""
        wanted = [name.casefold() for name in (self.time, self.day, *(name for name, _, _ in self.probes)) if name]
        cells = [name.casefold() for name in header]
        wrong = [name for name in wanted if cells.count(name) != 1]
        if wrong or not self.probes:
            named = f"column {quoted(wrong[0])} is missing or stands twice" if wrong else "no probe has a column"
            raise ReadingsRefused(
                [
                    f"The first line {quoted(','.join(header))}: {named}; change what is remembered of the logger "
                    "if its files have changed [GROUTJOBS]."
                ]
            )
        return _Columns(
            len(header),
            cells.index(self.time.casefold()),
            tuple((cells.index(name.casefold()), probe, letter) for name, probe, letter in self.probes),
            day=cells.index(self.day.casefold()) if self.day else -1,
            names=tuple(name for name, _, _ in self.probes),
        )


ISO_TIMES = "iso"
TIME_FORMATS = {
    ISO_TIMES: "2026-04-30 07:00, or with its offset",
    "%d.%m.%Y %H:%M": "30.04.2026 07:00",
    "%d/%m/%Y %H:%M": "30/04/2026 07:00",
    "%m/%d/%Y %H:%M": "04/30/2026 07:00",
    "%m/%d/%Y %I:%M %p": "04/30/2026 07:00 AM",
    "%Y/%m/%d %H:%M": "2026/04/30 07:00",
}
"""How a logger may write its times; seconds may follow the minutes."""


@dataclass(frozen=True)
class LoggerClock(Clock):
    """A clock whose times are written in the manner of one logger."""

    time_format: str = ISO_TIMES

    def read(self, text: str, before: dt.datetime | None) -> dt.datetime:
        """The moment; ValueError with the question where it cannot be read or can be read in two ways."""
        if self.time_format == ISO_TIMES:
            return super().read(text, before)
        for form in (self.time_format, self.time_format.replace("%M", "%M:%S")):
            try:
                moment = dt.datetime.strptime(text.strip()[:40], form)  # noqa: DTZ007 (the clock of the logger)
            except ValueError:
                continue
            return super().read(moment.isoformat(), before)
        raise ValueError(f"is not written as {TIME_FORMATS[self.time_format]}, which is remembered of this logger")


def _columns(header: list[str]) -> _Columns:
    known = ["time", "probe", *LONG_COLUMNS, *WIDE_COLUMNS]
    strange = [name for name in header if name not in known]
    if strange or len(set(header)) != len(header) or "time" not in header:
        named = f"{quoted(strange[0])} is not one of its columns" if strange else "a column is missing or stands twice"
        raise ReadingsRefused(
            [f"The first line {quoted(','.join(header))}: {named}; it holds time and {_ways()} [GROUTJOBS]."]
        )
    wide = [(place, *WIDE_COLUMNS[name]) for place, name in enumerate(header) if name in WIDE_COLUMNS]
    long_ones = [name for name in header if name in LONG_COLUMNS]
    if wide and not long_ones and "probe" not in header and len({probe for _, probe, _ in wide}) == len(wide):
        return _Columns(len(header), header.index("time"), tuple(wide))
    if not wide and len(long_ones) == 1 and "probe" in header:
        place, letter = header.index(long_ones[0]), LONG_COLUMNS[long_ones[0]]
        return _Columns(len(header), header.index("time"), (), header.index("probe"), place, letter)
    raise ReadingsRefused([f"The first line {quoted(','.join(header))} must hold time and {_ways()} [GROUTJOBS]."])


def _ways() -> str:
    return f"either probe with one of {', '.join(LONG_COLUMNS)}, or one or more of {', '.join(WIDE_COLUMNS)}"


def _temperature(probe: str, name: str, text: str, letter: str, confirmed: bool) -> tuple[float, str]:
    unit = units.unit_for("c", UNIT_OF[letter])
    limit = LIMITS[LIMIT_OF[Probe(probe)]]
    try:
        temp_c = units.to_si(units.read_number(text), "c", unit.key)
    except units.NotANumber as error:
        raise ValueError(f"{name}: {error}; {_span(limit.low, limit.high)} is taken [{limit.source}].") from error
    typed = f"{text.strip()} {unit.label}"
    if not limit.low <= temp_c <= limit.high:
        span = _span(limit.low, limit.high)
        raise ValueError(f"{name} {typed} is outside {span}, the limits for {probe} [{limit.source}].")
    if not confirmed and not limit.likely_low <= temp_c <= limit.likely_high:
        span = _span(limit.likely_low, limit.likely_high)
        raise ValueError(
            f"{name} {typed} is outside the usual {span} [{limit.source}]; correct it, or confirm unusual temperatures."
        )
    return temp_c, typed[:30]


def _span(low_c: float, high_c: float) -> str:
    low, high = (f"{units.shown(value, 'c')} ({units.shown(value, 'c', units.US)})" for value in (low_c, high_c))
    return f"{low} to {high}"


def _decoded(content: bytes) -> str:
    if not content.strip():
        raise ReadingsRefused(["The file is empty; it holds a header and one line for each reading [GROUTJOBS]."])
    if len(content) > LARGEST_BYTES:
        size = f"{len(content) / 1024 / 1024:.1f} MB"
        raise ReadingsRefused([f"The file has {size}; up to {LARGEST_BYTES // 1024 // 1024} MB are taken [GROUTJOBS]."])
    if b"\x00" in content:
        raise ReadingsRefused(["The file is not plain text; save the readings as CSV in UTF-8 [GROUTJOBS]."])
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = content[: error.start].count(b"\n") + 1
        raise ReadingsRefused(
            [f"Row {row} holds a byte that is not UTF-8 (0x{content[error.start]:02x}); save the file as UTF-8."]
        ) from error


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """Numbered rows of cells; empty lines and lines that begin with # are left out."""
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip() and line[0] != "#"]
    if not 2 <= len(lines) <= MOST_ROWS + 1:
        raise ReadingsRefused(
            [f"The file has {max(len(lines) - 1, 0)} rows of readings; 1 to {MOST_ROWS} are taken [GROUTJOBS]."]
        )
    for number, line in lines:
        if len(line) > LONGEST_LINE:
            raise ReadingsRefused(
                [f"Row {number} has {len(line)} characters; up to {LONGEST_LINE} are taken [GROUTJOBS]."]
            )
    head = lines[0][1]
    separator = "\t" if "\t" in head else ";" if ";" in head else ","
    return [(number, next(csv.reader([line], delimiter=separator))) for number, line in lines]
