"""No more tools are in use than there are. Worked out by hand."""

from groutjobs.scheduling.problem import Job
from tests.scheduling.outage_for_tests import (
    NIGHT,
    a_step,
    an_outage,
    at,
    crew,
    expect_infeasible,
    expect_solved,
    grouting,
    span,
    with_step,
)

TWO_CREWS = (crew("crew 1"), crew("crew 2"))


def mixing(tag: str, hours: float = 4, count: int = 1) -> Job:
    return Job(tag=tag, steps=(a_step("mix", hours, tools=(("mixer", count),)),))


def test_two_jobs_share_one_mixer() -> None:
    schedule = expect_solved(an_outage(mixing("P-1"), mixing("P-2"), crews=TWO_CREWS, mixer=1))
    assert sorted(span(schedule, tag, "mix") for tag in ("P-1", "P-2")) == [
        (at(0, 7), at(0, 11)),
        (at(0, 11), at(0, 15)),
    ]


def test_two_mixers_serve_both_at_once() -> None:
    schedule = expect_solved(an_outage(mixing("P-1"), mixing("P-2"), crews=TWO_CREWS, mixer=2))
    assert span(schedule, "P-1", "mix") == span(schedule, "P-2", "mix") == (at(0, 7), at(0, 11))


def test_a_tool_left_at_a_step_over_night_is_not_there_for_the_night_shift() -> None:
    day = Job(tag="P-1", steps=(a_step("mix", 12, skill="day", tools=(("mixer", 1),)),))
    night = Job(tag="P-2", steps=(a_step("mix", 2, skill="night", tools=(("mixer", 1),)),), from_at=at(0, 8))
    crews = (crew("days", "day"), crew("nights", "night", calendar=NIGHT))
    schedule = expect_solved(an_outage(day, night, crews=crews, mixer=1))
    spans = sorted((span(schedule, "P-1", "mix"), span(schedule, "P-2", "mix")))
    assert spans[0][1] <= spans[1][0]
    assert spans[1][1] == at(1, 21)


def test_a_tool_that_the_outage_has_not_is_told() -> None:
    expect_infeasible(an_outage(mixing("P-1", count=2), mixer=1), "“mix” needs 2 × “mixer”; the outage has 1")


def test_too_few_tools_are_told() -> None:
    outage = an_outage(*(mixing(f"P-{number}", 9) for number in range(2)), crews=TWO_CREWS, days=1, mixer=1)
    expect_infeasible(outage, "There are too few tools for the time there is.", "With more tools alone")


def test_where_crews_and_tools_are_both_too_few_no_single_change_is_promised() -> None:
    jobs = [with_step(grouting(tag, pours=[at(1, 9)]), "pour", tools=(("mixer", 1),)) for tag in ("P-1", "P-2")]
    expect_infeasible(an_outage(*jobs, mixer=1), "No single change is enough")
    expect_solved(an_outage(*jobs, crews=TWO_CREWS, mixer=2))
