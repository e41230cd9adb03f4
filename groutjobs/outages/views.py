"""Outages, their pours, and choosing an hour for a plan."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from groutjobs.accounts.access import allowed, may, person, posted, roles_of, row_or_404, rows_for
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.equipment.models import Site
from groutjobs.errors import GroutJobsError
from groutjobs.outages import actions
from groutjobs.outages.choices import Choice
from groutjobs.outages.drawing import outage_picture
from groutjobs.outages.duties import late_findings
from groutjobs.outages.forms import ChangeOutageForm, ChooseForm, OutageForm
from groutjobs.outages.models import Outage
from groutjobs.outages.queries import outages_listed, pours_in, scheduled_pour, unscheduled_plans
from groutjobs.outages.tables import pour_rows
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import StartHour, start_hour
from groutjobs.windows.tables import best_index

WRITERS = (Role.ENGINEER,)
SHOWN = 100


@allowed(read=EVERY_ROLE)
def outage_list(request: HttpRequest) -> HttpResponse:
    rows = rows_for(request, outages_listed())
    sites = rows_for(request, Site.objects.all())
    writable = [site for site in sites if roles_of(request).get(site.pk, set()) & set(WRITERS)]
    context = {
        "outages": rows[:SHOWN],
        "shown": SHOWN,
        "count": rows.count(),
        "writable_sites": writable,
        "demo_anywhere": any(site.is_demo for site in sites),
    }
    return render(request, "outages/outage_list.html", context)


def _outage(request: HttpRequest, outage_id: int) -> Outage:
    return row_or_404(request, Outage.objects.select_related("site"), pk=outage_id)


@allowed(read=EVERY_ROLE)
def outage_detail(request: HttpRequest, outage_id: int) -> HttpResponse:
    outage = _outage(request, outage_id)
    pours = pours_in(outage)
    context = {
        "site": outage.site,
        "outage": outage,
        "rows": pour_rows(pours),
        "picture": outage_picture(outage, pours),
        "plans": unscheduled_plans(outage.site),
        "may_write": may(request, outage, WRITERS),
    }
    return render(request, "outages/outage_detail.html", context)


@allowed(read=WRITERS, write=WRITERS)
def outage_add(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    form = OutageForm(posted(request), zone=site.zone)
    if request.method == "POST" and form.is_valid():
        try:
            outage = actions.add_outage(site=site, by=person(request), **form.values())
        except GroutJobsError as error:
            form.refuse(error)
        else:
            messages.success(request, "The outage is kept.")
            return redirect("outages:outage_detail", outage.pk)
    context = {"site": site, "form": form}
    return render(request, "outages/outage_form.html", context, status=422 if form.errors else 200)


@allowed(read=WRITERS, write=WRITERS)
def outage_change(request: HttpRequest, outage_id: int) -> HttpResponse:
    outage = _outage(request, outage_id)
    form = ChangeOutageForm(posted(request), zone=outage.site.zone)
    form.show_row(outage, "name", "starts_at", "ends_at")
    if request.method == "POST" and form.is_valid():
        try:
            actions.change_outage(outage=outage, by=person(request), **form.values())
        except GroutJobsError as error:
            form.refuse(error)
        else:
            messages.success(request, "The outage is changed; pours keep their hours.")
            return redirect("outages:outage_detail", outage.pk)
    context = {"site": outage.site, "outage": outage, "form": form}
    return render(request, "outages/outage_form.html", context, status=422 if form.errors else 200)


@allowed(read=WRITERS, write=WRITERS)
def hour_choose(request: HttpRequest, search_id: int, hour: int) -> HttpResponse:
    found = row_or_404(request, PourHours.objects.select_related("plan__machine__site", "forecast"), pk=search_id)
    site, start = found.plan.machine.site, _start(request, found, hour)
    during = Outage.objects.filter(site=site, starts_at__lte=start.at, ends_at__gte=start.at).first()
    form = ChooseForm(posted(request), site=site, initial={"align_by_at": found.align_by_at, "outage": during})
    if request.method == "POST" and form.is_valid():
        asked: dict[str, Any] = {"plan": found.plan, "pour_hours": found, "starts_at": start.at} | form.values()
        try:
            chosen = actions.choose_hour(by=person(request), **asked)
        except GroutJobsError as error:
            form.refuse(error)
        else:
            messages.success(request, "The hour is chosen.")
            return redirect("outages:outage_detail", chosen.outage.pk) if chosen.outage else _to_hours(found)
    choice = Choice(pour_hours=found, index=hour, outage=None, align_by_at=None)
    context = {
        "site": site,
        "late": late_findings(choice.duties(person(request).unit_system), start.at, timezone.now()),
        "found": found,
        "hour": start,
        "form": form,
        "present": scheduled_pour(found.plan),
        "best": best_index(found),
    }
    return render(request, "outages/hour_choose.html", context, status=422 if form.errors else 200)


def _to_hours(found: PourHours) -> HttpResponse:
    return redirect("windows:pour_hours", found.plan_id)


def _start(request: HttpRequest, found: PourHours, hour: int) -> StartHour:
    try:
        return start_hour(found, hour, person(request).unit_system)
    except IndexError as error:
        raise Http404 from error
