"""The rules of a schedule as a constraint model: one function for each, adding itself to the model.

Steps run on the common working axis, on which nights and days off have no length; so a step of p minutes has length p
there, and whoever works in other shifts jumps over minutes that only others work. Conditioning and cure follow from the
choice of the pour hour and have no variables of their own.
"""

import enum
from collections import defaultdict
from collections.abc import Callable, Mapping
from types import MappingProxyType

from ortools.sat.python import cp_model

from groutjobs.scheduling.calendar import WorkAxis
from groutjobs.scheduling.in_minutes import CrewGroup, MinuteJob, MinuteStep, OutageInMinutes
from groutjobs.scheduling.problem import CREWED

Literal = cp_model.IntVar
Linear = cp_model.LinearExprT


class Rule(enum.StrEnum):
    """What a schedule must keep."""

    ORDER = "order of the steps"
    SHIFTS = "working time"
    CREWS = "one step at a time for each crew"
    TOOLS = "number of tools"
    POUR_HOURS = "pour hours"
    CONDITIONING = "conditioning before the pour"
    CURE = "milestones of the cure"
    LOCKS = "locked steps"


class Model:
    """The variables of an outage: start and end of each crewed step on the common axis, and the pour hour of each job.

    `crews[step][kind]` is how many crews of a kind the step takes; crews of one kind have the same skills and calendar.
    """

    def __init__(self, plan: OutageInMinutes) -> None:
        self.plan = plan
        self.model = cp_model.CpModel()
        self.axis = plan.common
        self.start: dict[int, cp_model.IntVar] = {}
        self.end: dict[int, cp_model.IntVar] = {}
        self.hour: dict[int, list[Literal]] = {}
        self.kinds = _kinds_of_crews(plan)
        self.crews: dict[int, dict[int, cp_model.IntVar]] = {}
        self.interval: dict[int, cp_model.IntervalVar] = {}
        for one in plan.steps:
            if one.step.kind in CREWED:
                self._add_step(one)

    def _add_step(self, one: MinuteStep) -> None:
        index, total = one.index, self.axis.total_min
        self.start[index] = self.model.new_int_var(0, total, f"start {index}")
        single = all(self.plan.axes[group.axis].spells == self.axis.spells for group in one.groups)
        if single and one.step.duration_min <= total:
            end: Linear = self.start[index] + one.step.duration_min
            self.interval[index] = self.model.new_fixed_size_interval_var(
                self.start[index], one.step.duration_min, f"step {index}"
            )
            self.end[index] = self.model.new_int_var(0, total, f"end {index}")
            self.model.add(self.end[index] == end)
            return
        self.end[index] = self.model.new_int_var(0, total, f"end {index}")
        length = self.model.new_int_var(one.step.duration_min, max(total, one.step.duration_min), f"length {index}")
        self.interval[index] = self.model.new_interval_var(self.start[index], length, self.end[index], f"step {index}")

    def chosen(self, job: MinuteJob, minutes: list[int]) -> cp_model.LinearExpr:
        """The number that belongs to the pour hour that the job takes."""
        return cp_model.LinearExpr.weighted_sum(self.hour[job.index], minutes)

    def work_at(self, minute: int) -> int:
        """Working minutes of the common axis before a minute of the common clock."""
        return self.axis.done_by[min(max(minute, 0), self.plan.horizon_min)]


def _kinds_of_crews(plan: OutageInMinutes) -> list[tuple[int, ...]]:
    kinds: dict[tuple[object, ...], list[int]] = defaultdict(list)
    locked = {unit for one in plan.steps for unit in one.locked_units}
    for unit, crew in enumerate(plan.outage.crews):
        own = unit if unit in locked else None
        kinds[(crew.skills, plan.axis_of_crew[unit], own)].append(unit)
    return [tuple(units) for units in kinds.values()]


def steps_follow_each_other(built: Model) -> None:
    """A step begins when those before it have ended and the machine is free."""
    for job in built.plan.jobs:
        earliest = built.work_at(job.from_min)
        for stretch in (*job.before, *job.later):
            for index in stretch.indices:
                built.model.add(built.start[index] >= earliest)
                _after_crewed(built, index)
        if job.pour is not None:
            _after_crewed(built, job.pour)


