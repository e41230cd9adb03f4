"""Reads of outages and scheduled pours that other stages use."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery

from groutjobs.accounts.models import Membership
from groutjobs.equipment.models import Site
from groutjobs.outages.calc import Asked, JobFacts, lockable_steps, usual_hours
from groutjobs.outages.models import (
    CalendarLink,
    Outage,
    OutageCrew,
    OutageJob,
    OutageSchedule,
    ScheduledPour,
    ScheduleState,
)
from groutjobs.planning.models import PlanState, PourPlan
from groutjobs.windows.models import PourHours

TOLD_OF_RESULT = ("score", "greedy", "late_bound_h", "proven")
"""Keys of the result of a schedule that stand in a row beside other schedules."""


def scheduled_pour(plan: PourPlan) -> ScheduledPour | None:
    """The hour chosen for the plan as it stands now."""
    return scheduled_pours().filter(plan=plan).first()


def scheduled_pours() -> QuerySet[ScheduledPour]:
    """Current choices with what a table shows, without the long results they rest on."""
    rows = ScheduledPour.objects.filter(is_current=True)
    return rows.select_related("plan__machine__site", "outage__site", "pour_hours__forecast", "chosen_by").defer(
        "plan__result", "pour_hours__result", "pour_hours__forecast__hours", "pour_hours__forecast__note"
    )


def pours_in(outage: Outage) -> list[ScheduledPour]:
    """Current choices of an outage, by start."""
    return list(scheduled_pours().filter(outage=outage))


def outages_listed() -> QuerySet[Outage]:
    """Outages with the number of pours chosen in each."""
    counted = Count("scheduled_pours", filter=Q(scheduled_pours__is_current=True))
    return Outage.objects.select_related("site").annotate(pour_count=counted)


def unscheduled_plans(site: Site) -> QuerySet[PourPlan]:
    """Approved plans of a site for which no hour is chosen and no pour was opened."""
    chosen = ScheduledPour.objects.filter(plan=OuterRef("pk"), is_current=True)
    rows = PourPlan.objects.filter(machine__site=site, state=PlanState.APPROVED, pours=None)
    return rows.exclude(Exists(chosen)).select_related("machine").defer("result").order_by("machine__tag")


def crews_of(outage: Outage) -> list[OutageCrew]:
    """Crews that are there, by name, with their people."""
    return list(OutageCrew.objects.filter(outage=outage, is_there=True).prefetch_related("people"))


def jobs_listed(outage: Outage) -> QuerySet[Any]:
    """Jobs that are in, without the long results; `search_id` is the newest search of each plan, None without one."""
    newest = (
        PourHours.objects.filter(plan=OuterRef("plan"), is_trial=False).order_by("-made_at", "-pk").values("pk")[:1]
    )
    rows = OutageJob.objects.filter(outage=outage, is_in=True).annotate(search_id=Subquery(newest))
    return rows.select_related("plan__machine").defer("plan__result")


def jobs_of(outage: Outage) -> list[JobFacts]:
    """Jobs that are in, with plan and newest search whole, as a schedule takes them; two queries."""
    jobs = list(jobs_listed(outage).defer(None))
    searches = searches_by_id(job.search_id for job in jobs)
    return [JobFacts(job=job, search=searches.get(job.search_id)) for job in jobs]


def whole_searches(ids: Iterable[int | None]) -> QuerySet[PourHours]:
    """Searches with all that choosing one of their hours takes: plan and forecast whole."""
    rows = PourHours.objects.filter(pk__in=[each for each in ids if each])
    return rows.select_related("plan__machine__site", "forecast").defer("forecast__note")


def searches_by_id(ids: Iterable[int | None]) -> dict[int | None, PourHours]:
    """Searches by number, without the long columns of plan and forecast."""
    return {row.pk: row for row in whole_searches(ids).defer("plan__result", "forecast__hours", "forecast__note")}


def asked_for(schedule: OutageSchedule) -> Asked:
    """All that a schedule is computed from."""
    outage = schedule.outage
    return Asked(
        outage=outage,
        crews=crews_of(outage),
        jobs=jobs_of(outage),
        what_if=schedule.what_if,
        seconds=schedule.seconds,
    )


def schedules_listed(outage: Outage) -> QuerySet[Any]:
    """All schedules of an outage, newest first, with their people and, of the long results, what a row tells."""
    rows = OutageSchedule.objects.filter(outage=outage).select_related("asked_by").defer("result")
    return rows.annotate(**{name: F(f"result__{name}") for name in TOLD_OF_RESULT})


def plans_to_schedule(outage: Outage) -> QuerySet[PourPlan]:
    """Approved plans of the site that are in no job of this outage and whose pour is not opened yet."""
    taken = OutageJob.objects.filter(outage=outage, is_in=True, plan__machine=OuterRef("machine"))
    rows = PourPlan.objects.filter(machine__site=outage.site_id, state=PlanState.APPROVED, pours=None)
    return rows.exclude(Exists(taken)).select_related("machine__site").defer("result").order_by("machine__tag")


def steps_of(job: OutageJob) -> tuple[list[tuple[str, str, float]], set[str]]:
    """Steps with usual hours, and the codes of those that can be held at a time."""
    return usual_hours(job), {code for code, _ in lockable_steps()}


def newest_searches(outage: Outage) -> dict[int, PourHours]:
    """The newest search of the plan of each job, by plan."""
    searches = searches_by_id(job.search_id for job in jobs_listed(outage))
    return {search.plan_id: search for search in searches.values()}


def accepted_schedule(outage: Outage) -> OutageSchedule | None:
    return OutageSchedule.objects.filter(outage=outage, state=ScheduleState.ACCEPTED).first()


def calendar_link(code_sha256: str) -> CalendarLink | None:
    """The link of a code that still holds: not revoked, its person active and with a role at the site."""
    rows = CalendarLink.objects.filter(code_sha256=code_sha256, revoked_at=None, person__is_active=True)
    at_site = Membership.objects.filter(user=OuterRef("person"), site=OuterRef("outage__site"))
    return rows.filter(Exists(at_site)).select_related("outage__site").first()
