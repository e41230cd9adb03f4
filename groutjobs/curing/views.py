"""The Cure page with its readings, and the Inspections of a pour."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, ROLES_THAT_RECORD, Role
from groutjobs.curing import actions, calc
from groutjobs.curing.actions import INSPECTORS
from groutjobs.curing.calc import after
from groutjobs.curing.drawing import cure_picture, inspection_picture, more_pictures, order_marks, tap_marks
from groutjobs.curing.files import EXAMPLE, LONG_COLUMNS, WIDE_COLUMNS
from groutjobs.curing.forms import (
    BoltsForm,
    ImportForm,
    InspectionForm,
    JudgeForm,
    LevelForm,
    ReadingForm,
    SetAsideForm,
    SoundingForm,
)
from groutjobs.curing.forms.after import HandoverForm, JackscrewsForm, JointsForm, SoftFootForm
from groutjobs.curing.models import CureInspection, InspectionKind, ReadingImport
from groutjobs.curing.queries import (
    chain_of,
    cure_of,
    imports_of,
    inspection_whole,
    latest_readings,
    photos_of,
    pour_with_machine,
    read_with_of,
)
from groutjobs.curing.watch_queries import watched
from groutjobs.equipment.drawing import drawing_of, plan_drawing
from groutjobs.errors import NotAllowed, Stale, Unusable
from groutjobs.pours.models import STATES_OPEN_FOR_READINGS, Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.units import US

SHOWN_IMPORTS = 30
ADD_PAGES = {
    InspectionKind.LEVEL: "curing:level_add",
    InspectionKind.SOUNDING: "curing:sounding_add",
    InspectionKind.BOLTS: "curing:bolts_add",
    InspectionKind.JACKSCREWS: "curing:jackscrews_add",
    InspectionKind.JOINTS: "curing:joints_add",
    InspectionKind.SOFT_FOOT: "curing:soft_foot_add",
    InspectionKind.HANDOVER: "curing:handover_add",
}


def _of(pour: Pour) -> dict[str, Any]:
    """What every page of a pour shows."""
    return {"pour": pour, "machine": pour.plan.machine, "site": pour.plan.machine.site}


def _reading_form(request: HttpRequest, pour: Pour, form: type[Any], *files: Any) -> Any:
    zone, system = pour.plan.machine.site.zone, person(request).unit_system
    return form(posted(request), *files, pour=pour, now=timezone.now(), zone=zone, system=system)


@allowed(read=EVERY_ROLE)
def cure_detail(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    system = person(request).unit_system
    state = cure_of(pour, system=system, for_page=True)
    may_read = may(request, pour, ROLES_THAT_RECORD) and pour.state in STATES_OPEN_FOR_READINGS
    imports = list(imports_of(pour)[:SHOWN_IMPORTS])
    used = read_with_of(pour, imports)
    context: dict[str, Any] = {
        **_of(pour),
        "state": state,
        "picture": cure_picture(state, zone=pour.plan.machine.site.zone, system=system),
        "form": _reading_form(request, pour, ReadingForm) if may_read else None,
        "may_inspect": may(request, pour, INSPECTORS),
        "readings": latest_readings(pour),
        "imports": [(row, used.get(row.pk)) for row in imports],
        "may_set_aside": may(request, pour, {Role.ENGINEER}),
        **watched(pour, state),
    }
    page = "curing/cure_detail.html#cure-now" if request.htmx else "curing/cure_detail.html"  # type: ignore[attr-defined]
    return render(request, page, context)


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def reading_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    form = _reading_form(request, pour, ReadingForm)
    if request.method == "POST" and form.is_valid():
        try:
            reading = actions.add_reading(pour=pour, by=person(request), **form.columns())
        except NotAllowed as error:
            form.refuse(error)
        else:
            messages.success(request, f"Kept: {reading.get_probe_display().lower()} {reading.typed}.")
            _tell_calibration(request, pour, reading.brought_in)
            return redirect("curing:cure_detail", pour.pk)
    context = {**_of(pour), "form": form, "heading": "Cure reading by hand"}
    return render(request, "curing/reading_form.html", context, status=422 if form.errors else 200)


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def reading_import(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    form = _reading_form(request, pour, ImportForm, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            brought = actions.import_readings(pour=pour, by=person(request), **form.columns())
        except NotAllowed as error:
            form.refuse(error)
        else:
            messages.success(request, f"Kept: {brought.new_count} of {brought.row_count} readings were new.")
            _tell_calibration(request, pour, brought)
            return redirect("curing:cure_detail", pour.pk)
    columns = {"wide": list(WIDE_COLUMNS), "long": list(LONG_COLUMNS), "example": EXAMPLE}
    context = {**_of(pour), "form": form, "columns": columns}
    return render(request, "curing/reading_import.html", context, status=422 if form.errors else 200)


def _tell_calibration(request: HttpRequest, pour: Pour, brought: ReadingImport) -> None:
    used = read_with_of(pour, [brought]).get(brought.pk)
    if used is not None and used.problem:
        messages.warning(request, f"The calibration of {used.instrument} {used.problem}; the report will say so.")


@allowed(read=EVERY_ROLE)
def reading_file(request: HttpRequest, import_id: int) -> HttpResponse:
    """The file as it was brought, never shown inside a page."""
    brought = row_or_404(request, ReadingImport.objects.select_related("pour__plan__machine"), pk=import_id)
    path = actions.file_path(brought.file_sha256)
    if not brought.file_sha256 or not path.exists():
        raise Http404
    response = HttpResponse(path.read_bytes(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="readings-{brought.file_sha256[:12]}.csv"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def reading_set_aside(request: HttpRequest, import_id: int) -> HttpResponse:
    rows = ReadingImport.objects.select_related("pour__plan__machine__site", "brought_by")
    brought = row_or_404(request, rows, pk=import_id)
    form = SetAsideForm(posted(request))
    if request.method == "POST" and form.is_valid():
        actions.set_aside_readings(brought_in=brought, why=form.cleaned_data["why"], by=person(request))
        messages.success(request, "Set aside: the clock no longer counts these readings; they stay on record.")
        return redirect("curing:cure_detail", brought.pour_id)
    context = {**_of(brought.pour), "form": form, "brought": brought, "first": brought.readings.first()}
    return render(request, "curing/reading_set_aside.html", context, status=422 if form.errors else 200)


@allowed(read=EVERY_ROLE)
def inspection_list(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    rows = list(chain_of(pour))
    kinds = [
        {
            "kind": kind,
            "counts": next((row for row in rows if row.kind == kind and not hasattr(row, "replaced_by")), None),
            "replaced": [row for row in rows if row.kind == kind and hasattr(row, "replaced_by")],
            "add": ADD_PAGES[kind],
        }
        for kind in InspectionKind
    ]
    context = {**_of(pour), "kinds": kinds, "may_inspect": may(request, pour, INSPECTORS)}
    return render(request, "curing/inspection_list.html", context)


@allowed(read=EVERY_ROLE)
def inspection_detail(request: HttpRequest, inspection_id: int) -> HttpResponse:
    row = row_or_404(request, inspection_whole(), pk=inspection_id)
    newer = getattr(row, "replaced_by", None)
    context = {
        **_of(row.pour),
        "row": row,
        "newer": newer,
        "photos": photos_of(row),
        "may_judge": newer is None and may(request, row.pour, INSPECTORS),
        "caution": calc.BOLT_TENSION_CAUTION if row.kind == InspectionKind.BOLTS else "",
        **_shown(request, row.kind, row.inputs, row.result),
    }
    return render(request, "curing/inspection_detail.html", context)


@allowed(read=INSPECTORS, write=INSPECTORS)
def inspection_judge(request: HttpRequest, inspection_id: int) -> HttpResponse:
    row = row_or_404(request, inspection_whole(), pk=inspection_id)
    form = JudgeForm(posted(request), is_hollow=row.result.get("hollow_m2", 0.0) > 0)
    if request.method == "POST" and form.is_valid():
        try:
            actions.judge_inspection(inspection=row, by=person(request), **form.columns())
        except (NotAllowed, Stale) as error:
            form.refuse(error)
        else:
            messages.success(request, f"Judged: {row.get_kind_display().lower()}.")
            return redirect("curing:inspection_detail", row.pk)
    context = {**_of(row.pour), "row": row, "form": form, **_shown(request, row.kind, row.inputs, row.result)}
    return render(request, "curing/inspection_judge.html", context, status=422 if form.errors else 200)


@allowed(read=INSPECTORS, write=INSPECTORS)
def level_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    return _inspection_add(request, pour_id, LevelForm, actions.record_level, {})


@allowed(read=INSPECTORS, write=INSPECTORS)
def sounding_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    asked = {"spacing_mm": _asked(request, "spacing", {f"{spacing:g}": spacing for spacing in calc.SPACINGS_MM})}
    return _inspection_add(request, pour_id, SoundingForm, actions.record_sounding, asked)


@allowed(read=INSPECTORS, write=INSPECTORS)
def bolts_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    asked = {"method": _asked(request, "method", {name: name for name in calc.VALUE_OF})}
    return _inspection_add(request, pour_id, BoltsForm, actions.record_bolts, asked)


@allowed(read=INSPECTORS, write=INSPECTORS)
def jackscrews_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    return _inspection_add(request, pour_id, JackscrewsForm, actions.record_jackscrews, {})


@allowed(read=INSPECTORS, write=INSPECTORS)
def joints_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    return _inspection_add(request, pour_id, JointsForm, actions.record_joints, {})


@allowed(read=INSPECTORS, write=INSPECTORS)
def soft_foot_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    return _inspection_add(request, pour_id, SoftFootForm, actions.record_soft_foot, {})


@allowed(read=INSPECTORS, write=INSPECTORS)
def handover_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    return _inspection_add(request, pour_id, HandoverForm, actions.record_handover, {})


def _asked(request: HttpRequest, name: str, choices: dict[str, Any]) -> Any:
    """One of a few choices in the query string; the first where none is named."""
    text = request.GET.get(name) or next(iter(choices))
    if text not in choices:
        raise Http404
    return choices[text]


def _inspection_add(
    request: HttpRequest, pour_id: int, form_of: type[Any], write: Callable[..., CureInspection], asked: dict[str, Any]
) -> HttpResponse:
    pour = row_or_404(request, pour_with_machine(), pk=pour_id)
    zone, system = pour.plan.machine.site.zone, person(request).unit_system
    try:
        form = form_of(posted(request), pour=pour, now=timezone.now(), zone=zone, system=system, **asked)
    except Unusable as error:
        raise NotAllowed(str(error)) from error
    if form.is_bound and form.is_valid() and not form.only_work_out:
        try:
            row = write(pour=pour, by=person(request), **form.columns())
        except (NotAllowed, Stale) as error:
            form.refuse(error)
        else:
            messages.success(
                request, f"Recorded: {row.get_kind_display().lower()}, {row.get_verdict_display().lower()}."
            )
            return redirect("curing:inspection_detail", row.pk)
    context = {**_of(pour), "form": form, "kind": form.kind, **asked, **_before(form, system)}
    if form.result is not None:
        context |= _shown(request, form.kind, form.inputs, form.result)
    page = "after" if form.kind in after.KINDS_AFTER else form.kind
    return render(request, f"curing/{page}_form.html", context, status=422 if form.errors else 200)


def _before(form: InspectionForm, system: str) -> dict[str, Any]:
    """What the page of a form shows before anything is worked out: the plan with its taps, bolts or points."""
    drawing = drawing_of(form.pour.plan.machine)
    if isinstance(form, SoundingForm):
        return {
            "plan": plan_drawing(drawing, system=system, overlay=tap_marks(form.taps)),
            "spacings": calc.SPACINGS_MM,
        }
    if isinstance(form, BoltsForm):
        order = calc.order_of(form.bolts)
        plan = plan_drawing(drawing, system=system, overlay=order_marks(form.bolts, order))
        return {"plan": plan, "targets": form.targets(), "caution": calc.BOLT_TENSION_CAUTION}
    return {"plan": plan_drawing(drawing, system=system)}


def _shown(request: HttpRequest, kind: str, inputs: Any, result: dict[str, Any]) -> dict[str, Any]:
    """A result in the units of the reader, with its picture."""
    system = person(request).unit_system
    return {
        "kind": kind,
        "inputs": inputs,
        "result": result,
        "findings": result["findings_us" if system == US else "findings"],
        "picture": inspection_picture(kind, inputs, result, system=system),
        "narrow": inspection_picture(kind, inputs, result, system=system, narrow=True),
        "more_pictures": more_pictures(kind, inputs, result, system=system),
        "result_page": f"curing/{kind}_result.html",
    }
