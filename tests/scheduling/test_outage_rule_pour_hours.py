"""Placing begins at an acceptable hour and stays within one shift of its crew. Worked out by hand."""

from dataclasses import replace

from tests.scheduling.outage_for_tests import (
    an_outage,
    at,
    crew,
    expect_infeasible,
    expect_solved,
    grouting,
    hours,
    span,
)


def test_the_pour_takes_the_first_hour_after_the_preparation() -> None:
    schedule = expect_solved(an_outage(grouting(pours=[at(0, 12), at(0, 14), at(1, 8)])))
    assert span(schedule, "P-1", "pour") == (at(0, 14), at(0, 16))


def test_an_hour_that_runs_over_the_shift_is_not_taken() -> None:
    schedule = expect_solved(an_outage(grouting(pours=[at(0, 16), at(1, 8)])))
    assert span(schedule, "P-1", "pour") == (at(1, 8), at(1, 10))


def test_of_two_hours_that_are_in_time_the_one_with_better_odds_is_taken() -> None:
    job = grouting(due_at=at(8, 0))
    job = replace(job, pour_hours=hours(at(0, 14), odds=0.6, strip=24) + hours(at(1, 9), odds=0.95, strip=24))
    assert span(expect_solved(an_outage(job)), "P-1", "pour")[0] == at(1, 9)


def test_lateness_weighs_more_than_odds() -> None:
    job = grouting(due_at=at(1, 16))
    job = replace(job, pour_hours=hours(at(0, 14), odds=0.6, strip=24) + hours(at(1, 9), odds=0.95, strip=24))
    assert span(expect_solved(an_outage(job)), "P-1", "pour")[0] == at(0, 14)


def test_hours_before_the_preparation_ends_are_of_no_use() -> None:
    expect_infeasible(an_outage(grouting(pours=[at(0, 8), at(0, 12)])), "preparation and conditioning take until")


def test_hours_outside_the_shifts_are_of_no_use() -> None:
    expect_infeasible(an_outage(grouting(pours=[at(0, 18), at(1, 16)])), "within one shift of its crew")


def test_without_an_acceptable_hour_there_is_no_schedule() -> None:
    outage = an_outage(replace(grouting(), pour_hours=()))
    expect_infeasible(outage, "P-1: there is no acceptable pour hour at all.")


def test_two_pours_at_the_only_hour_need_two_crews() -> None:
    jobs = [grouting(tag, pours=[at(1, 9)]) for tag in ("P-1", "P-2")]
    expect_infeasible(an_outage(*jobs), "too few crews")
    expect_solved(an_outage(*jobs, crews=(crew("crew 1"), crew("crew 2"))))
