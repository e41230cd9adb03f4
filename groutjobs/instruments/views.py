"""Instruments of a site: the list with what is due, one instrument with its calibrations."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.instruments import actions
from groutjobs.instruments.forms import CalibrationForm, InstrumentForm, RetireForm
from groutjobs.instruments.models import Instrument
from groutjobs.instruments.queries import SOON, instrument_rows, instruments, standing_on

KEEPERS = (Role.ENGINEER, Role.INSPECTOR, Role.ADMINISTRATOR)


@allowed(read=EVERY_ROLE)
def instrument_list(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    rows = instrument_rows(site, timezone.now().astimezone(site.tz).date())
    context = {
        "site": site,
        "rows": rows,
        "due_count": sum(row.is_due for row in rows),
        "may_keep": may(request, site, KEEPERS),
    }
    return render(request, "instruments/instrument_list.html", context | {"soon_days": SOON.days})


@allowed(read=EVERY_ROLE)
def instrument_detail(request: HttpRequest, instrument_id: int) -> HttpResponse:
    instrument = row_or_404(request, instruments(), pk=instrument_id)
    row = standing_on(instrument, timezone.now().astimezone(instrument.site.tz).date())
    may_keep = may(request, instrument, KEEPERS) and instrument.retired_at is None
    context = {"row": row, "instrument": instrument, "site": instrument.site, "may_keep": may_keep}
    return render(request, "instruments/instrument_detail.html", context)


@allowed(read=KEEPERS, write=KEEPERS)
def instrument_add(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    form = InstrumentForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            row = actions.add_instrument(site=site, by=person(request), **form.values())
        except NotAllowed as error:
            form.refuse(error, field="serial")
        else:
            messages.success(request, f"{row} is on the list. Enter its calibration next.")
            return redirect("instruments:instrument_detail", row.pk)
    back = reverse("instruments:instrument_list", args=[site.pk])
    return _form_page(request, form, site, "Add an instrument", "Add it", back)


@allowed(read=KEEPERS, write=KEEPERS)
def calibration_add(request: HttpRequest, instrument_id: int) -> HttpResponse:
    instrument = row_or_404(request, instruments(), pk=instrument_id)
    form = CalibrationForm(posted(request), rows=instrument.calibrations.all())
    if request.method == "POST" and form.is_valid():
        try:
            actions.add_calibration(instrument=instrument, by=person(request), **form.columns())
        except NotAllowed as error:
            form.refuse(error)
        else:
            messages.success(request, f"The calibration of {instrument} is kept.")
            return redirect("instruments:instrument_detail", instrument.pk)
    back = reverse("instruments:instrument_detail", args=[instrument.pk])
    return _form_page(request, form, instrument.site, f"Calibration of {instrument}", "Keep it", back)


@allowed(read=KEEPERS, write=KEEPERS)
def instrument_retire(request: HttpRequest, instrument_id: int) -> HttpResponse:
    instrument = row_or_404(request, Instrument.objects.select_related("site"), pk=instrument_id)
    form = RetireForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            actions.retire_instrument(instrument=instrument, by=person(request), **form.values())
        except NotAllowed as error:
            form.refuse(error, field="reason")
        else:
            messages.success(request, f"{instrument} is retired; sheets that name it keep it.")
            return redirect("instruments:instrument_list", instrument.site_id)
    back = reverse("instruments:instrument_detail", args=[instrument.pk])
    return _form_page(request, form, instrument.site, f"Retire {instrument}", "Retire it", back)


def _form_page(request: HttpRequest, form: Any, site: Site, heading: str, button: str, back: str) -> HttpResponse:
    context = {"form": form, "site": site, "heading": heading, "button": button, "back": back}
    return render(request, "instruments/instrument_form.html", context, status=422 if form.errors else 200)
