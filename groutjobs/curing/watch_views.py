"""Spans of readings set aside, the log of wetting, and “what if it is heated from now”."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, ROLES_THAT_RECORD, Role
from groutjobs.curing import calc, watching
from groutjobs.curing.forms import HeatForm, SpanAsideForm, SpanBackForm, StrikeForm, WetForm
from groutjobs.curing.queries import readings_of
from groutjobs.curing.watch_drawing import heated_picture
from groutjobs.curing.watch_models import KeptHeating, ReadingAside, WetEntry
from groutjobs.errors import GroutJobsError, NotAllowed
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.weather.queries import latest_forecast

ENGINEER = frozenset({Role.ENGINEER})
POUR = "pour__plan__machine__site"


def _of(pour: Pour) -> dict[str, Any]:
    return {"pour": pour, "machine": pour.plan.machine, "site": pour.plan.machine.site}


def _form_page(request: HttpRequest, pour: Pour, form: Any, heading: str, button: str, lead: str = "") -> HttpResponse:
    context = {**_of(pour), "form": form, "heading": heading, "button": button, "lead": lead}
    return render(request, "curing/watch_form.html", context, status=422 if form.errors else 200)


@allowed(read=ENGINEER, write=ENGINEER)
def span_aside(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    asked = {name: request.GET.get(name, "") for name in ("probe", "from_at", "until_at")}
    form = SpanAsideForm(posted(request), zone=pour.plan.machine.site.zone, initial=asked)
    if form.is_valid():
        try:
            span = watching.set_span_aside(pour=pour, by=person(request), **form.cleaned_data)
        except NotAllowed as error:
            form.refuse(error)
        else:
            messages.success(request, f"Set aside: {span.reading_count} readings; they stay on record.")
            return redirect("curing:cure_detail", pour.pk)
    lead = "The clock no longer counts them. Nothing is deleted, and they can be taken back."
    return _form_page(request, pour, form, "Set a span of one probe aside", "Set aside", lead)


@allowed(read=ENGINEER, write=ENGINEER)
def span_back(request: HttpRequest, aside_id: int) -> HttpResponse:
    span = row_or_404(request, ReadingAside.objects.select_related(POUR), pk=aside_id)
    form = SpanBackForm(posted(request))
    if form.is_valid():
        try:
            watching.take_span_back(span=span, why=form.cleaned_data["why"], by=person(request))
        except NotAllowed as error:
            form.refuse(error)
        else:
            return redirect("curing:cure_detail", span.pour_id)
    lead = f"{span.get_probe_display()}, {span.reading_count} readings, set aside because: {span.why}"
    return _form_page(request, span.pour, form, "Let readings count again", "Take them back", lead)


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def wet_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    form = WetForm(posted(request), zone=pour.plan.machine.site.zone, initial={"at": timezone.now()})
    if form.is_valid():
        try:
            watching.log_wetness(pour=pour, by=person(request), **form.cleaned_data)
        except NotAllowed as error:
            form.refuse(error)
        else:
            return redirect("curing:cure_detail", pour.pk)
    return _form_page(request, pour, form, "Log of wetting", "Keep this entry")


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def wet_strike(request: HttpRequest, wet_entry_id: int) -> HttpResponse:
    entry = row_or_404(request, WetEntry.objects.select_related(POUR), pk=wet_entry_id)
    form = StrikeForm(posted(request))
    if form.is_valid():
        try:
            watching.strike_wetness(entry=entry, why=form.cleaned_data["why"], by=person(request))
        except NotAllowed as error:
            form.refuse(error)
        else:
            return redirect("curing:cure_detail", entry.pour_id)
    return _form_page(request, entry.pour, form, f"Strike “{entry.get_wetness_display()}”", "Strike it")


@allowed(read=EVERY_ROLE, write=ENGINEER)
def heat_try(request: HttpRequest, pour_id: int) -> HttpResponse:
    """The question and its answer; nothing is stored unless the engineer keeps it."""
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    asked = posted(request) or (request.GET if "from_at" in request.GET else None)
    system, site = person(request).unit_system, pour.plan.machine.site
    form = HeatForm(asked, now=timezone.now(), zone=site.zone, system=system)
    result = _answered(pour, form) if form.is_valid() else None
    if result is not None and request.method == "POST":
        kept = watching.keep_heating(pour=pour, result=result, remarks=form.cleaned_data["remarks"], by=person(request))
        return redirect("curing:heat_kept", kept.pk)
    context = {**_of(pour), "form": form, "may_keep": may(request, pour, ENGINEER), **_shown(result, site, system)}
    return render(request, "curing/heat_try.html", context, status=422 if form.errors else 200)


def _answered(pour: Pour, form: HeatForm) -> dict[str, Any] | None:
    forecast = latest_forecast(pour.plan.machine.site)
    try:
        return calc.heated_of(pour, readings_of(pour), forecast, form.question(), at=timezone.now())
    except (GroutJobsError, ValueError) as error:
        form.refuse(error)
        return None


def _shown(result: dict[str, Any] | None, site: Any, system: str) -> dict[str, Any]:
    if result is None:
        return {}
    return {
        "result": result,
        "findings": result["findings"][system],
        "picture": heated_picture(result, zone=site.zone, system=system),
    }


@allowed(read=EVERY_ROLE)
def heat_kept(request: HttpRequest, heating_id: int) -> HttpResponse:
    row = row_or_404(request, KeptHeating.objects.select_related(POUR, "kept_by"), pk=heating_id)
    site = row.pour.plan.machine.site
    shown = _shown(row.result, site, person(request).unit_system)
    return render(request, "curing/heat_kept.html", {**_of(row.pour), "row": row, **shown})
