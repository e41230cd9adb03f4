"""The readings of the cure as the report prints them: several moments beside each other, in parts of limited length.

Laying out costs time and memory for each cell, so more than 500 moments are printed hour by hour; the attached record
always holds each of them.
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from groutjobs import units
from groutjobs.templatetags.job import offset_words

MOST_ROWS = 1500
MOST_MOMENTS = 500
BLOCKS = {1: 6, 2: 4}
"""Probes → moments beside each other on a page across."""
PROBE_WORDS = {"grout": "grout", "air": "air", "plate": "plate", "concrete": "concrete"}


@dataclass(frozen=True)
class Part:
    """One table: between which moments, and rows of cells; a moment is a cell of time and one for each probe."""

    begins: str
    ends: str
    rows: Sequence[Sequence[str]]


@dataclass(frozen=True)
class Readings:
    """All parts, with what the head of each says."""

    probes: Sequence[str]
    unit: str
    blocks: range
    parts: Sequence[Part]
    count: int
    is_condensed: bool


def readings_of(manifest: dict[str, Any]) -> Readings | None:
    """The tables of a frozen manifest; None where no reading was brought."""
    by_probe = {probe: rows for probe, rows in manifest["readings"].items() if rows}
    if not by_probe:
        return None
    zone = ZoneInfo(manifest["site"]["zone"])
    unit = units.preferred_unit("c", manifest["report"]["unit_system"])
    moments = _moments(by_probe, zone, unit.key)
    is_condensed = len(moments) > MOST_MOMENTS
    if is_condensed:
        moments = _hourly(by_probe, zone, unit.key)
    blocks = BLOCKS.get(len(by_probe), 3)
    return Readings(
        probes=[PROBE_WORDS.get(probe, probe) for probe in by_probe],
        unit=unit.label,
        blocks=range(blocks),
        parts=list(_parts(moments, blocks, len(by_probe))),
        count=sum(len(rows) for rows in by_probe.values()),
        is_condensed=is_condensed,
    )


Moments = list[tuple[dt.datetime, list[str]]]


def _moments(by_probe: dict[str, Any], zone: ZoneInfo, unit: str) -> Moments:
    """Each moment once, with the reading of each probe or a dash."""
    found: dict[str, dict[str, float]] = {}
    for probe, rows in by_probe.items():
        for at, temp_c in rows:
            found.setdefault(at, {})[probe] = temp_c
    return [
        (dt.datetime.fromisoformat(at).astimezone(zone), [_shown(found[at].get(probe), unit) for probe in by_probe])
        for at in sorted(found)
    ]


def _hourly(by_probe: dict[str, Any], zone: ZoneInfo, unit: str) -> Moments:
    """Each hour with the lowest and highest reading of each probe."""
    found: dict[str, dict[str, list[float]]] = {}
    for probe, rows in by_probe.items():
        for at, temp_c in rows:
            found.setdefault(at[:13], {}).setdefault(probe, []).append(temp_c)
    return [
        (
            dt.datetime.fromisoformat(f"{hour}:00:00+00:00").astimezone(zone),
            [_range(found[hour].get(probe, []), unit) for probe in by_probe],
        )
        for hour in sorted(found)
    ]


def _shown(temp_c: float | None, unit: str) -> str:
    return "–" if temp_c is None else f"{units.from_si(temp_c, 'c', unit):.1f}".replace("-", "−")


def _range(values: Sequence[float], unit: str) -> str:
    if not values:
        return "–"
    low, high = _shown(min(values), unit), _shown(max(values), unit)
    return low if low == high else f"{low} to {high}"


def _parts(moments: Moments, blocks: int, probes: int) -> Iterator[Part]:
    """Tables of at most 1 500 rows; a change of the clock begins another, so that no time is told twice."""
    waiting: Moments = []
    for moment in moments:
        is_other = bool(waiting) and waiting[0][0].utcoffset() != moment[0].utcoffset()
        if is_other or len(waiting) == MOST_ROWS * blocks:
            yield _part(waiting, blocks, probes)
            waiting = []
        waiting.append(moment)
    if waiting:
        yield _part(waiting, blocks, probes)


def _part(moments: Moments, blocks: int, probes: int) -> Part:
    cells = [[f"{at:%m-%d %H:%M}", *temps] for at, temps in moments]
    cells += [[""] * (probes + 1)] * (-len(cells) % blocks)
    rows = [[cell for one in cells[at : at + blocks] for cell in one] for at in range(0, len(cells), blocks)]
    first, last = moments[0][0], moments[-1][0]
    return Part(f"{first:%Y-%m-%d %H:%M} {offset_words(first)}", f"{last:%Y-%m-%d %H:%M} {offset_words(last)}", rows)
