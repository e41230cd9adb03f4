"""What stands where at one site: one standing for each machine, the next pours, the cures that run, forecast age."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.models import Device
from groutjobs.equipment.models import Machine, Site
from groutjobs.instruments.queries import InstrumentRow, calibrations_due
from groutjobs.nonconformances.models import Nonconformance
from groutjobs.nonconformances.queries import open_ones
from groutjobs.outages.models import ScheduledPour
from groutjobs.planning.models import PlanState, PourPlan
from groutjobs.pours.models import Pour, PourState
from groutjobs.sync.queries import OnPhone, on_phones
from groutjobs.turnover.models import (
    STATES_IN_FORCE,
    STATES_OVER,
    STATES_UNDER_WAY,
    Meaning,
    ReportState,
    Signature,
    TurnoverReport,
)
from groutjobs.weather.models import Forecast

STALE_FORECAST = dt.timedelta(hours=24)
LATE_PHONE = dt.timedelta(hours=24)
"""A phone that holds entries and was not heard of for so long is told in red [GROUTJOBS]."""
REPORT_STANDS = tuple(STATES_UNDER_WAY | STATES_IN_FORCE)
SIGNERS = {Meaning.PERFORMED: "crew", Meaning.REVIEWED: "an engineer", Meaning.APPROVED: "an approver"}


@dataclass(frozen=True)
class Standing:
    """How far the job of one machine is, what comes next, and who is waited for."""

    machine: Machine
    word: str
    manner: str
    next_step: str
    url: str
    waits_for: str


def machines_with_jobs(site: Site, *, finished: bool) -> QuerySet[Machine]:
    """Machines of the site with all that a standing needs, in a fixed number of queries."""
    signed = {
        f"signed_{meaning}": Exists(Signature.objects.filter(report=OuterRef("pk"), meaning=meaning))
        for meaning in Meaning
    }
    live_reports = TurnoverReport.objects.exclude(state__in=STATES_OVER).annotate(**signed)
    pours = Pour.objects.order_by("-number").prefetch_related(Prefetch("reports", live_reports))
    scheduled = ScheduledPour.objects.filter(is_current=True)
    plans = (
        PourPlan.objects.exclude(state=PlanState.SUPERSEDED)
        .defer("result")
        .order_by("-revision")
        .prefetch_related(Prefetch("pours", pours), Prefetch("scheduled_pours", scheduled))
    )
    issued = TurnoverReport.objects.filter(pour__plan__machine=OuterRef("pk"), state__in=STATES_IN_FORCE)
    machines = Machine.objects.filter(site=site).select_related("site", "foundation", "baseplate")
    machines = machines.annotate(is_finished=Exists(issued)).prefetch_related(Prefetch("plans", plans))
    return machines if finished else machines.filter(is_finished=False)


def standing_of(machine: Machine) -> Standing:
    """Read the standing off prefetched rows; no query."""
    plans = list(machine.plans.all())
    if not hasattr(machine, "foundation") or not hasattr(machine, "baseplate"):
        url = reverse("equipment:machine_detail", args=[machine.pk])
        return Standing(machine, "to be surveyed", "waiting", "Enter foundation and plate", url, "engineer")
    if not plans:
        url = reverse("planning:plan_add", args=[machine.pk])
        return Standing(machine, "surveyed", "waiting", "Make the pour plan", url, "engineer")
    pour = next((pour for plan in plans for pour in plan.pours.all()), None)
    if pour is None:
        return _standing_of_plan(machine, plans[0])
    return _standing_of_pour(machine, pour)


def _standing_of_plan(machine: Machine, plan: PourPlan) -> Standing:
    url = reverse("planning:plan_detail", args=[plan.pk])
    if plan.state == PlanState.DRAFTED:
        return Standing(machine, "plan drafted", "waiting", "Check and approve the plan", url, "engineer")
    scheduled = next(iter(plan.scheduled_pours.all()), None)
    if scheduled is None:
        url = reverse("windows:pour_hours", args=[plan.pk])
        return Standing(machine, "plan approved", "ask", "Find and choose the pour hour", url, "engineer")
    there = scheduled.starts_at.astimezone(machine.site.tz)
    return Standing(machine, f"pour set for {there:%d %b %H:%M}", "good", "Open the pour log", url, "crew lead")


def _standing_of_pour(machine: Machine, pour: Pour) -> Standing:
    report = next(iter(pour.reports.all()), None)
    if report is not None:
        return _standing_of_report(machine, report)
    phone = reverse("phone:pour_log", args=[pour.pk])
    if pour.state == PourState.PREPARED:
        return Standing(machine, "in preparation", "waiting", "Answer the hold points", phone, "crew, inspector")
    if pour.state == PourState.RELEASED:
        return Standing(machine, "released to pour", "good", "Pour and log the batches", phone, "crew")
    if pour.state == PourState.POURED:
        return Standing(machine, "pouring", "ask", "Log batches; declare complete", phone, "crew lead")
    url = reverse("turnover:readiness", args=[pour.pk])
    if pour.state == PourState.PLACED:
        url = reverse("curing:cure_detail", args=[pour.pk])
        return Standing(machine, "curing", "good", "Readings, then inspections", url, "crew, inspector")
    return Standing(machine, "curing, pour record complete", "good", "See what is still to do", url, "crew, inspector")


def _standing_of_report(machine: Machine, report: TurnoverReport) -> Standing:
    url = reverse("turnover:report_detail", args=[report.pk])
    if report.state in STATES_IN_FORCE:
        return Standing(machine, f"turned over, {report.number}", "good", "Open the report", url, "")
    if report.is_alarming:
        word = f"signed, could not be sealed {report.tries} times"
        return Standing(machine, word, "stop", "See why and mend it", url, "engineer, site administrator")
    if report.state == ReportState.APPROVED:
        return Standing(machine, "signed, not sealed yet", "ask", "Open the report", url, "")
    if report.state == ReportState.SEALED:
        return Standing(machine, "sealed, not issued", "ask", "Issue the report", url, "engineer")
    unsigned = [meaning for meaning in Meaning if not getattr(report, f"signed_{meaning}")]
    missing = unsigned[0]
    word = f"report frozen, {3 - len(unsigned)} of 3 signed"
    return Standing(machine, word, "ask", f"Sign: {missing.label.lower()}", url, SIGNERS[missing])


@dataclass(frozen=True)
class HeldBack:
    """A phone that has made entries which have not come, and whether it was heard of within a day."""

    phone: OnPhone
    is_late: bool


def phones_that_hold(site: Site, at: dt.datetime) -> list[HeldBack]:
    """Phones of the site that still hold entries, those not heard of for longest first; one query."""
    held = [one for one in on_phones(Device.objects.filter(site=site)) if one.at_least]
    held.sort(key=lambda one: one.last_contact_at or one.device.enrolled_at)
    return [HeldBack(one, at - (one.last_contact_at or one.device.enrolled_at) > LATE_PHONE) for one in held]


@dataclass(frozen=True)
class SiteDay:
    """The parts of the Day sheet beside the machines."""

    next_pours: list[ScheduledPour]
    cures: list[Pour]
    forecast: Forecast | None
    forecast_is_stale: bool
    nonconformances: list[Nonconformance]
    to_calibrate: list[InstrumentRow]


def site_day(site: Site, at: dt.datetime | None = None) -> SiteDay:
    """Next pours, running cures and the latest forecast of a site, in six queries."""
    now = at or timezone.now()
    next_pours = (
        ScheduledPour.objects.filter(plan__machine__site=site, is_current=True, starts_at__gte=now)
        .select_related("plan__machine", "outage")
        .defer("plan__result")
        .order_by("starts_at")[:8]
    )
    cures = (
        Pour.objects.filter(plan__machine__site=site, state__in=[PourState.PLACED, PourState.SETTLED])
        .exclude(Exists(TurnoverReport.objects.filter(pour=OuterRef("pk"), state__in=REPORT_STANDS)))
        .select_related("plan__machine__site", "plan__data_sheet__grout_system")
        .defer("plan__result")
        .order_by("placed_at")[:12]
    )
    forecast = Forecast.objects.filter(site=site).defer("hours").first()
    is_stale = forecast is not None and not forecast.is_typical and now - forecast.issued_at > STALE_FORECAST
    to_calibrate = calibrations_due(site, now.astimezone(site.tz).date())
    return SiteDay(list(next_pours), list(cures), forecast, is_stale, open_ones(site), to_calibrate)
