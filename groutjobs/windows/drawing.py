"""The picture of pour hours: temperature curves with their limits, and under it what stands in the way of each hour."""

import datetime as dt
import hashlib
import itertools
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from groutjobs import svg, units
from groutjobs.weather.axes import HOUR, NIGHT, Span, TimeAxis, ValueAxis, curve

WIDTH, LEFT, RIGHT = 1240.0, 300.0, 1192.0
CURVES_TOP, CURVES_BOTTOM = 76.0, 400.0
STRIPS_TOP, STRIP, GAP = 452.0, 20.0, 5.0
ODDS = 46.0
NUMBERED = 5
REACH_K = 6.0
"""A limit within this distance of the curves is drawn among them; the others stand in the table of limits only."""

_LINES: dict[str, tuple[str, dict[str, object]]] = {
    "air_c": ("air", {"stroke_width": 1.4}),
    "concrete_c": ("concrete surface", {"stroke_width": 3.2}),
    "plate_c": ("plate", {"stroke_width": 1.8, "stroke_dasharray": "9 4"}),
    "dew_point_c": ("dew point", {"stroke_width": 1.8, "stroke_dasharray": "1.5 4", "stroke_linecap": "round"}),
}
_IN_THE_WAY = {
    "air_c True": "too cold", "air_c False": "too warm", "concrete_c True": "too cold", "concrete_c False": "too warm",
    "plate_c True": "too cold", "plate_c False": "too warm", "plate_concrete_difference_k False": "unlike",
    "concrete_spread_k True": "near dew point", "plate_spread_k True": "near dew point",
    "relative_humidity False": "humid", "rain_probability False": "rain", "wind_km_h False": "wind",
    "evaporation_rate_kg_m2_h False": "dries fast", "working_life_min True": "short life", "shift": "no shift",
    "daylight": "dark", "cure_align": "too late", "forecast_ends": "not known",
}  # fmt: skip


@dataclass(frozen=True)
class _Strip:
    """One kind of rule: what stands at its left, and the level at each start hour, "" where nothing is in the way."""

    words: str
    in_the_way: str
    levels: list[str]


def pour_hours_picture(
    result: dict[str, Any], zone: str, system: str = units.METRIC, *, chosen_at: dt.datetime | None = None
) -> str:
    """The picture of PourHours.result as one SVG text, times in the zone of the site; chosen_at marks a start hour."""
    at = [dt.datetime.fromisoformat(text) for text in result["series"]["at"]]
    time = TimeAxis(at[0], at[-1], LEFT, RIGHT, zone)
    strips = _strips(result, system)
    strips_bottom = STRIPS_TOP + 6 + len(strips) * (STRIP + GAP)
    odds = _odds(result, time, strips_bottom)
    bottom = strips_bottom + (ODDS + 2 * GAP if odds else 0) + STRIP + GAP + 28
    ids = _Patterns(hashlib.sha256(json.dumps(result["inputs"], sort_keys=True, default=str).encode()).hexdigest()[:8])
    nights = list(_between([_span(pair) for pair in result["daylight"]], at[0], at[-1]))
    pieces = [
        *ids.definitions(),
        *time.bands(nights, CURVES_TOP, CURVES_BOTTOM - CURVES_TOP, fill=NIGHT, stroke="none"),
        *time.bands(nights, STRIPS_TOP, bottom - STRIPS_TOP, fill=NIGHT, stroke="none"),
        *_curves(result, time, at, system),
        *time.day_lines(CURVES_TOP, CURVES_BOTTOM),
        *time.day_lines(STRIPS_TOP, bottom),
        *time.noon_ticks(CURVES_BOTTOM),
        *_rows(strips, result, time, ids),
        *odds,
        *_acceptable(result, time, bottom - STRIP - 30),
        *_chosen(chosen_at, time, bottom),
        svg.rect(LEFT, CURVES_TOP, RIGHT - LEFT, CURVES_BOTTOM - CURVES_TOP),
        svg.rect(LEFT, STRIPS_TOP, RIGHT - LEFT, bottom - STRIPS_TOP),
        *_legend(ids, bottom + 40),
    ]
    label = "Air, concrete, plate and dew point by hour with their limits, and what stands in the way of a pour"
    return svg.picture(pieces, width=WIDTH, height=bottom + 64, label=label)


