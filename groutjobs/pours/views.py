"""The pour at the desk: the whole log as it grows, corrections, photographs, and opening a pour."""

import hashlib
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from groutjobs.accounts.access import allowed, may, person, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, ROLES_THAT_RECORD
from groutjobs.planning.models import PlanState, PourPlan
from groutjobs.pours import entering
from groutjobs.pours.actions import DECLARERS, OPENERS, add_entry, open_pour
from groutjobs.pours.drawing import fill_picture
from groutjobs.pours.forms import SettleForm, StrikeForm, reason_field
from groutjobs.pours.log import PourLog
from groutjobs.pours.models import EntryKind, Photo, Pour, PourEntry
from groutjobs.pours.photos import CONTENT_TYPE, path_of
from groutjobs.pours.queries import log_of, pour_whole, unfinished_pour
from groutjobs.pours.steps import next_step

NOT_MODIFIED = 304


@allowed(read=EVERY_ROLE)
def pour_detail(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    log = log_of(pour, system=person(request).unit_system)
    is_poll = getattr(request, "htmx", None) and request.GET.get("seen")
    now = timezone.now()
    tag = _tag(log, next_step(log, now).sentence, person(request).unit_system)
    if is_poll and f'"{tag}"' in request.headers.get("If-None-Match", ""):
        return HttpResponse(status=NOT_MODIFIED, headers={"ETag": f'"{tag}"'})
    context = {
        "pour": pour,
        "site": pour.plan.machine.site,
        "log": log,
        "next_step": next_step(log, now),
        "now": now,
        "tag": tag,
        "picture": fill_picture(log.fills, system=person(request).unit_system),
        "may_record": may(request, pour, ROLES_THAT_RECORD),
    }
    response = render(request, "pours/pour_detail.html#pour-live" if is_poll else "pours/pour_detail.html", context)
    response.headers["ETag"] = f'"{tag}"'
    return response


def _tag(log: PourLog, sentence: str, system: str) -> str:
    """Changes when the live part of the page would: entries, photographs that came, the next step."""
    facts = [log.state, sentence, system, len(log.missing_blobs), *(line.fact.id for line in log.lines)]
    return hashlib.sha256("|".join(map(str, facts)).encode()).hexdigest()[:32]


@allowed(read=OPENERS, write=OPENERS)
def pour_open(request: HttpRequest, plan_id: int) -> HttpResponse:
    """A second press on the button leads to the pour that the first one opened."""
    plans = PourPlan.objects.select_related("machine__site", "data_sheet__grout_system", "lot", "approved_by")
    plan = row_or_404(request, plans, pk=plan_id)
    unfinished = unfinished_pour(plan)
    if request.method == "POST":
        pour = unfinished or open_pour(plan=plan, by=person(request))
        messages.success(request, f"{pour} is open.")
        return redirect("pours:pour_detail", pour.pk)
    context = {
        "plan": plan,
        "site": plan.machine.site,
        "unfinished": unfinished,
        "may_open": plan.state == PlanState.APPROVED and not unfinished,
    }
    return render(request, "pours/pour_open.html", context)


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def entry_correct(request: HttpRequest, pour_id: int, entry_id: UUID) -> HttpResponse:
    pour, entry = _entry(request, pour_id, entry_id)
    log = log_of(pour, system=person(request).unit_system)
    if request.method == "POST":
        form = entering.sent_form(request, pour, log, entry.kind, reason=reason_field())
        if entering.save(request, pour, form, replaces=entry):
            messages.success(request, "The correction is stored; the first entry stays, struck through.")
            return redirect("pours:pour_detail", pour.pk)
    else:
        form = entering.correction_form(request, pour, log, entry)
    return _correction_page(request, pour, entry, form, "pours/entry_correct.html")


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def entry_strike(request: HttpRequest, pour_id: int, entry_id: UUID) -> HttpResponse:
    pour, entry = _entry(request, pour_id, entry_id)
    form = StrikeForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        add_entry(
            pour=pour,
            kind=EntryKind.STRUCK,
            body={},
            by=person(request),
            id=form.cleaned_data["entry_id"],
            replaces=entry,
            reason=form.cleaned_data["reason"],
        )
        messages.success(request, "The entry is struck out; it stays in the log with the reason.")
        return redirect("pours:pour_detail", pour.pk)
    return _correction_page(request, pour, entry, form, "pours/entry_strike.html")


@allowed(read=DECLARERS, write=DECLARERS)
def conflict_settle(request: HttpRequest, pour_id: int, entry_id: UUID) -> HttpResponse:
    """Say which of several entries counts that people made without seeing each other's."""
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    log = log_of(pour, system=person(request).unit_system)
    conflict = next((one for one in log.conflicts if one.shown == entry_id), None)
    if conflict is None:
        messages.info(request, "Nothing stands unequal there any more.")
        return redirect("pours:pour_detail", pour.pk)
    lines = [line for line in log.lines if line.fact.id in conflict.sides]
    form = SettleForm(request.POST if request.method == "POST" else None, lines=lines)
    if request.method == "POST" and form.is_valid():
        add_entry(
            pour=pour,
            kind=EntryKind.RESOLVED,
            body=form.decision(),
            by=person(request),
            id=form.cleaned_data["entry_id"],
            reason=form.cleaned_data["reason"],
        )
        messages.success(request, "Decided. The other entries stay in the log, struck through, with the reason.")
        return redirect("pours:pour_detail", pour.pk)
    context = {"pour": pour, "site": pour.plan.machine.site, "conflict": conflict, "lines": lines, "form": form}
    return render(request, "pours/conflict_settle.html", context, status=422 if form.is_bound else 200)


def _entry(request: HttpRequest, pour_id: int, entry_id: UUID) -> tuple[Pour, PourEntry]:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    without = (EntryKind.STRUCK, EntryKind.RESOLVED)
    entry = pour.entries.select_related("author").filter(pk=entry_id).exclude(kind__in=without).first()
    if entry is None:
        raise Http404
    return pour, entry


def _correction_page(request: HttpRequest, pour: Pour, entry: PourEntry, form: object, template: str) -> HttpResponse:
    log = log_of(pour, system=person(request).unit_system)
    line = next(line for line in log.lines if line.fact.id == entry.pk)
    context = {"pour": pour, "site": pour.plan.machine.site, "line": line, "form": form}
    return render(request, template, context, status=422 if request.method == "POST" else 200)


@allowed(read=EVERY_ROLE)
def photo(request: HttpRequest, photo_id: int) -> HttpResponse:
    """The stored copy, of a fixed type and shut off from everything else in the browser."""
    row = row_or_404(request, Photo.objects.select_related("pour__plan__machine__site"), pk=photo_id)
    path = path_of(row.sha256)
    if not path.is_file():
        raise Http404
    response = HttpResponse(path.read_bytes(), content_type=CONTENT_TYPE)
    response.headers["Content-Disposition"] = f'inline; filename="photo-{row.pk}.jpg"'
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response
