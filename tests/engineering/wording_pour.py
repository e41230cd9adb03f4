"""Every finding and refusal about batches and placed volume, word by word. The words stand in the TOML file."""

from dataclasses import replace
from functools import partial
from typing import Any

from groutjobs.engineering.batching import BatchPlan, timetable, timetable_findings
from groutjobs.engineering.reconciliation import FillReading, VolumeErrors, compare, reconciliation_findings
from tests.engineering.wording import Attempt, Told, kept

WORDS = kept("pour")
PLAN = BatchPlan(
    kits=4,
    kits_per_batch=1,
    kit_yield_l=14.0,
    mixers=1,
    mix_min=6.0,
    turnaround_min=2.0,
    place_min=5.0,
    working_life_min=90.0,
)
"""A batch placed every 8 min, each 11 min old by then; placing takes 29 min."""
TWO_LITRES = VolumeErrors(yield_ratio=0.0, plan_ratio=0.0, level_ratio=0.02, residue_ratio=0.0)
"""2 L is the standard deviation of a comparison with 100 L."""


def planned(**changes: Any) -> Told:
    return lambda system: timetable_findings(replace(PLAN, **changes), system=system)


def reading(placed_l: float, filled_ratio: float, batches: int = 3) -> FillReading:
    return FillReading(placed_l=placed_l, batches=batches, filled_ratio=filled_ratio)


def filled(*readings: FillReading) -> Told:
    return lambda system: reconciliation_findings("A", readings, 100.0, TWO_LITRES, system=system)


def refused_errors(**ratios: float) -> Attempt:
    return partial(compare, reading(50.0, 0.5), 100.0, replace(TWO_LITRES, **ratios))


SILENT: dict[str, Told] = {
    "a gap of half the working life, and 8 of 16 min": planned(working_life_min=16.0, place_min=2.0),
    "a batch as old as 80 % of its life": planned(working_life_min=13.75, turnaround_min=0.0, place_min=5.0, kits=1),
    "45 min of placing": planned(kits=6),
    "no reading": filled(),
    "one reading far above": filled(reading(80.0, 0.5)),
    "two and a half sd above, twice": filled(reading(55.0, 0.5), reading(65.0, 0.6)),
    "above, then as the level shows": filled(reading(60.0, 0.5), reading(60.0, 0.6)),
    "as the level shows, then above": filled(reading(50.0, 0.5), reading(70.0, 0.6)),
    "full, two and a half sd below": filled(reading(95.0, 1.0)),
    "far below, but not full": filled(reading(80.0, 0.99)),
    "as much and as many as before": filled(reading(50.0, 0.5), reading(50.0, 0.5)),
}
FINDINGS: dict[str, Told] = {
    "a long gap": planned(working_life_min=15.0, place_min=2.0),
    "a gap of 80 %": planned(working_life_min=10.0, place_min=1.0),
    "a gap too long": planned(working_life_min=9.0, place_min=1.0),
    "an old batch": planned(working_life_min=13.0, kits=1),
    "a batch as old as its life": planned(working_life_min=11.0, kits=1),
    "a batch too old": planned(working_life_min=10.0, kits=1),
    "a long pour": planned(kits=7),
    "all at once": planned(kits=7, working_life_min=9.0),
    "more placed than seen, twice": filled(reading(60.0, 0.5), reading(71.0, 0.6)),
    "the last two of three above": filled(reading(10.0, 0.1), reading(60.0, 0.5), reading(70.0, 0.6)),
    "full, and less placed": filled(reading(90.0, 1.0)),
    "full after other readings, and less placed": filled(reading(50.0, 0.5), reading(94.0, 1.0)),
}
REFUSED: dict[str, Attempt] = {
    "less placed than before": partial(
        reconciliation_findings, "A", [reading(50.0, 0.5), reading(49.0, 0.5)], 100.0, TWO_LITRES
    ),
    "fewer batches than before": partial(
        reconciliation_findings, "A", [reading(50.0, 0.5, 3), reading(60.0, 0.5, 2)], 100.0, TWO_LITRES
    ),
    "no batch placed": partial(compare, reading(50.0, 0.5, 0), 100.0),
    "no error at all": refused_errors(level_ratio=0.0),
    "an error of more than all": refused_errors(residue_ratio=1.01),
    "no kit": partial(timetable, replace(PLAN, kits=0)),
    "too many kits": partial(timetable, replace(PLAN, kits=10_001)),
    "no kit in a batch": partial(timetable, replace(PLAN, kits_per_batch=0)),
    "no mixer": partial(timetable, replace(PLAN, mixers=0)),
}
