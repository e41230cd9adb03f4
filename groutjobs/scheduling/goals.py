"""What a schedule is judged by, as terms of the constraint model: weighted lateness, risk, finish."""

from ortools.sat.python import cp_model

from groutjobs.scheduling.in_minutes import MinuteJob
from groutjobs.scheduling.rules import Model


def lateness(built: Model, bound_min: int) -> cp_model.LinearExpr:
    """Return the sum of weight times minutes late on the common clock.

    Parameters
    ----------
    built : The model; variables are added to it.
    bound_min : What the sum is known not to be under. [min], 0 or more

    Returns
    -------
    The sum. [min]

    Source
    ------
    [GROUTJOBS] exact: nights and days off between a date and the end of a job count in full.
    """
    late: list[cp_model.IntVar] = []
    weights: list[int] = []
    for job in built.plan.jobs:
        if job.due_min is not None:
            late.append(_late_min(built, job, job.due_min))
            weights.append(job.job.weight)
    total = cp_model.LinearExpr.weighted_sum(late, weights)
    if late:
        built.model.add(total >= bound_min)
    return total


def _late_min(built: Model, job: MinuteJob, due_min: int) -> cp_model.IntVar:
    """The end on the common clock is the end on the working axis and every break before it."""
    model, axis, horizon_min = built.model, built.axis, built.plan.horizon_min
    late = model.new_int_var(0, max(0, horizon_min - min(due_min, 0)), f"late {job.index}")
    started = [number for number, (begins, _) in enumerate(axis.spells) if begins <= due_min]
    base = started[-1] if started else 0
    for index in job.last:
        if index not in built.end:
            _late_cure(built, job, due_min, late)
            continue
        clock: list[cp_model.LinearExprT] = [built.end[index]]
        for number in range(base + 1, len(axis.spells)):
            into = model.new_bool_var(f"late {index} {number}")
            first_work = axis.spell_work[number][0]
            model.add(built.end[index] <= first_work).only_enforce_if(~into)
            clock.append((axis.spells[number][0] - axis.spells[number - 1][1]) * into)
        offset = axis.spells[base][0] - axis.spell_work[base][0] if axis.spells else 0
        model.add(late >= cp_model.LinearExpr.sum(clock) + offset - due_min)
    return late


def _late_cure(built: Model, job: MinuteJob, due_min: int, late: cp_model.IntVar) -> None:
    """A job that ends with its cure."""
    built.model.add(late >= built.chosen(job, [option.cured_min for option in job.options]) - due_min)


def risk(built: Model) -> cp_model.LinearExpr:
    """Return the number of pours that are expected to break a limit, in thousandths.

    Parameters
    ----------
    built : The model.

    Returns
    -------
    The sum over the pour hours that are taken. [-]

    Source
    ------
    [GROUTJOBS] odds of the hours that are taken; the expected number needs no independence.
    """
    literals = [literal for job in built.plan.jobs for literal in built.hour.get(job.index, [])]
    risks = [option.risk for job in built.plan.jobs for option in job.options]
    return cp_model.LinearExpr.weighted_sum(literals, risks)


def finish(built: Model) -> cp_model.IntVar:
    """Return the last end of any job on the working axis.

    Parameters
    ----------
    built : The model; a variable is added to it.

    Returns
    -------
    The end. [min]

    Source
    ------
    [GROUTJOBS] exact.
    """
    last = built.model.new_int_var(0, built.axis.total_min, "finish")
    for job in built.plan.jobs:
        for index in job.last:
            if index in built.end:
                built.model.add(last >= built.end[index])
    return last
