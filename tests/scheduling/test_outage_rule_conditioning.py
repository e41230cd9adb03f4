"""Conditioning runs day and night and ends when placing begins. Worked out by hand."""

from dataclasses import replace

from groutjobs.scheduling.problem import Job
from tests.scheduling.outage_for_tests import (
    a_pour,
    a_step,
    an_outage,
    at,
    conditioning,
    expect_infeasible,
    expect_solved,
    hours,
    span,
)

STEPS = (a_step("chip", 6), conditioning(30), a_pour(2, "chip", "condition"))
JOB = Job(tag="P-1", steps=STEPS, pour_hours=hours(*(at(day, hour) for day in range(5) for hour in range(8, 15))))


def test_it_is_counted_back_from_the_pour() -> None:
    schedule = expect_solved(an_outage(JOB))
    assert span(schedule, "P-1", "pour")[0] == at(1, 8)
    assert span(schedule, "P-1", "condition") == (at(0, 2), at(1, 8))


def test_it_cannot_begin_before_the_machine_is_free() -> None:
    schedule = expect_solved(an_outage(replace(JOB, from_at=at(0, 7))))
    assert span(schedule, "P-1", "condition") == (at(0, 7), at(1, 13))


def test_wetting_waits_for_the_step_before_it() -> None:
    steps = (a_step("chip", 6), conditioning(30, "chip"), a_pour(2, "condition"))
    schedule = expect_solved(an_outage(replace(JOB, steps=steps)))
    assert span(schedule, "P-1", "condition") == (at(1, 2), at(2, 8))


def test_conditioning_longer_than_the_last_hour_allows_is_refused() -> None:
    job = replace(JOB, pour_hours=hours(at(1, 8), at(1, 9)), from_at=at(0, 7))
    expect_infeasible(an_outage(job), "P-1: no acceptable hour leaves")
