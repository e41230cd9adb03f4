"""The outage in whole minutes after its start, with numbers in the place of names: what builder and solver work on.

Crews and single tools are units: each serves one step at a time. What cannot be said in whole minutes is rounded to the
safe side: releases and the cure up, the end of the outage down; due dates up, so that a bound on lateness stays one.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from groutjobs.errors import Unusable
from groutjobs.scheduling.calendar import CrewCalendar, WorkAxis, axis_of_all, minutes_between, spells_min
from groutjobs.scheduling.problem import CREWED, Job, Outage, Placed, Schedule, Step, StepKind

PER_MILLE = 1000


@dataclass(frozen=True, kw_only=True, slots=True)
class CrewGroup:
    """Crews of one calendar that can do a step, enough of them for it."""

    axis: int
    units: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class MinuteStep:
    """A step by numbers. `tools` holds for each kind its units and how many the step takes."""

    index: int
    job: int
    step: Step
    groups: tuple[CrewGroup, ...]
    tools: tuple[tuple[tuple[int, ...], int], ...]
    after: tuple[int, ...]
    locked_min: int | None
    locked_units: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """Steps in a row that the same crew does without waiting for anything. `first` is the step that may wait."""

    first: MinuteStep
    indices: tuple[int, ...]
    durations_min: tuple[int, ...]
    total_min: int

    @property
    def needs_one_crew(self) -> bool:
        return self.first.step.crews == 1 and not self.first.tools


@dataclass(frozen=True, kw_only=True, slots=True)
class PourOption:
    """An hour at which placing may begin, with the minutes at which the milestones are reached after it."""

    at_min: int
    risk: int
    ready_min: dict[str, int]
    cured_min: int


@dataclass(frozen=True, kw_only=True, slots=True)
class MinuteJob:
    """A job by numbers; `before` and `later` are its crewed steps up to the pour and from it on, in order."""

    index: int
    job: Job
    from_min: int
    due_min: int | None
    before: tuple[Stretch, ...]
    conditions: tuple[int, ...]
    pour: int | None
    cures: tuple[int, ...]
    later: tuple[Stretch, ...]
    last: tuple[int, ...]
    options: tuple[PourOption, ...]


class OutageInMinutes:
    """Every step, job, unit and working time of an outage by number."""

    def __init__(self, outage: Outage) -> None:
        self.outage = outage
        self.horizon_min = int(minutes_between(outage.starts_at, outage.ends_at))
        self._origin = outage.starts_at.astimezone(UTC)
        calendars = list(dict.fromkeys(_key(crew.calendar) for crew in outage.crews))
        by_key = {_key(crew.calendar): crew.calendar for crew in outage.crews}
        spells = [spells_min(by_key[key], outage.starts_at, outage.ends_at) for key in calendars]
        self.axes = [WorkAxis(one, self.horizon_min) for one in spells]
        self.axis_of_crew = [calendars.index(_key(crew.calendar)) for crew in outage.crews]
        self.common = axis_of_all(self.axes, self.horizon_min)
        self.tool_units = self._tool_units()
        self.n_crews = len(outage.crews)
        self.n_units = self.n_crews + sum(outage.tools.values())
        self.steps: list[MinuteStep] = []
        self.jobs = [self._job(number, job) for number, job in enumerate(outage.jobs)]

    def at(self, minute: int) -> datetime:
        return self._origin + timedelta(minutes=minute)

    def minute_of(self, at: datetime, *, up: bool) -> int:
        minutes = minutes_between(self._origin, at)
        return math.ceil(minutes) if up else math.floor(minutes)

    def crew_name(self, unit: int) -> str:
        return self.outage.crews[unit].name

    def is_crew(self, unit: int) -> bool:
        return unit < self.n_crews

    def schedule(self, starts: Sequence[int], ends: Sequence[int], units: Sequence[Sequence[int]]) -> Schedule:
        """The schedule of these minutes and units, in the order of the jobs."""
        return Schedule(
            steps=tuple(
                Placed(
                    job=self.jobs[one.job].job.tag,
                    step=one.step.code,
                    starts_at=self.at(starts[one.index]),
                    ends_at=self.at(ends[one.index]),
                    crews=tuple(self.crew_name(unit) for unit in sorted(units[one.index]) if self.is_crew(unit)),
                )
                for one in self.steps
            )
        )

    def _tool_units(self) -> dict[str, tuple[int, ...]]:
        first, units = len(self.outage.crews), {}
        for name, count in self.outage.tools.items():
            units[name] = tuple(range(first, first + count))
            first += count
        return units

    def _job(self, number: int, job: Job) -> MinuteJob:
        first = len(self.steps)
        index = {step.code: first + place for place, step in enumerate(job.steps)}
        for step in job.steps:
            self.steps.append(self._step(index, number, step))
        own = self.steps[first:]
        later = _behind_the_pour(own)
        pour = next((one for one in own if one.step.kind is StepKind.POUR), None)
        _require_conditioning_before(job, own, later)
        work = [one for one in own if one.step.kind is StepKind.WORK]
        from_min = 0 if job.from_at is None else max(0, self.minute_of(job.from_at, up=True))
        return MinuteJob(
            index=number,
            job=job,
            from_min=from_min,
            due_min=None if job.due_at is None else self.minute_of(job.due_at, up=True),
            before=_stretches([one for one in work if one.index not in later], own),
            conditions=tuple(one.index for one in own if one.step.kind is StepKind.CONDITION),
            pour=None if pour is None else pour.index,
            cures=tuple(one.index for one in own if one.step.kind is StepKind.CURE),
            later=_stretches([one for one in work if one.index in later], own),
            last=tuple(index[step.code] for step in job.last_steps()),
            options=() if pour is None else self._options(job, pour, from_min),
        )

    def _step(self, index: dict[str, int], number: int, step: Step) -> MinuteStep:
        locked = None if step.locked_at is None else self.minute_of(step.locked_at, up=True)
        names = [crew.name for crew in self.outage.crews]
        return MinuteStep(
            index=index[step.code],
            job=number,
            step=step,
            groups=self._groups(step) if step.kind in CREWED else (),
            tools=tuple((self.tool_units.get(tool, ()), count) for tool, count in step.tools),
            after=tuple(index[code] for code in step.after),
            locked_min=locked,
            locked_units=tuple(names.index(name) for name in step.locked_crews),
        )

    def _groups(self, step: Step) -> tuple[CrewGroup, ...]:
        able = [unit for unit, crew in enumerate(self.outage.crews) if step.skill in crew.skills]
        if step.locked_crews:
            able = [unit for unit in able if self.outage.crews[unit].name in step.locked_crews]
        by_axis = {
            axis: tuple(unit for unit in able if self.axis_of_crew[unit] == axis) for axis in range(len(self.axes))
        }
        return tuple(CrewGroup(axis=axis, units=units) for axis, units in by_axis.items() if len(units) >= step.crews)

    def _options(self, job: Job, pour: MinuteStep, from_min: int) -> tuple[PourOption, ...]:
        """Pour hours that lie within the outage and within a shift, leave time for conditioning, and fit a lock."""
        longest = max((step.duration_min for step in job.steps if step.kind is StepKind.CONDITION), default=0)
        options = []
        for hour in job.pour_hours:
            at_min = self.minute_of(hour.starts_at, up=False)
            end_min = at_min + pour.step.duration_min
            whole = self.at(at_min) == hour.starts_at.astimezone(UTC)
            fits = whole and from_min + longest <= at_min and pour.locked_min in (None, at_min)
            if fits and any(self.axes[group.axis].holds_unbroken(at_min, end_min) for group in pour.groups):
                ready = {code: at_min + math.ceil(hours * 60 - 1e-6) for code, hours in hour.ready_h.items()}
                cured_min = max([end_min, *(ready[code] for code in job.milestones)])
                risk = round((1.0 - hour.odds) * PER_MILLE)
                options.append(PourOption(at_min=at_min, risk=risk, ready_min=ready, cured_min=cured_min))
        return tuple(options)


def _key(calendar: CrewCalendar) -> tuple[object, ...]:
    return calendar.timezone, calendar.shifts, calendar.weekdays, calendar.holidays


def _behind_the_pour(steps: Sequence[MinuteStep]) -> set[int]:
    """Steps that cannot begin before the pour has ended: those that follow it, its cure, or wait for a milestone."""
    behind: set[int] = set()
    for one in steps:
        follows = any(index in behind for index in one.after)
        if follows or one.step.milestone or one.step.kind in (StepKind.POUR, StepKind.CURE):
            behind.add(one.index)
    return behind


def _stretches(work: Sequence[MinuteStep], own: Sequence[MinuteStep]) -> tuple[Stretch, ...]:
    followers = [index for one in own for index in one.after]
    rows: list[list[MinuteStep]] = []
    for one in work:
        if rows and _goes_on(rows[-1][-1], one) and followers.count(rows[-1][-1].index) == 1:
            rows[-1].append(one)
        else:
            rows.append([one])
    return tuple(
        Stretch(
            first=row[0],
            indices=tuple(one.index for one in row),
            durations_min=tuple(one.step.duration_min for one in row),
            total_min=sum(one.step.duration_min for one in row),
        )
        for row in rows
    )


def _goes_on(earlier: MinuteStep, one: MinuteStep) -> bool:
    """Whether one is what the same crew does next: it waits for nothing else, and both use the same crew and tools."""
    waits = one.after != (earlier.index,) or one.step.milestone or one.locked_min is not None
    same = (earlier.groups, earlier.step.crews, earlier.tools) == (one.groups, one.step.crews, one.tools)
    return not waits and same and earlier.locked_min is None


def _require_conditioning_before(job: Job, steps: Sequence[MinuteStep], behind: set[int]) -> None:
    conditions = {one.index for one in steps if one.step.kind is StepKind.CONDITION}
    for one in steps:
        if one.step.kind is StepKind.CONDITION and one.index in behind:
            raise Unusable(job.tag, f"“{one.step.label}” must stand before the pour", source="GROUTJOBS")
        if one.step.kind is not StepKind.POUR and conditions & set(one.after):
            reason = f"“{one.step.label}” follows the conditioning; only the pour does"
            raise Unusable(job.tag, reason, source="GROUTJOBS")
        if one.step.kind is StepKind.CURE and any(index not in behind for index in one.after):
            raise Unusable(job.tag, f"“{one.step.label}” follows nothing but the pour", source="GROUTJOBS")
