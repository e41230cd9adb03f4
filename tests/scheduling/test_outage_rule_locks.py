"""A locked step stays at its time, with its crews where they are named. Worked out by hand."""

from tests.scheduling.outage_for_tests import (
    an_outage,
    at,
    crew,
    expect_infeasible,
    expect_solved,
    grouting,
    span,
    with_step,
)


def test_a_locked_step_stays_and_the_others_make_room() -> None:
    jobs = (with_step(grouting("P-1"), "chip", locked_at=at(0, 9)), grouting("P-2"))
    schedule = expect_solved(an_outage(*jobs))
    assert span(schedule, "P-1", "chip") == (at(0, 9), at(0, 15))
    assert span(schedule, "P-2", "chip")[0] >= at(0, 15)


def test_a_lock_keeps_its_crew() -> None:
    job = with_step(grouting(), "chip", locked_at=at(0, 9), locked_crews=("crew 2",))
    schedule = expect_solved(an_outage(job, crews=(crew("crew 1"), crew("crew 2"))))
    assert schedule.by_step["P-1", "chip"].crews == ("crew 2",)


def test_a_locked_pour_stays_at_its_hour() -> None:
    job = with_step(grouting(), "pour", locked_at=at(3, 9))
    schedule = expect_solved(an_outage(job))
    assert span(schedule, "P-1", "pour")[0] == at(3, 9)
    assert span(schedule, "P-1", "chip")[0] == at(0, 7)


def test_a_lock_outside_the_shift_is_refused() -> None:
    job = with_step(grouting(), "chip", locked_at=at(0, 18))
    expect_infeasible(an_outage(job), "“chip” is locked at Mon 06 Apr 18:00, which is no working time")


def test_a_pour_locked_at_an_hour_that_became_unacceptable_is_refused() -> None:
    job = with_step(grouting(pours=[at(1, 9)]), "pour", locked_at=at(1, 8))
    expect_infeasible(an_outage(job), "none of its acceptable pour hours")


def test_a_lock_before_the_work_that_comes_first_is_refused() -> None:
    job = with_step(grouting(), "pour", locked_at=at(0, 10))
    expect_infeasible(an_outage(job), "the steps before it take until Mon 06 Apr 13:00")


def test_two_locks_on_one_crew_are_refused() -> None:
    jobs = [with_step(grouting(tag), "chip", locked_at=at(0, 9)) for tag in ("P-1", "P-2")]
    expect_infeasible(an_outage(*jobs), "Locked steps stand in the way: “chip” of P-1, “chip” of P-2.", "too few crews")
