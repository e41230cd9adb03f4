"""The signs of the plan drawing, told apart by shape, and the places of their labels, in units of the picture."""

import enum
import math
from collections.abc import Sequence

from groutjobs import svg
from groutjobs.svg import Point

BOLT, FILL, VENT, JACK = 9.0, 9.0, 7.0, 7.0
"""Least radius of each sign: a 13 mm vent to scale would not be seen."""
STOP = "#8f1d14"
LABEL = 17.0
Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""


class MarkShape(enum.StrEnum):
    """Signs that later stages lay over the drawing."""

    SOLID = "solid"
    HOLLOW = "hollow"
    CROSS = "cross"
    NUMBER = "number"
    POINT = "point"


MARK_RADIUS = {
    MarkShape.SOLID: 5.0,
    MarkShape.HOLLOW: 9.0,
    MarkShape.CROSS: 8.0,
    MarkShape.NUMBER: 14.0,
    MarkShape.POINT: 8.0,
}


def bolt(at: Point, radius: float) -> str:
    """A nut from above, and the sleeve round it to scale where it is larger."""
    x, y = at
    corners = [(x + BOLT * math.cos(math.radians(60 * k)), y + BOLT * math.sin(math.radians(60 * k))) for k in range(6)]
    sleeve = svg.circle(x, y, radius, stroke_width=1, stroke_dasharray="3 3") if radius > BOLT else ""
    nut = svg.polygon(corners, fill=svg.PAPER, stroke_width=2)
    return sleeve + nut + svg.circle(x, y, 2.5, fill=svg.INK, stroke="none")


def fill_hole(at: Point, radius: float) -> str:
    """A hole to scale with an arrow head pointing in."""
    x, y = at
    size = max(radius, FILL)
    side = min(size, 16.0) * 0.62
    head = [(x - side, y - side * 0.6), (x + side, y - side * 0.6), (x, y + side)]
    return svg.circle(x, y, size, fill=svg.PAPER, stroke_width=2) + svg.polygon(head, fill=svg.INK, stroke="none")


def vent(at: Point, radius: float) -> str:
    """An open triangle pointing out; a ring to scale where the hole is larger than the sign."""
    x, y = at
    ring = svg.circle(x, y, radius, stroke_width=1.5) if radius > VENT else ""
    return ring + svg.polygon(
        [(x - VENT, y + VENT * 0.8), (x + VENT, y + VENT * 0.8), (x, y - VENT)], fill=svg.PAPER, stroke_width=1.6
    )


def jackscrew(at: Point, radius: float) -> str:
    """A full square in the ring of its pad, the ring to scale."""
    x, y = at
    ring = svg.circle(x, y, max(radius, JACK + 3), fill=svg.PAPER, stroke_width=1.4)
    return ring + svg.rect(x - 5, y - 5, 10, 10, fill=svg.INK, stroke="none")


def pad(lower_left: Point, upper_right: Point) -> str:
    """A rectangle to scale, crossed by thin lines as drawings mark a flat machined face."""
    (left, bottom), (right, top) = lower_left, upper_right
    thin = {"stroke": svg.SOFT_INK, "stroke_width": 0.8}
    box = svg.rect(left, top, right - left, bottom - top, fill=svg.TINT, stroke_width=1.5)
    return box + svg.line((left, top), (right, bottom), **thin) + svg.line((left, bottom), (right, top), **thin)


def mark(shape: MarkShape, at: Point, label: str = "") -> str:
    """A sign laid over the drawing; a number stands in its circle, all other labels are placed outside."""
    x, y = at
    if shape is MarkShape.SOLID:
        return svg.circle(x, y, 4.5, fill=svg.INK, stroke=svg.PAPER, stroke_width=1)
    if shape is MarkShape.HOLLOW:
        ring = svg.circle(x, y, 8, fill=svg.PAPER, stroke=STOP, stroke_width=3)
        return ring + svg.circle(x, y, 2, fill=STOP, stroke="none")
    if shape is MarkShape.NUMBER:
        disc = svg.circle(x, y, 14, fill=svg.INK, stroke=svg.PAPER, stroke_width=1.5)
        return disc + svg.text(x, y + 6, label, anchor="middle", fill=svg.PAPER, font_weight=700)
    arm = 7.0
    if shape is MarkShape.CROSS:
        ends = [((x - arm, y - arm), (x + arm, y + arm)), ((x - arm, y + arm), (x + arm, y - arm))]
    else:
        ends = [((x - arm, y), (x + arm, y)), ((x, y - arm), (x, y + arm))]
    return "".join(svg.line(start, end, stroke_width=2) for start, end in ends)


class LabelPlacer:
    """Finds a free place beside each sign: eight places are tried, the one that covers least is taken."""

    def __init__(self, left: float, top: float, right: float, bottom: float) -> None:
        self.frame = (left, top, right, bottom)
        self.taken: list[Box] = []

    def keep_clear(self, at: Point, radius: float) -> None:
        """Reserve the place of a sign."""
        x, y = at
        self.taken.append((x - radius, y - radius, x + radius, y + radius))

    def keep_off_edges(self, corners: Sequence[Point]) -> None:
        """Reserve the level and upright edges of an outline, so that words do not lie across them."""
        for (x, y), (next_x, next_y) in zip(corners, [*corners[1:], *corners[:1]], strict=True):
            if abs(x - next_x) < 0.01 or abs(y - next_y) < 0.01:
                self.taken.append((min(x, next_x) - 2, min(y, next_y) - 2, max(x, next_x) + 2, max(y, next_y) + 2))

    def freest(self, places: Sequence[Point], radius: float) -> Point:
        """The first of the places about which least is covered."""
        boxes = [(x - radius, y - radius, x + radius, y + radius) for x, y in places]
        left, top, right, bottom = self._best(boxes)
        return (left + right) / 2, (top + bottom) / 2

    def place(self, at: Point, radius: float, words: str, *, size: float = LABEL) -> str:
        """The label as text beside the sign."""
        width, height = svg.text_width(words, size), size * 0.8
        x, y = at
        away, slant = radius + 3, radius * 0.7 + 2
        corners = [
            (x + slant, y - slant - height), (x - slant - width, y - slant - height),
            (x + slant, y + slant), (x - slant - width, y + slant),
            (x + away, y - height / 2), (x - away - width, y - height / 2),
            (x - width / 2, y - away - height), (x - width / 2, y + away),
        ]  # fmt: skip
        boxes = [(left, top, left + width, top + height) for left, top in corners]
        best = self._best(boxes)
        self.taken.append(best)
        return svg.text(best[0], best[3], words, size=size)

    def _best(self, boxes: Sequence[Box]) -> Box:
        """The first box that covers nothing, else the one that covers least."""
        least, best = math.inf, boxes[0]
        for box in boxes:
            covered = self._covered(box)
            if covered < least:
                least, best = covered, box
            if covered == 0.0:
                break
        return best

    def _covered(self, box: Box) -> float:
        outside = (box[2] - box[0]) * (box[3] - box[1]) - _overlap(box, self.frame)
        left, top, right, bottom = box
        near = [o for o in self.taken if o[0] < right and o[2] > left and o[1] < bottom and o[3] > top]
        return sum(_overlap(box, other) for other in near) + 10 * outside


def _overlap(one: Box, other: Box) -> float:
    width = min(one[2], other[2]) - max(one[0], other[0])
    height = min(one[3], other[3]) - max(one[1], other[1])
    return width * height if width > 0 and height > 0 else 0.0
