"""Nonconformances: the list of a site, those of a pour, one with its steps, and what is done to it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, ROLES_THAT_RECORD, Role, User
from groutjobs.curing.queries import chain_of
from groutjobs.equipment.drawing import Mark, drawing_of, plan_drawing
from groutjobs.equipment.models import Site
from groutjobs.equipment.symbols import MarkShape
from groutjobs.errors import NotAllowed
from groutjobs.nonconformances import actions
from groutjobs.nonconformances.forms import DecideForm, FilterForm, ProofForm, RaiseForm, WordsForm
from groutjobs.nonconformances.models import (
    STATES_THAT_BLOCK,
    Disposition,
    Nonconformance,
    NonconformanceState,
)
from groutjobs.nonconformances.queries import nonconformances, origin_of, origin_words, photos_by_id, with_steps
from groutjobs.pours.actions import add_photo
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.pours.queries import pour_whole

ENGINEERS = (Role.ENGINEER,)
SHOWN_ENTRIES = 200
WORDS = {
    "close": ("Close", "What you saw that closes it"),
    "send-back": ("Send the proof back", "What the proof does not show"),
    "reopen": ("Open again", "Why it is opened again"),
}
WRITES: dict[str, Callable[..., Nonconformance]] = {
    "close": actions.close,
    "send-back": actions.send_back,
    "reopen": actions.reopen,
}


@allowed(read=EVERY_ROLE)
def site_list(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    form = FilterForm(request.GET or None)
    rows = nonconformances().filter(site=site)
    if form.is_bound and form.is_valid():
        rows = _narrowed(rows, form.cleaned_data)
    open_count = Nonconformance.objects.filter(site=site, state__in=STATES_THAT_BLOCK).count()
    context = {"site": site, "form": form, "page": Paginator(rows, 50).get_page(request.GET.get("page"))}
    return render(request, "nonconformances/site_list.html", context | {"open_count": open_count})


def _narrowed(rows: QuerySet[Nonconformance], given: dict[str, Any]) -> QuerySet[Nonconformance]:
    if given["state"]:
        rows = rows.filter(state__in=STATES_THAT_BLOCK if given["state"] == "open" else [given["state"]])
    if given["disposition"]:
        rows = rows.filter(disposition=given["disposition"])
    words = given["words"].strip()
    if words:
        number = words.upper().removeprefix("NC-")
        wanted = Q(found__icontains=words) | Q(place__icontains=words) | Q(pour__plan__machine__tag__icontains=words)
        rows = rows.filter(wanted | Q(number=int(number)) if number.isdecimal() and len(number) < 9 else wanted)
    return rows


@allowed(read=EVERY_ROLE)
def pour_list(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    rows = list(nonconformances().filter(pour=pour).order_by("number"))
    context = _of(pour) | {"rows": rows, "may_raise": may(request, pour, ROLES_THAT_RECORD)}
    return render(request, "nonconformances/pour_list.html", context)


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def nonconformance_add(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    origin = origin_of(pour, {name: request.GET.get(name, "") for name in ("entry", "inspection", "reading")})
    if origin is None:
        raise Http404
    form = RaiseForm(posted(request), request.FILES or None, system=person(request).unit_system)
    if request.method == "POST" and form.is_valid():
        try:
            row = actions.raise_nonconformance(
                pour=pour, found=form.cleaned_data["found"], place=form.cleaned_data["place"], spot=form.spot(),
                origin=origin, photos=_kept(request, pour, form), by=person(request),
            )  # fmt: skip
        except NotAllowed as error:
            form.refuse(error, field="found")
        else:
            messages.success(request, f"{row} is raised. The engineer decides about it.")
            return redirect("nonconformances:nonconformance_detail", row.pk)
    words = origin_words(Nonconformance(**origin)) if origin else ""
    context = _of(pour) | {"form": form, "origin": words}
    return render(request, "nonconformances/nonconformance_form.html", context, status=422 if form.errors else 200)


@allowed(read=EVERY_ROLE)
def nonconformance_detail(request: HttpRequest, nonconformance_id: int) -> HttpResponse:
    row = row_or_404(request, with_steps(nonconformances()), pk=nonconformance_id)
    pour = pour_whole().select_related("plan__machine__foundation", "plan__machine__baseplate").get(pk=row.pour_id)
    context = _of(pour) | {
        "row": row,
        "origin": origin_words(row),
        "photos": photos_by_id(pour),
        "picture": _picture(row, pour, person(request).unit_system),
        **_next(request, row),
    }
    return render(request, "nonconformances/nonconformance_detail.html", context)


def _next(request: HttpRequest, row: Nonconformance) -> dict[str, Any]:
    """What this person may do next, by the state."""
    is_engineer = may(request, row, ENGINEERS)
    state, as_it_is = row.state, row.disposition == Disposition.USE_AS_IS
    is_decided = state == NonconformanceState.DECIDED
    may_close = state == NonconformanceState.PROVEN or (is_decided and as_it_is)
    return {
        "may_decide": is_engineer and state in {NonconformanceState.RAISED, NonconformanceState.DECIDED},
        "may_prove": may(request, row, ROLES_THAT_RECORD) and is_decided and not as_it_is,
        "may_close": is_engineer and may_close,
        "may_send_back": is_engineer and state == NonconformanceState.PROVEN,
        "may_reopen": is_engineer and state == NonconformanceState.CLOSED,
        "why_not_close": actions.why_not_close(row, person(request)) if is_engineer and may_close else "",
    }


@allowed(read=ENGINEERS, write=ENGINEERS)
def decide(request: HttpRequest, nonconformance_id: int) -> HttpResponse:
    row = row_or_404(request, with_steps(nonconformances()), pk=nonconformance_id)
    form = DecideForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            actions.decide(row=row, by=person(request), **form.values())
        except NotAllowed as error:
            form.refuse(error)
        else:
            messages.success(request, f"{row}: the disposition is kept.")
            return redirect("nonconformances:nonconformance_detail", row.pk)
    return _step_page(request, row, form, "Decide", "Keep the disposition")


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def prove(request: HttpRequest, nonconformance_id: int) -> HttpResponse:
    row = row_or_404(request, with_steps(nonconformances()), pk=nonconformance_id)
    pour = pour_whole().get(pk=row.pour_id)
    form = ProofForm(
        posted(request), request.FILES or None, zone=row.site.zone, initial={"dealt_by": person(request).pk},
        people=User.objects.filter(memberships__site=row.site).distinct().order_by("name"),
        entries=PourEntry.objects.filter(pour=pour).order_by("-happened_at")[:SHOWN_ENTRIES],
        inspections=chain_of(pour).filter(replaced_by=None),
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        try:
            actions.give_proof(row=row, photos=_kept(request, pour, form), by=person(request), **form.columns())
        except NotAllowed as error:
            form.refuse(error)
        else:
            messages.success(request, f"{row}: the proof is kept. Another engineer closes it.")
            return redirect("nonconformances:nonconformance_detail", row.pk)
    return _step_page(request, row, form, "Give proof", "Keep the proof")


@allowed(read=ENGINEERS, write=ENGINEERS)
def take_step(request: HttpRequest, nonconformance_id: int, step: str) -> HttpResponse:
    if step not in WORDS:
        raise Http404
    row = row_or_404(request, with_steps(nonconformances()), pk=nonconformance_id)
    heading, label = WORDS[step]
    form = WordsForm(posted(request), label=label)
    if request.method == "POST" and form.is_valid():
        try:
            WRITES[step](row=row, words=form.cleaned_data["words"], by=person(request))
        except NotAllowed as error:
            form.refuse(error)
        else:
            messages.success(request, f"{row}: kept.")
            return redirect("nonconformances:nonconformance_detail", row.pk)
    return _step_page(request, row, form, heading, heading)


def _step_page(request: HttpRequest, row: Nonconformance, form: Any, heading: str, button: str) -> HttpResponse:
    back = reverse("nonconformances:nonconformance_detail", args=[row.pk])
    context = _of(row.pour) | {"row": row, "form": form, "heading": heading, "button": button, "back": back}
    return render(request, "nonconformances/step_form.html", context, status=422 if form.errors else 200)


def _of(pour: Pour) -> dict[str, Any]:
    return {"pour": pour, "machine": pour.plan.machine, "site": pour.plan.machine.site}


def _kept(request: HttpRequest, pour: Pour, form: Any) -> list[int]:
    content = form.cleaned_data.get("photo")
    return [add_photo(pour=pour, content=content, by=person(request)).pk] if content else []


def _picture(row: Nonconformance, pour: Pour, system: str) -> str:
    if row.x_mm is None or row.y_mm is None:
        return ""
    mark = Mark(x_mm=row.x_mm, y_mm=row.y_mm, shape=MarkShape.HOLLOW, label=str(row), means="where it was found")
    return plan_drawing(drawing_of(pour.plan.machine), system=system, overlay=[mark])
