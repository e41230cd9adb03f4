"""Machines list, machine sheet, sites, and the forms of foundation and plate."""

from typing import Any

import segno
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404, rows_for
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.equipment import actions, calc, queries, tables
from groutjobs.equipment.drawing import drawing_of, plan_drawing
from groutjobs.equipment.forms import DAYS, FoundationForm, MachineForm, SiteForm
from groutjobs.equipment.geometry import baseplate_of, foundation_of
from groutjobs.equipment.models import Machine, Site
from groutjobs.equipment.plate_forms import PlateForm, RectangleForm
from groutjobs.equipment.tolerances import tolerance_of
from groutjobs.fields import SheetForm

PER_PAGE = 50
ENGINEER = frozenset({Role.ENGINEER})
ADMINISTRATOR = frozenset({Role.ADMINISTRATOR})


@allowed(read=EVERY_ROLE)
def machine_list(request: HttpRequest) -> HttpResponse:
    """Every machine of the person's sites, found by tag or service."""
    found = request.GET.get("q", "").replace("\x00", "")[:60].strip()
    page = Paginator(rows_for(request, queries.machines_listed(found)), PER_PAGE).get_page(request.GET.get("page"))
    sites = list(rows_for(request, Site.objects.all()))
    return render(
        request,
        "equipment/machine_list.html",
        {
            "page": page,
            "found": found,
            "sites": sites,
            "sites_to_write": [site for site in sites if may(request, site, ENGINEER)],
            "demo_anywhere": any(site.is_demo for site in sites),
        },
    )


@allowed(read=EVERY_ROLE)
def machine_detail(request: HttpRequest, machine_id: int) -> HttpResponse:
    """The machine sheet: drawing, facts, what stands out, and the way to the pour plan."""
    machine = row_or_404(request, queries.machine_whole(), pk=machine_id)
    system = person(request).unit_system
    drawing, plate = drawing_of(machine), baseplate_of(machine)
    context = {
        "machine": machine,
        "site": machine.site,
        "foundation": foundation_of(machine),
        "plate": plate,
        "space_mm": calc.grout_space_mm(machine, plate.underside_elevation_mm) if plate else None,
        "drawing": "" if drawing.is_empty else mark_safe(plan_drawing(drawing, system=system)),  # noqa: S308
        "findings": calc.data_findings(machine, on=timezone.localdate(timezone=machine.site.tz), system=system),
        "mass": calc.block_mass(machine),
        "tolerance": tolerance_of(machine.level_class),
        "compartments": compartments_shown(machine, system),
        "missing": queries.missing_from(machine),
        "plans": queries.plans_of(machine),
        "may_write": may(request, machine, ENGINEER),
    }
    return render(request, "equipment/machine_detail.html", context)


