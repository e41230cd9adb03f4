"""Placed volume against takeoff, as a picture: one bar a compartment, the band of the takeoff across it."""

from collections.abc import Sequence

from groutjobs import svg, units
from groutjobs.pours.log import Fill

BAND_SD = 2.0
ROW = 92.0
BAR = 30.0
SIZE = 19.0
EDGE = 6.0


def fill_picture(fills: Sequence[Fill], *, system: str, width: float = 480.0) -> str:
    """The picture of all compartments of a pour; `width` in units of its type size, 360 for the phone."""
    span_l = max(max(fill.takeoff_l + 3 * fill.sd_l, fill.placed_l) for fill in fills)
    scale = (width - 2 * EDGE) / span_l
    pieces = [piece for row, fill in enumerate(fills) for piece in _row(fill, row * ROW, scale, system)]
    foot = len(fills) * ROW
    pieces += _legend(foot, width)
    described = "; ".join(_words(fill, system) for fill in fills)
    label = "Volume placed against takeoff by compartment"
    return svg.picture(pieces, width=width, height=foot + 64.0, label=label, described=described)


def _row(fill: Fill, top: float, scale: float, system: str) -> list[str]:
    bar_top = top + 40.0
    low, high = (EDGE + scale * (fill.takeoff_l + sign * BAND_SD * fill.sd_l) for sign in (-1.0, 1.0))
    target = EDGE + scale * fill.takeoff_l
    foot = bar_top + BAR
    return [
        svg.text(EDGE, top + 28.0, _words(fill, system), size=SIZE),
        svg.rect(
            low, bar_top - 5.0, high - low, BAR + 10.0, fill=svg.TINT, stroke=svg.SOFT_INK, stroke_dasharray="4 3"
        ),
        svg.rect(EDGE, bar_top, scale * fill.placed_l, BAR, fill=svg.INK),
        svg.line((EDGE, foot), (target, foot), stroke=svg.RULE, stroke_width=2),
        svg.line((target, bar_top - 8.0), (target, foot + 8.0), stroke=svg.PAPER, stroke_width=6),
        svg.line((target, bar_top - 8.0), (target, foot + 8.0), stroke_width=3),
    ]


def _words(fill: Fill, system: str) -> str:
    placed = units.shown(fill.placed_l, "l", system)
    takeoff = units.shown(fill.takeoff_l, "l", system)
    return f"{fill.name}: {placed} of {takeoff}{', full' if fill.full_at else ''}"


def _legend(top: float, width: float) -> list[str]:
    size, middle = 18.0, EDGE + 32.0
    return [
        svg.rect(EDGE, top + 8.0, 24.0, 12.0, fill=svg.INK),
        svg.text(middle, top + 20.0, "placed", size=size),
        svg.rect(EDGE, top + 36.0, 24.0, 14.0, fill=svg.TINT, stroke=svg.SOFT_INK, stroke_dasharray="4 3"),
        svg.line((EDGE + 12.0, top + 32.0), (EDGE + 12.0, top + 54.0), stroke_width=3),
        svg.text(middle, top + 49.0, f"takeoff ± {BAND_SD:g} standard deviations", size=size),
    ]
