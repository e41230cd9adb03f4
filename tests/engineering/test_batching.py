"""Timetable of batches: worked by hand, and what holds for any plan."""

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.batching import BatchPlan, timetable, timetable_findings
from groutjobs.errors import OutOfRange
from groutjobs.findings import Level
from groutjobs.sources import sources

PLAN = BatchPlan(
    kits=4,
    kits_per_batch=1,
    kit_yield_l=56.6,
    mixers=1,
    mix_min=6.0,
    turnaround_min=2.0,
    place_min=5.0,
    working_life_min=90.0,
)
plans = st.builds(
    BatchPlan,
    kits=st.integers(1, 60),
    kits_per_batch=st.integers(1, 4),
    kit_yield_l=st.just(56.6),
    mixers=st.integers(1, 4),
    mix_min=st.floats(1.0, 20.0),
    turnaround_min=st.floats(0.0, 10.0),
    place_min=st.floats(1.0, 30.0),
    working_life_min=st.floats(20.0, 200.0),
)


def test_one_mixer_by_hand() -> None:
    """Mixing 6, placing 5, turnaround 2: the mixer sets the pace of 8 min, the crew waits 3 min each time."""
    times = timetable(PLAN)
    assert [(b.mix_start_min, b.place_start_min, b.place_end_min) for b in times.batches] == [
        (0.0, 6.0, 11.0),
        (8.0, 14.0, 19.0),
        (16.0, 22.0, 27.0),
        (24.0, 30.0, 35.0),
    ]
    assert (times.longest_gap_min, times.oldest_min, times.placing_min) == (8.0, 11.0, 29.0)
    assert times.pour_rate_l_min == pytest.approx(4 * 56.6 / 29.0)
    assert timetable_findings(PLAN) == []


def test_two_mixers_leave_the_pace_to_the_crew() -> None:
    """By hand: with two mixers a batch is ready whenever the crew is, every 5 min."""
    times = timetable(replace(PLAN, mixers=2))
    assert [batch.mixer for batch in times.batches] == [1, 2, 1, 2]
    assert [batch.place_start_min for batch in times.batches] == [6.0, 11.0, 16.0, 21.0]


def test_the_last_batch_may_be_smaller() -> None:
    times = timetable(replace(PLAN, kits=5, kits_per_batch=2))
    assert [batch.kits for batch in times.batches] == [2, 2, 1]


@given(plans)
def test_no_mixer_and_no_crew_is_in_two_places(plan: BatchPlan) -> None:
    times = timetable(plan)
    assert sum(batch.kits for batch in times.batches) == plan.kits
    for earlier, later in pairwise(times.batches):
        assert later.place_start_min >= earlier.place_end_min - 1e-9
    for mixer in range(1, plan.mixers + 1):
        for earlier, later in pairwise([batch for batch in times.batches if batch.mixer == mixer]):
            assert later.mix_start_min >= earlier.mix_end_min + plan.turnaround_min - 1e-9


@given(plans)
def test_mixed_grout_never_waits(plan: BatchPlan) -> None:
    for batch in timetable(plan).batches:
        assert batch.place_start_min == batch.mix_end_min
        assert batch.mix_end_min - batch.mix_start_min == pytest.approx(plan.mix_min)
        assert batch.mix_start_min >= 0.0


@given(plans)
def test_another_mixer_never_makes_the_pour_longer(plan: BatchPlan) -> None:
    more = replace(plan, mixers=plan.mixers + 1)
    assert timetable(more).placing_min <= timetable(plan).placing_min + 1e-9


@given(plans)
def test_the_pace_is_that_of_the_slower_of_mixers_and_crew(plan: BatchPlan) -> None:
    """Steady state: over any full round of the mixers, the slower of (mix + turnaround)/mixers and placing."""
    gap = timetable(plan).longest_gap_min
    if len(timetable(plan).batches) > plan.mixers:
        assert gap >= max((plan.mix_min + plan.turnaround_min) / plan.mixers, plan.place_min) - 1e-9
    assert gap <= plan.mix_min + plan.turnaround_min + plan.place_min + 1e-9


@pytest.mark.parametrize(
    ("life_min", "codes"),
    [
        (16.1, []),
        (15.9, [("batch.gap", Level.WARNING)]),
        (9.9, [("batch.gap", Level.BLOCKER)]),
    ],
)
def test_gaps_are_held_against_working_life(life_min: float, codes: list[tuple[str, Level]]) -> None:
    """Pace 8 min: half of it from 16 min of working life, 80 % from 10."""
    found = timetable_findings(replace(PLAN, working_life_min=life_min))
    assert [(f.code, f.level) for f in found if f.code == "batch.gap"] == codes


@pytest.mark.parametrize(
    ("life_min", "level"), [(13.76, None), (13.74, Level.WARNING), (11.01, Level.WARNING), (10.99, Level.BLOCKER)]
)
def test_the_age_of_a_batch_is_held_against_working_life(life_min: float, level: Level | None) -> None:
    """A batch is 11 min old when placed: 80 % of it from 13.75 min, all of it from 11."""
    found = timetable_findings(replace(PLAN, working_life_min=life_min))
    assert [finding.level for finding in found if finding.code == "batch.age"] == ([level] if level else [])


def test_a_long_pour_is_noted() -> None:
    (finding,) = timetable_findings(replace(PLAN, kits=8))
    assert (finding.code, finding.level) == ("batch.duration", Level.NOTE)
    assert finding.source in sources()


@pytest.mark.parametrize(
    ("quantity", "changes"),
    [
        ("kits", {"kits": 0}),
        ("kits in a batch", {"kits_per_batch": 0}),
        ("mixers", {"mixers": 0}),
        ("yield of a kit", {"kit_yield_l": 0.0}),
        ("mixing time", {"mix_min": 0.0}),
        ("placing time", {"place_min": math.nan}),
        ("turnaround of a mixer", {"turnaround_min": -1.0}),
        ("working life", {"working_life_min": 0.0}),
    ],
)
def test_a_plan_from_bad_numbers_is_refused(quantity: str, changes: dict[str, Any]) -> None:
    with pytest.raises(OutOfRange) as refused:
        timetable(replace(PLAN, **changes))
    assert refused.value.quantity == quantity
