"""The search as a whole: as good as exhaustive search, never worse than greedy, repeatable, and it can be stopped."""

from bisect import bisect_left
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from groutjobs.benchmarks_outage import invented_outage
from groutjobs.scheduling.check import broken_rules
from groutjobs.scheduling.in_minutes import OutageInMinutes
from groutjobs.scheduling.local_search import Effort, Progress, search_orders
from groutjobs.scheduling.problem import Answer, Job, Kind, Outage, Placed
from groutjobs.scheduling.serial import greedy, shifted_left
from groutjobs.scheduling.solve import solve
from tests.scheduling.outage_for_tests import (
    MONDAY,
    NIGHT,
    SMALL,
    an_outage,
    at,
    crew,
    expect_solved,
    grouting,
    random_outage,
    with_step,
)

HOUR = timedelta(hours=1)
QUICK = Effort(steps=150, solver_units=0.5)


class EveryOrder:
    """Every order in which the steps can be given to every crew, hour by hour on a list; whole hours only.

    It knows the facts of the outage and nothing of builder, search or solver. Each step takes the first hours that it
    can have; with dates alone to judge by, some order of them is the best there is.
    """

    def __init__(self, outage: Outage) -> None:
        self.outage = outage
        self.n_hours = int((outage.ends_at - outage.starts_at) / HOUR)
        self.clock = [hour for hour in range(self.n_hours) if 7 <= hour % 24 < 17]
        self.best_h = float("inf")
        self._taken: dict[str, set[int]] = {name: set() for name in ("mixer", *(one.name for one in outage.crews))}
        self._ends: dict[tuple[str, str], int] = {}
        self._go_on(0.0)

    def _go_on(self, late_h: float) -> None:
        if late_h >= self.best_h:
            return
        open_jobs = [job for job in self.outage.jobs if (job.tag, job.steps[-1].code) not in self._ends]
        if not open_jobs:
            self.best_h = late_h
        for job in open_jobs:
            step = next(step for step in job.steps if (job.tag, step.code) not in self._ends)
            for one in self.outage.crews:
                if step.skill in one.skills and (hours := self._hours(job, step.code, one.name)):
                    self._try(job, step.code, one.name, hours, late_h)

    def _try(self, job: Job, code: str, name: str, hours: list[int], late_h: float) -> None:
        held = [name, *(tool for tool, _ in job.by_code[code].tools)]
        span = set(range(hours[0], hours[-1] + 1))
        added = {one: span - self._taken[one] for one in held}
        for one in held:
            self._taken[one] |= span
        self._ends[job.tag, code] = hours[-1] + 1
        assert job.due_at is not None
        due_h = (job.due_at - MONDAY) / HOUR
        is_last = code == job.steps[-1].code
        self._go_on(late_h + (job.weight * max(0.0, hours[-1] + 1 - due_h) if is_last else 0.0))
        del self._ends[job.tag, code]
        for one in held:
            self._taken[one] -= added[one]

    def _hours(self, job: Job, code: str, name: str) -> list[int]:
        """The first hours that the step can have, empty where there are none."""
        step = job.by_code[code]
        length = step.duration_min // 60
        from_h = max([0, *(self._ends[job.tag, earlier] for earlier in step.after)])
        if step.milestone:
            pour = self._ends[job.tag, "pour"] - job.by_code["pour"].duration_min // 60
            ready = next(one.ready_h[step.milestone] for one in job.pour_hours if one.starts_at == MONDAY + pour * HOUR)
            from_h = max(from_h, int(pour + ready))
        allowed = {int((hour.starts_at - MONDAY) / HOUR) for hour in job.pour_hours}
        taken = self._taken[name].union(*(self._taken[tool] for tool, _ in step.tools))
        for place in range(bisect_left(self.clock, from_h), len(self.clock) - length + 1):
            hours = self.clock[place : place + length]
            whole = code != "pour" or (hours[0] in allowed and hours[-1] - hours[0] == length - 1)
            if whole and taken.isdisjoint(range(hours[0], hours[-1] + 1)):
                return hours
        return []


@pytest.mark.parametrize(("seed", "n_jobs"), [(0, 3), (2, 3), (1, 2), (3, 2), (5, 2)])
def test_up_to_three_jobs_come_out_as_from_exhaustive_search(seed: int, n_jobs: int) -> None:
    outage = random_outage(seed, n_jobs)
    answer = solve(outage, SMALL)
    assert answer.score is not None
    best_h = EveryOrder(outage).best_h
    assert 0 < best_h < float("inf"), "nothing to decide"
    assert answer.score.late_h == pytest.approx(best_h)
    assert answer.late_bound_h == answer.score.late_h


