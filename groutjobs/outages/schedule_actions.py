"""Crews and jobs of an outage, and its schedules: asking for one, stopping it, accepting it."""

import datetime as dt
from collections.abc import Sequence
from functools import partial
from typing import Any

from django.db import transaction
from django.utils import timezone

from groutjobs.accounts.models import Membership, User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.errors import NotAllowed
from groutjobs.outages.actions import choose_hour
from groutjobs.outages.models import (
    STATES_TO_ACCEPT,
    STATES_UNDER_WAY,
    HoursNews,
    Outage,
    OutageCrew,
    OutageJob,
    OutageSchedule,
    ScheduleState,
    SolveState,
)
from groutjobs.outages.queries import crews_of, jobs_listed, whole_searches
from groutjobs.outages.tasks import search_again, solve_schedule
from groutjobs.planning.models import PlanState, PourPlan
from groutjobs.weather.models import Forecast


@action
def add_crew(*, outage: Outage, by: User, people: Sequence[int] = (), **columns: Any) -> OutageCrew:
    _require_new_crew(outage, columns["name"])
    crew = OutageCrew.objects.create(outage=outage, **columns)
    record(crew, by=by, kind="outage_crew.added", extra=_set_people(crew, people))
    return crew


@action
def change_crew(*, crew: OutageCrew, by: User, people: Sequence[int] = (), **columns: Any) -> OutageCrew:
    _require_new_crew(crew.outage, columns["name"], but=crew)
    before = snapshot(crew)
    for name, value in columns.items():
        setattr(crew, name, value)
    crew.save()
    record(crew, by=by, kind="outage_crew.changed", before=before, extra=_set_people(crew, people))
    return crew


def _set_people(crew: OutageCrew, people: Sequence[int]) -> dict[str, Any] | None:
    """Make these the people of the crew; what the record keeps of it, None where nothing changed."""
    held = sorted(crew.people.values_list("pk", flat=True))
    wanted = sorted(people)
    if held == wanted:
        return None
    at_site = set(
        Membership.objects.filter(site=crew.outage.site_id, user__in=wanted).values_list("user_id", flat=True)
    )
    if set(wanted) - at_site:
        raise NotAllowed(f"{crew} can take people of its site only; one of those given has no role there")
    crew.people.set(wanted)
    return {"people": {"old": held, "new": wanted}}


@action
def take_crew_off(*, crew: OutageCrew, by: User) -> OutageCrew:
    """The crew is not scheduled any more; schedules made before keep its name."""
    before = snapshot(crew)
    crew.is_there = False
    crew.save()
    record(crew, by=by, kind="outage_crew.taken_off", before=before)
    return crew


@action
def set_means(*, outage: Outage, mixers: int, alignment_tools: int, days_off: list[str], by: User) -> Outage:
    """Tools that crews share, and days on which nobody works."""
    before = snapshot(outage)
    outage.mixers, outage.alignment_tools, outage.days_off = mixers, alignment_tools, days_off
    outage.save()
    record(outage, by=by, kind="outage.means_set", before=before)
    return outage


@action
def add_job(
    *,
    outage: Outage,
    plan: PourPlan,
    due_at: dt.datetime | None,
    weight: int,
    by: User,
    hours_of_steps: dict[str, float] | None = None,
    locked: dict[str, str] | None = None,
) -> OutageJob:
    if plan.machine.site_id != outage.site_id:
        raise NotAllowed(f"{plan.machine.tag} stands at another site; choose a plan of the site of {outage}")
    if plan.state != PlanState.APPROVED:
        raise NotAllowed(f"{plan} is {plan.get_state_display().lower()}; approve it before it is scheduled")
    if OutageJob.objects.filter(outage=outage, plan__machine=plan.machine_id, is_in=True).exists():
        raise NotAllowed(f"{plan.machine.tag} is in this outage already; change its job")
    job = OutageJob.objects.create(
        outage=outage,
        plan=plan,
        due_at=due_at,
        weight=weight,
        hours_of_steps=hours_of_steps or {},
        locked=locked or {},
    )
    record(job, by=by, kind="outage_job.added")
    return job


@action
def change_job(
    *,
    job: OutageJob,
    due_at: dt.datetime | None,
    weight: int,
    hours_of_steps: dict[str, float],
    locked: dict[str, str],
    by: User,
) -> OutageJob:
    before = snapshot(job)
    job.due_at, job.weight, job.hours_of_steps, job.locked = due_at, weight, hours_of_steps, locked
    job.save()
    record(job, by=by, kind="outage_job.changed", before=before)
    return job


@action
def take_job_out(*, job: OutageJob, by: User) -> OutageJob:
    before = snapshot(job)
    job.is_in = False
    job.save()
    record(job, by=by, kind="outage_job.taken_out", before=before)
    return job


@action
def ask_schedule(*, outage: Outage, seconds: int, by: User, what_if: dict[str, int] | None = None) -> OutageSchedule:
    """Have a schedule computed behind the page; one at a time for an outage."""
    Outage.objects.select_for_update(of=("self",)).get(pk=outage.pk)
    if OutageSchedule.objects.filter(outage=outage, state__in=STATES_UNDER_WAY).exists():
        raise NotAllowed("A schedule of this outage is being computed; wait for it, or stop it.")
    lacks = _lacks(outage)
    if lacks:
        raise NotAllowed(" ".join(lacks))
    newest = OutageSchedule.objects.filter(outage=outage).order_by("-number").values_list("number", flat=True).first()
    schedule = OutageSchedule.objects.create(
        outage=outage, number=(newest or 0) + 1, seconds=seconds, what_if=what_if or {}, asked_by=by
    )
    SolveState.objects.create(schedule=schedule)
    record(schedule, by=by, kind="outage_schedule.asked")
    transaction.on_commit(partial(solve_schedule.enqueue, schedule.pk))
    return schedule