class _Patterns:
    """Fills that tell a blocker, a warning and an hour that may start apart without colour."""

    def __init__(self, key: str) -> None:
        self.blocker, self.warning = f"block-{key}", f"warn-{key}"

    def definitions(self) -> list[str]:
        cross = [svg.line((0, 0), (6, 6), stroke_width=1.3), svg.line((6, 0), (0, 6), stroke_width=1.3)]
        dots = [svg.circle(3, 3, 1.1, fill=svg.INK, stroke="none")]
        return [
            svg.element(
                "defs",
                self._pattern(self.blocker, 6, "#f3cfc9", cross) + self._pattern(self.warning, 6, "#fdf4dc", dots),
            )
        ]

    @staticmethod
    def _pattern(key: str, size: float, ground: str, pieces: list[str]) -> str:
        tile = svg.rect(0, 0, size, size, fill=ground, stroke="none") + "".join(pieces)
        return svg.element("pattern", tile, id=key, width=size, height=size, patternUnits="userSpaceOnUse")

    def fill(self, level: str) -> str:
        return f"url(#{self.blocker if level == 'blocker' else self.warning})"


def _span(pair: list[str]) -> Span:
    return dt.datetime.fromisoformat(pair[0]), dt.datetime.fromisoformat(pair[1])


def _between(spells: list[Span], first: dt.datetime, last: dt.datetime) -> Iterator[Span]:
    """What the spells leave open between first and last."""
    for begins, ends in spells:
        if begins > first:
            yield first, begins
        first = max(first, ends)
    if first < last:
        yield first, last


def _curves(result: dict[str, Any], time: TimeAxis, at: list[dt.datetime], system: str) -> list[str]:
    series = result["series"]
    drawn = {name: series[name] for name in _LINES if name in series}
    values = [value for row in drawn.values() for value in row]
    limits = _limit_lines(result, min(values), max(values))
    degrees = ValueAxis.around([*values, *limits], top=CURVES_TOP, bottom=CURVES_BOTTOM, suffix="c", system=system)
    pieces = degrees.grid(LEFT, RIGHT, values_right=True)
    for value, (words, source) in limits.items():
        y = degrees.y(value)
        pieces.append(svg.line((LEFT - 8, y), (RIGHT, y), stroke="#8f1d14", stroke_width=1.3, stroke_dasharray="14 4"))
        told = f"{units.shown(value, 'c', system)} {words}"
        pieces.append(svg.text(LEFT - 12, y, told, size=14, anchor="end"))
        pieces.append(svg.text(LEFT - 12, y + 13, source, size=11.5, anchor="end", fill=svg.SOFT_INK))
    x = LEFT
    for name, row in drawn.items():
        words, manner = _LINES[name]
        pieces.append(curve(time, degrees, at, row, **manner))
        pieces.append(svg.line((x, 34), (x + 44, 34), **manner))
        pieces.append(svg.text(x + 52, 39, words, size=16))
        x += 84 + svg.text_width(words, 16)
    return pieces


def _limit_lines(result: dict[str, Any], low: float, high: float) -> dict[float, tuple[str, str]]:
    """Temperature limits near the curves, those of one value together: value → (words, sources)."""
    found: dict[tuple[float, bool], list[dict[str, Any]]] = {}
    for limit in result["limits"]:
        if limit["suffix"] == "c" and low - REACH_K <= limit["value"] <= high + REACH_K:
            found.setdefault((limit["value"], limit["is_minimum"]), []).append(limit)
    lines: dict[float, tuple[str, str]] = {}
    for (value, is_minimum), limits in sorted(found.items()):
        names = ", ".join(dict.fromkeys(limit["label"] for limit in limits))
        sources = ", ".join(dict.fromkeys(limit["source"] for limit in limits))
        lines[value] = (f"at {'least' if is_minimum else 'most'}: {names}", f"[{sources}]")
    return lines