@allowed(read=ENGINEER, write=ENGINEER)
def machine_add(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    form = MachineForm(posted(request), site=site, **manner(request, site))
    if form.is_valid():
        machine = actions.add_machine(site=site, by=person(request), columns=columns_of(form))
        messages.success(request, f"{machine.tag} is entered. Next: its foundation and its plate.")
        return redirect("equipment:machine_detail", machine.pk)
    return shown_form(request, "equipment/machine_form.html", form, site=site)


@allowed(read=ENGINEER, write=ENGINEER)
def machine_change(request: HttpRequest, machine_id: int) -> HttpResponse:
    machine = row_or_404(request, Machine.objects.select_related("site"), pk=machine_id)
    form = MachineForm(posted(request), site=machine.site, row=machine, **manner(request, machine.site))
    if form.is_valid():
        actions.change_machine(
            machine=machine, by=person(request), columns=columns_of(form), reason=form.cleaned_data["reason"]
        )
        messages.success(request, f"{machine.tag} is changed.")
        return redirect("equipment:machine_detail", machine.pk)
    return shown_form(request, "equipment/machine_form.html", form, site=machine.site, machine=machine)


@allowed(read=ENGINEER, write=ENGINEER)
def foundation_change(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Enter the foundation, or change it."""
    machine = row_or_404(request, queries.machine_whole(), pk=machine_id)
    form = FoundationForm(posted(request), row=foundation_of(machine), **manner(request, machine.site))
    if form.is_valid():
        given = form.cleaned_data
        actions.save_foundation(
            machine=machine,
            by=person(request),
            columns=columns_of(form, "survey_points", "bolts"),
            survey_points=given["survey_points"],
            bolts=given["bolts"],
            reason=given.get("reason", ""),
        )
        messages.success(request, f"The foundation of {machine.tag} is saved.")
        return redirect("equipment:machine_detail", machine.pk)
    return shown_form(request, "equipment/foundation_form.html", form, site=machine.site, machine=machine)


@allowed(read=ENGINEER, write=ENGINEER)
def plate_change(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Enter the plate, or change it."""
    machine = row_or_404(request, queries.machine_whole(), pk=machine_id)
    form = PlateForm(posted(request), machine=machine, row=baseplate_of(machine), **manner(request, machine.site))
    if form.is_valid():
        actions.save_plate(
            machine=machine,
            by=person(request),
            columns=form.plate_columns() | {"outline": form.outline_rows()},
            compartments=form.compartment_rows(),
            parts=form.part_rows(),
            reason=form.cleaned_data.get("reason", ""),
        )
        messages.success(request, f"The plate of {machine.tag} is saved.")
        return redirect("equipment:machine_detail", machine.pk)
    return shown_form(request, "equipment/plate_form.html", form, site=machine.site, machine=machine)


@allowed(read=ENGINEER, write=ENGINEER)
def plate_start(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Start a plate from a rectangle; its tables are then corrected on the plate form."""
    machine = row_or_404(request, queries.machine_whole(), pk=machine_id)
    if baseplate_of(machine) is not None:
        return redirect("equipment:plate_change", machine.pk)
    form = RectangleForm(posted(request), machine=machine, **manner(request, machine.site))
    if form.is_valid():
        actions.start_from_rectangle(
            machine=machine, by=person(request), columns=form.plate_columns(), rectangle=form.rectangle()
        )
        messages.success(request, "A first plate is drawn. Correct it, and add jackscrews and mounting pads.")
        return redirect("equipment:plate_change", machine.pk)
    return shown_form(request, "equipment/plate_start.html", form, site=machine.site, machine=machine)


@allowed(read=EVERY_ROLE)
def machine_tag(request: HttpRequest, machine_id: int) -> HttpResponse:
    """A small label to print: tag, service, site, and a code that opens the machine sheet."""
    machine = row_or_404(request, Machine.objects.select_related("site"), pk=machine_id)
    address = request.build_absolute_uri(reverse("equipment:machine_detail", args=[machine.pk]))
    code = segno.make(address, error="m", micro=False).svg_inline(
        border=4, scale=8, svgclass=None, lineclass=None, title=f"Code for {machine.tag}"
    )
    context = {"machine": machine, "site": machine.site, "address": address, "code": mark_safe(code)}  # noqa: S308
    return render(request, "equipment/machine_tag.html", context)


@allowed(read=EVERY_ROLE)
def site_list(request: HttpRequest) -> HttpResponse:
    sites = list(rows_for(request, queries.sites_listed()))
    context = {
        "sites": sites,
        "may_add": any(may(request, site, ADMINISTRATOR) for site in sites),
        "demo_anywhere": any(site.is_demo for site in sites),
    }
    return render(request, "equipment/site_list.html", context)


@allowed(read=EVERY_ROLE)
def site_detail(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, queries.sites_listed(), pk=site_id)
    context = {
        "site": site,
        "days": [DAYS[number] for number in site.working_days],
        "may_write": may(request, site, ADMINISTRATOR),
        "may_add_machine": may(request, site, ENGINEER),
    }
    return render(request, "equipment/site_detail.html", context)


@allowed(read=ADMINISTRATOR, write=ADMINISTRATOR)
def site_add(request: HttpRequest) -> HttpResponse:
    form = SiteForm(posted(request), system=person(request).unit_system)
    if form.is_valid():
        site = actions.add_site(by=person(request), columns=columns_of(form))
        messages.success(request, f"{site.name} is entered. You are its administrator; invite the others.")
        return redirect("equipment:site_detail", site.pk)
    return shown_form(request, "equipment/site_form.html", form)


@allowed(read=ADMINISTRATOR, write=ADMINISTRATOR)
def site_change(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    form = SiteForm(posted(request), row=site, **manner(request, site))
    if form.is_valid():
        actions.change_site(site=site, by=person(request), columns=columns_of(form))
        messages.success(request, f"{site.name} is changed.")
        return redirect("equipment:site_detail", site.pk)
    return shown_form(request, "equipment/site_form.html", form, site=site)


def manner(request: HttpRequest, site: Site) -> dict[str, Any]:
    """How a form speaks to this person at this site."""
    return {"system": person(request).unit_system, "zone": site.zone}


def columns_of(form: SheetForm, *tables_of_form: str) -> dict[str, Any]:
    """The columns of the row itself with what was typed, without tables and reason."""
    given = {name: value for name, value in form.values().items() if name not in {"reason", *tables_of_form}}
    return given | {"as_entered": form.entered()}


def shown_form(request: HttpRequest, template: str, form: SheetForm, **context: Any) -> HttpResponse:
    """The form, empty or with what was typed and why it was not taken."""
    return render(request, template, {"form": form, **context}, status=422 if form.errors else 200)


def compartments_shown(machine: Machine, system: str) -> list[dict[str, Any]]:
    """The compartments of the sheet, corners in the reader's units."""
    plate = baseplate_of(machine)
    return [
        {"row": row, "corners": tables.corners_text(row.outline, system)}
        for row in (plate.compartments.all() if plate else ())
    ]
