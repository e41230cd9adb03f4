"""Each wait is named: the step before, the cure, the pour hour, the conditioning, a crew, a tool, a lock."""

from dataclasses import replace

import pytest

from groutjobs.benchmarks_outage import invented_outage
from groutjobs.errors import Unusable
from groutjobs.scheduling.explain import WAITS, Link, why_late
from groutjobs.scheduling.local_search import Effort
from groutjobs.scheduling.problem import Job, Outage
from groutjobs.scheduling.serial import greedy
from groutjobs.scheduling.solve import solve
from tests.scheduling.outage_for_tests import (
    a_pour,
    a_step,
    an_outage,
    at,
    conditioning,
    crew,
    expect_solved,
    grouting,
    hours,
    with_step,
)


def chain(outage: Outage, tag: str = "P-1") -> tuple[Link, ...]:
    return why_late(outage, expect_solved(outage), tag)


def told(links: tuple[Link, ...], code: str) -> str:
    return " ".join(link.message for link in links if link.code == code)


def test_a_job_without_others_waits_for_itself_alone() -> None:
    links = chain(an_outage(grouting(pours=[at(1, 9)])))
    assert [(link.step, link.code) for link in links] == [
        ("chip", "start"),
        ("pour", "pour_hour"),
        ("strip", "cure"),
    ]
    assert "no acceptable pour hour before Tue 07 Apr 09:00" in told(links, "pour_hour")
    assert "24.0 h after the pour began, Wed 08 Apr 09:00" in told(links, "cure")


def test_a_step_that_follows_at_once_names_the_one_before() -> None:
    steps = (a_step("chip", 4), a_step("clean", 8, "chip"))
    links = chain(an_outage(Job(tag="P-1", steps=steps)))
    assert told(links, "order") == "P-1, clean: follows “chip”, which ends Mon 06 Apr 11:00."


def test_conditioning_that_decides_is_named() -> None:
    steps = (a_step("chip", 2), conditioning(34), a_pour(2, "chip", "condition"))
    job = Job(tag="P-1", steps=steps, pour_hours=hours(at(0, 9), at(1, 10)))
    assert "“condition” takes 34 h, until Tue 07 Apr 10:00" in told(chain(an_outage(job)), "conditioning")


def test_a_crew_at_another_job_is_named_and_the_chain_goes_on_there() -> None:
    jobs = [Job(tag=tag, steps=(a_step("chip", 6),), due_at=at(0, due)) for tag, due in (("P-1", 13), ("P-2", 14))]
    links = chain(an_outage(*jobs), "P-2")
    assert [(link.job, link.code) for link in links] == [("P-1", "start"), ("P-2", "crew")]
    assert "the crews for “grout” are at “chip” of P-1 until Mon 06 Apr 13:00" in links[1].message


def test_a_tool_at_another_job_is_named() -> None:
    steps = (a_step("mix", 6, tools=(("mixer", 1),)),)
    jobs = [Job(tag=tag, steps=steps, due_at=at(0, due)) for tag, due in (("P-1", 13), ("P-2", 14))]
    links = chain(an_outage(*jobs, crews=(crew("crew 1"), crew("crew 2")), mixer=1), "P-2")
    assert "the tools it needs are at “mix” of P-1 until Mon 06 Apr 13:00" in told(links, "tool")


def test_a_pour_hour_taken_by_another_pour_is_named() -> None:
    jobs = [grouting("P-1", pours=[at(1, 9)], due_at=at(2, 11)), grouting("P-2", pours=[at(1, 9), at(1, 14)])]
    links = chain(an_outage(*jobs), "P-2")
    assert "P-2, pour: the crews for “grout” are at “pour” of P-1 until Tue 07 Apr 11:00" in told(links, "crew")


def test_a_later_hour_taken_for_its_odds_is_told_as_a_choice() -> None:
    job = replace(grouting(), pour_hours=hours(at(0, 14), odds=0.6, strip=24) + hours(at(1, 9), odds=0.95, strip=24))
    assert "would have done too" in told(chain(an_outage(job)), "choice")


def test_a_lock_ends_the_chain() -> None:
    links = chain(an_outage(with_step(grouting(), "pour", locked_at=at(3, 9))))
    assert (links[0].step, links[0].code) == ("pour", "lock")


def test_an_unknown_job_is_refused() -> None:
    outage = an_outage(grouting())
    with pytest.raises(Unusable) as refusal:
        why_late(outage, expect_solved(outage), "P-9")
    assert refusal.value.quantity == "job"


def test_every_chain_of_a_large_schedule_reaches_a_beginning() -> None:
    outage = invented_outage(20, 1)
    schedules = (greedy(outage), solve(outage, Effort(steps=50, solver_units=0.2)).schedule)
    for schedule in schedules:
        assert schedule is not None
        chains = [why_late(outage, schedule, job.tag) for job in outage.jobs]
        assert {link.code for links in chains for link in links} <= set(WAITS)
        assert {links[0].code for links in chains} == {"start"}
        assert all(links[-1].job == job.tag for links, job in zip(chains, outage.jobs, strict=True))