def _after_crewed(built: Model, index: int) -> None:
    for earlier in built.plan.steps[index].after:
        if earlier in built.end:
            built.model.add(built.start[index] >= built.end[earlier])


def steps_keep_to_working_time(built: Model) -> None:
    """Each step takes crews of one calendar, enough of them, and runs in their working time."""
    for index in built.start:
        one = built.plan.steps[index]
        built.crews[index] = {}
        if not one.groups:
            built.model.add_bool_or([])
            continue
        literals = [built.model.new_bool_var(f"calendar {index} {group.axis}") for group in one.groups]
        built.model.add_exactly_one(literals)
        for group, literal in zip(one.groups, literals, strict=True):
            _in_calendar(built, one, group, literal)
            _crews_of_group(built, one, group, literal)


def _crews_of_group(built: Model, one: MinuteStep, group: CrewGroup, literal: Literal) -> None:
    """As many crews of the calendar as the step needs where it is taken, none elsewhere."""
    counts = []
    for kind, units in enumerate(built.kinds):
        able = len(set(units) & set(group.units))
        if able:
            count = built.model.new_int_var(0, min(able, one.step.crews), f"crews {one.index} {kind}")
            built.crews[one.index][kind] = count
            counts.append(count)
    built.model.add(cp_model.LinearExpr.sum(counts) == one.step.crews * literal)


def _in_calendar(built: Model, one: MinuteStep, group: CrewGroup, literal: Literal) -> None:
    """Start and end of the step on the common axis, counted on the axis of its calendar."""
    own, common, model = built.plan.axes[group.axis], built.axis, built.model
    if own.spells == common.spells:
        return
    if one.step.duration_min > own.total_min:
        model.add(literal == 0)
        return
    work = model.new_int_var(0, own.total_min - one.step.duration_min, f"work {one.index} {group.axis}")
    begins = _spell_literals(model, own, literal, f"begins {one.index} {group.axis}")
    ends = _spell_literals(model, own, literal, f"ends {one.index} {group.axis}")
    for number, (first, last) in enumerate(own.spell_work):
        shift = common.done_by[own.spells[number][0]] - first
        here = (literal, begins[number])
        model.add(work >= first).only_enforce_if(here)
        model.add(work <= last - 1).only_enforce_if(here)
        model.add(built.start[one.index] == work + shift).only_enforce_if(here)
        here = (literal, ends[number])
        model.add(work + one.step.duration_min >= first + 1).only_enforce_if(here)
        model.add(work + one.step.duration_min <= last).only_enforce_if(here)
        model.add(built.end[one.index] == work + one.step.duration_min + shift).only_enforce_if(here)


def _spell_literals(model: cp_model.CpModel, own: WorkAxis, literal: Literal, name: str) -> list[Literal]:
    literals = [model.new_bool_var(f"{name} {number}") for number in range(len(own.spells))]
    model.add(cp_model.LinearExpr.sum(literals) == 1).only_enforce_if(literal)
    return literals


def crews_do_one_step_at_a_time(built: Model) -> None:
    """No more steps at once than there are crews of a kind."""
    for kind, units in enumerate(built.kinds):
        intervals, demands = [], []
        for index, counts in built.crews.items():
            if kind in counts:
                intervals.append(built.interval[index])
                demands.append(counts[kind])
        if intervals:
            built.model.add_cumulative(intervals, demands, len(units))


def tools_are_enough(built: Model) -> None:
    """No more tools in use than there are."""
    for name, units in built.plan.tool_units.items():
        users = [(index, dict(built.plan.steps[index].step.tools).get(name, 0)) for index in built.start]
        used = [(built.interval[index], count) for index, count in users if count]
        if used:
            built.model.add_cumulative([one for one, _ in used], [count for _, count in used], len(units))
    known = set(built.plan.tool_units)
    if any(tool not in known for index in built.start for tool, _ in built.plan.steps[index].step.tools):
        built.model.add_bool_or([])