def _strips(result: dict[str, Any], system: str) -> list[_Strip]:
    """One strip for each group of rules, in the order of the rules."""
    by_code = {rule["code"]: rule["group"] for rule in result["rules"]}
    levels: dict[str, list[str]] = {group: [""] * len(result["hours"]) for group in by_code.values()}
    for index, hour in enumerate(result["hours"]):
        for finding in hour["findings"]:
            levels[by_code[finding["code"]]][index] = finding["level"]
    grouped = itertools.groupby(result["rules"], key=lambda rule: rule["group"])
    return [
        _Strip(_strip_words(group, list(rules), system), _IN_THE_WAY.get(group, ""), levels[group])
        for group, rules in grouped
    ]


def _strip_words(group: str, rules: list[dict[str, Any]], system: str) -> str:
    label = rules[0]["label"]
    values = [units.shown(rule["limit"], rule["suffix"], system) for rule in rules if rule["limit"] is not None]
    if not values:
        return f"{label}, in time" if group.startswith("cure") else str(label)
    *first, last = values
    last = last.removesuffix(" difference")
    unit = last[last.rfind(" ") :] if " " in last else "%"
    told = " / ".join([*(value.removesuffix(unit) for value in first), last])
    return f"{label} {'≥' if group.endswith('True') else '≤'} {told}"


def _rows(strips: list[_Strip], result: dict[str, Any], time: TimeAxis, ids: _Patterns) -> list[str]:
    first_at = dt.datetime.fromisoformat(result["hours"][0]["at"])
    pieces = []
    for number, strip in enumerate(strips):
        top = STRIPS_TOP + 6 + number * (STRIP + GAP)
        pieces.append(svg.text(LEFT - 12, top + STRIP - 5, strip.words, size=14, anchor="end"))
        pieces.append(svg.line((LEFT, top + STRIP), (RIGHT, top + STRIP), stroke=svg.RULE, stroke_width=0.6))
        for level, first, last in _runs(strip.levels):
            left, right = time.x(first_at + first * HOUR), time.x(first_at + (last + 1) * HOUR)
            right = min(right, RIGHT)
            edge = svg.INK if level == "blocker" else "none"
            pieces.append(svg.rect(left, top, right - left, STRIP, fill=ids.fill(level), stroke=edge, stroke_width=0.8))
            pieces += _word_inside(strip.in_the_way, left, right, top)
    return pieces


def _odds(result: dict[str, Any], time: TimeAxis, top: float) -> list[str]:
    """A column for each start hour, as high as its odds; nothing where no weathers were drawn."""
    if not result.get("odds"):
        return []
    foot = top + ODDS
    pieces = [
        svg.text(LEFT - 12, top + ODDS / 2 - 2, "odds that nothing", size=14, anchor="end"),
        svg.text(LEFT - 12, top + ODDS / 2 + 14, "stands in the way", size=14, anchor="end"),
    ]
    for share in (0.0, 0.5, 1.0):
        y = foot - share * ODDS
        pieces.append(svg.line((LEFT, y), (RIGHT, y), stroke=svg.RULE, stroke_width=0.6))
        pieces.append(svg.text(RIGHT + 6, y + 4, f"{share:.0%}", size=11.5, fill=svg.SOFT_INK))
    first_at = dt.datetime.fromisoformat(result["hours"][0]["at"])
    for odds, first, last in _odds_runs([hour["odds"] for hour in result["hours"]]):
        left, right = time.x(first_at + first * HOUR), min(time.x(first_at + (last + 1) * HOUR), RIGHT)
        pieces.append(svg.rect(left, foot - odds * ODDS, right - left, odds * ODDS, fill="#8fb79c", stroke="none"))
    return pieces


