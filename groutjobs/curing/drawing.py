"""Pictures of the cure and of its inspections: SVG from stored results alone, the same on page, phone and report."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from groutjobs import svg, units
from groutjobs.curing.after_drawing import feet_overlay, handover_overlay, plain_overlay, screws_overlay
from groutjobs.curing.models import InspectionKind, Probe
from groutjobs.curing.tilt_drawing import tilt_picture
from groutjobs.equipment.drawing import Area, Mark, MarkShape, drawing_from_json, plan_drawing
from groutjobs.weather.axes import TimeAxis, ValueAxis

WIDTH, LEFT, RIGHT = 1000.0, 64.0, 872.0
TOP, MIDDLE, AGE_TOP, BOTTOM, HEIGHT = 112.0, 350.0, 396.0, 586.0, 620.0
SIZE = 15.0
ROW = 18.0
GAP_TINT = "#ece7d6"
BAND_TINT = "#dbe4ea"
AIR_TINT = "#f0efe9"
LOOKS: dict[str, tuple[str, dict[str, object]]] = {
    Probe.GROUT: ("grout", {"stroke_width": 3}),
    Probe.CONCRETE: ("concrete", {"stroke_width": 2, "stroke_dasharray": "12 5"}),
    Probe.PLATE: ("plate", {"stroke_width": 2, "stroke_dasharray": "12 4 2 4"}),
    Probe.AIR: ("air", {"stroke_width": 2, "stroke_dasharray": "2 5", "stroke_linecap": "round"}),
}
HELD: dict[str, object] = {"stroke_width": 1.6, "stroke_dasharray": "6 4", "stroke": svg.SOFT_INK}
AHEAD: dict[str, object] = {"stroke_width": 1.6, "stroke_dasharray": "1 4", "stroke_linecap": "round"}


@dataclass(frozen=True)
class _Panels:
    """The two panels of the cure picture over one time axis."""

    time: TimeAxis
    temp: ValueAxis
    age: ValueAxis
    started_at: dt.datetime

    def at(self, hours: float) -> float:
        return self.time.x(self.started_at + dt.timedelta(hours=hours))


def cure_picture(state: dict[str, Any], *, zone: str, system: str = units.METRIC) -> str:
    """Temperatures above, equivalent age below, milestones as upright marks through both; empty before placing."""
    if state["started_at"] is None:
        return ""
    panels = _panels(state, zone, system)
    pieces = [
        *_gaps(state, panels),
        *_likely(state, panels),
        *_foreseen_bands(state, panels),
        *panels.temp.grid(LEFT, RIGHT),
        *panels.age.grid(LEFT, RIGHT),
        *panels.time.day_lines(TOP, BOTTOM),
        *_limits(state, panels, system),
        *_temperatures(state, panels),
        *_ages(state, panels),
        *_needed(state, panels),
        *_milestones(state, panels),
        svg.rect(LEFT, TOP, RIGHT - LEFT, MIDDLE - TOP),
        svg.rect(LEFT, AGE_TOP, RIGHT - LEFT, BOTTOM - AGE_TOP),
        *_age_words(),
        *_legend(state),
    ]
    return svg.picture(pieces, width=WIDTH, height=HEIGHT, label="Temperatures and equivalent age since placing")


def _age_words() -> list[str]:
    """The name of the lower panel, on paper of its own so that no mark runs through it."""
    words = "equivalent age, hours at the reference temperature"
    back = svg.rect(LEFT, AGE_TOP - 26, svg.text_width(words, SIZE) + 4, 22, fill=svg.PAPER, stroke="none")
    return [back, svg.text(LEFT, AGE_TOP - 10, words, size=SIZE)]


def _panels(state: dict[str, Any], zone: str, system: str) -> _Panels:
    series, started_at = state["series"], dt.datetime.fromisoformat(state["started_at"])
    first_h = min([0.0, *(max(row["at_h"][0], -6.0) for row in series.values() if row["at_h"])])
    starts_at = started_at + dt.timedelta(hours=first_h)
    time = TimeAxis(starts_at, started_at + dt.timedelta(hours=state["until_h"]), LEFT, RIGHT, zone)
    clock = state["clock"]
    temps = [value for row in series.values() for value in row.get("temp_c", ())]
    known = [value for value in (clock["minimum_c"], clock["reference_c"]) if value is not None]
    for row in (state.get("foreseen") or {}).values():
        known += [value for name in ("low_c", "high_c") for value in row[name]]
    needed = [item["needed_h"] for item in state["milestones"]]
    return _Panels(
        time=time,
        temp=ValueAxis.around([*temps, *known], top=TOP, bottom=MIDDLE, suffix="c", system=system),
        age=ValueAxis(0.0, max(needed) * 1.06, AGE_TOP, BOTTOM, "h", system),
        started_at=started_at,
    )


def _line(panels: _Panels, axis: ValueAxis, row: dict[str, list[float]], name: str, **look: object) -> str:
    points = [
        (panels.at(at_h), axis.y(value))
        for at_h, value in zip(row["at_h"], row[name], strict=True)
        if panels.at(at_h) >= LEFT - 0.01 and value <= axis.high
    ]
    return svg.polyline(points, stroke_linejoin="round", **look) if len(points) > 1 else _dot(points, look)


def _dot(points: Sequence[tuple[float, float]], look: dict[str, object]) -> str:
    return "".join(svg.circle(x, y, 4, fill=look.get("stroke", svg.INK), stroke="none") for x, y in points)


def _temperatures(state: dict[str, Any], panels: _Panels) -> list[str]:
    series = state["series"]
    pieces = [
        _line(panels, panels.temp, series[probe], "temp_c", **look)
        for probe, (_, look) in LOOKS.items()
        if probe in series
    ]
    for probe, row in _foreseen(state).items():
        pieces.append(_line(panels, panels.temp, row, "temp_c", **LOOKS[probe][1] | {"stroke_width": 1.2}))
    ways = () if _foreseen(state) else (("temp_held", HELD), ("temp_ahead", AHEAD))
    for name, look in ways:
        if name in series:
            pieces.append(_line(panels, panels.temp, series[name], "temp_c", **look))
    return pieces


def _foreseen(state: dict[str, Any]) -> dict[str, dict[str, list[float]]]:
    """Temperatures foreseen behind the page, cut to the hours that are drawn; reports of old have none."""
    told = {}
    for probe, row in (state.get("foreseen") or {}).items():
        count = sum(hour <= state["until_h"] for hour in row["at_h"])
        if count > 1:
            told[probe] = {name: values[:count] for name, values in row.items()}
    return told


def _foreseen_bands(state: dict[str, Any], panels: _Panels) -> list[str]:
    """From the lowest to the highest of the likely courses of grout and air, behind all lines."""
    pieces = []
    for probe, tint in ((Probe.AIR, AIR_TINT), (Probe.GROUT, BAND_TINT)):
        row = _foreseen(state).get(probe)
        if row is None:
            continue
        upper = [(panels.at(at_h), panels.temp.y(high)) for at_h, high in zip(row["at_h"], row["high_c"], strict=True)]
        lower = [(panels.at(at_h), panels.temp.y(low)) for at_h, low in zip(row["at_h"], row["low_c"], strict=True)]
        pieces.append(svg.polygon([*upper, *reversed(lower)], fill=tint, stroke="none"))
    return pieces


def _ages(state: dict[str, Any], panels: _Panels) -> list[str]:
    looks: dict[str, dict[str, object]] = {
        "age": {"stroke_width": 3},
        "age_low": {"stroke_width": 1.4},
        "age_held": HELD,
        "age_ahead": AHEAD,
    }
    shown = [name for name in looks if name in state["series"] and (name != "age_low" or state["gaps"])]
    return [_line(panels, panels.age, state["series"][name], "age_h", **looks[name]) for name in shown]


def _likely(state: dict[str, Any], panels: _Panels) -> list[str]:
    """The ages of 8 of 10 likely cures, as a strip behind the lines of age."""
    band = state["series"].get("age_band")
    if band is None:
        return []
    rows = list(zip(band["at_h"], band["low_h"], band["high_h"], strict=True))
    high = panels.age.high
    upper = [(panels.at(at_h), panels.age.y(min(high_h, high))) for at_h, _, high_h in rows]
    lower = [(panels.at(at_h), panels.age.y(min(low_h, high))) for at_h, low_h, _ in rows]
    return [svg.polygon([*upper, *reversed(lower)], fill=BAND_TINT, stroke="none")]


def _limits(state: dict[str, Any], panels: _Panels, system: str) -> list[str]:
    """The minimum of the clock, and the temperature from which it runs no faster, where they lie in the picture."""
    pieces = []
    for name, words in (("minimum_c", "stands still below"), ("hottest_c", "no faster above")):
        value = state["clock"][name]
        if value is not None and panels.temp.low < value < panels.temp.high:
            y = panels.temp.y(value)
            pieces.append(svg.line((LEFT, y), (RIGHT, y), stroke="#6b4a00", stroke_width=1.4))
            pieces.append(svg.text(RIGHT + 6, y - 2, words, size=13))
            pieces.append(svg.text(RIGHT + 6, y + 13, units.shown(value, "c", system), size=13))
    return pieces


def _gaps(state: dict[str, Any], panels: _Panels) -> list[str]:
    pieces = []
    for gap in state.get("gaps", ()):
        left, right = panels.at(gap["first_h"]), panels.at(gap["last_h"])
        pieces.append(svg.rect(left, TOP, right - left, MIDDLE - TOP, fill=GAP_TINT, stroke="none"))
        if right - left > 40:
            pieces.append(svg.text((left + right) / 2, MIDDLE - 8, "gap", size=13, anchor="middle"))
    return pieces


def _needed(state: dict[str, Any], panels: _Panels) -> list[str]:
    """A line for each age that a milestone needs; its words stand at the right, apart from each other."""
    by_age: dict[float, list[str]] = {}
    for item in state["milestones"]:
        by_age.setdefault(item["needed_h"], []).append(item["code"].replace("_", " "))
    pieces, last_y = [], BOTTOM + 20.0
    for age_h, codes in sorted(by_age.items()):
        y = panels.age.y(age_h)
        last_y = min(y, last_y - 15.0)
        pieces.append(svg.line((LEFT, y), (RIGHT, y), stroke=svg.SOFT_INK, stroke_width=0.8))
        pieces.append(svg.line((RIGHT, y), (RIGHT + 8, last_y), stroke=svg.SOFT_INK, stroke_width=0.8))
        pieces.append(svg.text(RIGHT + 11, last_y + 4, f"{age_h:.0f} h {', '.join(codes)}", size=12))
    return pieces


def _milestones(state: dict[str, Any], panels: _Panels) -> list[str]:
    """A full flag where a milestone was surely reached, an open one where it is expected, with its name above."""
    marks: dict[tuple[int, bool], list[str]] = {}
    for item in state["milestones"]:
        moment = item["reached_surely_at"] or item["reached_at"] or item["expected_at"]
        if moment and panels.time.contains(dt.datetime.fromisoformat(moment)):
            x = round(panels.time.x(dt.datetime.fromisoformat(moment)))
            marks.setdefault((x, item["state"] == "reached"), []).append(item["code"].replace("_", " "))
    pieces, row_ends = [], [LEFT, LEFT, LEFT]
    for (x, is_reached), codes in sorted(marks.items()):
        words = ", ".join(codes)
        row = next((n for n, end in enumerate(row_ends) if end <= x), len(row_ends) - 1)
        row_ends[row] = x + svg.text_width(words, SIZE) + 20
        y = TOP - 8 - row * ROW
        pieces += _flag(x, y, is_reached=is_reached)
        pieces.append(_beside(x, y, words))
    return pieces


def _beside(x: float, y: float, words: str) -> str:
    """Words at the right of a flag, or at its left near the edge of the picture."""
    if x + svg.text_width(words, SIZE) + 18 > WIDTH:
        return svg.text(x - 6, y, words, size=SIZE, anchor="end")
    return svg.text(x + 15, y, words, size=SIZE)


def _flag(x: float, y: float, *, is_reached: bool) -> list[str]:
    dash = None if is_reached else "5 4"
    head = [(x, y - 11), (x + 11, y - 6), (x, y - 1)]
    return [
        svg.line((x, y - 11), (x, BOTTOM), stroke_width=1.6, stroke_dasharray=dash),
        svg.polygon(head, fill=svg.INK if is_reached else svg.PAPER, stroke_width=1.4),
    ]


def _legend(state: dict[str, Any]) -> list[str]:
    """What the lines mean, in up to two rows at the head."""
    series = state["series"]
    entries = [(words, look) for probe, (words, look) in LOOKS.items() if probe in series]
    if _foreseen(state):
        entries.append(("thin: foreseen", {"stroke_width": 1.2}))
        entries.append(("grout, lowest to highest", {"stroke_width": 12, "stroke": BAND_TINT}))
        entries.append(("air, lowest to highest", {"stroke_width": 12, "stroke": AIR_TINT}))
    if "temp_held" in series and not _foreseen(state):
        entries.append(("if the last reading holds", HELD))
    if "temp_ahead" in series and not _foreseen(state):
        words = "if it follows the air" if state["basis"] == "grout" else "air, no grout reading"
        entries.append((words, AHEAD))
    if state.get("gaps") and "age_low" in series:
        entries.append(("age if gaps ran cold", {"stroke_width": 1.4}))
    if "age_band" in series:
        entries.append(("age of 8 in 10 likely cures", {"stroke_width": 12, "stroke": BAND_TINT}))
    pieces, x, y = [], LEFT, 20.0
    for words, look in entries:
        wide = 46 + svg.text_width(words, SIZE) + 22
        if x + wide > WIDTH:
            x, y = LEFT, y + 22
        pieces.append(svg.line((x, y - 5), (x + 38, y - 5), **look))
        pieces.append(svg.text(x + 46, y, words, size=SIZE))
        x += wide
    return pieces


def inspection_picture(
    kind: str, inputs: dict[str, Any], result: dict[str, Any], *, system: str = units.METRIC, narrow: bool = False
) -> str:
    """The plan drawing as it was at the inspection, with what was found laid over it."""
    overlays = {
        InspectionKind.LEVEL: _level_overlay,
        InspectionKind.SOUNDING: _sounding_overlay,
        InspectionKind.BOLTS: _bolts_overlay,
        InspectionKind.JACKSCREWS: screws_overlay,
        InspectionKind.SOFT_FOOT: feet_overlay,
        InspectionKind.HANDOVER: handover_overlay,
        InspectionKind.JOINTS: plain_overlay,
    }
    overlay = overlays[InspectionKind(kind)](inputs, result, system)
    return plan_drawing(drawing_from_json(inputs["drawing"]), system=system, overlay=overlay, narrow=narrow)


def more_pictures(
    kind: str, inputs: dict[str, Any], result: dict[str, Any], *, system: str = units.METRIC
) -> list[tuple[str, str]]:
    """Further pictures of an inspection with their words: the tilt, the map before, the holes of an injection."""
    if kind == InspectionKind.LEVEL:
        return [(tilt_picture(inputs, result, system=system), "How the plate lies, with heights drawn too large.")]
    if kind != InspectionKind.SOUNDING:
        return []
    whole, found = drawing_from_json(inputs["drawing"]), []
    if result.get("change"):
        before: list[Mark | Area] = _areas(result["change"]["voids"], "hollow at the sounding before")
        words = "Before: the hollow places of the sounding that this one replaces."
        found.append((plan_drawing(whole, system=system, overlay=before), words))
    if any(void["holes"] for void in result.get("injection", {}).get("voids", ())):
        holes = plan_drawing(whole, system=system, overlay=_hole_overlay(result))
        found.append(
            (holes, "Holes of an injection. Each one is checked for steel, bolts and screws before it is drilled.")
        )
    return found


def _areas(voids: Sequence[dict[str, Any]], means: str) -> list[Mark | Area]:
    return [
        Area(points=[(x, y) for x, y in outline], label=f"H{number}", means=means)
        for number, void in enumerate(voids, 1)
        for outline in void["outlines"]
    ]


def _hole_overlay(result: dict[str, Any]) -> list[Mark | Area]:
    looks = {
        "inject": (MarkShape.SOLID, "hole to inject first"),
        "vent": (MarkShape.HOLLOW, "hole that vents"),
        "next": (MarkShape.POINT, "hole that vents until resin shows, then injects"),
    }
    areas: list[Mark | Area] = [
        Area(points=[(x, y) for x, y in outline], means="hollow area")
        for void in result["voids"]
        for outline in void["outlines"]
    ]
    marks = [
        Mark(
            x_mm=hole["x_mm"],
            y_mm=hole["y_mm"],
            shape=looks[hole["use"]][0],
            label=hole["name"],
            means=looks[hole["use"]][1],
        )
        for void in result["injection"]["voids"]
        for hole in void["holes"]
    ]
    return [*areas, *marks]


def _level_overlay(inputs: dict[str, Any], result: dict[str, Any], system: str) -> list[Mark | Area]:
    named = {part["label"] for name in ("pads", "jackscrews") for part in inputs["drawing"][name]}

    def signed(value_mm: float) -> str:
        words = units.shown(value_mm, "mm", system, decimals=3 if system == units.METRIC else 4)
        return f"+{words}" if value_mm > 0 else words

    return [
        Mark(
            x_mm=point["x_mm"],
            y_mm=point["y_mm"],
            shape=MarkShape.POINT,
            label=("" if point["label"] in named else f"{point['label']} ") + signed(point["residual_mm"]),
            means="level reading, with its height above the best-fit plane",
        )
        for point in result["points"]
    ]


def _sounding_overlay(inputs: dict[str, Any], result: dict[str, Any], system: str) -> list[Mark | Area]:
    shapes = {
        "solid": (MarkShape.SOLID, "tap, solid"),
        "hollow": (MarkShape.HOLLOW, "tap, hollow"),
        "unsure": (MarkShape.POINT, "tap, unsure, counted as hollow"),
        "not_reached": (MarkShape.CROSS, "not tapped"),
    }
    areas: list[Mark | Area] = [
        Area(points=[(x, y) for x, y in outline], means="hollow area")
        for void in result["voids"]
        for outline in void["outlines"]
    ]
    taps = [
        Mark(
            x_mm=tap["x_mm"],
            y_mm=tap["y_mm"],
            shape=shapes[tap["sound"]][0],
            label=_row_label(tap),
            means=shapes[tap["sound"]][1],
        )
        for tap in inputs["taps"]
    ]
    return [*areas, *taps]


def _bolts_overlay(inputs: dict[str, Any], result: dict[str, Any], system: str) -> list[Mark | Area]:
    return order_marks(inputs["bolts"], {row["label"]: row["turn"] for row in result["bolts"] if row["turn"]})


def order_marks(bolts: Sequence[dict[str, Any]], order: dict[str, int]) -> list[Mark | Area]:
    """The number of each bolt in the order of tightening, over its nut."""
    return [
        Mark(
            x_mm=bolt["x_mm"],
            y_mm=bolt["y_mm"],
            shape=MarkShape.NUMBER,
            label=str(order[bolt["label"]]),
            means="order of tightening",
        )
        for bolt in bolts
        if bolt["label"] in order
    ]


def tap_marks(taps: Sequence[dict[str, Any]]) -> list[Mark | Area]:
    """The taps to make, each row named at its first tap."""
    return [
        Mark(
            x_mm=tap["x_mm"],
            y_mm=tap["y_mm"],
            shape=MarkShape.SOLID,
            label=_row_label(tap),
            means="place to tap",
        )
        for tap in taps
    ]


def _row_label(tap: dict[str, Any]) -> str:
    """The name of a row, at its first tap."""
    return f"{tap['compartment']}{tap['row']}" if tap["name"].endswith(".1") else ""
