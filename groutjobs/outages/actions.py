"""Writing outages and choosing hours. A choice is never changed: another one takes its place."""

import datetime as dt

from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.findings import Level
from groutjobs.outages.choices import Choice
from groutjobs.outages.models import Outage, ScheduledPour
from groutjobs.outages.queries import scheduled_pours
from groutjobs.planning.models import PlanState, PourPlan
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import index_of


@action
def add_outage(*, site: Site, name: str, starts_at: dt.datetime, ends_at: dt.datetime, by: User) -> Outage:
    _require_order(starts_at, ends_at)
    _require_new_name(site, name)
    outage = Outage.objects.create(site=site, name=name, starts_at=starts_at, ends_at=ends_at)
    record(outage, by=by, kind="outage.added")
    return outage


@action
def change_outage(
    *, outage: Outage, name: str, starts_at: dt.datetime, ends_at: dt.datetime, by: User, reason: str = ""
) -> Outage:
    """Move or rename an outage. Pours chosen in it keep their hours; what is late then shows on its page."""
    _require_order(starts_at, ends_at)
    _require_new_name(outage.site, name, but=outage)
    before = snapshot(outage)
    outage.name, outage.starts_at, outage.ends_at = name, starts_at, ends_at
    outage.save()
    record(outage, by=by, kind="outage.changed", before=before, reason=reason)
    return outage


@action
def choose_hour(
    *,
    plan: PourPlan,
    pour_hours: PourHours,
    starts_at: dt.datetime,
    by: User,
    outage: Outage | None = None,
    align_by_at: dt.datetime | None = None,
    reason: str = "",
) -> ScheduledPour:
    """Schedule the pour of an approved plan at an hour of its search; an earlier choice stops being current.

    An hour that something stands in the way of, or that misses a date, is taken only with a reason.
    """
    if pour_hours.is_trial:
        raise NotAllowed("this search only tries a measure; take the measure first, then choose its hour")
    choice = _choice(plan, pour_hours, starts_at, outage, align_by_at)
    others = scheduled_pours().filter(plan__machine__site=plan.machine.site_id).exclude(plan=plan)
    findings = choice.findings(others, timezone.now())
    blockers = [finding.message for finding in findings if finding.level is Level.BLOCKER]
    if blockers and not reason.strip():
        raise NotAllowed(f"{' '.join(blockers)} Choose another hour, or write the reason why this one is taken.")
    for earlier in ScheduledPour.objects.select_for_update().filter(plan=plan, is_current=True):
        before = snapshot(earlier)
        earlier.is_current = False
        earlier.save()
        record(earlier, by=by, kind="scheduled_pour.replaced", before=before, reason=reason)
    chosen = ScheduledPour.objects.create(
        plan=plan,
        outage=outage,
        pour_hours=pour_hours,
        starts_at=starts_at,
        align_by_at=align_by_at,
        milestones=choice.milestones(),
        basis=choice.basis(),
        findings=[finding.as_json() for finding in findings],
        reason=reason,
        chosen_by=by,
    )
    record(chosen, by=by, kind="scheduled_pour.chosen", reason=reason)
    return chosen


def _choice(
    plan: PourPlan,
    pour_hours: PourHours,
    starts_at: dt.datetime,
    outage: Outage | None,
    align_by_at: dt.datetime | None,
) -> Choice:
    if plan.state != PlanState.APPROVED:
        raise NotAllowed(f"{plan} is {plan.get_state_display().lower()}; approve a plan before choosing its hour")
    if pour_hours.plan_id != plan.pk:
        raise NotAllowed(f"these pour hours were searched for another plan; search the hours of {plan}")
    if outage is not None and outage.site_id != plan.machine.site_id:
        raise NotAllowed(f"{outage} is an outage of another site; choose one of the site of {plan.machine.tag}")
    index = index_of(pour_hours, starts_at)
    if index is None:
        raise NotAllowed(f"{starts_at:%Y-%m-%d %H:%M} was not judged by this search; choose one of its hours")
    return Choice(pour_hours=pour_hours, index=index, outage=outage, align_by_at=align_by_at)


def _require_order(starts_at: dt.datetime, ends_at: dt.datetime) -> None:
    if ends_at <= starts_at:
        raise NotAllowed("the outage ends before it starts; correct one of the two times")


def _require_new_name(site: Site, name: str, *, but: Outage | None = None) -> None:
    same = Outage.objects.filter(site=site, name=name)
    if but is not None:
        same = same.exclude(pk=but.pk)
    if same.exists():
        raise NotAllowed(f"{site} already has an outage named {name}; give this one another name")
