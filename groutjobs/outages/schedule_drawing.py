"""The picture of a schedule: a row for each machine, a box for each step, acceptable pour hours behind the row."""

import datetime as dt
from typing import Any

from groutjobs import svg
from groutjobs.outages.models import OutageSchedule
from groutjobs.weather.axes import TimeAxis
from groutjobs.wording import counted

WIDTH, LEFT, RIGHT = 1560.0, 130.0, 1540.0
TOP, ROW, BAR = 40.0, 46.0, 22.0
LETTERS = {
    "isolate": "I", "chip": "C", "clean": "K", "pads": "P", "set": "L", "snug": "B", "formwork": "F",
    "strip": "S", "jackscrews": "J", "sounding": "H", "repair": "R", "tension": "T", "recheck": "L", "hand_over": "A",
}  # fmt: skip
GROUND_OF_SKILL = {"mechanical": svg.PAPER, "concrete": "#e4ebe2", "grout": "#a9c2a6"}
HOURS = "#f1e3bd"
LATE = "#8f1d14"
WORDS = (
    "I isolate, C chip, K clean, P pads, L level, B bolts snug, F formwork, S strip, J jackscrews out, H sound, "
    "R repair allowance, T tension, A hand over to alignment"
)


def schedule_picture(schedule: OutageSchedule, zone: str) -> str:
    """All jobs of a schedule over the days of the outage, in site time, as one SVG text."""
    result = schedule.result
    jobs, steps = result["jobs"], result["steps"]
    starts_at, ends_at = (dt.datetime.fromisoformat(result["inputs"][name]) for name in ("starts_at", "ends_at"))
    last = max([ends_at, *(dt.datetime.fromisoformat(job["due_at"]) for job in jobs if job["due_at"])])
    margin = dt.timedelta(hours=6)
    time = TimeAxis(starts_at - margin, last + margin, LEFT, RIGHT, zone)
    bottom = TOP + len(jobs) * ROW + 6
    pieces = [
        *time.bands([(starts_at, ends_at)], TOP, bottom - TOP, fill=svg.TINT, stroke="none"),
        *time.day_lines(TOP, bottom),
    ]
    for number, job in enumerate(jobs):
        own = [step for step in steps if step["job"] == job["tag"]]
        pieces += _row(job, own, time, TOP + 14 + number * ROW)
    pieces += [svg.rect(LEFT, TOP, RIGHT - LEFT, bottom - TOP), *_legend(bottom + 50)]
    label = f"Steps of {counted(len(jobs), 'machine')} over the days of {schedule.outage.name}"
    return svg.picture(pieces, width=WIDTH, height=bottom + 92, label=label)


def _row(job: dict[str, Any], steps: list[dict[str, Any]], time: TimeAxis, top: float) -> list[str]:
    pieces = [svg.text(LEFT - 10, top + BAR - 5, job["tag"], size=16, anchor="end", font_weight=700)]
    hour = dt.timedelta(hours=1)
    spans = [(_at(begins), _at(ends) + hour) for begins, ends in job["offered"]]
    pieces += time.bands(spans, top - 8, BAR + 16, fill=HOURS, stroke="none")
    for step in steps:
        pieces += _box(step, time, top)
    if job["due_at"]:
        pieces += _due(time.x(_at(job["due_at"])), top)
    if job["late_h"] > 0:
        x = time.x(_at(job["done_at"])) + 5
        pieces.append(svg.text(x, top + BAR - 5, f"{job['late_h']:.0f} h late", size=14, fill=LATE, font_weight=700))
    return pieces


def _box(step: dict[str, Any], time: TimeAxis, top: float) -> list[str]:
    left, right = time.x(_at(step["starts_at"])), time.x(_at(step["ends_at"]))
    width, kind = max(2.0, right - left), step["kind"]
    if kind == "condition":
        return [svg.line((left, top - 4), (right, top - 4), stroke_dasharray="5 3", stroke_width=2)]
    if kind == "cure":
        return [svg.line((left, top + BAR / 2), (right, top + BAR / 2), stroke_width=1.4)]
    if kind == "pour":
        return [svg.rect(left, top - 5, max(4.0, width), BAR + 10, fill=svg.INK)]
    pieces = [svg.rect(left, top, width, BAR, fill=GROUND_OF_SKILL.get(step["skill"], svg.PAPER))]
    if width > 13:
        words = LETTERS.get(step["step"], "")
        pieces.append(svg.text((left + right) / 2, top + BAR - 6, words, size=14, anchor="middle"))
    if step["locked"]:
        pieces.append(svg.line((left, top + BAR + 3), (left + width, top + BAR + 3), stroke_width=3))
    return pieces


def _due(x: float, top: float) -> list[str]:
    """A flag at the time by which the machine is handed over."""
    return [
        svg.line((x, top - 10), (x, top + BAR + 8), stroke=LATE, stroke_width=2.4),
        svg.polygon([(x, top - 10), (x + 13, top - 5), (x, top)], fill=LATE, stroke=LATE),
    ]


def _legend(y: float) -> list[str]:
    pieces, x = [], LEFT
    for words, ground in (("mechanical", svg.PAPER), ("concrete", "#e4ebe2"), ("formwork and grout", "#a9c2a6")):
        pieces += [svg.rect(x, y - 13, 26, 16, fill=ground), svg.text(x + 34, y, words, size=15)]
        x += 60 + svg.text_width(words, 15)
    pieces += [svg.rect(x, y - 15, 6, 20, fill=svg.INK), svg.text(x + 14, y, "pour", size=15)]
    pieces += [svg.line((x + 70, y - 5), (x + 100, y - 5)), svg.text(x + 108, y, "cure", size=15)]
    x += 160
    pieces.append(svg.line((x, y - 5), (x + 30, y - 5), stroke_dasharray="5 3", stroke_width=2))
    pieces.append(svg.text(x + 38, y, "condition the material", size=15))
    pieces += [svg.rect(x + 210, y - 14, 26, 18, fill=HOURS, stroke="none")]
    pieces.append(svg.text(x + 244, y, "acceptable pour hours", size=15))
    pieces += [*_due(x + 420, y - BAR + 2), svg.text(x + 440, y, "handed over by", size=15)]
    pieces.append(svg.text(LEFT, y + 30, WORDS + "; a thick foot: held at its time", size=15))
    return pieces


def _at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)
