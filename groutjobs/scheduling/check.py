"""Does a schedule keep every rule? Asked of the outage and the schedule alone, minute by minute of the calendar.

It shares nothing with the search and the solver but the facts of the outage and the working spells of a calendar.
"""

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from groutjobs.findings import Finding, Level
from groutjobs.scheduling.problem import CREWED, Job, Outage, Placed, PourHour, Schedule, Step, StepKind

Spells = tuple[tuple[datetime, datetime], ...]
NOTHING = timedelta(0)
A_MINUTE = timedelta(minutes=1)


def broken_rules(outage: Outage, schedule: Schedule) -> tuple[Finding, ...]:
    """Return every rule that a schedule breaks, in words.

    Parameters
    ----------
    outage : What was to be scheduled.
    schedule : The answer, from wherever it comes.

    Returns
    -------
    One blocker for each broken rule and step; empty where the schedule keeps all rules.

    Source
    ------
    [GROUTJOBS] each rule looked at for itself.
    """
    missing = list(_missing_steps(outage, schedule))
    if missing:
        return tuple(missing)
    found: list[Finding] = []
    spells = {crew.name: crew.calendar.working_spells(outage.starts_at, outage.ends_at) for crew in outage.crews}
    for job in outage.jobs:
        for step in job.steps:
            placed = schedule.by_step[job.tag, step.code]
            found += _of_outage(outage, job, step, placed)
            found += _of_order(job, step, schedule)
            if step.kind in CREWED:
                found += _of_crew(outage, _name(job, step), step, placed)
                found += _of_working_time(_name(job, step), step, placed, spells)
            else:
                found += _of_no_crew(job, step, placed)
            found += _of_lock(job, step, placed)
        found += _of_pour(job, schedule)
    found += _of_sharing(outage, schedule)
    found += _of_tools(outage, schedule)
    return tuple(found)


def _finding(code: str, about: str, message: str) -> Finding:
    return Finding(level=Level.BLOCKER, code=code, message=message, source="GROUTJOBS", about=about)


def _clock(at: datetime) -> str:
    return f"{at.astimezone(UTC):%a %d %b %H:%M} UTC"


def _name(job: Job, step: Step) -> str:
    return f"{job.tag}, {step.label}"


def _missing_steps(outage: Outage, schedule: Schedule) -> Iterator[Finding]:
    wanted = {(job.tag, step.code) for job in outage.jobs for step in job.steps}
    placed = [(one.job, one.step) for one in schedule.steps]
    for job, step in sorted(wanted - set(placed)):
        yield _finding("missing", job, f"“{step}” of {job} is not scheduled.")
    for job, step in sorted({key for key in placed if key not in wanted or placed.count(key) > 1}):
        yield _finding("unknown", job, f"“{step}” of {job} is scheduled twice, or is no step of this outage.")


def _of_outage(outage: Outage, job: Job, step: Step, placed: Placed) -> Iterator[Finding]:
    name = _name(job, step)
    from_at = max(outage.starts_at, job.from_at or outage.starts_at)
    if placed.starts_at < from_at:
        yield _finding("too_early", name, f"{name}: begins {_clock(placed.starts_at)}, before {_clock(from_at)}.")
    if placed.ends_at > outage.ends_at and step.kind is not StepKind.CURE:
        yield _finding("too_late", name, f"{name}: ends {_clock(placed.ends_at)}, after the end of the outage.")


def _of_order(job: Job, step: Step, schedule: Schedule) -> Iterator[Finding]:
    placed, name = schedule.by_step[job.tag, step.code], _name(job, step)
    for code in step.after:
        ends_at = schedule.by_step[job.tag, code].ends_at
        if placed.starts_at < ends_at:
            words = f"{name}: begins {_clock(placed.starts_at)}, before “{job.by_code[code].label}” ends"
            yield _finding("order", name, f"{words}, {_clock(ends_at)}.")


def _of_crew(outage: Outage, name: str, step: Step, placed: Placed) -> Iterator[Finding]:
    crews = [crew for crew in outage.crews if crew.name in placed.crews]
    if len(crews) != step.crews or len(placed.crews) != step.crews:
        yield _finding("crews", name, f"{name}: has {len(crews)} crews of this outage and needs {step.crews}.")
    for crew in crews:
        if step.skill not in crew.skills:
            yield _finding("skill", name, f"{name}: {crew.name} has not the skill “{step.skill}”.")


def _of_working_time(name: str, step: Step, placed: Placed, spells: Mapping[str, Spells]) -> Iterator[Finding]:
    for crew in (one for one in placed.crews if one in spells):
        worked = sum((_shared(placed, *spell) for spell in spells[crew]), NOTHING)
        if worked != timedelta(minutes=step.duration_min):
            words = f"{crew} works {worked / A_MINUTE:.0f} min of the {step.duration_min} min that it takes"
            yield _finding("working_time", name, f"{name}: {words}.")
        if not any(begins <= placed.starts_at < ends for begins, ends in spells[crew]):
            yield _finding("working_time", name, f"{name}: begins when {crew} does not work.")
        if not any(begins < placed.ends_at <= ends for begins, ends in spells[crew]):
            yield _finding("working_time", name, f"{name}: ends when {crew} does not work.")


