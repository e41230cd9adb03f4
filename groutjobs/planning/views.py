"""Pages of data sheets, lots and pour plans."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from groutjobs.accounts.access import allowed, may, person, posted, roles_of, row_or_404, rows_for
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.equipment.models import Site
from groutjobs.equipment.queries import machine_whole
from groutjobs.errors import NotAllowed, OutOfRange, Unusable
from groutjobs.planning import actions
from groutjobs.planning.forms import (
    ApproveForm,
    DataSheetForm,
    GroutSystemForm,
    LotForm,
    PlanForm,
    PointForm,
    ReviseForm,
)
from groutjobs.planning.models import DataSheet, GroutLot, GroutSystem, PlanPoint, PourPlan
from groutjobs.planning.page import PRINTED, entered_rows, plan_context
from groutjobs.planning.queries import hour_set, lacks_of, plan_whole, plans_of, sheets_in_use, systems_listed

KEEPS_SHEETS = frozenset({Role.ENGINEER, Role.ADMINISTRATOR})
PLANS = frozenset({Role.ENGINEER})
OPENS_POURS = frozenset({Role.ENGINEER, Role.CREW_LEAD})


@allowed(read=EVERY_ROLE)
def data_sheet_list(request: HttpRequest) -> HttpResponse:
    systems = list(rows_for(request, systems_listed()))
    for system in systems:
        system.may_be_kept = may(request, system, KEEPS_SHEETS)  # type: ignore[attr-defined]
        system.today = timezone.localdate(timezone=system.site.tz)  # type: ignore[attr-defined]
    context = {
        "systems": systems,
        "fixed": sheets_in_use([sheet.pk for system in systems for sheet in system.data_sheets.all()]),
        "may_add": any(held & KEEPS_SHEETS for held in roles_of(request).values()),
        "demo_anywhere": any(system.site.is_demo for system in systems),
    }
    return render(request, "planning/data_sheet_list.html", context)


@allowed(read=KEEPS_SHEETS, write=KEEPS_SHEETS)
def grout_system_add(request: HttpRequest) -> HttpResponse:
    form = GroutSystemForm(posted(request), sites=rows_for(request, Site.objects.all()))
    if form.is_valid():
        system = actions.add_grout_system(by=person(request), **form.values())
        messages.success(request, f"{system} is added. Type in its data sheet next.")
        return redirect("planning:data_sheet_add", system.pk)
    return render(request, "planning/grout_system_form.html", {"form": form})


@allowed(read=KEEPS_SHEETS, write=KEEPS_SHEETS)
def data_sheet_add(request: HttpRequest, system_id: int) -> HttpResponse:
    system = row_or_404(request, systems_listed(), pk=system_id)
    user, newest = person(request), next(iter(system.data_sheets.all()), None)
    form = DataSheetForm(posted(request), grout_system=system, system=user.unit_system)
    if newest is not None:
        form.show_sheet(newest, as_new=True)
    if form.is_valid():
        sheet = actions.add_data_sheet(grout_system=system, by=user, **form.columns())
        messages.success(request, f"{sheet} is kept. Compare each number with the paper once more.")
        return redirect("planning:data_sheet_detail", sheet.pk)
    context = {"form": form, "system": system, "site": system.site, "newest": newest}
    return render(request, "planning/data_sheet_form.html", context)


@allowed(read=KEEPS_SHEETS, write=KEEPS_SHEETS)
def data_sheet_edit(request: HttpRequest, sheet_id: int) -> HttpResponse:
    sheet = row_or_404(request, DataSheet.objects.select_related("grout_system__site"), pk=sheet_id)
    user, system = person(request), sheet.grout_system
    actions.require_not_fixed(sheet)
    form = DataSheetForm(posted(request), grout_system=system, sheet=sheet, system=user.unit_system)
    form.show_sheet(sheet, as_new=False)
    if form.is_valid():
        actions.change_data_sheet(sheet=sheet, by=user, **form.columns())
        return redirect("planning:data_sheet_detail", sheet.pk)
    context = {"form": form, "system": system, "site": system.site, "sheet": sheet}
    return render(request, "planning/data_sheet_form.html", context)


@allowed(read=EVERY_ROLE)
def data_sheet_detail(request: HttpRequest, sheet_id: int) -> HttpResponse:
    sheet = row_or_404(request, DataSheet.objects.select_related("grout_system__site"), pk=sheet_id)
    context = {
        "sheet": sheet,
        "site": sheet.grout_system.site,
        "printed": entered_rows(sheet, PRINTED, person(request).unit_system),
        "is_fixed": bool(sheets_in_use([sheet.pk])),
        "may_keep": may(request, sheet, KEEPS_SHEETS),
    }
    return render(request, "planning/data_sheet_detail.html", context)


@allowed(read=KEEPS_SHEETS, write=KEEPS_SHEETS)
def lot_add(request: HttpRequest, system_id: int) -> HttpResponse:
    system = row_or_404(request, GroutSystem.objects.select_related("site"), pk=system_id)
    user = person(request)
    form = LotForm(posted(request), grout_system=system, system=user.unit_system)
    if form.is_valid():
        lot = actions.add_lot(grout_system=system, by=user, **form.columns())
        messages.success(request, f"Lot {lot.lot_no} is in the store.")
        return redirect("planning:data_sheet_list")
    return render(request, "planning/lot_form.html", {"form": form, "system": system, "site": system.site})


@allowed(read=KEEPS_SHEETS, write=KEEPS_SHEETS)
def lot_edit(request: HttpRequest, lot_id: int) -> HttpResponse:
    lot = row_or_404(request, GroutLot.objects.select_related("grout_system__site"), pk=lot_id)
    user, system = person(request), lot.grout_system
    form = LotForm(posted(request), grout_system=system, lot=lot, system=user.unit_system)
    if form.is_valid():
        actions.change_lot(lot=lot, by=user, **form.columns())
        messages.success(request, f"Lot {lot.lot_no} is changed.")
        return redirect("planning:data_sheet_list")
    return render(request, "planning/lot_form.html", {"form": form, "system": system, "site": system.site, "lot": lot})


@allowed(read=PLANS, write=PLANS)
def plan_add(request: HttpRequest, machine_id: int) -> HttpResponse:
    machine = row_or_404(request, machine_whole(), pk=machine_id)
    user, newest = person(request), plans_of(machine).first()
    if newest is not None:
        return redirect("planning:plan_detail", newest.pk)
    form = PlanForm(posted(request), site=machine.site, system=user.unit_system)
    context = {"form": form, "machine": machine, "site": machine.site, "lacks": lacks_of(machine)}
    if not context["lacks"] and form.is_valid():
        try:
            plan = actions.make_plan(machine=machine, by=user, **form.columns())
        except (OutOfRange, Unusable) as error:
            form.refuse_by_quantity(error)
        else:
            return redirect("planning:plan_detail", plan.pk)
    return render(request, "planning/plan_form.html", context)


@allowed(read=PLANS, write=PLANS)
def plan_edit(request: HttpRequest, plan_id: int) -> HttpResponse:
    plan = row_or_404(request, PourPlan.objects.select_related("machine__site", "data_sheet__grout_system"), pk=plan_id)
    user, machine = person(request), plan.machine
    actions.require_drafted(plan)
    form = PlanForm(posted(request), site=machine.site, plan=plan, system=user.unit_system)
    if form.is_valid():
        try:
            actions.change_plan(plan=plan, by=user, **form.columns())
        except (OutOfRange, Unusable) as error:
            form.refuse_by_quantity(error)
        else:
            return redirect("planning:plan_detail", plan.pk)
    return render(
        request, "planning/plan_form.html", {"form": form, "machine": machine, "site": machine.site, "plan": plan}
    )


@allowed(read=EVERY_ROLE)
def plan_detail(request: HttpRequest, plan_id: int) -> HttpResponse:
    plan = row_or_404(request, plan_whole(), pk=plan_id)
    scheduled = hour_set(plan)
    starts_at = scheduled.starts_at if scheduled else None
    context = plan_context(plan, person(request).unit_system, starts_at) | {
        "site": plan.machine.site,
        "points": plan.points.all(),
        "revisions": plans_of(plan.machine),
        "scheduled": scheduled,
        "may_plan": may(request, plan, PLANS),
        "may_open": may(request, plan, OPENS_POURS),
        "approve_form": ApproveForm(),
        "revise_form": ReviseForm(),
    }
    return render(request, "planning/plan_detail.html", context)


@allowed(write=PLANS)
def plan_approve(request: HttpRequest, plan_id: int) -> HttpResponse:
    plan = row_or_404(request, PourPlan.objects.select_related("machine__site"), pk=plan_id)
    form = ApproveForm(posted(request))
    if form.is_valid():
        try:
            actions.approve_plan(plan=plan, by=person(request), note=form.cleaned_data["note"])
        except (NotAllowed, OutOfRange, Unusable) as error:
            form.refuse(error, field="note")
        else:
            messages.success(request, f"{plan} is approved and frozen.")
            return redirect("planning:plan_detail", plan.pk)
    context = {"form": form, "plan": plan, "site": plan.machine.site, "verb": "Approve"}
    return render(request, "planning/plan_step_form.html", context)


@allowed(write=PLANS)
def plan_revise(request: HttpRequest, plan_id: int) -> HttpResponse:
    plan = row_or_404(request, PourPlan.objects.select_related("machine__site"), pk=plan_id)
    form = ReviseForm(posted(request))
    if form.is_valid():
        revised = actions.revise_plan(plan=plan, by=person(request), reason=form.cleaned_data["reason"])
        return redirect("planning:plan_detail", revised.pk)
    context = {"form": form, "plan": plan, "site": plan.machine.site, "verb": "Make a new revision of"}
    return render(request, "planning/plan_step_form.html", context)


@allowed(read=PLANS, write=PLANS)
def point_edit(request: HttpRequest, point_id: int) -> HttpResponse:
    point = row_or_404(request, PlanPoint.objects.select_related("plan__machine__site"), pk=point_id)
    actions.require_drafted(point.plan)
    form = PointForm(posted(request), point=point)
    if form.is_valid():
        actions.change_point(point=point, by=person(request), **form.values())
        return redirect("planning:plan_detail", point.plan_id)
    return render(request, "planning/point_form.html", {"form": form, "point": point, "site": point.plan.machine.site})
