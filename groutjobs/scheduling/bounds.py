"""How little lateness any schedule must have, from simpler problems that can be solved to the end.

One asks each job alone. The others look at one trade or one kind of tool at a time: all else is free, and work may be
cut up and shared out at will. What remains is to carry pieces of work to stretches of crew time at the least cost,
where a piece costs its share of the lateness that its job cannot escape once the piece is done so late.
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
        slots = [_slots(plan, plan.axes[plan.axis_of_crew[unit]]) for unit in sorted(units)]
        yield Pool(capacity_min=np.asarray(np.sum(slots, axis=0)), steps=steps)
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
    worked = np.array([axis.done_by[minute] for minute in clock], dtype=np.int64)
    return np.asarray(worked[1:] - worked[:-1])


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
        codes = self.job.job.milestones
        self._ready_min = {code: min([self.never_min, *(one.ready_min[code] for one in options)]) for code in codes}
        self._cured_min = min([self.never_min, *(option.cured_min for option in options)])
        self.starts_min: dict[int, int] = {}
        """Minutes before which no step can begin."""
        self._ends(-1, np.zeros(1, dtype=np.int64))

    def done_after_min(self, held: int, row_min: Ints) -> Ints:
        """Earliest end of the job for each minute before which the step `held` cannot end."""
        job, ends = self.job, self._ends(held, row_min)
        before = {index for stretch in job.before for index in stretch.indices}
        if job.pour is not None and (held in before or held == job.pour):
            return self._done_by_hour(ends, held, row_min)
        return np.asarray(np.max(np.stack([ends[index] for index in job.last]), axis=0))

    def _ends(self, held: int, row_min: Ints) -> dict[int, Ints]:
        """Earliest ends of the steps; steps after the pour take the earliest of each milestone over all pour hours."""
        job = self.job
        ends: dict[int, Ints] = {}
        for stretch in job.before:
            for index in stretch.indices:
                ends[index] = self._end(index, ends, np.full_like(row_min, job.from_min), held, row_min)
        for index in job.cures:
            ends[index] = np.full_like(row_min, self._cured_min)
        if job.pour is not None:
            pour_min = int(self._options_min[0]) if len(self._options_min) else self.never_min
            self.starts_min[job.pour] = pour_min
            ends[job.pour] = np.full_like(row_min, pour_min + self.plan.steps[job.pour].step.duration_min)
        for stretch in job.later:
            for index in stretch.indices:
                ready_min = self._ready_min.get(self.plan.steps[index].step.milestone, 0)
                ends[index] = self._end(index, ends, np.full_like(row_min, max(job.from_min, ready_min)), held, row_min)
        return ends

    def _done_by_hour(self, ends: dict[int, Ints], held: int, row_min: Ints) -> Ints:
        """The best pour hour that is left after the work before it."""
        job, steps = self.job, self.plan.steps
        from_min = np.full_like(row_min, self.alone.pour_from_min(self.alone.before))
        for earlier in steps[held].after if held == job.pour else steps[job.pour or 0].after:
            if earlier in self.alone.before:
                from_min = np.maximum(from_min, ends[earlier])
        for index in job.conditions:
            for earlier in steps[index].after:
                from_min = np.maximum(from_min, ends[earlier] + steps[index].step.duration_min)
        if held == job.pour:
            from_min = np.maximum(from_min, row_min - steps[held].step.duration_min)
        return np.asarray(self._done_min[np.searchsorted(self._options_min, from_min)])

    def _end(self, index: int, ends: dict[int, Ints], from_min: Ints, held: int, row_min: Ints) -> Ints:
        one = self.plan.steps[index]
        for earlier in one.after:
            from_min = np.maximum(from_min, ends[earlier])
        self.starts_min[index] = min(self.starts_min.get(index, self.never_min), int(from_min.min()))
        best = np.full_like(from_min, self.never_min)
        inside = np.minimum(from_min, self.plan.horizon_min)
        for group in one.groups:
            done_by, axis_ends = self.plan.axes[group.axis].tables
            work = np.minimum(done_by[inside] + one.step.duration_min, len(axis_ends) - 1)
            best = np.minimum(best, np.where(from_min > self.plan.horizon_min, self.never_min, axis_ends[work]))
        return np.maximum(best, row_min) if index == held else best


def _shared_bound_min(plan: OutageInMinutes, forward: list[_Forward], pool: Pool) -> int:
    """Least cost of carrying the pieces of the steps to the slots; 0 where nothing is told."""
    flow = min_cost_flow.SimpleMinCostFlow()
    n_slots = len(pool.capacity_min)
    row_min = np.array(plan.common.begins[::SLOT_MIN], dtype=np.int64)
    total_min = [0] * len(plan.jobs)
    for one, count in pool.steps:
        total_min[one.job] += one.step.duration_min * count
    node, demand_min = n_slots, 0
    for one, count in pool.steps:
        ahead = forward[one.job]
        cost = _late(plan.jobs[one.job], ahead.done_after_min(one.index, row_min)) * SCALE // total_min[one.job]
        first_work = plan.common.done_by[min(ahead.starts_min[one.index], plan.horizon_min)]
        for place, (piece_min, rest) in enumerate(_pieces(one.step.duration_min)):
            slots = np.arange(min(n_slots - 1, first_work // SLOT_MIN + place), n_slots, dtype=np.int64)
            costs = cost[np.minimum(slots + rest, n_slots - 1)]
            flow.add_arcs_with_capacity_and_unit_cost(
                np.full_like(slots, node), slots, np.full_like(slots, piece_min * count), costs
            )
            flow.set_node_supply(node, piece_min * count)
            node, demand_min = node + 1, demand_min + piece_min * count
    slots = np.arange(n_slots, dtype=np.int64)
    flow.add_arcs_with_capacity_and_unit_cost(slots, np.full_like(slots, node), pool.capacity_min, np.zeros_like(slots))
    flow.set_node_supply(node, -demand_min)
    return int(flow.optimal_cost()) // SCALE if flow.solve() == flow.OPTIMAL else 0


def _pieces(duration_min: int) -> list[tuple[int, int]]:
    """Pieces of a step of at most a slot each, and how many whole slots of it follow each."""
    starts = range(0, duration_min, SLOT_MIN)
    return [(min(SLOT_MIN, duration_min - at), max(0, duration_min - at - SLOT_MIN) // SLOT_MIN) for at in starts]


def _late(job: MinuteJob, done_min: Ints) -> Ints:
    if job.due_min is None:
        return np.zeros_like(done_min)
    return np.maximum(0, done_min - job.due_min) * job.job.weight
