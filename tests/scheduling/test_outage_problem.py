"""What is no outage is refused, with the name of what is wrong."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from groutjobs.errors import GroutJobsError, OutOfRange, Unusable
from groutjobs.scheduling.in_minutes import OutageInMinutes
from groutjobs.scheduling.local_search import Effort
from groutjobs.scheduling.problem import Job, Placed, PourHour, Schedule, Step, StepKind
from groutjobs.scheduling.usual_steps import usual_steps
from tests.scheduling.outage_for_tests import (
    CURE,
    MONDAY,
    a_pour,
    a_step,
    an_outage,
    at,
    conditioning,
    crew,
    grouting,
    hours,
    with_step,
)

HALF_A_MINUTE: dict[str, Any] = {"duration_min": 1.5}
WRONG: dict[str, tuple[Callable[[], object], str]] = {
    "a step without time": (lambda: a_step("chip", 0), "duration of “chip”"),
    "an endless step": (lambda: a_step("chip", 24 * 31), "duration of “chip”"),
    "half a minute": (lambda: replace(a_step("chip", 1), **HALF_A_MINUTE), "duration of “chip”"),
    "a step without a skill": (lambda: a_step("chip", 1, skill=""), "“chip”"),
    "no crew": (lambda: a_step("chip", 1, crews=0), "crews for “chip”"),
    "no tool": (lambda: a_step("chip", 1, tools=(("mixer", 0),)), "number of “mixer” for “chip”"),
    "crews locked without a time": (lambda: a_step("chip", 1, locked_crews=("crew 1",)), "“chip”"),
    "one of two crews locked": (
        lambda: a_step("chip", 1, crews=2, locked_at=at(0, 9), locked_crews=("crew 1",)),
        "“chip”",
    ),
    "a cure with a crew": (lambda: replace(CURE, skill="grout"), "“cure”"),
    "a cure with a duration": (lambda: replace(CURE, duration_min=60), "duration of “cure”"),
    "odds over one": (lambda: hours(at(0, 8), odds=1.1), "odds of a pour hour"),
    "a cure that runs backwards": (lambda: hours(at(0, 8), strip=-1.0), "hours to the milestone “strip”"),
    "an hour without a zone": (
        lambda: PourHour(starts_at=MONDAY.replace(tzinfo=None), odds=1.0, ready_h={}),
        "pour hour",
    ),
    "no step": (lambda: Job(tag="P-1", steps=()), "number of steps of P-1"),
    "no weight": (lambda: replace(grouting(), weight=0), "weight of P-1"),
    "a step twice": (lambda: Job(tag="P-1", steps=(a_step("chip", 1), a_step("chip", 1))), "P-1"),
    "a step after one that comes later": (lambda: Job(tag="P-1", steps=(a_step("chip", 1, "clean"),)), "P-1"),
    "two pours": (lambda: Job(tag="P-1", steps=(a_pour(1), replace(a_pour(1), code="again"))), "P-1"),
    "a cure without a pour": (lambda: Job(tag="P-1", steps=(replace(CURE, after=()),)), "P-1"),
    "a milestone that no hour tells": (
        lambda: replace(grouting(), pour_hours=hours(at(0, 8), align=1.0)),
        "pour hours of P-1",
    ),
    "hours that do not rise": (
        lambda: replace(grouting(), pour_hours=hours(at(1, 8), at(0, 8), strip=1.0)),
        "pour hours of P-1",
    ),
    "an outage that ends before it starts": (lambda: an_outage(grouting(), days=-1), "length of the outage"),
    "an outage without jobs": (an_outage, "number of jobs"),
    "two jobs of one name": (lambda: an_outage(grouting(), grouting()), "jobs"),
    "two crews of one name": (lambda: an_outage(grouting(), crews=(crew("a"), crew("a"))), "crews"),
    "fewer tools than none": (lambda: an_outage(grouting(), mixer=-1), "number of “mixer”"),
    "a lock to a stranger": (
        lambda: an_outage(with_step(grouting(), "chip", locked_at=at(0, 9), locked_crews=("nobody",))),
        "P-1",
    ),
    "conditioning after the pour": (
        lambda: OutageInMinutes(an_outage(Job(tag="P-1", steps=(a_pour(1), conditioning(1, "pour"))))),
        "P-1",
    ),
    "work after the conditioning": (
        lambda: OutageInMinutes(
            an_outage(Job(tag="P-1", steps=(conditioning(1), a_step("a", 1, "condition"), a_pour(1))))
        ),
        "P-1",
    ),
    "a cure after the preparation": (
        lambda: OutageInMinutes(
            an_outage(Job(tag="P-1", steps=(a_step("chip", 1), a_pour(1), replace(CURE, after=("chip",)))))
        ),
        "P-1",
    ),
    "a search without end": (lambda: Effort(steps=10), "effort"),
    "a search of many that must repeat itself": (lambda: Effort(steps=10, solver_units=1.0, workers=2), "effort"),
    "less than no time": (lambda: Effort(seconds=-1.0), "effort in time"),
    "a step of no job": (lambda: usual_steps({"dance": 60}), "durations"),
}


@pytest.mark.parametrize("case", WRONG)
def test_it_is_refused_by_name(case: str) -> None:
    make, quantity = WRONG[case]
    with pytest.raises(GroutJobsError) as refusal:
        make()
    assert isinstance(refusal.value, OutOfRange | Unusable)
    assert refusal.value.quantity == quantity


def test_an_outage_without_crews_is_refused() -> None:
    with pytest.raises(Unusable) as refusal:
        replace(an_outage(grouting()), crews=())
    assert refusal.value.quantity == "crews"


def test_the_usual_job_has_the_steps_of_the_trade_in_their_order() -> None:
    # order: our list of the work, as the trade does it
    assert [step.code for step in usual_steps()] == [
        "isolate",
        "chip",
        "clean",
        "pads",
        "set",
        "snug",
        "formwork",
        "condition",
        "pour",
        "cure",
        "strip",
        "jackscrews",
        "sounding",
        "repair",
        "tension",
        "recheck",
        "hand_over",
    ]
    job = Job(tag="P-1", steps=usual_steps({"chip": 120}), pour_hours=())
    assert job.milestones == {"strip", "jackscrews", "tension", "align"}
    assert [step.code for step in job.last_steps()] == ["cure", "hand_over"]
    assert job.by_code["chip"].duration_min == 120


def test_a_score_adds_weighted_hours_and_risk() -> None:
    job = replace(grouting(pours=[at(0, 13)], due_at=at(1, 11)), weight=3)
    outage = an_outage(job)
    steps = [("chip", 7, 13), ("pour", 13, 15), ("cure", 15, 37), ("strip", 37, 39)]
    schedule = Schedule(steps=tuple(_placed(code, begins, ends) for code, begins, ends in steps))
    score = schedule.score(outage)
    assert (score.late_h, round(score.risk, 9), score.finish_at) == (12.0, 0.1, at(1, 15))


def _placed(code: str, begins: float, ends: float) -> Placed:
    return Placed(job="P-1", step=code, starts_at=at(0, begins), ends_at=at(0, ends))


def test_conditioning_alone_ends_no_job() -> None:
    steps: tuple[Step, ...] = (conditioning(2), a_pour(1))
    assert [step.kind for step in Job(tag="P-1", steps=steps).last_steps()] == [StepKind.POUR]
