"""Strength samples of a pour: what was cast, what the laboratory found, and against which curve."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.curing.evidence import results_of
from groutjobs.curing.forms.sample import SampleForm
from groutjobs.curing.sample_actions import record_sample
from groutjobs.curing.sample_drawing import samples_picture
from groutjobs.curing.sample_queries import samples_cast, samples_page
from groutjobs.errors import NotAllowed, OutOfRange, Stale
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.pours.queries import pour_whole
from groutjobs.units import US

TESTERS = (Role.INSPECTOR, Role.ENGINEER, Role.CREW_LEAD)


def _of(pour: Pour) -> dict[str, Any]:
    return {"pour": pour, "machine": pour.plan.machine, "site": pour.plan.machine.site}


@allowed(read=EVERY_ROLE)
def sample_list(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    system = person(request).unit_system
    page = samples_page(pour)
    told = "findings_us" if system == US else "findings"
    findings = [(row, row.result[told]) for row in page["results"]]
    context = _of(pour) | page | {
        "findings": findings,
        "picture": samples_picture(page["cure"], page["results"], system),
        "may_test": may(request, pour, TESTERS) and bool(page["cast"]),
    }  # fmt: skip
    return render(request, "curing/sample_list.html", context)


@allowed(read=TESTERS, write=TESTERS)
def sample_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    cast = samples_cast(pour)
    if not cast:
        raise NotAllowed("No sample was cast in the pour log, so no result can be entered.")
    form = SampleForm(
        posted(request), cast=cast, results=results_of(pour), now=timezone.now(),
        zone=pour.plan.machine.site.zone, system=person(request).unit_system,
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        try:
            entry = PourEntry.objects.get(pk=form.cleaned_data["entry"], pour=pour)
            row = record_sample(pour=pour, entry=entry, by=person(request), **form.columns())
        except (NotAllowed, Stale, OutOfRange) as error:
            form.refuse(error)
        else:
            messages.success(request, f"Kept: {row}, {row.get_verdict_display().lower()}.")
            return redirect("curing:sample_list", pour.pk)
    context = _of(pour) | {"form": form}
    return render(request, "curing/sample_form.html", context, status=422 if form.errors else 200)
