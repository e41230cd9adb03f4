"""The plate in oblique view with its heights drawn much too large: how it tilts, where it stands off its plane, and
how it lay at the survey before. SVG from stored results alone."""

import math
from dataclasses import dataclass
from typing import Any

from groutjobs import svg, units

WIDTH, LEFT, TOP, FOOT = 1000.0, 70.0, 96.0, 120.0
SIZE = 17.0
LEAN_X, LEAN_Y = 0.42, 0.5
"""How far a step across the machine goes to the right and up in the picture."""
TALL = 0.16
"""The largest height takes about this share of the length of the plate."""
BEFORE: dict[str, object] = {"stroke": "#6b4a00", "stroke_width": 2, "stroke_dasharray": "12 4 2 4"}
LEVEL_LINE: dict[str, object] = {"stroke": svg.SOFT_INK, "stroke_width": 1.2, "stroke_dasharray": "3 5"}
PLATE_TINT = "#dbe4ea"
Plane = tuple[float, float]
"""Tilt along and across. [mm/m]"""


@dataclass(frozen=True)
class _View:
    """From a place and a height to the picture. Heights are above the middle of the plate."""

    x_mm: float
    y_mm: float
    scale: float
    factor: float
    base: float
    middle: tuple[float, float]

    def at(self, x_mm: float, y_mm: float, height_mm: float) -> svg.Point:
        along, across = (x_mm - self.x_mm) * self.scale, (y_mm - self.y_mm) * self.scale
        return LEFT + along + LEAN_X * across, self.base - LEAN_Y * across - height_mm * self.factor * self.scale

    def plane_mm(self, plane: Plane, x_mm: float, y_mm: float) -> float:
        return (plane[0] * (x_mm - self.middle[0]) + plane[1] * (y_mm - self.middle[1])) / 1000.0


def tilt_picture(inputs: dict[str, Any], result: dict[str, Any], *, system: str = units.METRIC) -> str:
    """The plate as its best-fit plane, readings as sticks upon it, level as a dotted outline; empty without a plate."""
    outline = [(float(x), float(y)) for x, y in inputs["drawing"].get("outline") or ()]
    outline = outline or _box_of(result["points"])
    plane = (result["tilt_along_mm_m"], result["tilt_across_mm_m"])
    change = result.get("change")
    before = None
    if change and not change["note"]:
        before = (plane[0] - change["tilt_along_mm_m"], plane[1] - change["tilt_across_mm_m"])
    view, height = _view(outline, result, [plane, *([before] if before else [])])
    pieces = [
        svg.rect(0, 0, WIDTH, height, fill=svg.PAPER, stroke="none"),
        svg.polygon([view.at(x, y, 0.0) for x, y in outline], **LEVEL_LINE),
        svg.polygon(_on(view, plane, outline), fill=PLATE_TINT, fill_opacity=0.75, stroke_width=2.5),
        *_sides(view, plane, outline),
        *([svg.polygon(_on(view, before, outline), **BEFORE)] if before else []),
        *_sticks(view, plane, result, system),
        *_downhill(view, plane, outline),
        *_words(view, height, has_before=before is not None),
    ]
    label = f"Plate with heights drawn {view.factor:.0f} times too large"
    return svg.picture(pieces, width=WIDTH, height=height, label=label)


def _box_of(points: list[dict[str, Any]]) -> list[svg.Point]:
    xs, ys = [point["x_mm"] for point in points], [point["y_mm"] for point in points]
    return [(min(xs), min(ys)), (max(xs), min(ys)), (max(xs), max(ys)), (min(xs), max(ys))]


def _view(outline: list[svg.Point], result: dict[str, Any], planes: list[Plane]) -> tuple[_View, float]:
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    long_mm, wide_mm = max(xs) - min(xs), max(ys) - min(ys)
    scale = (WIDTH - 2 * LEFT - 60) / (long_mm + LEAN_X * wide_mm)
    middle = (result["centroid_x_mm"], result["centroid_y_mm"])
    flat = _View(min(xs), min(ys), scale, 1.0, 0.0, middle)
    heights = [abs(flat.plane_mm(plane, x, y)) for plane in planes for x, y in outline]
    heights += [abs(point["reading_mm"] - result["elevation_mm"]) for point in result["points"]]
    factor = _round_down(TALL * long_mm / max(heights)) if max(heights) > 0 else 1.0
    room = max(max(heights) * factor * scale, 30.0)
    base = TOP + room + LEAN_Y * wide_mm * scale
    return _View(min(xs), min(ys), scale, factor, base, middle), base + room + FOOT


