"""Strength of the samples on the curve of the data sheet, over equivalent age."""

import math
from typing import Any

from groutjobs import svg, units
from groutjobs.curing.models import Verdict
from groutjobs.curing.sample_models import SampleResult

WIDTH, HEIGHT = 900.0, 430.0
LEFT, RIGHT, TOP, BOTTOM = 90.0, 860.0, 40.0, 350.0
SIZE = 18.0


def samples_picture(cure: dict[str, Any], results: list[SampleResult], system: str = units.METRIC) -> str:
    """The picture, or nothing where the data sheet carries no curve and no sample has an age."""
    curve = cure.get("strength")
    placed = [(row.inputs["expected"]["age_h"], row) for row in results if row.inputs["expected"]["age_h"]]
    if not curve or not placed:
        return ""
    longest_h = max([168.0, *(age_h * 1.05 for age_h, _ in placed)])
    needed = [row.inputs["required_mpa"] for row in results if row.inputs["required_mpa"]]
    highest = 1.1 * max([_strength(curve, longest_h), *(row.strength_mpa for row in results), *needed])

    def at(age_h: float, mpa: float) -> tuple[float, float]:
        return LEFT + (RIGHT - LEFT) * age_h / longest_h, BOTTOM - (BOTTOM - TOP) * mpa / highest

    line = [at(age_h, _strength(curve, age_h)) for age_h in (longest_h * step / 80 for step in range(1, 81))]
    pieces = [
        *_frame(longest_h, highest, at, system),
        svg.polyline(line, fill="none", stroke=svg.INK, stroke_width=2.5),
    ]
    pieces += [_mark(at(age_h, row.strength_mpa), row, number) for number, (age_h, row) in enumerate(placed)]
    for mpa in sorted(set(needed)):
        (x1, y), (x2, _) = at(0, mpa), at(longest_h, mpa)
        pieces.append(svg.line((x1, y), (x2, y), stroke=svg.INK, stroke_width=1.2, stroke_dasharray="8 5"))
        pieces.append(svg.text(RIGHT, y - 6, f"required {units.shown(mpa, 'mpa', system)}", size=SIZE, anchor="end"))
    legend = "line: data sheet on the cure clock   ○ passed   × failed"
    pieces.append(svg.text(LEFT, HEIGHT - 12, legend, size=SIZE))
    return svg.picture(pieces, width=WIDTH, height=HEIGHT, label="Strength of the samples over equivalent age")


def _strength(curve: dict[str, float], age_h: float) -> float:
    """The fitted curve as stored with the cure."""
    return curve["ultimate_mpa"] * math.exp(-math.pow(curve["time_h"] / age_h, curve["shape"]))


def _mark(at: tuple[float, float], row: SampleResult, number: int) -> str:
    """A sign with the first word of the specimen; neighbours stand aside so that names do not lie on each other."""
    x, y = at
    if row.verdict == Verdict.ACCEPTED:
        sign = svg.circle(x, y, 7, fill=svg.PAPER, stroke=svg.INK, stroke_width=2.5)
    else:
        sign = svg.line((x - 7, y - 7), (x + 7, y + 7), stroke=svg.INK, stroke_width=3)
        sign += svg.line((x - 7, y + 7), (x + 7, y - 7), stroke=svg.INK, stroke_width=3)
    return sign + svg.text(x + 14 + 22 * (number % 3), y + 6, row.specimen.split()[0], size=SIZE)


def _frame(longest_h: float, highest: float, at: Any, system: str) -> list[str]:
    pieces = [svg.rect(LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP, fill="none", stroke=svg.RULE)]
    step_h = 24.0 if longest_h <= 200 else 168.0
    for index in range(int(longest_h // step_h) + 1):
        x, y = at(index * step_h, 0)
        pieces.append(svg.line((x, TOP), (x, y), stroke=svg.RULE, stroke_width=1))
        pieces.append(svg.text(x, y + 22, f"{index * step_h:.0f}", size=SIZE, anchor="middle"))
    for share in (0.25, 0.5, 0.75, 1.0):
        x, y = at(0, share * highest)
        pieces.append(
            svg.text(x - 8, y + 6, units.shown(share * highest, "mpa", system, decimals=0), size=SIZE, anchor="end")
        )
    pieces.append(svg.text(RIGHT, BOTTOM + 44, "equivalent age, hours", size=SIZE, anchor="end"))
    return pieces
