"""Problems that others printed with their answers, written as outages of one crew for each machine.

FT1963: six jobs on six machines, least length 55; data and answer as public collections print them. The machines are
skills, the hours are hours, the shift never ends. PINEDO: four jobs on one machine, least weighted tardiness 408, from
memory; that it is the least is counted here over all 24 orders.
"""

from itertools import permutations

import pytest

from groutjobs.scheduling.bounds import lateness_bound_min
from groutjobs.scheduling.in_minutes import OutageInMinutes
from groutjobs.scheduling.local_search import Effort
from groutjobs.scheduling.problem import Job
from groutjobs.scheduling.serial import greedy
from tests.scheduling.outage_for_tests import ALWAYS, a_step, an_outage, at, crew, expect_solved

FT06 = (
    ((3, 1), (1, 3), (2, 6), (4, 7), (6, 3), (5, 6)),
    ((2, 8), (3, 5), (5, 10), (6, 10), (1, 10), (4, 4)),
    ((3, 5), (4, 4), (6, 8), (1, 9), (2, 1), (5, 7)),
    ((2, 5), (1, 5), (3, 5), (4, 3), (5, 8), (6, 9)),
    ((3, 9), (2, 3), (5, 5), (6, 4), (1, 3), (4, 1)),
    ((2, 3), (4, 3), (6, 9), (1, 10), (5, 4), (3, 1)),
)
"""For each job the machines in their order and the hours on each."""
LEAST_LENGTH_H = 55
FOUR_JOBS = {"1": (10, 4, 14), "2": (10, 2, 12), "3": (13, 1, 1), "4": (4, 12, 12)}
"""Hours, due hour and weight."""
LEAST_TARDINESS_H = 408


def machine_job(number: int, row: tuple[tuple[int, int], ...]) -> Job:
    steps = [
        a_step(f"s{place}", time_h, *([f"s{place - 1}"] if place else []), skill=f"m{machine}")
        for place, (machine, time_h) in enumerate(row)
    ]
    return Job(tag=f"J{number}", steps=tuple(steps))


def test_six_jobs_on_six_machines_take_fifty_five_hours() -> None:
    machines = [crew(f"machine {number}", f"m{number}", calendar=ALWAYS) for number in range(1, 7)]
    outage = an_outage(*(machine_job(number, row) for number, row in enumerate(FT06)), crews=machines)
    simple = greedy(outage)
    assert simple is not None
    assert simple.score(outage).finish_at > at(0, LEAST_LENGTH_H)
    schedule = expect_solved(outage, Effort(steps=200, solver_units=20.0))
    assert schedule.score(outage).finish_at == at(0, LEAST_LENGTH_H)


def test_four_jobs_on_one_machine_are_408_weighted_hours_late() -> None:
    assert min(map(tardiness_h, permutations(FOUR_JOBS))) == LEAST_TARDINESS_H
    jobs = [
        Job(tag=name, steps=(a_step("work", time_h),), due_at=at(0, due_h), weight=weight)
        for name, (time_h, due_h, weight) in FOUR_JOBS.items()
    ]
    outage = an_outage(*jobs, crews=[crew(calendar=ALWAYS)])
    schedule = expect_solved(outage)
    assert schedule.score(outage).late_h == pytest.approx(LEAST_TARDINESS_H)
    order = sorted(FOUR_JOBS, key=lambda name: schedule.by_step[name, "work"].starts_at)
    assert order == ["1", "4", "2", "3"]
    assert 0 < lateness_bound_min(OutageInMinutes(outage)) / 60 <= LEAST_TARDINESS_H


def tardiness_h(order: tuple[str, ...]) -> int:
    clock_h = total_h = 0
    for name in order:
        time_h, due_h, weight = FOUR_JOBS[name]
        clock_h += time_h
        total_h += weight * max(0, clock_h - due_h)
    return total_h
