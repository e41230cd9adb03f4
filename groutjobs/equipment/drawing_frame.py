"""The frame of the plan drawing: its scale, the dimension lines round the plan, the axes and the scale bar."""

from collections.abc import Sequence
from dataclasses import dataclass

from groutjobs import svg, units
from groutjobs.equipment.geometry import MachineDrawing, Point, box_of

WIDE, NARROW, TALLEST = 1000.0, 560.0, 900.0
SIDE, HEAD = 74.0, 66.0
BAR_STEPS_MM = {
    units.METRIC: (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0),
    units.US: tuple(feet * 304.8 for feet in (0.5, 1, 2, 5, 10, 20, 40)),
}


@dataclass(frozen=True)
class Frame:
    """Where the plan lies on the picture: scale in units of the picture for a millimetre, corners, and sizes."""

    scale: float
    left_mm: float
    top_mm: float
    left: float
    top: float
    right: float
    bottom: float
    width: float

    def at(self, x_mm: float, y_mm: float) -> Point:
        """The place of a plan point; y runs up on the plan and down on the picture."""
        return self.left + (x_mm - self.left_mm) * self.scale, self.top + (self.top_mm - y_mm) * self.scale

    @property
    def foot_top(self) -> float:
        """Where axes, scale bar and legend begin, under the plan and its dimensions."""
        return self.bottom + 62

    def all_at(self, points: Sequence[Point]) -> list[Point]:
        return [self.at(x, y) for x, y in points]


def frame_of(whole: MachineDrawing, width: float) -> Frame:
    (west, south), (east, north) = whole.corners_mm()
    scale = min((width - 2 * SIDE) / (east - west), TALLEST / (north - south))
    left = (width - (east - west) * scale) / 2
    return Frame(
        scale=scale,
        left_mm=west,
        top_mm=north,
        left=left,
        top=HEAD,
        right=width - left,
        bottom=HEAD + (north - south) * scale,
        width=width,
    )


def dimensions(whole: MachineDrawing, frame: Frame, system: str) -> str:
    """Length below and width on the left for the block; above and on the right for the plate."""
    pieces = []
    if whole.block_length_mm is not None and whole.block_width_mm is not None:
        length, width = whole.block_length_mm, whole.block_width_mm
        pieces.append(_across(frame.at(0, 0), frame.at(length, 0), frame.bottom + 34, _length(length, system)))
        pieces.append(_upright(frame.at(0, width), frame.at(0, 0), frame.left - 34, _length(width, system)))
    if whole.outline:
        (west, south), (east, north) = box_of(whole.outline)
        pieces.append(
            _across(frame.at(west, north), frame.at(east, north), frame.top - 26, _length(east - west, system))
        )
        pieces.append(
            _upright(frame.at(east, north), frame.at(east, south), frame.right + 34, _length(north - south, system))
        )
    return svg.group(pieces)


def _length(value_mm: float, system: str) -> str:
    return units.shown(value_mm, "mm", system, decimals=0 if system == units.METRIC else 1)


def _across(start: Point, end: Point, y: float, words: str) -> str:
    thin = {"stroke": svg.SOFT_INK, "stroke_width": 1}
    reach = 6 if y > start[1] else -6
    ends = "".join(
        svg.line((x, from_y), (x, y + reach), **thin) + svg.line((x - 5, y + 5), (x + 5, y - 5), stroke_width=2)
        for x, from_y in (start, end)
    )
    return (
        svg.line((start[0], y), (end[0], y), **thin)
        + ends
        + svg.text((start[0] + end[0]) / 2, y - 6, words, anchor="middle")
    )


def _upright(start: Point, end: Point, x: float, words: str) -> str:
    thin = {"stroke": svg.SOFT_INK, "stroke_width": 1}
    reach = 6 if x > start[0] else -6
    ends = "".join(
        svg.line((from_x, y), (x + reach, y), **thin) + svg.line((x - 5, y + 5), (x + 5, y - 5), stroke_width=2)
        for from_x, y in (start, end)
    )
    middle = (start[1] + end[1]) / 2
    turned = f"rotate(-90 {svg.number(x - 7)} {svg.number(middle)})"
    return (
        svg.line((x, start[1]), (x, end[1]), **thin)
        + ends
        + svg.text(x - 7, middle, words, anchor="middle", transform=turned)
    )


def foot(frame: Frame, system: str) -> str:
    """The directions of x and y from the corner with the dot, and the scale bar."""
    x, y = 24.0, frame.foot_top + 22
    arrow = {"stroke_width": 2}
    pieces = [
        svg.circle(x, y, 4, fill=svg.INK, stroke="none"),
        svg.line((x, y), (x + 44, y), **arrow),
        svg.polygon([(x + 52, y), (x + 42, y - 5), (x + 42, y + 5)], fill=svg.INK, stroke="none"),
        svg.text(x + 58, y + 6, "x"),
        svg.line((x, y), (x, y - 44), **arrow),
        svg.polygon([(x, y - 52), (x - 5, y - 42), (x + 5, y - 42)], fill=svg.INK, stroke="none"),
        svg.text(x + 10, y - 42, "y"),
    ]
    longest_mm = (frame.right - frame.left) / frame.scale * 0.4
    steps = BAR_STEPS_MM[units.US if system == units.US else units.METRIC]
    bar_mm = max([step for step in steps if step <= longest_mm] or [steps[0]])
    length, left = bar_mm * frame.scale, frame.width - 40 - bar_mm * frame.scale
    pieces += [
        svg.rect(left, y - 8, length / 2, 8, fill=svg.INK, stroke_width=1.2),
        svg.rect(left + length / 2, y - 8, length / 2, 8, fill=svg.PAPER, stroke_width=1.2),
        svg.text(left, y - 14, "0"),
        svg.text(left + length, y - 14, _bar_words(bar_mm, system), anchor="end"),
    ]
    return svg.group(pieces)


def _bar_words(bar_mm: float, system: str) -> str:
    if system != units.US:
        return units.shown(bar_mm, "mm", decimals=0)
    feet = units.from_si(bar_mm, "mm", "ft")
    return f"{feet:.0f} ft" if feet >= 1 else f"{feet * 12:.0f} in"
