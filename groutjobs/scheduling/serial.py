"""Schedules built job after job: each step as early as its crew, its tools and the pour hours allow.

Work before the pour is placed forward from the start. The pour takes the first pour hour after it that leaves room for
the conditioning counted back from it; the rest follows the cure. The order of the jobs decides who gets a crew first.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from groutjobs.scheduling.in_minutes import (
    PER_MILLE,
    CrewGroup,
    MinuteJob,
    MinuteStep,
    OutageInMinutes,
    PourOption,
    Stretch,
)
from groutjobs.scheduling.orders import by_due_date
from groutjobs.scheduling.problem import Outage, Schedule, StepKind

NEVER = 1 << 40
Lines = list[list[int]]
Found = tuple[int, int, tuple[int, ...]]
"""Start, end and units of a step."""


@dataclass(frozen=True, slots=True)
class Cost:
    """Jobs that found no place, weighted minutes late, risk in thousandths of a pour, last minute of work."""

    unplaced: int
    late_min: int
    risk: int
    finish_min: int


class CostScale:
    """Turns a cost into one whole number that orders in the same way."""

    def __init__(self, plan: OutageInMinutes) -> None:
        self._finish = plan.horizon_min + 1
        self._risk = len(plan.jobs) * PER_MILLE + 1
        most_late = sum(job.job.weight for job in plan.jobs) * (plan.horizon_min + 1)
        early = max([0, *(-job.due_min for job in plan.jobs if job.due_min is not None)])
        self._late = most_late + sum(job.job.weight for job in plan.jobs) * early + 1

    def number(self, cost: Cost) -> int:
        return ((cost.unplaced * self._late + cost.late_min) * self._risk + cost.risk) * self._finish + cost.finish_min


class Builder:
    """Places jobs one after another on the time of crews and tools.

    `busy_from` and `busy_to` hold for each unit when it is taken, rising: a crew in its own working minutes, so that
    nights fall out, a tool in minutes of the common clock. Steps with a lock hold their place from the
    beginning; `conflict` tells whether two locks exclude each other.
    """

    def __init__(self, plan: OutageInMinutes, *, hold_locks: bool = True) -> None:
        self.plan = plan
        self.starts = [0] * len(plan.steps)
        self.ends = [0] * len(plan.steps)
        self.units: list[tuple[int, ...]] = [()] * len(plan.steps)
        self.busy_from: Lines = [[] for _ in range(plan.n_units)]
        self.busy_to: Lines = [[] for _ in range(plan.n_units)]
        locked = [one for one in plan.steps if one.locked_min is not None and hold_locks]
        held = [self._hold_lock(one) for one in locked]
        self.conflict = not all(held)

    def lines(self) -> tuple[Lines, Lines]:
        """A copy of what is taken, to come back to."""
        return [line[:] for line in self.busy_from], [line[:] for line in self.busy_to]

    def restore(self, lines: tuple[Lines, Lines]) -> None:
        self.busy_from = [line[:] for line in lines[0]]
        self.busy_to = [line[:] for line in lines[1]]

    def schedule(self) -> Schedule:
        return self.plan.schedule(self.starts, self.ends, self.units)

    def place(self, job: MinuteJob, delay: int, before: Cost) -> Cost:
        """Place one job, passing over so many pour hours that would do. What the cost is after it."""
        risk = self._place_steps(job, delay)
        if risk is None:
            return Cost(before.unplaced + 1, before.late_min, before.risk, before.finish_min)
        done_min = max(self.ends[index] for index in job.last)
        late_min = 0 if job.due_min is None else max(0, done_min - job.due_min) * job.job.weight
        finish_min = max(before.finish_min, done_min)
        return Cost(before.unplaced, before.late_min + late_min, before.risk + risk, finish_min)

    def _place_steps(self, job: MinuteJob, delay: int) -> int | None:
        """The risk that the job takes, None where a step finds no place."""
        if not all(self._work(stretch, job.from_min) for stretch in job.before):
            return None
        risk = 0
        ready: dict[str, int] = {}
        if job.pour is not None:
            option = self._pour(job, self.plan.steps[job.pour], delay)
            if option is None:
                return None
            risk, ready = job.options[option].risk, job.options[option].ready_min
        for stretch in job.later:
            milestone = stretch.first.step.milestone
            if not self._work(stretch, ready[milestone] if milestone else job.from_min):
                return None
        return risk

    def _work(self, stretch: Stretch, from_min: int) -> bool:
        one, ends = stretch.first, self.ends
        for index in one.after:
            if ends[index] > from_min:
                from_min = ends[index]
        if one.locked_min is not None:
            return one.locked_min >= from_min
        best = None
        for group in one.groups:
            if stretch.needs_one_crew:
                found = self._one_crew(group, stretch.total_min, from_min)
            else:
                found = self.several(one, group, stretch.total_min, from_min)
            if found is not None and (best is None or found[1] < best[1]):
                best = found
        if best is None:
            return False
        self.take(stretch, *best)
        return True

    def _one_crew(self, group: CrewGroup, duration_min: int, from_min: int) -> Found | None:
        """The gap that comes first among those of the crews, each step taking one crew and nothing else."""
        axis = self.plan.axes[group.axis]
        if from_min > self.plan.horizon_min:
            return None
        first_work = axis.done_by[from_min]
        best, best_work = -1, axis.total_min - duration_min + 1
        for unit in group.units:
            work, taken_from, taken_to = first_work, self.busy_from[unit], self.busy_to[unit]
            place, count = bisect_right(taken_to, work), len(taken_to)
            while place < count and taken_from[place] < work + duration_min and work < best_work:
                work, place = taken_to[place], place + 1
            if work < best_work:
                best, best_work = unit, work
                if work == first_work:
                    break
        if best < 0:
            return None
        return axis.begins[best_work], axis.ends[best_work + duration_min], (best,)

    def several(self, one: MinuteStep, group: CrewGroup, duration_min: int, from_min: int) -> Found | None:
        """The first time at which enough crews and tools are free together."""
        axis = self.plan.axes[group.axis]
        while from_min <= self.plan.horizon_min and (work := axis.done_by[from_min]) + duration_min <= axis.total_min:
            start, end = axis.begins[work], axis.ends[work + duration_min]
            units, wait_min = self.together(one, group, start, end)
            if wait_min is None:
                return start, end, units
            from_min = wait_min
        return None

    def together(self, one: MinuteStep, group: CrewGroup, start: int, end: int) -> tuple[tuple[int, ...], int | None]:
        """Crews and tools that are free in the span, else the minute before which there are not enough of them."""
        axis = self.plan.axes[group.axis]
        chosen, wait_work = self._free(group.units, one.step.crews, axis.done_by[start], axis.done_by[end])
        if wait_work is not None:
            return (), axis.begins[wait_work] if wait_work < axis.total_min else self.plan.horizon_min + 1
        for units, count in one.tools:
            free, wait_min = self._free(units, count, start, end)
            if wait_min is not None:
                return (), wait_min
            chosen += free
        return chosen, None

    def _free(self, units: tuple[int, ...], count: int, start: int, end: int) -> tuple[tuple[int, ...], int | None]:
        """So many units that are free in the span, else the time before which there are not enough of them.

        Crews count on their own working time, tools on the common clock.
        """
        free: list[int] = []
        waits: list[int] = []
        for unit in units:
            taken_to = self.busy_to[unit]
            place = bisect_right(taken_to, start)
            if place == len(taken_to) or self.busy_from[unit][place] >= end:
                free.append(unit)
                if len(free) == count:
                    return tuple(free), None
            else:
                waits.append(taken_to[place])
        missing = count - len(free)
        return (), sorted(waits)[missing - 1] if missing <= len(waits) else NEVER

    def _pour(self, job: MinuteJob, one: MinuteStep, delay: int) -> int | None:
        """Place the pour with its conditioning and its cure; the number of the pour hour, None where none does."""
        from_min = max([job.from_min, *(self.ends[index] for index in one.after if index not in job.conditions)])
        for index in job.conditions:
            condition = self.plan.steps[index]
            begins_min = max([job.from_min, *(self.ends[earlier] for earlier in condition.after)])
            from_min = max(from_min, begins_min + condition.step.duration_min)
        first = bisect_left(job.options, from_min, key=_option_min)
        for number in range(first, len(job.options)):
            start = job.options[number].at_min
            end = start + one.step.duration_min
            units = self.units[one.index] if one.locked_min is not None else self._crew_for_pour(one, start, end)
            if units is None:
                continue
            if delay > 0 and number + 1 < len(job.options):
                delay -= 1
                continue
            if one.locked_min is None:
                self.take(_alone(one), start, end, units)
            self._around_the_pour(job, start, end, job.options[number].cured_min)
            return number
        return None

    def _crew_for_pour(self, one: MinuteStep, start: int, end: int) -> tuple[int, ...] | None:
        for group in one.groups:
            if not self.plan.axes[group.axis].holds_unbroken(start, end):
                continue
            units, wait_min = self.together(one, group, start, end)
            if wait_min is None:
                return units
        return None

    def _around_the_pour(self, job: MinuteJob, start: int, end: int, cured_min: int) -> None:
        for index in job.conditions:
            self.starts[index], self.ends[index] = start - self.plan.steps[index].step.duration_min, start
        for index in job.cures:
            self.starts[index], self.ends[index] = end, cured_min

    def take(self, stretch: Stretch, start: int, end: int, units: tuple[int, ...]) -> None:
        plan, indices = self.plan, stretch.indices
        self.starts[indices[0]], self.ends[indices[-1]] = start, end
        axis = plan.axes[plan.axis_of_crew[units[0]]]
        work = axis.done_by[start]
        for unit in units:
            if unit < plan.n_crews:
                self._hold(unit, work, work + stretch.total_min)
            else:
                self._hold(unit, start, end)
        for index, duration_min in zip(indices, stretch.durations_min, strict=True):
            self.units[index] = units
            self.starts[index] = axis.begins[work]
            work += duration_min
            self.ends[index] = axis.ends[work]

    def _hold(self, unit: int, start: int, end: int) -> None:
        """Note a unit as taken; spans that touch become one."""
        taken_from, taken_to = self.busy_from[unit], self.busy_to[unit]
        place = bisect_right(taken_to, start)
        joins_left = place > 0 and taken_to[place - 1] == start
        joins_right = place < len(taken_from) and taken_from[place] == end
        if joins_left and joins_right:
            del taken_to[place - 1], taken_from[place]
        elif joins_left:
            taken_to[place - 1] = end
        elif joins_right:
            taken_from[place] = start
        else:
            taken_from.insert(place, start)
            taken_to.insert(place, end)

    def _hold_lock(self, one: MinuteStep) -> bool:
        """Hold the place of a locked step; False where its start is no working time or its crew is taken."""
        start = one.locked_min
        if start is None or not 0 <= start < self.plan.horizon_min:
            return False
        for group in one.groups:
            axis = self.plan.axes[group.axis]
            work = axis.done_by[start]
            if work + one.step.duration_min > axis.total_min or axis.begins[work] != start:
                continue
            end = axis.ends[work + one.step.duration_min]
            units, wait_min = self.together(one, group, start, end)
            if wait_min is None:
                self.take(_alone(one), start, end, units)
                return True
        return False


class _Mover:
    """Places the steps of a schedule again, one by one in the order of their starts."""

    def __init__(self, plan: OutageInMinutes) -> None:
        self.plan = plan
        self.builder = Builder(plan, hold_locks=False)
        self._hour: dict[int, PourOption] = {}

    def keep(self, one: MinuteStep, start: int, end: int, crews: tuple[int, ...]) -> bool:
        """Put a step where it was; False where its tools are in use there."""
        job, builder = self.plan.jobs[one.job], self.builder
        if one.index == job.pour:
            self._hour[job.index] = next(option for option in job.options if option.at_min == start)
        if not crews:
            builder.starts[one.index], builder.ends[one.index] = start, end
            return True
        found = builder.together(one, self._group(crews), start, end)
        if found[1] is None:
            builder.take(_alone(one), start, end, found[0])
        return found[1] is None

    def move(self, one: MinuteStep, latest: int, crews: tuple[int, ...]) -> bool:
        """Put a step as early as its crews allow; False where that is later than it was."""
        job, builder = self.plan.jobs[one.job], self.builder
        from_min = max([job.from_min, *(builder.ends[earlier] for earlier in one.after)])
        if one.step.milestone:
            from_min = max(from_min, self._hour[job.index].ready_min[one.step.milestone])
        found = builder.several(one, self._group(crews), one.step.duration_min, from_min)
        if found is None or found[0] > latest:
            return False
        builder.take(_alone(one), *found)
        return True

    def _group(self, crews: tuple[int, ...]) -> CrewGroup:
        return CrewGroup(axis=self.plan.axis_of_crew[crews[0]], units=crews)


def _alone(one: MinuteStep) -> Stretch:
    return Stretch(
        first=one, indices=(one.index,), durations_min=(one.step.duration_min,), total_min=one.step.duration_min
    )


def _option_min(option: PourOption) -> int:
    return option.at_min


def build(plan: OutageInMinutes, order: Sequence[int], delays: Sequence[int]) -> tuple[Builder, Cost]:
    """Return the schedule that comes of placing the jobs in this order.

    Parameters
    ----------
    plan : The outage in whole minutes.
    order : Numbers of the jobs, each once. [-], 0 to n_jobs - 1
    delays : For each job how many pour hours that would do are passed over. [-], 0 or more

    Returns
    -------
    The builder, which holds starts, ends and units, and the cost.

    Source
    ------
    [GROUTJOBS] serial generation from a list of jobs: each step at its earliest place, gaps are filled.
    """
    builder, cost = Builder(plan), Cost(0, 0, 0, 0)
    for number in order:
        cost = builder.place(plan.jobs[number], delays[number], cost)
    return builder, cost


def greedy(outage: Outage) -> Schedule | None:
    """Return the schedule of the jobs in the order of their due dates, each step as early as it fits.

    Parameters
    ----------
    outage : What is to be scheduled.

    Returns
    -------
    The schedule; None where a job found no place.

    Source
    ------
    [GROUTJOBS] the base line that a search is compared with.
    """
    plan = OutageInMinutes(outage)
    builder, cost = build(plan, by_due_date(plan), [0] * len(plan.jobs))
    return None if cost.unplaced or builder.conflict else builder.schedule()


def shifted_left(plan: OutageInMinutes, schedule: Schedule) -> Schedule:
    """Return the schedule with every step moved as early as its own crews allow; pours stay at their hours.

    Parameters
    ----------
    plan : The outage in whole minutes.
    schedule : A schedule that keeps every rule.

    Returns
    -------
    A schedule in which no step is later than before; the same one where its tools cannot be told apart so.

    Source
    ------
    [GROUTJOBS] steps are placed again in the order of their starts; what was free for them before still is.
    """
    mover = _Mover(plan)
    numbers = {crew.name: unit for unit, crew in enumerate(plan.outage.crews)}
    rows = [(schedule.by_step[plan.jobs[one.job].job.tag, one.step.code], one) for one in plan.steps]
    for placed, one in sorted(rows, key=lambda row: (row[0].starts_at, row[1].index)):
        crews = tuple(numbers[name] for name in placed.crews)
        start = plan.minute_of(placed.starts_at, up=True)
        if one.step.kind is not StepKind.WORK or one.locked_min is not None:
            done = mover.keep(one, start, plan.minute_of(placed.ends_at, up=True), crews)
        else:
            done = mover.move(one, start, crews)
        if not done:
            return schedule
    return mover.builder.schedule()
