"""Pictures of a watched cure: how milestones moved, and a pour with and without heat. SVG from stored results alone."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from groutjobs import svg, units
from groutjobs.weather.axes import TimeAxis, ValueAxis

WIDTH, LEFT, RIGHT, SIZE = 1000.0, 64.0, 980.0, 14.0
BAND_TINT = "#dbe4ea"
ROW = 20.0
SHOWN_MOVES = 12
NAMED = 150.0


def moves_picture(moves: Sequence[Any], *, zone: str) -> str:
    """For each milestone one line a working-out, newest below: the span P10 to P90 and the middle. Empty for one."""
    rows = list(moves)[-SHOWN_MOVES:]
    codes = [row["code"] for row in rows[-1].milestones] if rows else []
    moments = [
        dt.datetime.fromisoformat(row[name])
        for move in rows
        for row in move.milestones
        for name in ("p10_at", "p90_at", "middle_at")
        if row[name] and row["code"] != codes[-1]
    ]
    if len(rows) < 2 or not moments:
        return ""
    hour = dt.timedelta(hours=3)
    time = TimeAxis(min(moments) - hour, max(moments) + hour, LEFT + NAMED, RIGHT, zone)
    pieces: list[str] = []
    y = 36.0
    for code in codes[:-1] if len(codes) > 1 else codes:
        pieces.append(svg.text(LEFT, y + 5, code.replace("_", " "), size=SIZE))
        for move in rows:
            found = next((row for row in move.milestones if row["code"] == code), None)
            if found is not None:
                pieces += _moved(found, time, y)
            y += ROW * 0.55
        y += ROW
    bottom = y
    lines = time.day_lines(24.0, bottom)
    return svg.picture([*lines, *pieces], width=WIDTH, height=bottom + 34, label="How the milestones moved")


def _moved(row: dict[str, Any], time: TimeAxis, y: float) -> list[str]:
    places = {
        name: time.x(dt.datetime.fromisoformat(row[name]))
        for name in ("p10_at", "p90_at", "middle_at")
        if row[name] and time.contains(dt.datetime.fromisoformat(row[name]))
    }
    pieces = []
    if {"p10_at", "p90_at"} <= places.keys():
        pieces.append(svg.line((places["p10_at"], y), (places["p90_at"], y), stroke=BAND_TINT, stroke_width=9))
    if "middle_at" in places:
        pieces.append(svg.circle(places["middle_at"], y, 4))
    return pieces


def heated_picture(result: dict[str, Any], *, zone: str, system: str) -> str:
    """Grout and air ahead, with and without the heat, and the hours of heating."""
    plain, heated = result["ahead"]["plain"], result["ahead"]["heated"]
    if "grout" not in plain or "grout" not in heated:
        return ""
    begins = dt.datetime.fromisoformat(result["question"]["from_at"])
    ends = dt.datetime.fromisoformat(result["question"]["until_at"])
    started = dt.datetime.fromisoformat(result["started_at"])
    hours = [*plain["grout"]["at_h"], *heated["grout"]["at_h"]]
    span = started + dt.timedelta(hours=min(hours)), started + dt.timedelta(hours=max(hours))
    time = TimeAxis(span[0], span[1], LEFT, RIGHT, zone)
    temps = [value for side in (plain, heated) for probe in ("grout", "air") for value in side[probe]["temp_c"]]
    axis = ValueAxis.around(temps, top=44.0, bottom=270.0, suffix="c", system=system)
    x0, x1 = (min(max(time.x(moment), LEFT), RIGHT) for moment in (begins, ends))
    looks: list[tuple[dict[str, list[float]], dict[str, object], str]] = [
        (plain["grout"], {"stroke_width": 2, "stroke_dasharray": "8 4"}, "grout without heat"),
        (heated["grout"], {"stroke_width": 3}, "grout with heat"),
        (plain["air"], {"stroke_width": 1.6, "stroke_dasharray": "2 5", "stroke_linecap": "round"}, "air without heat"),
    ]
    pieces = [svg.rect(x0, 44.0, max(x1 - x0, 1.0), 226.0, fill=BAND_TINT, stroke="none")]
    pieces += [*axis.grid(LEFT, RIGHT), *time.day_lines(44.0, 270.0)]
    x = LEFT
    for row, look, words in looks:
        points = [
            (time.x(started + dt.timedelta(hours=at_h)), axis.y(value))
            for at_h, value in zip(row["at_h"], row["temp_c"], strict=True)
        ]
        pieces.append(svg.polyline(points, stroke_linejoin="round", **look))
        pieces.append(svg.line((x, 16), (x + 38, 16), **look))
        pieces.append(svg.text(x + 46, 21, words, size=SIZE))
        x += 46 + svg.text_width(words, SIZE) + 26
    pieces.append(svg.text(x, 21, f"shaded: held at {_shown(result, system)}", size=SIZE))
    pieces.append(svg.rect(LEFT, 44.0, RIGHT - LEFT, 226.0))
    return svg.picture(pieces, width=WIDTH, height=306.0, label="Temperatures with and without heat")


def _shown(result: dict[str, Any], system: str) -> str:
    return units.shown(result["question"]["target_c"], "c", system)