@pytest.mark.parametrize("seed", range(8))
def test_every_answer_keeps_every_rule_and_is_no_later_than_greedy(seed: int) -> None:
    outage = random_outage(seed + 100, 6)
    simple, answer = greedy(outage), solve(outage, QUICK)
    assert simple is not None
    assert broken_rules(outage, simple) == ()
    _expect_good(outage, answer)
    assert answer.score is not None
    assert answer.score.order <= simple.score(outage).order


@pytest.mark.parametrize("seed", range(4))
def test_it_holds_with_crews_in_other_shifts(seed: int) -> None:
    outage = random_outage(seed + 200, 4)
    crews = (crew("crew 1", "chip", "grout"), crew("crew 2", "grout"), crew("nights", "chip", calendar=NIGHT))
    mixed = solve(replace(outage, crews=crews), QUICK)
    _expect_good(replace(outage, crews=crews), mixed)
    alone = solve(outage, QUICK)
    assert mixed.score is not None
    assert alone.score is not None
    assert mixed.score.late_h <= alone.score.late_h


def test_it_holds_for_a_job_with_every_step() -> None:
    outage = invented_outage(5, 4)
    answer = solve(outage, QUICK)
    _expect_good(outage, answer)
    assert answer.schedule is not None
    assert len(answer.schedule.steps) == 5 * 17


def _expect_good(outage: Outage, answer: Answer) -> None:
    assert answer.kind in (Kind.SOLVED, Kind.OUT_OF_TIME)
    assert answer.schedule is not None
    assert answer.score == answer.schedule.score(outage)
    assert broken_rules(outage, answer.schedule) == ()
    assert answer.gap_h is not None
    assert answer.gap_h >= -1e-9


def test_the_same_seed_gives_the_same_answer() -> None:
    outage = random_outage(7, 7)
    assert solve(outage, QUICK) == solve(outage, QUICK)


def test_the_search_of_orders_repeats_itself_and_other_seeds_differ() -> None:
    plan = OutageInMinutes(invented_outage(20, 1))
    found = [search_orders(plan, Effort(steps=40, solver_units=0.0, seed=seed))[0] for seed in (3, 3, 4)]
    assert found[0] == found[1]
    assert found[0].order != found[2].order


def test_it_stops_when_it_is_told_to_and_keeps_the_best() -> None:
    outage = invented_outage(20, 1)
    answer = solve(outage, Effort(seconds=600.0), should_stop=lambda: True)
    assert answer.kind is Kind.OUT_OF_TIME
    assert not answer.proven
    _expect_good(outage, answer)


def test_it_tells_where_it_stands_and_never_gets_worse() -> None:
    told: list[Progress] = []
    outage = random_outage(3, 6)
    answer = solve(outage, QUICK, tell=told.append)
    scores = [one.best.order for one in told if one.best is not None]
    assert len({one.doing for one in told}) >= 2
    assert scores == sorted(scores, reverse=True)
    assert answer.score is not None
    assert answer.score.order <= scores[-1]


def test_a_gap_that_is_asked_for_counts_as_solved() -> None:
    outage = random_outage(4, 8)
    effort = Effort(steps=1, solver_units=0.0)
    assert solve(outage, effort).kind is Kind.OUT_OF_TIME
    assert solve(outage, effort, gap_h=1e6).kind is Kind.SOLVED


def test_moving_to_the_left_makes_nothing_later() -> None:
    early = expect_solved(an_outage(grouting("P-1"), grouting("P-2")))
    loose = replace(early, steps=tuple(_a_day_later(one) for one in early.steps))
    pours = [at(day, hour) for day in range(1, 6) for hour in range(8, 15)]
    outage = an_outage(grouting("P-1", pours=pours), grouting("P-2", pours=pours))
    assert broken_rules(outage, loose) == ()
    moved = shifted_left(OutageInMinutes(outage), loose)
    assert broken_rules(outage, moved) == ()
    assert moved.by_step["P-1", "pour"] == loose.by_step["P-1", "pour"]
    assert min(one.starts_at for one in moved.steps) == datetime(2026, 4, 6, 7, tzinfo=MONDAY.tzinfo)


def _a_day_later(one: Placed) -> Placed:
    return replace(one, starts_at=one.starts_at + 24 * HOUR, ends_at=one.ends_at + 24 * HOUR)


def test_a_new_search_after_a_lock_keeps_the_lock_and_stays_good() -> None:
    outage = random_outage(1, 4)
    first = solve(outage, SMALL)
    assert first.schedule is not None
    at_hour = first.schedule.by_step["P-2", "pour"]
    job = with_step(outage.jobs[1], "pour", locked_at=at_hour.starts_at, locked_crews=at_hour.crews)
    again = solve(replace(outage, jobs=(outage.jobs[0], job, *outage.jobs[2:])), SMALL)
    assert again.score is not None
    assert first.score is not None
    assert again.score.late_h == pytest.approx(first.score.late_h)
