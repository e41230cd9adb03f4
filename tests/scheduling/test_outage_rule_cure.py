"""Steps wait for the milestone that the hour of the pour gives. Worked out by hand."""

from dataclasses import replace

from tests.scheduling.outage_for_tests import (
    CURE,
    an_outage,
    at,
    expect_infeasible,
    expect_solved,
    grouting,
    hours,
    span,
)

SLOW_THEN_FAST = hours(at(1, 8), strip=50) + hours(at(1, 14), strip=20)


def test_strip_waits_for_its_milestone() -> None:
    schedule = expect_solved(an_outage(grouting(pours=[at(0, 13)])))
    assert span(schedule, "P-1", "strip") == (at(1, 13), at(1, 15))
    assert span(schedule, "P-1", "cure") == (at(0, 15), at(1, 13))


def test_a_milestone_in_the_night_waits_for_the_morning() -> None:
    job = replace(grouting(), pour_hours=hours(at(1, 8), strip=12.5))
    assert span(expect_solved(an_outage(job)), "P-1", "strip")[0] == at(2, 7)


def test_a_later_pour_that_cures_faster_is_taken() -> None:
    job = replace(grouting(due_at=at(2, 12)), pour_hours=SLOW_THEN_FAST)
    schedule = expect_solved(an_outage(job))
    assert span(schedule, "P-1", "pour")[0] == at(1, 14)
    assert span(schedule, "P-1", "strip") == (at(2, 10), at(2, 12))


def test_a_cure_that_outlasts_the_outage_is_refused() -> None:
    job = replace(grouting(), pour_hours=hours(at(1, 8), strip=50))
    expect_infeasible(an_outage(job, days=3), "not done when the outage ends")


def test_the_cure_itself_may_be_what_a_step_waits_for() -> None:
    steps = tuple(replace(step, after=("cure",)) if step.code == "strip" else step for step in grouting().steps)
    schedule = expect_solved(an_outage(replace(grouting(pours=[at(0, 13)]), steps=steps)))
    assert CURE.code in steps[-1].after
    assert span(schedule, "P-1", "strip")[0] == at(1, 13)
