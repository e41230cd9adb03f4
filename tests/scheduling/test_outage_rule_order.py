"""Steps follow each other, and nothing begins before the machine is free. Worked out by hand."""

from dataclasses import replace

from groutjobs.scheduling.problem import Job
from tests.scheduling.outage_for_tests import a_step, an_outage, at, crew, expect_infeasible, expect_solved, span

CHAIN = (a_step("chip", 4), a_step("clean", 3, "chip"), a_step("form", 5, "clean"))
TWO_CREWS = (crew("crew 1"), crew("crew 2"))


def test_steps_run_one_after_the_other_though_crews_are_free() -> None:
    schedule = expect_solved(an_outage(Job(tag="P-1", steps=CHAIN), crews=TWO_CREWS))
    assert span(schedule, "P-1", "chip") == (at(0, 7), at(0, 11))
    assert span(schedule, "P-1", "clean") == (at(0, 11), at(0, 14))
    assert span(schedule, "P-1", "form") == (at(0, 14), at(1, 9))


def test_steps_that_do_not_follow_each_other_run_at_once() -> None:
    steps = (a_step("chip", 4), a_step("clean", 3), a_step("form", 5, "chip", "clean"))
    schedule = expect_solved(an_outage(Job(tag="P-1", steps=steps), crews=TWO_CREWS))
    assert span(schedule, "P-1", "form") == (at(0, 11), at(0, 16))


def test_a_job_waits_for_its_machine() -> None:
    schedule = expect_solved(an_outage(Job(tag="P-1", steps=CHAIN, from_at=at(1, 12.5))))
    assert span(schedule, "P-1", "chip") == (at(1, 12.5), at(1, 16.5))


def test_a_chain_longer_than_the_outage_is_refused_by_name() -> None:
    job = Job(tag="P-1", steps=CHAIN, from_at=at(1, 12.5))
    expect_infeasible(an_outage(job, days=2), "P-1", "“clean” does not end within the outage")


def test_it_fits_when_the_machine_is_free_earlier() -> None:
    job = replace(Job(tag="P-1", steps=CHAIN), from_at=at(0, 12.5))
    schedule = expect_solved(an_outage(job, days=2))
    assert span(schedule, "P-1", "form")[1] == at(1, 14.5)
