"""Orders of the jobs to begin with."""

import math

from groutjobs.engineering.checks import require_above
from groutjobs.scheduling.alone import JobAlone
from groutjobs.scheduling.in_minutes import MinuteJob, OutageInMinutes
from groutjobs.scheduling.problem import CREWED

PATIENCES = (1.0, 2.0, 4.0, 8.0)
"""How many usual jobs of slack make a job a third as pressing."""


def by_due_date(plan: OutageInMinutes) -> list[int]:
    """Return the jobs in the order in which they are due, those without a date last; the greedy order.

    Parameters
    ----------
    plan : The outage in whole minutes.

    Returns
    -------
    Numbers of the jobs. [-]

    Source
    ------
    [GROUTJOBS] earliest due date first; of two due together the heavier first.
    """
    never = plan.horizon_min + 1
    due = [(never if job.due_min is None else job.due_min, -job.job.weight, job.index) for job in plan.jobs]
    return [number for *_, number in sorted(due)]


def most_pressing_first(plan: OutageInMinutes, patience: float) -> list[int]:
    """Return the jobs so that the most pressing comes first: heavy, short, and with little slack when its turn comes.

    Parameters
    ----------
    plan : The outage in whole minutes.
    patience : How many usual jobs of slack make a job a third as pressing. [-], above 0

    Returns
    -------
    Numbers of the jobs. [-]

    Source
    ------
    [VM1987] apparent tardiness cost. Time passes by the work of each job shared among all crews.
    """
    require_above("patience", patience, 0.0, source="VM1987")
    work_min = [0] * len(plan.jobs)
    for one in plan.steps:
        work_min[one.job] += one.step.duration_min * one.step.crews if one.step.kind in CREWED else 0
    usual_min = sum(work_min) / len(plan.jobs)
    pace = plan.horizon_min / max(1, plan.common.total_min) / max(1, plan.n_crews)
    slack_min = [_slack_min(plan, job) for job in plan.jobs]
    left, order, now_min = set(range(len(plan.jobs))), [], 0.0
    while left:
        ranked = [
            (plan.jobs[job].job.weight / work_min[job])
            * math.exp(-max(0.0, slack_min[job] - now_min) / (patience * usual_min))
            for job in sorted(left)
        ]
        taken = sorted(left)[ranked.index(max(ranked))]
        left.remove(taken)
        order.append(taken)
        now_min += work_min[taken] * pace
    return order


def _slack_min(plan: OutageInMinutes, job: MinuteJob) -> int:
    due_min = 2 * plan.horizon_min if job.due_min is None else job.due_min
    return due_min - JobAlone(plan, job).earliest_min({})
