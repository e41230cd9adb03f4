"""Search among the orders of jobs: small changes, kept where the schedule that comes of them is good enough.

The bar for "good enough" sinks from the start of the search to its end, so that early steps may go back and late ones
may not. With the same seed and number of steps the answer is the same on every machine.
"""

import random
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from groutjobs.engineering.checks import require_between
from groutjobs.errors import Unusable
from groutjobs.scheduling.alone import JobAlone
from groutjobs.scheduling.in_minutes import PER_MILLE, OutageInMinutes
from groutjobs.scheduling.orders import PATIENCES, by_due_date, most_pressing_first
from groutjobs.scheduling.problem import Schedule, Score
from groutjobs.scheduling.serial import Builder, Cost, CostScale, Lines, build

NOTHING_YET = Cost(0, 0, 0, 0)
FIRST_BAR, LAST_BAR = 0.3, 0.003
"""How much worse a kept change may be at first and at last, as a share of what one job costs on average."""
FORGIVEN = 0.1
"""How much worse, as such a share, the part of a change may be whose gain lies in the rest."""
NEAR, FAR_SHARE = 8, 0.15
"""Most changes reach over so many positions; a share of them goes anywhere."""
LOOKS_EVERY = 64
IDLE_STEPS, IDLE_STEPS_PER_JOB = 400, 100
"""After so many steps in a row without a better schedule the search ends."""


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How long to search: by time, or by steps of the search and units of the solver; what ends first counts.

    Without a time the answer is the same on every machine. A unit is about a second of the solver on an idle machine.
    """

    seconds: float | None = None
    steps: int | None = None
    solver_units: float | None = None
    workers: int = 1
    seed: int = 1

    def __post_init__(self) -> None:
        require_between("workers", self.workers, 1, 64, source="GROUTJOBS")
        given = {"time": self.seconds, "steps": self.steps, "solver units": self.solver_units}
        for name, limit in given.items():
            if limit is not None:
                require_between(f"effort in {name}", limit, 0, 1e9, source="GROUTJOBS")
        if self.seconds is None and (self.steps is None or self.solver_units is None):
            raise Unusable("effort", "give a time, or both steps and solver units", source="GROUTJOBS")
        if self.seconds is None and self.workers > 1:
            raise Unusable("effort", "without a time it is repeatable, and takes one worker", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class Progress:
    """Where a search stands: what it is doing, how many schedules it has looked at, the best so far."""

    doing: str
    looked_at: int
    seconds: float
    best: Score | None
    late_bound_h: float = 0.0


Stop = Callable[[], bool]
Tell = Callable[[Progress], None]


def never() -> bool:
    return False


def nobody(progress: Progress) -> None:
    """Takes the news of a search and does nothing with it."""


@dataclass(frozen=True, kw_only=True)
class Found:
    """The best order that a search met, with its cost and the number of schedules that were looked at."""

    order: tuple[int, ...]
    delays: tuple[int, ...]
    cost: Cost
    looked_at: int


@dataclass(frozen=True, slots=True)
class _Mark:
    """What was taken before a job was placed, and the cost until then."""

    lines: tuple[Lines, Lines]
    cost: Cost


class OrderSearch:
    """One search on one outage. Only the jobs from the first that a change touches are placed again."""

    def __init__(self, plan: OutageInMinutes, seed: int) -> None:
        self.plan = plan
        self.scale = CostScale(plan)
        self._draw = random.Random(seed)  # noqa: S311 (a search, no secret)
        self._builder = Builder(plan)
        self.delays = [0] * len(plan.jobs)
        self.order: list[int] = []
        self._alone_min = [one.late_min(one.earliest_min({})) for one in (JobAlone(plan, job) for job in plan.jobs)]
        self._marks = [_Mark(self._builder.lines(), NOTHING_YET)]
        self.cost = self._first()
        self.looked_at = 1 + len(PATIENCES)
        self.best = self._as_found()

    def _first(self) -> Cost:
        """Begin with the best of the orders that are known beforehand."""
        known = [by_due_date(self.plan), *(most_pressing_first(self.plan, patience) for patience in PATIENCES)]
        numbers = [self.scale.number(build(self.plan, order, self.delays)[1]) for order in known]
        self.order = known[numbers.index(min(numbers))]
        return self._place_from(0, len(self.order) - 1, None) or NOTHING_YET

    def _as_found(self) -> Found:
        return Found(order=tuple(self.order), delays=tuple(self.delays), cost=self.cost, looked_at=self.looked_at)

    def _place_from(self, first: int, last: int, bar: int | None) -> Cost | None:
        """Place the jobs from a position on; None as soon as the cost is over the bar.

        Behind `last` the order is as it was: where the cost until there is already worse by more than the bar allows,
        the rest is not placed.
        """
        before = self._marks[last + 1].cost if bar is not None else NOTHING_YET
        del self._marks[first + 1 :]
        builder, jobs = self._builder, self.plan.jobs
        builder.restore(self._marks[first].lines)
        cost = self._marks[first].cost
        rest_min = sum(self._alone_min[number] for number in self.order[first:])
        for place in range(first, len(self.order)):
            number = self.order[place]
            cost = builder.place(jobs[number], self.delays[number], cost)
            rest_min -= self._alone_min[number]
            if bar is not None and self._is_hopeless(cost, rest_min, bar, before if place == last else None):
                return None
            self._marks.append(_Mark(builder.lines(), cost))
        return cost

    def _is_hopeless(self, cost: Cost, rest_min: int, bar: int, before: Cost | None) -> bool:
        number = self.scale.number
        if before is not None:
            allowed = bar - number(self.cost) + int(number(self.cost) * FORGIVEN / len(self.order))
            if number(cost) - number(before) > allowed:
                return True
        return number(replace(cost, late_min=cost.late_min + rest_min)) > bar

    def step(self, bar: int) -> bool:
        """Try one change; whether it was kept."""
        order, delays, marks = self.order[:], self.delays[:], self._marks[:]
        first, last = self._change()
        cost = self._place_from(first, last, bar)
        self.looked_at += 1
        if cost is None:
            self.order, self.delays, self._marks = order, delays, marks
            return False
        self.cost = cost
        if self.scale.number(cost) < self.scale.number(self.best.cost):
            self.best = self._as_found()
        return True

    def _change(self) -> tuple[int, int]:
        """Change order or delays; the first and the last position that are touched."""
        count, kind = len(self.order), self._draw.random()
        first = self._draw.randrange(count)
        reach = count if self._draw.random() < FAR_SHARE else NEAR
        second = self._draw.randrange(max(0, first - reach), min(count, first + reach + 1))
        low, high = min(first, second), max(first, second)
        if kind < 0.15 or count == 1:
            self._delay(self.order[first])
            return first, first
        if kind < 0.55:
            self.order.insert(second, self.order.pop(first))
        elif kind < 0.9:
            self.order[first], self.order[second] = self.order[second], self.order[first]
        else:
            high = min(high, low + 5)
            self.order[low : high + 1] = self.order[low : high + 1][::-1]
        return low, high

    def _delay(self, number: int) -> None:
        longer = self.delays[number] == 0 or self._draw.random() < 0.4
        most = max(0, len(self.plan.jobs[number].options) - 1)
        self.delays[number] = min(most, self.delays[number] + self._draw.choice((1, 2, 8))) if longer else 0


def search_orders(
    plan: OutageInMinutes, effort: Effort, *, should_stop: Stop = never, tell: Tell = nobody
) -> tuple[Found, Schedule | None]:
    """Return the best order of jobs that is met, and its schedule.

    Parameters
    ----------
    plan : The outage in whole minutes.
    effort : How long to search, and the seed.
    should_stop : Asked now and then; the search ends when it says so.
    tell : Told now and then, and at each end, where the search stands.

    Returns
    -------
    The best order with its cost, and the schedule; None in its place where some job found none.

    Source
    ------
    [GROUTJOBS] threshold accepting: a change is kept where it costs no more than the present schedule and a share of
    one job's part in it, which falls geometrically from 30 % to 0.3 %.
    """
    search, begun = OrderSearch(plan, effort.seed), time.perf_counter()
    done, step, best_at = 0.0, 0, 0
    while done < 1.0 and step - best_at < IDLE_STEPS + IDLE_STEPS_PER_JOB * len(plan.jobs):
        present = search.scale.number(search.cost)
        bar = present + int(present * FIRST_BAR / len(plan.jobs) * (LAST_BAR / FIRST_BAR) ** done)
        before = search.best
        search.step(bar)
        step += 1
        best_at = best_at if search.best is before else step
        if step % LOOKS_EVERY == 0 or effort.steps is not None:
            done = _share_done(effort, step, begun)
        if step % LOOKS_EVERY == 0:
            if should_stop():
                break
            if step % (LOOKS_EVERY * 16) == 0:
                tell(_progress(search, begun))
    tell(_progress(search, begun))
    best = replace(search.best, looked_at=search.looked_at)
    return best, _schedule_of(plan, best)


def _share_done(effort: Effort, step: int, begun: float) -> float:
    of_steps = 0.0 if effort.steps is None else step / max(1, effort.steps)
    of_time = 0.0 if effort.seconds is None else (time.perf_counter() - begun) / max(1e-9, effort.seconds)
    return max(of_steps, of_time)


def _progress(search: OrderSearch, begun: float) -> Progress:
    cost = search.best.cost
    return Progress(
        doing="searching among the orders of the jobs",
        looked_at=search.looked_at,
        seconds=time.perf_counter() - begun,
        best=None if cost.unplaced else _score_of(search.plan, cost),
    )


def _score_of(plan: OutageInMinutes, cost: Cost) -> Score:
    """The cost in hours, pours and a date."""
    return Score(late_h=cost.late_min / 60, risk=cost.risk / PER_MILLE, finish_at=plan.at(cost.finish_min))


def _schedule_of(plan: OutageInMinutes, found: Found) -> Schedule | None:
    """The schedule of an order, None where some job finds no place in it."""
    builder, cost = build(plan, found.order, found.delays)
    return None if cost.unplaced or builder.conflict else builder.schedule()
