"""Reads of outages and scheduled pours that other stages use."""

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from groutjobs.equipment.models import Site
from groutjobs.outages.models import Outage, ScheduledPour
from groutjobs.planning.models import PlanState, PourPlan


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
