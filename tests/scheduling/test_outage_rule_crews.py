"""A crew does one step at a time, a step takes as many as it needs, all with the skill. Worked out by hand."""

from typing import Any

from groutjobs.scheduling.problem import Job
from tests.scheduling.outage_for_tests import NIGHT, a_step, an_outage, at, crew, expect_infeasible, expect_solved, span


def chipping(tag: str, hours: float = 6, **more: Any) -> Job:
    return Job(tag=tag, steps=(a_step("chip", hours, **more),))


def test_two_jobs_take_turns_with_one_crew() -> None:
    schedule = expect_solved(an_outage(chipping("P-1"), chipping("P-2")))
    assert sorted(span(schedule, tag, "chip") for tag in ("P-1", "P-2")) == [
        (at(0, 7), at(0, 13)),
        (at(0, 13), at(1, 9)),
    ]


def test_two_crews_work_at_once() -> None:
    schedule = expect_solved(an_outage(chipping("P-1"), chipping("P-2"), crews=(crew("crew 1"), crew("crew 2"))))
    assert span(schedule, "P-1", "chip") == span(schedule, "P-2", "chip") == (at(0, 7), at(0, 13))
    assert schedule.by_step["P-1", "chip"].crews != schedule.by_step["P-2", "chip"].crews


def test_a_step_for_two_crews_waits_until_both_are_free() -> None:
    crews = (crew("crew 1", "grout", "weld"), crew("crew 2"))
    both = Job(tag="P-1", steps=(a_step("weld", 2, skill="weld"), a_step("chip", 6, "weld", crews=2)))
    schedule = expect_solved(an_outage(both, crews=crews))
    assert span(schedule, "P-1", "chip") == (at(0, 9), at(0, 15))
    assert schedule.by_step["P-1", "chip"].crews == ("crew 1", "crew 2")


def test_a_crew_without_the_skill_is_not_taken() -> None:
    expect_infeasible(an_outage(chipping("P-1", skill="weld")), "“chip” needs a crew with the skill “weld”")


def test_crews_of_different_shifts_do_not_make_a_pair() -> None:
    crews = (crew("days"), crew("nights", calendar=NIGHT))
    expect_infeasible(an_outage(chipping("P-1", crews=2), crews=crews), "needs 2 crews", "in the same shifts")


def test_too_much_work_for_the_crews_is_told() -> None:
    outage = an_outage(*(chipping(f"P-{number}", 8) for number in range(3)), days=2)
    expect_infeasible(outage, "There are too few crews for the time there is.", "With a later end alone")
