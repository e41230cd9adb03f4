"""The picture of an outage: for each pour bars of preparing, placing and curing, with the dates that it must meet."""

import datetime as dt
from collections.abc import Sequence

from groutjobs import svg
from groutjobs.outages.models import Outage, ScheduledPour
from groutjobs.weather.axes import TimeAxis

WIDTH, LEFT, RIGHT = 1200.0, 150.0, 1180.0
TOP, ROW, BAR = 74.0, 58.0, 22.0
MARGIN = dt.timedelta(hours=12)
CURE_STEPS = ("strip", "wet_cure", "jackscrews", "tension", "align", "full_cure")
LETTER = {"strip": "S", "wet_cure": "W", "jackscrews": "J", "tension": "T", "align": "A", "full_cure": "F"}
GROUNDS = ("#ffffff", "#e4ebe2", "#c9d8c6", "#a9c2a6", "#86aa84", "#6a9169")


def outage_picture(outage: Outage, pours: Sequence[ScheduledPour]) -> str:
    """Pours of an outage over its days, in site time, as one SVG text."""
    time = TimeAxis(*_extent(outage, pours), LEFT, RIGHT, outage.site.zone)
    bottom = TOP + max(1, len(pours)) * ROW + 8
    edges = [(time.x(outage.starts_at), "start"), (time.x(outage.ends_at), "end")]
    pieces = [
        *time.bands([(outage.starts_at, outage.ends_at)], TOP, bottom - TOP, fill=svg.TINT, stroke="none"),
        *time.day_lines(TOP, bottom),
    ]
    for x, words in edges:
        pieces.append(svg.line((x, TOP - 16), (x, bottom), stroke_width=2))
        pieces.append(svg.text(x, TOP - 22, words, size=14, anchor="middle"))
    for number, pour in enumerate(pours):
        pieces += _row(pour, time, TOP + 10 + number * ROW)
    if not pours:
        pieces.append(svg.text((LEFT + RIGHT) / 2, TOP + ROW / 2 + 6, "no pour is scheduled yet", anchor="middle"))
    pieces += [svg.rect(LEFT, TOP, RIGHT - LEFT, bottom - TOP), *_legend(bottom + 52)]
    label = f"Pours of {outage.name} with preparing, placing and curing over its days"
    return svg.picture(pieces, width=WIDTH, height=bottom + 90, label=label)


def _extent(outage: Outage, pours: Sequence[ScheduledPour]) -> tuple[dt.datetime, dt.datetime]:
    moments = [outage.starts_at, outage.ends_at]
    for pour in pours:
        found = [pour.reached_at(code) for code in ("prepared_from", "placed", *CURE_STEPS)]
        moments += [moment for moment in (*found, pour.align_by_at) if moment is not None]
    return min(moments) - MARGIN, max(moments) + MARGIN


def _row(pour: ScheduledPour, time: TimeAxis, top: float) -> list[str]:
    pieces = [svg.text(LEFT - 12, top + BAR - 5, pour.plan.machine.tag, size=17, anchor="end", font_weight=700)]
    begins, placed = pour.reached_at("prepared_from"), pour.reached_at("placed")
    start_x = time.x(pour.starts_at)
    if begins is not None:
        left = time.x(begins)
        pieces.append(svg.rect(left, top + 5, start_x - left, BAR - 10, stroke_dasharray="5 3", fill=svg.PAPER))
    placed_x = time.x(placed or pour.starts_at)
    pieces += _cure_bars(pour, time, placed_x, top)
    pieces.append(svg.rect(start_x, top - 3, max(3.0, placed_x - start_x), BAR + 6, fill=svg.INK))
    if pour.align_by_at is not None:
        pieces += _due(time.x(pour.align_by_at), top)
    return pieces


def _cure_bars(pour: ScheduledPour, time: TimeAxis, from_x: float, top: float) -> list[str]:
    """One box from milestone to milestone, each darker than the one before, its letters under its end."""
    reached = [(pour.reached_at(code), LETTER[code]) for code in CURE_STEPS if code in pour.milestones]
    known = [(moment, letter) for moment, letter in reached if moment is not None]
    pieces, left = [], from_x
    letters: dict[float, str] = {}
    for number, (moment, letter) in enumerate(sorted(known)):
        right = time.x(moment)
        if right > left:
            pieces.append(svg.rect(left, top, right - left, BAR, fill=GROUNDS[number]))
        left = max(left, right)
        letters[round(right, 1)] = letters.get(round(right, 1), "") + letter
    pieces += [svg.text(x, top + BAR + 15, words, size=14, anchor="middle") for x, words in letters.items()]
    if len(known) < len(reached):
        pieces.append(svg.line((left, top + BAR / 2), (left + 26, top + BAR / 2), stroke_dasharray="3 3"))
        pieces.append(svg.text(left + 32, top + BAR / 2 + 5, "forecast ends", size=13))
    return pieces


def _due(x: float, top: float) -> list[str]:
    """A flag at the time by which alignment must start."""
    return [
        svg.line((x, top - 8), (x, top + BAR + 8), stroke="#8f1d14", stroke_width=2.4),
        svg.polygon([(x, top - 8), (x + 14, top - 3), (x, top + 2)], fill="#8f1d14", stroke="#8f1d14"),
    ]


def _legend(y: float) -> list[str]:
    words = "S strip, W end of wet curing, J jackscrews out, T tension, A align, F full cure"
    return [
        svg.rect(LEFT, y - 10, 34, 12, stroke_dasharray="5 3", fill=svg.PAPER),
        svg.text(LEFT + 42, y, "prepare", size=15),
        svg.rect(LEFT + 120, y - 14, 8, 18, fill=svg.INK),
        svg.text(LEFT + 136, y, "place", size=15),
        svg.rect(LEFT + 200, y - 12, 34, 15, fill=GROUNDS[2]),
        svg.text(LEFT + 242, y, f"cure: {words}", size=15),
        *_due(LEFT + 6, y + 24 - BAR / 2),
        svg.text(LEFT + 42, y + 30, "alignment must start by; the shaded days are the outage", size=15),
    ]