def _lacks(outage: Outage) -> list[str]:
    lacks = []
    if not crews_of(outage):
        lacks.append("The outage has no crew; add at least one.")
    jobs = list(jobs_listed(outage))
    if not jobs:
        lacks.append("The outage has no job; add the plan of at least one machine.")
    bare = [job.plan.machine.tag for job in jobs if job.search_id is None]
    return lacks + [f"{tag} has no pour hours; search them before it is scheduled." for tag in bare]


@action
def ask_hours_again(*, outage: Outage, forecast: Forecast, by: User) -> Outage:
    """Have the hours of every machine of the outage judged by this forecast, behind the page."""
    if forecast.site_id != outage.site_id:
        raise NotAllowed(f"the forecast is of another site; choose one of {outage.site}")
    record(outage, by=by, kind="outage.hours_asked", before=snapshot(outage), extra={"forecast": forecast.pk})
    news = {"forecast": forecast, "asked_at": timezone.now(), "done_at": None, "judged": 0, "refused": []}
    HoursNews.objects.update_or_create(outage=outage, defaults=news)
    transaction.on_commit(partial(search_again.enqueue, outage.pk, forecast.pk, by.pk))
    return outage


@action
def stop_schedule(*, schedule: OutageSchedule, by: User) -> OutageSchedule:
    """End the computing soon; the best that was found until then is kept.

    Where no worker has it, because none runs or the one that had it died, it ends at once.
    """
    if schedule.state not in STATES_UNDER_WAY:
        raise NotAllowed(f"{schedule} is not being computed; there is nothing to stop")
    before, solving = snapshot(schedule), SolveState.objects.filter(schedule=schedule)
    if not solving.filter(working_until__gt=timezone.now()).exists():
        schedule.state, schedule.reason = ScheduleState.FAILED, "It was stopped while nobody computed it."
        schedule.save(update_fields=["state", "reason"])
    solving.update(stop_asked=True)
    record(schedule, by=by, kind="outage_schedule.stop_asked", before=before, extra={"stop": True})
    return schedule


@action
def accept_schedule(*, schedule: OutageSchedule, by: User, reason: str = "") -> OutageSchedule:
    """Take the schedule: its pour hours are chosen for the plans, and the one accepted before is replaced."""
    schedule = OutageSchedule.objects.select_for_update(of=("self",)).select_related("outage").get(pk=schedule.pk)
    if schedule.state not in STATES_TO_ACCEPT:
        raise NotAllowed(f"{schedule} is {schedule.get_state_display()}; only one that was found can be accepted")
    if any(schedule.what_if.values()):
        raise NotAllowed(
            f"{schedule} asks what would be with other means than the outage has; change crews, tools or the end of "
            "the outage and compute it again"
        )
    late = [job["tag"] for job in schedule.result["jobs"] if job["late_h"] > 0]
    if late and not reason.strip():
        raise NotAllowed(f"{', '.join(late)} would be late; write who agreed to that")
    _replace_accepted(schedule, by)
    _choose_hours(schedule, by, reason.strip())
    before = snapshot(schedule)
    schedule.state, schedule.accepted_by, schedule.accepted_at = ScheduleState.ACCEPTED, by, timezone.now()
    schedule.save()
    record(schedule, by=by, kind="outage_schedule.accepted", before=before, reason=reason)
    return schedule


def _replace_accepted(schedule: OutageSchedule, by: User) -> None:
    accepted = OutageSchedule.objects.filter(outage=schedule.outage, state=ScheduleState.ACCEPTED)
    for earlier in accepted.select_for_update(of=("self",)):
        before = snapshot(earlier)
        earlier.state = ScheduleState.REPLACED
        earlier.save(update_fields=["state"])
        record(earlier, by=by, kind="outage_schedule.replaced", before=before, reason=f"by {schedule.number}")


def _choose_hours(schedule: OutageSchedule, by: User, reason: str) -> None:
    rows = {job["tag"]: job for job in schedule.result["jobs"]}
    jobs = schedule.result["inputs"]["jobs"]
    searches = {search.pk: search for search in whole_searches(row["pour_hours"] for row in jobs.values())}
    for tag, row in rows.items():
        found = searches[jobs[tag]["pour_hours"]]
        choose_hour(
            plan=found.plan,
            pour_hours=found,
            starts_at=dt.datetime.fromisoformat(row["pour_at"]),
            by=by,
            outage=schedule.outage,
            align_by_at=dt.datetime.fromisoformat(row["due_at"]) if row["due_at"] else None,
            reason=reason,
        )


def _require_new_crew(outage: Outage, name: str, *, but: OutageCrew | None = None) -> None:
    same = OutageCrew.objects.filter(outage=outage, name=name, is_there=True)
    if but is not None:
        same = same.exclude(pk=but.pk)
    if same.exists():
        raise NotAllowed(f"{outage} already has a crew named {name}; give this one another name")