def _odds_runs(odds: list[float]) -> Iterator[tuple[float, int, int]]:
    """Odds above zero, with the first and last index of each run of equal ones."""
    index = 0
    for value, run in itertools.groupby(odds):
        count = len(list(run))
        if value > 0:
            yield value, index, index + count - 1
        index += count


def _word_inside(word: str, left: float, right: float, top: float) -> list[str]:
    """The word on a plate of its own where the run has room for it."""
    room = svg.text_width(word, 12) + 10
    if not word or right - left < room + 6:
        return []
    middle = (left + right) / 2
    plate = svg.rect(middle - room / 2, top + 3, room, STRIP - 6, fill=svg.PAPER, stroke="none")
    return [plate, svg.text(middle, top + STRIP - 6, word, size=12, anchor="middle")]


def _runs(levels: list[str]) -> Iterator[tuple[str, int, int]]:
    """Level, first and last index of each run of equal levels where something is in the way."""
    index = 0
    for level, run in itertools.groupby(levels):
        count = len(list(run))
        if level:
            yield level, index, index + count - 1
        index += count


def _acceptable(result: dict[str, Any], time: TimeAxis, top: float) -> list[str]:
    """Bars for the hours that may start, the best runs numbered under them."""
    pieces = [svg.text(LEFT - 12, top + STRIP - 5, "a pour may start", size=15, anchor="end", font_weight=700)]
    numbered = []
    for number, run in enumerate(result["runs"], 1):
        begins, ends = _span([run["starts_at"], run["ends_at"]])
        left, right = time.x(begins), min(time.x(ends + HOUR), RIGHT)
        pieces.append(svg.rect(left, top, right - left, STRIP, fill="#1d5b34", stroke=svg.INK, stroke_width=0.8))
        if number <= NUMBERED:
            numbered.append(((left + right) / 2, number))
    right_of_last = LEFT
    for middle, number in sorted(numbered):
        x = max(middle, right_of_last)
        right_of_last = x + 19
        pieces.append(svg.line((middle, top + STRIP), (x, top + STRIP + 6), stroke_width=0.8))
        pieces.append(svg.circle(x, top + STRIP + 14, 8.5, fill=svg.PAPER, stroke_width=1.2))
        pieces.append(svg.text(x, top + STRIP + 19, number, size=13.5, anchor="middle", font_weight=700))
    return pieces


def _chosen(chosen_at: dt.datetime | None, time: TimeAxis, bottom: float) -> list[str]:
    if chosen_at is None or not time.contains(chosen_at):
        return []
    x = time.x(chosen_at)
    return [
        svg.line((x, CURVES_TOP - 6), (x, bottom), stroke_width=2),
        svg.polygon([(x - 8, CURVES_TOP - 18), (x + 8, CURVES_TOP - 18), (x, CURVES_TOP - 4)], fill=svg.INK),
        svg.text(x + 12, CURVES_TOP - 8, "chosen hour", size=14),
    ]


def _legend(ids: _Patterns, y: float) -> list[str]:
    samples = (
        (ids.fill("blocker"), svg.INK, "stands in the way"),
        (ids.fill("warning"), svg.RULE, "asks for a decision"),
        ("#1d5b34", svg.INK, "may start; 1 is the best run"),
        (NIGHT, svg.RULE, "night; a tick marks noon"),
    )
    pieces, x = [], LEFT
    for fill, edge, words in samples:
        pieces.append(svg.rect(x, y - 13, 34, 17, fill=fill, stroke=edge, stroke_width=0.8))
        pieces.append(svg.text(x + 42, y, words, size=14.5))
        x += 66 + svg.text_width(words, 14.5)
    return pieces
