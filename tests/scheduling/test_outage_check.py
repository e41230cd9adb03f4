"""The checker finds each broken rule: a schedule that keeps all of them is broken in one place at a time."""

from dataclasses import replace
from datetime import timedelta

import pytest

from groutjobs.scheduling.check import broken_rules
from groutjobs.scheduling.problem import Job, Outage, Placed, Schedule
from tests.scheduling.outage_for_tests import (
    CURE,
    a_pour,
    a_step,
    an_outage,
    at,
    conditioning,
    crew,
    hours,
    with_step,
)

STEPS = (
    a_step("chip", 6),
    conditioning(24),
    a_pour(2, "chip", "condition", tools=(("mixer", 1),)),
    CURE,
    a_step("strip", 2, "pour", milestone="strip"),
)
POURS = hours(at(1, 8), at(1, 10), strip=24.0)
JOBS = (Job(tag="P-1", steps=STEPS, pour_hours=POURS), Job(tag="P-2", steps=STEPS, pour_hours=POURS))
OUTAGE = an_outage(*JOBS, crews=(crew("crew 1"), crew("crew 2"), crew("welders", "weld")), mixer=1)


def placed(tag: str, who: str, day: int, pour: float) -> tuple[Placed, ...]:
    """One job worked out by hand."""
    pours_at = at(day, pour)
    return (
        Placed(job=tag, step="chip", starts_at=at(0, 7), ends_at=at(0, 13), crews=(who,)),
        Placed(job=tag, step="condition", starts_at=pours_at - timedelta(hours=24), ends_at=pours_at),
        Placed(job=tag, step="pour", starts_at=pours_at, ends_at=pours_at + timedelta(hours=2), crews=(who,)),
        Placed(job=tag, step="cure", starts_at=pours_at + timedelta(hours=2), ends_at=pours_at + timedelta(hours=24)),
        Placed(job=tag, step="strip", starts_at=at(day + 1, pour), ends_at=at(day + 1, pour + 2), crews=(who,)),
    )


GOOD = Schedule(steps=placed("P-1", "crew 1", 1, 8) + placed("P-2", "crew 2", 1, 10))


def changed(step: str, tag: str = "P-1", **changes: object) -> Schedule:
    return Schedule(
        steps=tuple(
            replace(one, **changes) if (one.job, one.step) == (tag, step) else one  # type: ignore[arg-type]
            for one in GOOD.steps
        )
    )


def codes(schedule: Schedule, outage: Outage = OUTAGE) -> set[str]:
    return {finding.code for finding in broken_rules(outage, schedule)}


def test_a_schedule_made_by_hand_keeps_every_rule() -> None:
    assert broken_rules(OUTAGE, GOOD) == ()


BROKEN = {
    "missing": Schedule(steps=GOOD.steps[1:]),
    "unknown": Schedule(steps=(*GOOD.steps, GOOD.steps[0])),
    "too_early": changed("chip", starts_at=at(-1, 7), ends_at=at(-1, 13)),
    "too_late": changed("strip", starts_at=at(10, 7), ends_at=at(10, 9)),
    "order": changed("chip", starts_at=at(1, 9), ends_at=at(1, 15)),
    "crews": changed("chip", crews=()),
    "skill": changed("chip", crews=("welders",)),
    "working_time": changed("chip", starts_at=at(0, 13), ends_at=at(0, 19)),
    "crew_twice": changed("chip", crews=("crew 2",)),
    "pour_hour": changed("pour", starts_at=at(1, 9), ends_at=at(1, 11)),
    "unbroken": changed("pour", ends_at=at(1, 11)),
    "conditioning": changed("condition", starts_at=at(0, 9)),
    "cure": changed("strip", starts_at=at(2, 7), ends_at=at(2, 9)),
    "tools": changed("pour", "P-2", starts_at=at(1, 8), ends_at=at(1, 10)),
}


@pytest.mark.parametrize("code", BROKEN)
def test_each_broken_rule_is_named(code: str) -> None:
    assert code in codes(BROKEN[code])


def test_a_lock_that_is_not_kept_is_named() -> None:
    job = with_step(JOBS[0], "chip", locked_at=at(0, 8), locked_crews=("crew 2",))
    outage = replace(OUTAGE, jobs=(job, JOBS[1]))
    assert [finding.code for finding in broken_rules(outage, GOOD)] == ["lock", "lock"]


def test_a_crew_for_what_needs_none_is_named() -> None:
    assert codes(changed("cure", crews=("welders",))) == {"crews"}


def test_a_cure_that_ends_too_soon_is_named() -> None:
    assert codes(changed("cure", ends_at=at(1, 20))) == {"cure"}


def test_the_words_name_job_step_and_hour() -> None:
    message = broken_rules(OUTAGE, BROKEN["cure"])[0].message
    assert message == ("P-1, strip: begins Wed 08 Apr 07:00 UTC, before the cure allows it, Wed 08 Apr 08:00 UTC.")