def _shared(placed: Placed, begins: datetime, ends: datetime) -> timedelta:
    return max(NOTHING, min(placed.ends_at, ends) - max(placed.starts_at, begins))


def _of_no_crew(job: Job, step: Step, placed: Placed) -> Iterator[Finding]:
    if placed.crews:
        name = _name(job, step)
        yield _finding("crews", name, f"{name}: takes no crew, and has {', '.join(placed.crews)}.")


def _of_lock(job: Job, step: Step, placed: Placed) -> Iterator[Finding]:
    name = _name(job, step)
    if step.locked_at is not None and placed.starts_at != step.locked_at:
        yield _finding("lock", name, f"{name}: is locked at {_clock(step.locked_at)}, not {_clock(placed.starts_at)}.")
    if not set(step.locked_crews) <= set(placed.crews):
        yield _finding("lock", name, f"{name}: is locked to {', '.join(step.locked_crews)}.")


def _of_pour(job: Job, schedule: Schedule) -> Iterator[Finding]:
    pour = job.pour
    if pour is None:
        return
    placed, name = schedule.by_step[job.tag, pour.code], _name(job, pour)
    hour = next((one for one in job.pour_hours if one.starts_at == placed.starts_at), None)
    if hour is None:
        yield _finding("pour_hour", name, f"{name}: {_clock(placed.starts_at)} is no acceptable pour hour.")
        return
    if placed.ends_at - placed.starts_at != timedelta(minutes=pour.duration_min):
        yield _finding("unbroken", name, f"{name}: is interrupted; placing goes on without a break.")
    for step in job.steps:
        if step.kind is StepKind.CONDITION:
            yield from _of_conditioning(job, step, schedule.by_step[job.tag, step.code], placed)
        elif step.kind is StepKind.CURE:
            yield from _of_cure(job, step, schedule.by_step[job.tag, step.code], placed, hour)
        elif step.milestone:
            yield from _of_milestone(job, step, schedule.by_step[job.tag, step.code], hour)


def _of_conditioning(job: Job, step: Step, placed: Placed, pour: Placed) -> Iterator[Finding]:
    name = _name(job, step)
    if placed.ends_at != pour.starts_at or placed.ends_at - placed.starts_at != timedelta(minutes=step.duration_min):
        words = f"runs {_clock(placed.starts_at)} to {_clock(placed.ends_at)}"
        yield _finding("conditioning", name, f"{name}: {words}, and must last {step.duration_min} min up to the pour.")


def _ready_at(hour: PourHour, milestone: str) -> datetime:
    return hour.starts_at + timedelta(hours=hour.ready_h[milestone])


def _of_milestone(job: Job, step: Step, placed: Placed, hour: PourHour) -> Iterator[Finding]:
    ready_at, name = _ready_at(hour, step.milestone), _name(job, step)
    if placed.starts_at < ready_at:
        words = f"begins {_clock(placed.starts_at)}, before the cure allows it, {_clock(ready_at)}"
        yield _finding("cure", name, f"{name}: {words}.")


def _of_cure(job: Job, step: Step, placed: Placed, pour: Placed, hour: PourHour) -> Iterator[Finding]:
    name = _name(job, step)
    last_at = max([pour.ends_at, *(_ready_at(hour, milestone) for milestone in job.milestones)])
    if placed.starts_at != pour.ends_at or not NOTHING <= placed.ends_at - last_at < A_MINUTE:
        words = f"runs {_clock(placed.starts_at)} to {_clock(placed.ends_at)}"
        yield _finding("cure", name, f"{name}: {words}, and must run from the pour to {_clock(last_at)}.")


def _of_sharing(outage: Outage, schedule: Schedule) -> Iterator[Finding]:
    for crew in outage.crews:
        own = sorted(
            (one for one in schedule.steps if crew.name in one.crews), key=lambda one: (one.starts_at, one.ends_at)
        )
        for earlier, later in pairwise(own):
            if later.starts_at < earlier.ends_at:
                words = f"{crew.name} is at “{earlier.step}” of {earlier.job} and “{later.step}” of {later.job}"
                yield _finding("crew_twice", crew.name, f"{words} at once, {_clock(later.starts_at)}.")


def _of_tools(outage: Outage, schedule: Schedule) -> Iterator[Finding]:
    steps = {(job.tag, step.code): step for job in outage.jobs for step in job.steps}
    names = {tool for step in steps.values() for tool, _ in step.tools}
    for name in sorted(names):
        counts = [(one, dict(steps[one.job, one.step].tools).get(name, 0)) for one in schedule.steps]
        using = [(one, count) for one, count in counts if count]
        there = outage.tools.get(name, 0)
        for one, _ in using:
            at = one.starts_at
            in_use = sum(many for other, many in using if other.starts_at <= at < other.ends_at)
            if in_use > there:
                words = f"{in_use} × “{name}” are in use and there are {there}"
                yield _finding("tools", name, f"{words}, {_clock(at)}, when “{one.step}” of {one.job} begins.")
