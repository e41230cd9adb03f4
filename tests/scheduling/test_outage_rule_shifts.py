"""Work stops at the end of the shift and goes on in the next; other shifts jump over it. Worked out by hand."""

from datetime import date, time

from groutjobs.scheduling.calendar import CrewCalendar
from groutjobs.scheduling.problem import Job
from tests.scheduling.outage_for_tests import NIGHT, a_step, an_outage, at, crew, expect_infeasible, expect_solved, span

DAY_THEN_NIGHT = (
    a_step("chip", 12, skill="day"),
    a_step("clean", 3, "chip", skill="night"),
    a_step("form", 2, "clean", skill="day"),
)
BOTH = (crew("days", "day"), crew("nights", "night", calendar=NIGHT))


def test_a_long_step_goes_on_the_next_morning() -> None:
    schedule = expect_solved(an_outage(Job(tag="P-1", steps=(a_step("chip", 23),))))
    assert span(schedule, "P-1", "chip") == (at(0, 7), at(2, 10))


def test_day_and_night_take_turns() -> None:
    schedule = expect_solved(an_outage(Job(tag="P-1", steps=DAY_THEN_NIGHT), crews=BOTH))
    assert span(schedule, "P-1", "chip") == (at(0, 7), at(1, 9))
    assert span(schedule, "P-1", "clean") == (at(1, 19), at(1, 22))
    assert span(schedule, "P-1", "form") == (at(2, 7), at(2, 9))


def test_the_crew_whose_shift_ends_the_step_first_takes_it() -> None:
    crews = (crew("days", "any"), crew("nights", "any", calendar=NIGHT))
    steps = (a_step("chip", 9, skill="any"), a_step("clean", 8, "chip", skill="any"))
    schedule = expect_solved(an_outage(Job(tag="P-1", steps=steps), crews=crews))
    assert span(schedule, "P-1", "clean")[1] == at(1, 3)
    assert schedule.by_step["P-1", "clean"].crews == ("nights",)


def test_days_off_are_no_working_time() -> None:
    calendar = CrewCalendar(
        timezone="UTC",
        shifts=((time(7), time(17)),),
        weekdays=frozenset({0, 2}),
        holidays=frozenset({date(2026, 4, 8)}),
    )
    schedule = expect_solved(an_outage(Job(tag="P-1", steps=(a_step("chip", 12),)), crews=[crew(calendar=calendar)]))
    assert span(schedule, "P-1", "chip") == (at(0, 7), at(7, 9))


def test_work_that_the_shifts_do_not_hold_is_refused() -> None:
    job = Job(tag="P-1", steps=(a_step("chip", 23),))
    expect_infeasible(an_outage(job, days=2), "“chip” does not end within the outage")