def pours_begin_at_a_pour_hour(built: Model) -> None:
    """Placing begins at one of the hours of the job and runs in one shift."""
    for job in built.plan.jobs:
        if job.pour is None:
            continue
        one, common = built.plan.steps[job.pour], built.axis
        built.hour[job.index] = [built.model.new_bool_var(f"hour {job.index} {k}") for k in range(len(job.options))]
        built.model.add_exactly_one(built.hour[job.index])
        starts = [common.done_by[option.at_min] for option in job.options]
        built.model.add(built.start[job.pour] == built.chosen(job, starts))
        built.model.add(built.end[job.pour] == built.start[job.pour] + one.step.duration_min)


def material_is_conditioned(built: Model) -> None:
    """Conditioning ends when placing begins, and begins when what it follows has ended."""
    for job in built.plan.jobs:
        for index in job.conditions:
            one = built.plan.steps[index]
            begins = [built.work_at(option.at_min - one.step.duration_min) for option in job.options]
            for earlier in one.after:
                built.model.add(built.end[earlier] <= built.chosen(job, begins))


def cure_is_waited_for(built: Model) -> None:
    """A step that waits for a milestone begins when the pour hour that was taken has reached it."""
    for job in built.plan.jobs:
        cures = set(job.cures)
        for stretch in job.later:
            for index in stretch.indices:
                one = built.plan.steps[index]
                milestone = one.step.milestone
                if milestone:
                    _not_before(built, job, index, [option.ready_min[milestone] for option in job.options])
                if cures & set(one.after):
                    _not_before(built, job, index, [option.cured_min for option in job.options])


def _not_before(built: Model, job: MinuteJob, index: int, minutes: list[int]) -> None:
    """Hours whose milestone lies behind the end of the outage cannot be taken."""
    horizon_min = built.plan.horizon_min
    for literal, minute in zip(built.hour[job.index], minutes, strict=True):
        if minute > horizon_min:
            built.model.add(literal == 0)
    built.model.add(built.start[index] >= built.chosen(job, [built.work_at(minute) for minute in minutes]))


def locked_steps_stay(built: Model) -> None:
    """A locked step begins at its time, in working time, with its crews where these are named."""
    for index in built.start:
        one = built.plan.steps[index]
        if one.locked_min is None:
            continue
        groups = [group for group in one.groups if _works_at(built.plan.axes[group.axis], one.locked_min)]
        if not groups:
            built.model.add_bool_or([])
            continue
        built.model.add(built.start[index] == built.work_at(one.locked_min))
        for unit in one.locked_units:
            kind = next(number for number, units in enumerate(built.kinds) if unit in units)
            if kind in built.crews[index]:
                built.model.add(built.crews[index][kind] == 1)


def _works_at(axis: WorkAxis, minute: int) -> bool:
    return 0 <= minute < axis.horizon_min and axis.holds_unbroken(minute, minute + 1)


RULES: Mapping[Rule, Callable[[Model], None]] = MappingProxyType(
    {
        Rule.POUR_HOURS: pours_begin_at_a_pour_hour,
        Rule.ORDER: steps_follow_each_other,
        Rule.SHIFTS: steps_keep_to_working_time,
        Rule.CREWS: crews_do_one_step_at_a_time,
        Rule.TOOLS: tools_are_enough,
        Rule.CONDITIONING: material_is_conditioned,
        Rule.CURE: cure_is_waited_for,
        Rule.LOCKS: locked_steps_stay,
    }
)
"""Every rule with the function that adds it to a model."""


def model_of(plan: OutageInMinutes, without: frozenset[Rule] = frozenset()) -> Model:
    """Return the model of an outage with every rule but those named.

    Parameters
    ----------
    plan : The outage in whole minutes.
    without : Rules to leave out, to find which of them stands in the way.

    Returns
    -------
    The model, without an objective.

    Source
    ------
    [GROUTJOBS] a working axis in place of the clock keeps the model small.
    """
    built = Model(plan)
    for rule, add in RULES.items():
        if rule not in without:
            add(built)
    return built