def _round_down(value: float) -> float:
    """1, 2 or 5 times a power of ten, not above the value; at least 1."""
    if value <= 1.0:
        return 1.0
    power = math.pow(10.0, math.floor(math.log10(value)))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= value * (1 + 1e-9))


def _on(view: _View, plane: Plane, outline: list[svg.Point]) -> list[svg.Point]:
    return [view.at(x, y, view.plane_mm(plane, x, y)) for x, y in outline]


def _sides(view: _View, plane: Plane, outline: list[svg.Point]) -> list[str]:
    """Sides of the plate from the level outline up or down to the plane, so that the eye reads the height."""
    return [
        svg.line(view.at(x, y, 0.0), view.at(x, y, view.plane_mm(plane, x, y)), stroke=svg.SOFT_INK, stroke_width=1)
        for x, y in outline
    ]


def _sticks(view: _View, plane: Plane, result: dict[str, Any], system: str) -> list[str]:
    pieces = []
    moved = {point["label"]: point for point in (result.get("change") or {}).get("points", ())}
    for point in result["points"]:
        x, y = point["x_mm"], point["y_mm"]
        foot = view.at(x, y, view.plane_mm(plane, x, y))
        head = view.at(x, y, point["reading_mm"] - result["elevation_mm"])
        signed = _signed(point["residual_mm"], system)
        pieces += [
            svg.line(foot, head, stroke_width=5),
            svg.circle(*foot, 4, fill=svg.PAPER),
            svg.circle(*head, 6, fill=svg.INK, stroke="none"),
            *_label(head[0] + 12, min(head[1], foot[1]) - 8, f"{point['label']} {signed}"),
        ]
        if moved.get(point["label"], {}).get("is_sure"):
            words = f"moved {_signed(moved[point['label']]['shape_mm'], system)}"
            pieces += _label(head[0] + 12, max(head[1], foot[1]) + 22, words)
    return pieces


def _label(x: float, y: float, words: str) -> list[str]:
    wide = svg.text_width(words, SIZE)
    x = min(x, WIDTH - wide - 8)
    back = svg.rect(x - 3, y - SIZE, wide + 6, SIZE + 6, fill=svg.PAPER, fill_opacity=0.85, stroke="none")
    return [back, svg.text(x, y, words, size=SIZE)]


def _signed(value_mm: float, system: str) -> str:
    words = units.shown(value_mm, "mm", system, decimals=3 if system == units.METRIC else 4)
    return f"+{words}" if value_mm > 0 else words


def _downhill(view: _View, plane: Plane, outline: list[svg.Point]) -> list[str]:
    """An arrow from the middle the way that the plate falls."""
    steep = math.hypot(*plane)
    if steep < 1e-9:
        return []
    reach = 0.22 * (max(x for x, _ in outline) - min(x for x, _ in outline))
    x, y = view.middle[0] - plane[0] / steep * reach, view.middle[1] - plane[1] / steep * reach
    start, end = view.at(*view.middle, 0.0), view.at(x, y, view.plane_mm(plane, x, y))
    turn = math.atan2(end[1] - start[1], end[0] - start[0])
    wings = [(end[0] - 18 * math.cos(turn + side), end[1] - 18 * math.sin(turn + side)) for side in (0.4, -0.4)]
    return [
        svg.line(start, end, stroke_width=3),
        svg.polygon([end, *wings], fill=svg.INK, stroke="none"),
    ]


def _words(view: _View, height: float, *, has_before: bool) -> list[str]:
    """The factor at the head; what the lines mean at the foot."""
    pieces = [
        svg.text(
            LEFT, 34, f"Heights drawn {view.factor:,.0f} times too large".replace(",", " "), size=22, font_weight=700
        ),
        svg.text(LEFT, 62, "x runs to the right, y away from you; the arrow points downhill", size=SIZE),
    ]
    entries: list[tuple[str, dict[str, object]]] = [("level, through the middle of the plate", LEVEL_LINE)]
    entries.append(("best-fit plane, now", {"stroke_width": 2.5}))
    entries += [("plane at the survey before", BEFORE)] if has_before else []
    x, y = LEFT, height - 62
    for words, look in entries:
        wide = 56 + svg.text_width(words, SIZE) + 20
        if x + wide > WIDTH:
            x, y = LEFT, y + 26
        pieces += [svg.line((x, y - 5), (x + 46, y - 5), **look), svg.text(x + 56, y, words, size=SIZE)]
        x += wide
    pieces.append(svg.text(LEFT, height - 14, "stick and number: a reading above (+) or below the plane", size=SIZE))
    return pieces
