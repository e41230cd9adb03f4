"""Bounds lie under the best schedule, say something where one trade has too much to do, and are exact for one job."""

from dataclasses import replace

import pytest

from groutjobs.scheduling.alone import JobAlone
from groutjobs.scheduling.bounds import lateness_bound_min
from groutjobs.scheduling.in_minutes import OutageInMinutes
from groutjobs.scheduling.problem import Job
from tests.scheduling.outage_for_tests import (
    NIGHT,
    a_step,
    an_outage,
    at,
    crew,
    expect_solved,
    grouting,
    random_outage,
)


@pytest.mark.parametrize("seed", range(10))
def test_no_bound_is_above_the_best_schedule(seed: int) -> None:
    outage = random_outage(seed, 2 + seed % 2)
    if seed % 3 == 0:
        outage = replace(outage, crews=(*outage.crews, crew("nights", "grout", calendar=NIGHT)))
    best_min = expect_solved(outage).score(outage).late_h * 60
    assert lateness_bound_min(OutageInMinutes(outage)) <= best_min + 1e-6


@pytest.mark.parametrize("seed", range(8))
def test_a_job_alone_is_as_late_as_its_best_schedule(seed: int) -> None:
    outage = random_outage(seed + 50, 1)
    plan = OutageInMinutes(outage)
    alone = JobAlone(plan, plan.jobs[0])
    done_at = expect_solved(outage).done_at(outage.jobs[0])
    assert plan.at(alone.earliest_min({})) == done_at


def test_work_for_one_crew_cannot_all_be_done_in_time() -> None:
    """Ten jobs of ten hours, a day each, all due on the first evening; by hand: 0 + 24 + 48 … + 216 hours late.

    The bound shares the lateness of a job out over its work, so that it stays under that sum; it must come near.
    """
    jobs = [Job(tag=f"P-{n}", steps=(a_step("chip", 10),), due_at=at(0, 17)) for n in range(10)]
    bound_h = lateness_bound_min(OutageInMinutes(an_outage(*jobs, days=12))) / 60
    exact_h = sum(24 * day for day in range(10))
    assert 0.7 * exact_h < bound_h <= exact_h


def test_a_second_crew_lowers_the_bound() -> None:
    jobs = [Job(tag=f"P-{n}", steps=(a_step("chip", 10),), due_at=at(0, 17)) for n in range(10)]
    bounds = [
        lateness_bound_min(OutageInMinutes(an_outage(*jobs, days=12, crews=[crew(f"c{i}") for i in range(count)])))
        for count in (1, 2, 10)
    ]
    assert bounds[0] > bounds[1] > bounds[2] == 0


def test_a_bound_is_zero_where_nothing_is_due() -> None:
    assert lateness_bound_min(OutageInMinutes(an_outage(grouting("P-1"), grouting("P-2")))) == 0
