"""Why no schedule keeps every rule, in words: first each job for itself, then rule after rule taken away."""

from dataclasses import replace
from datetime import timedelta

from ortools.sat.python import cp_model

from groutjobs.scheduling.alone import JobAlone
from groutjobs.scheduling.in_minutes import MinuteJob, MinuteStep, OutageInMinutes
from groutjobs.scheduling.problem import CREWED, Job, Outage, StepKind
from groutjobs.scheduling.rules import Rule, model_of

TRY_UNITS = 5.0


def reasons_of_jobs(plan: OutageInMinutes) -> tuple[str, ...]:
    """Return why jobs cannot be done even if each had the whole outage to itself.

    Parameters
    ----------
    plan : The outage in whole minutes.

    Returns
    -------
    One sentence for each thing found, empty where there is none.

    Source
    ------
    [GROUTJOBS] each job for itself, exact.
    """
    found: list[str] = []
    for job in plan.jobs:
        own = [plan.steps[index] for index in _crewed(plan, job)]
        missing = [sentence for one in own for sentence in _missing(plan, one)]
        found += missing or _no_time(plan, job)
    return tuple(f"{sentence}." for sentence in found)


def _crewed(plan: OutageInMinutes, job: MinuteJob) -> list[int]:
    return [one.index for one in plan.steps if one.job == job.index and one.step.kind in CREWED]


def _missing(plan: OutageInMinutes, one: MinuteStep) -> list[str]:
    """Crews and tools that the outage does not have."""
    step, tag = one.step, plan.jobs[one.job].job.tag
    found = []
    if not one.groups:
        able = len(plan.outage.crews_with(step.skill))
        need = f"{step.crews} crews" if step.crews > 1 else "a crew"
        have = f"“{', '.join(step.locked_crews)}”" if step.locked_crews else f"the outage has {able}"
        at_once = " in the same shifts" if step.crews > 1 else ""
        found.append(f"{tag}: “{step.label}” needs {need} with the skill “{step.skill}”{at_once}; {have}")
    for name, count in step.tools:
        have_count = plan.outage.tools.get(name, 0)
        if have_count < count:
            found.append(f"{tag}: “{step.label}” needs {count} × “{name}”; the outage has {have_count}")
    return found


def _no_time(plan: OutageInMinutes, job: MinuteJob) -> list[str]:
    tag = job.job.tag
    broken = _broken_locks(plan, job)
    if broken:
        return broken
    alone = JobAlone(plan, job)
    late = [index for index, end in alone.before.items() if end == alone.never_min]
    if late:
        label = plan.steps[late[0]].step.label
        return [f"{tag}: even without other jobs “{label}” does not end within the outage"]
    if job.pour is not None and not list(alone.options_from(alone.pour_from_min(alone.before))):
        return [_no_hour(plan, job, alone)]
    if alone.earliest_min({}) >= alone.never_min:
        ends = plan.outage.clock(plan.outage.ends_at)
        return [f"{tag}: even without other jobs it is not done when the outage ends, {ends}"]
    return []


def _broken_locks(plan: OutageInMinutes, job: MinuteJob) -> list[str]:
    """Locks outside working time, and locks before the work that must come first can be done."""
    found, alone = [], JobAlone(plan, job)
    for index in _crewed(plan, job):
        one = plan.steps[index]
        at_min = one.locked_min
        if at_min is None:
            continue
        words = f"{job.job.tag}: “{one.step.label}” is locked at {plan.outage.clock(plan.at(at_min))}"
        inside = 0 <= at_min < plan.horizon_min
        axes = [plan.axes[group.axis] for group in one.groups]
        if not inside or not any(axis.holds_unbroken(at_min, at_min + 1) for axis in axes):
            found.append(f"{words}, which is no working time of its crews")
        elif (ready_min := max([0, *(alone.before.get(earlier, 0) for earlier in one.after)])) > at_min:
            found.append(f"{words}, but the steps before it take until {_until(plan, ready_min)}")
        elif one.step.kind is StepKind.POUR and not job.options:
            found.append(f"{words}, which is none of its acceptable pour hours")
    return found


def _no_hour(plan: OutageInMinutes, job: MinuteJob, alone: JobAlone) -> str:
    tag, pour = job.job.tag, job.job.pour
    label = "pour" if pour is None else pour.label
    if not job.job.pour_hours:
        return f"{tag}: there is no acceptable pour hour at all"
    if not job.options:
        return f"{tag}: no acceptable hour leaves “{label}” within the outage and within one shift of its crew"
    ready, last = alone.pour_from_min(alone.before), job.options[-1].at_min
    return (
        f"{tag}: preparation and conditioning take until {_until(plan, ready)} at best, and the last acceptable "
        f"pour hour is {plan.outage.clock(plan.at(last))}"
    )


def _until(plan: OutageInMinutes, minute: int) -> str:
    return "after the end of the outage" if minute > plan.horizon_min else plan.outage.clock(plan.at(minute))


def reasons_together(outage: Outage) -> tuple[str, ...]:
    """Return what would have to change so that jobs fit that fit one by one, but not together.

    Parameters
    ----------
    outage : What has been found to have no schedule.

    Returns
    -------
    One sentence for each single rule without which there is a schedule, or one that says that no single rule will do.

    Source
    ------
    [GROUTJOBS] rules taken away one by one; each time the solver is asked whether any schedule is left.
    """
    tried: tuple[tuple[str, str, Outage, frozenset[Rule]], ...] = (
        ("more crews", "There are too few crews for the time there is.", outage, frozenset({Rule.CREWS})),
        ("more tools", "There are too few tools for the time there is.", outage, frozenset({Rule.TOOLS})),
        ("no locked steps", f"Locked steps stand in the way: {_locks(outage)}.", _unlocked(outage), frozenset()),
        ("shorter conditioning", "Conditioning takes too long.", outage, frozenset({Rule.CONDITIONING})),
        ("a later end", f"The outage ends too early, {outage.ends_at:%Y-%m-%d}.", _longer(outage), frozenset()),
    )
    found = [
        f"{words} With {change} alone every job would fit."
        for change, words, eased, without in tried
        if (eased is not outage or without) and _has_schedule(eased, without)
    ]
    return tuple(found) or (
        "No single change is enough: neither more crews, more tools, no locks, shorter conditioning nor a later end.",
    )


def _locks(outage: Outage) -> str:
    locked = [f"“{step.label}” of {job.tag}" for job in outage.jobs for step in job.steps if step.locked_at is not None]
    more = f" and {len(locked) - 3} more" if len(locked) > 3 else ""
    return ", ".join(locked[:3]) + more


def _unlocked(outage: Outage) -> Outage:
    """The same outage without locks; itself where it has none."""
    if not any(step.locked_at for job in outage.jobs for step in job.steps):
        return outage
    return replace(outage, jobs=tuple(_job_unlocked(job) for job in outage.jobs))


def _job_unlocked(job: Job) -> Job:
    return replace(job, steps=tuple(replace(step, locked_at=None, locked_crews=()) for step in job.steps))


def _longer(outage: Outage) -> Outage:
    """The same outage with half its length more, a week at least."""
    length = outage.ends_at - outage.starts_at
    return replace(outage, ends_at=outage.ends_at + max(length / 2, timedelta(days=7)))


def _has_schedule(outage: Outage, without: frozenset[Rule]) -> bool:
    """Whether a schedule was found that keeps all rules but some; False too where the search ran out of effort."""
    built = model_of(OutageInMinutes(outage), without)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = TRY_UNITS
    return solver.solve(built.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
