"""How little lateness any schedule must have, from simpler problems that can be solved to the end.

One asks each job alone. The others look at one trade or one kind of tool at a time: all else is free, and work may be
cut up and shared out at will. What remains is to carry pieces of work to stretches of crew time at the least cost, where
a piece costs its share of the lateness that its job cannot escape once the piece is done so late.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from ortools.graph.python import min_cost_flow

from groutjobs.scheduling.alone import JobAlone
from groutjobs.scheduling.calendar import WorkAxis
from groutjobs.scheduling.in_minutes import MinuteJob, MinuteStep, OutageInMinutes
from groutjobs.scheduling.problem import CREWED

Ints = npt.NDArray[np.int64]
SLOT_MIN = 120
SCALE = 1000
"""Costs are whole thousandths of a weighted minute, rounded down."""


def lateness_bound_min(plan: OutageInMinutes) -> int:
    """Return weighted minutes of lateness that no schedule can go below.

    Parameters
    ----------
    plan : The outage in whole minutes.

    Returns
    -------
    The bound. [min]

    Source
    ------
    [GROUTJOBS] relaxations; each leaves rules out, so that what it finds is never too much.
    """
    alone = [JobAlone(plan, job) for job in plan.jobs]
    bounds = [sum(one.late_min(one.earliest_min({})) for one in alone)]
    forward = [_Forward(one) for one in alone]
    bounds += [_shared_bound_min(plan, forward, pool) for pool in _pools(plan)]
    return max(bounds)


@dataclass(frozen=True, kw_only=True)
class Pool:
    """Crews or tools that share work: how many minutes they have in each slot, and steps that nobody else can do."""

    capacity_min: Ints
    steps: tuple[tuple[MinuteStep, int], ...]


def _pools(plan: OutageInMinutes) -> Iterator[Pool]:
    able = {one.index: frozenset(_units(one)) for one in plan.steps if one.step.kind in CREWED}
    for units in dict.fromkeys(able.values()):
        steps = tuple((plan.steps[index], plan.steps[index].step.crews) for index, own in able.items() if own <= units)
        capacity_min = sum((_slots(plan, plan.axes[plan.axis_of_crew[unit]]) for unit in units), start=np.int64(0))
        yield Pool(capacity_min=np.asarray(capacity_min), steps=steps)
    for name, tools in plan.tool_units.items():
        using = [(one, dict(one.step.tools).get(name, 0)) for one in plan.steps]
        if any(count for _, count in using):
            capacity = _slots(plan, plan.common) * len(tools)
            yield Pool(capacity_min=capacity, steps=tuple((one, count) for one, count in using if count))


def _units(one: MinuteStep) -> list[int]:
    return [unit for group in one.groups for unit in group.units]


def _slots(plan: OutageInMinutes, axis: WorkAxis) -> Ints:
    """Minutes that somebody on this axis works in each slot of the common axis."""
    edges = [*range(0, plan.common.total_min, SLOT_MIN), plan.common.total_min]
    clock = [plan.common.begins[edge] for edge in edges[:-1]] + [plan.horizon_min]
    return np.diff(np.array([axis.done_by[minute] for minute in clock], dtype=np.int64))


class _Forward:
    """When a job is done at the earliest, for a whole row of ends that one of its steps cannot come before."""

    def __init__(self, alone: JobAlone) -> None:
        self.alone, self.job, self.plan = alone, alone.job, alone.plan
        self.never_min = alone.never_min
        first = alone.options_from(alone.pour_from_min(alone.before))
        options = self.job.options[first.start :]
        self._options_min = np.array([option.at_min for option in options], dtype=np.int64)
        done = [alone.done_min(option, alone.before, {}) for option in options]
        self._done_min = np.minimum.accumulate(np.array([*done, self.never_min], dtype=np.int64)[::-1])[::-1]
        self._ready_min = {code: min(option.ready_min[code] for option in options) for code in self._milestones(options)}
        self._cured_min = min((option.cured_min for option in options), default=self.never_min)

    def _milestones(self, options: object) -> frozenset[str]:
        return self.job.job.milestones if options else frozenset()

    def done_after_min(self, held: int, row_min: Ints) -> Ints:
        """Earliest end of the job for each minute before which the step `held` cannot end."""
        job, ends = self.job, {index: np.full_like(row_min, end) for index, end in self.alone.before.items()}
        for stretch in job.before:
            for index in stretch.indices:
                ends[index] = self._end(index, ends, np.full_like(row_min, job.from_min), held, row_min)
        if job.pour is not None and (held in ends or held == job.pour):
            return self._done_by_hour(ends, held, row_min)
        for index in (*job.cures, *(() if job.pour is None else (job.pour,))):
            ends[index] = np.full_like(row_min, self._cured_min if index in job.cures else 0)
        for stretch in job.later:
            for index in stretch.indices:
                ready_min = self._ready_min.get(self.plan.steps[index].step.milestone, 0)
                from_min = np.full_like(row_min, max(job.from_min, ready_min))
                ends[index] = self._end(index, ends, from_min, held, row_min)
        return np.max(np.stack([ends[index] for index in job.last]), axis=0)

    def _done_by_hour(self, ends: dict[int, Ints], held: int, row_min: Ints) -> Ints:
        """The best pour hour that is left after the work before it."""
        job, steps = self.job, self.plan.steps
        if job.pour is None:
            raise ValueError("a job without a pour has no pour hour")
        from_min = np.full_like(row_min, self.alone.pour_from_min(self.alone.before))
        for earlier in steps[job.pour].after:
            from_min = np.maximum(from_min, ends.get(earlier, from_min))
        for index in job.conditions:
            for earlier in steps[index].after:
                from_min = np.maximum(from_min, ends[earlier] + steps[index].step.duration_min)
        if held == job.pour:
            from_min = np.maximum(from_min, row_min - steps[job.pour].step.duration_min)
        return self._done_min[np.searchsorted(self._options_min, from_min)]

    def _end(self, index: int, ends: dict[int, Ints], from_min: Ints, held: int, row_min: Ints) -> Ints:
        one = self.plan.steps[index]
        for earlier in one.after:
            from_min = np.maximum(from_min, ends[earlier])
        best = np.full_like(from_min, self.never_min)
        inside = np.minimum(from_min, self.plan.horizon_min)
        for group in one.groups:
            done_by, axis_ends = _tables(self.plan.axes[group.axis], self.never_min)
            work = np.minimum(done_by[inside] + one.step.duration_min, len(axis_ends) - 1)
            best = np.minimum(best, np.where(from_min > self.plan.horizon_min, self.never_min, axis_ends[work]))
        return np.maximum(best, row_min) if index == held else best


def _tables(axis: WorkAxis, never_min: int) -> tuple[Ints, Ints]:
    """The axis as arrays; work that is too much for it ends never."""
    return np.array(axis.done_by, dtype=np.int64), np.array([*axis.ends, never_min], dtype=np.int64)


def _shared_bound_min(plan: OutageInMinutes, forward: list[_Forward], pool: Pool) -> int:
    """Least cost of carrying the pieces of the steps to the slots; 0 where nothing is told."""
    flow = min_cost_flow.SimpleMinCostFlow()
    n_slots = len(pool.capacity_min)
    slots = np.arange(n_slots, dtype=np.int64)
    row_min = np.array(plan.common.begins[::SLOT_MIN], dtype=np.int64)
    total_min = [0] * len(plan.jobs)
    for one, count in pool.steps:
        total_min[one.job] += one.step.duration_min * count
    node, demand_min = n_slots, 0
    for one, count in pool.steps:
        job = plan.jobs[one.job]
        late_min = _late(job, forward[one.job].done_after_min(one.index, row_min))
        cost = late_min * SCALE // total_min[one.job]
        for piece_min, rest in _pieces(one.step.duration_min):
            shifted = cost[np.minimum(slots + rest, n_slots - 1)]
            tails = np.full(n_slots, node, dtype=np.int64)
            flow.add_arcs_with_capacity_and_unit_cost(tails, slots, np.full(n_slots, piece_min * count), shifted)
            flow.set_node_supply(node, piece_min * count)
            node, demand_min = node + 1, demand_min + piece_min * count
    sinks = np.full(n_slots, node, dtype=np.int64)
    flow.add_arcs_with_capacity_and_unit_cost(slots, sinks, pool.capacity_min, np.zeros(n_slots, dtype=np.int64))
    flow.set_node_supply(node, -demand_min)
    return flow.optimal_cost() // SCALE if flow.solve() == flow.OPTIMAL else 0


def _pieces(duration_min: int) -> list[tuple[int, int]]:
    """Pieces of a step of at most a slot each, and how many whole slots of it follow each."""
    starts = range(0, duration_min, SLOT_MIN)
    return [(min(SLOT_MIN, duration_min - at), max(0, duration_min - at - SLOT_MIN) // SLOT_MIN) for at in starts]


def _late(job: MinuteJob, done_min: Ints) -> Ints:
    if job.due_min is None:
        return np.zeros_like(done_min)
    return np.maximum(0, done_min - job.due_min) * job.job.weight
