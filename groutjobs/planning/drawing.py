"""The batch timetable as a picture: one bar for each batch, from the start of mixing to the end of placing."""

import math
from typing import Any

from groutjobs import svg

WIDTH, LEFT, RIGHT, TOP = 900.0, 118.0, 20.0, 34.0
TYPE = 15.0
STEPS_MIN = (5, 10, 15, 20, 30, 60, 120, 240, 480)


def timetable_picture(times: dict[str, Any]) -> str:
    """Mixing as an open bar, placing as a full one, and a tick where the working life of the batch ends."""
    batches, life_min = times["batches"], times["working_life_min"]
    last_min = max(batch["finish_min"] for batch in batches)
    end_min = max(last_min, min(batches[0]["start_min"] + life_min, 1.25 * last_min))
    scale = (WIDTH - LEFT - RIGHT) / (end_min * 1.04)
    row = 26.0 if len(batches) <= 30 else 16.0
    foot = TOP + row * len(batches)
    pieces = [svg.rect(0, 0, WIDTH, foot + 60, fill=svg.PAPER, stroke="none"), *_axis(end_min, scale, foot)]
    for place, batch in enumerate(batches):
        pieces.append(_bar(batch, life_min, scale, TOP + row * place, row, end_min * 1.04))
    pieces.append(_legend(foot + 40, life_min))
    return svg.picture(
        pieces, width=WIDTH, height=foot + 60, label="Batch timetable, minutes from the start of the first mixing",
        described=_words(batches),
    )  # fmt: skip


def _axis(end_min: float, scale: float, foot: float) -> list[str]:
    step = next((step for step in STEPS_MIN if end_min / step <= 12), STEPS_MIN[-1])
    pieces = []
    for minute in range(0, math.floor(end_min * 1.04) + 1, step):
        x = LEFT + minute * scale
        pieces.append(svg.line((x, TOP - 6), (x, foot), stroke=svg.RULE))
        pieces.append(svg.text(x, TOP - 12, minute, size=TYPE, anchor="middle", fill=svg.SOFT_INK))
    pieces.append(svg.text(8, TOP - 12, "Minutes", size=TYPE, fill=svg.SOFT_INK))
    pieces.append(svg.line((LEFT, foot), (WIDTH - RIGHT, foot)))
    return pieces


def _bar(batch: dict[str, Any], life_min: float, scale: float, top: float, row: float, right_min: float) -> str:
    height, size = row - 8.0, min(TYPE, row - 3.0)
    start, mixed, finish = (LEFT + batch[name] * scale for name in ("start_min", "mixed_min", "finish_min"))
    pieces = [
        svg.text(8, top + row - 8, f"Batch {batch['number']}, m{batch['mixer']}", size=size),
        svg.rect(start, top + 4, mixed - start, height, fill=svg.PAPER, stroke_width=1.5),
        svg.rect(mixed, top + 4, finish - mixed, height, fill=svg.INK, stroke_width=1.5),
    ]
    ends_min = batch["start_min"] + life_min
    if ends_min <= right_min:
        x = LEFT + ends_min * scale
        pieces.append(svg.line((finish, top + row / 2), (x, top + row / 2), stroke_dasharray="3 4"))
        pieces.append(svg.line((x, top + 3), (x, top + row - 3), stroke_width=3))
    return svg.group(pieces)


def _legend(y: float, life_min: float) -> str:
    pieces = [
        svg.rect(LEFT, y - 12, 26, 14, fill=svg.PAPER, stroke_width=1.5),
        svg.text(LEFT + 34, y, "mixing", size=TYPE),
        svg.rect(LEFT + 112, y - 12, 26, 14, fill=svg.INK),
        svg.text(LEFT + 146, y, "carrying and placing", size=TYPE),
        svg.line((LEFT + 328, y - 14), (LEFT + 328, y + 4), stroke_width=3),
        svg.text(LEFT + 338, y, f"end of its working life, {life_min:.0f} min after the start of mixing", size=TYPE),
    ]
    return svg.group(pieces)


def _words(batches: list[dict[str, Any]]) -> str:
    return "; ".join(
        f"batch {batch['number']} in mixer {batch['mixer']}: mixing from {batch['start_min']:.0f} to "
        f"{batch['mixed_min']:.0f} min, placed at {batch['finish_min']:.0f} min"
        for batch in batches
    )
