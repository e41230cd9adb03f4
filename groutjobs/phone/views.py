"""The pour log on the phone: the next thing first, one question a screen, plain forms that work without script."""

import datetime as dt
from typing import Any
from uuid import UUID

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from groutjobs.accounts.access import allowed, may, person, row_or_404, rows_for, signed_in
from groutjobs.accounts.models import EVERY_ROLE, ROLES_THAT_RECORD
from groutjobs.limits import LIMITS
from groutjobs.phone.screens import Screen, menu, screen_of, told
from groutjobs.pours import entering
from groutjobs.pours.actions import DECLARERS
from groutjobs.pours.bodies import BODIES, SlotKind, in_both_units, title_of
from groutjobs.pours.drawing import fill_picture
from groutjobs.pours.forms import EntryForm, reason_field, tick_field
from groutjobs.pours.log import PourLog
from groutjobs.pours.models import EntryKind, Pour, PourEntry
from groutjobs.pours.queries import log_of, logs_of, open_pours, pour_whole
from groutjobs.pours.steps import next_step

SUN_COOKIE = "sun"
SUN_AGE_S = 365 * 24 * 3600
POURS_SHOWN = 20
RECENT_DAYS = 45
"""A pour stays in the list so long: its last hold points are answered when the grout has cured [GROUTJOBS]."""
ENTERED_ELSEWHERE = frozenset({EntryKind.STRUCK, EntryKind.DECLARED_COMPLETE, EntryKind.RESOLVED})
PICTURE_WIDTH = 360.0


@allowed(read=EVERY_ROLE)
def pour_list(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    rows = open_pours(rows_for(request, pour_whole()), since=now - dt.timedelta(days=RECENT_DAYS))
    pours = list(rows[: POURS_SHOWN + 1])
    logs = logs_of(pours[:POURS_SHOWN], system=person(request).unit_system)
    listed = [(pour, logs[pour.pk], next_step(logs[pour.pk], now)) for pour in pours[:POURS_SHOWN]]
    context = {
        "listed": listed,
        "has_more": len(pours) > POURS_SHOWN,
        "demo_anywhere": any(pour.plan.machine.site.is_demo for pour in pours),
    }
    return _page(request, "phone/pour_list.html", context)


@allowed(read=EVERY_ROLE)
def pour_log(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour, log = _pour_and_log(request, pour_id)
    now = timezone.now()
    context = {
        "log": log,
        "now": now,
        "next_step": next_step(log, now),
        "menu": menu(log),
        "picture": fill_picture(log.fills, system=person(request).unit_system, width=PICTURE_WIDTH),
        "may_record": may(request, pour, ROLES_THAT_RECORD),
    }
    return _page(request, "phone/pour_log.html", context, pour)


@allowed(read=EVERY_ROLE)
def point_list(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour, log = _pour_and_log(request, pour_id)
    context = {"log": log, "may_record": may(request, pour, ROLES_THAT_RECORD)}
    return _page(request, "phone/point_list.html", context, pour)


@allowed(read=EVERY_ROLE)
def pour_missing(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour, log = _pour_and_log(request, pour_id)
    return _page(request, "phone/pour_missing.html", {"log": log}, pour)


@allowed(read=EVERY_ROLE)
def entry_list(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour, log = _pour_and_log(request, pour_id)
    context = {"log": log, "lines": log.lines[::-1], "may_record": may(request, pour, ROLES_THAT_RECORD)}
    return _page(request, "phone/entry_list.html", context, pour)


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def entry_add(request: HttpRequest, pour_id: int, kind: str) -> HttpResponse:
    if kind not in BODIES or kind in ENTERED_ELSEWHERE:
        raise Http404
    pour, log = _pour_and_log(request, pour_id)
    more = _ticks(kind, log)
    form = _form(request, pour, log, kind, more)
    if request.method == "POST":
        entry = entering.save(request, pour, form)
        if entry:
            return _saved(request, pour, entry, log)
    return _form_page(request, pour, log, form)


@allowed(read=ROLES_THAT_RECORD, write=ROLES_THAT_RECORD)
def entry_correct(request: HttpRequest, pour_id: int, entry_id: UUID) -> HttpResponse:
    pour, log = _pour_and_log(request, pour_id)
    entry = pour.entries.exclude(kind=EntryKind.STRUCK).filter(pk=entry_id).first()
    if entry is None:
        raise Http404
    if request.method == "POST":
        form = entering.sent_form(request, pour, log, entry.kind, reason=reason_field())
        stored = entering.save(request, pour, form, replaces=entry)
        if stored:
            return _saved(request, pour, stored, log)
    else:
        form = entering.correction_form(request, pour, log, entry)
    screen = screen_of(form, log, fixed=frozenset(), title=f"Correct: {title_of(entry.kind, log.grout_kind)}")
    return _screen_page(request, pour, form, screen, {"struck_link": entry.pk})


@allowed(read=DECLARERS, write=DECLARERS)
def pour_finish(request: HttpRequest, pour_id: int) -> HttpResponse:
    """What was entered, to be checked before the pour is declared complete."""
    pour, log = _pour_and_log(request, pour_id)
    more = _finish_ticks(log)
    form = _form(request, pour, log, EntryKind.DECLARED_COMPLETE, more)
    if request.method == "POST":
        entry = entering.save(request, pour, form)
        if entry:
            return _saved(request, pour, entry, log)
    screen = screen_of(form, log, fixed=frozenset(), title="Check and finish", button="Declare the pour complete")
    return _screen_page(request, pour, form, screen, {"log": log}, "phone/pour_finish.html")


@require_POST
@signed_in
def sun_switch(request: HttpRequest) -> HttpResponse:
    """Bright sun: more contrast and larger type, remembered on this phone."""
    back = request.POST.get("back", "")
    if not url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()}):
        back = reverse("phone:pour_list")
    response = redirect(back)
    if request.COOKIES.get(SUN_COOKIE):
        response.delete_cookie(SUN_COOKIE)
    else:
        response.set_cookie(
            SUN_COOKIE, "1", max_age=SUN_AGE_S, httponly=True, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE
        )
    return response


def _pour_and_log(request: HttpRequest, pour_id: int) -> tuple[Pour, PourLog]:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    return pour, log_of(pour, system=person(request).unit_system)


def _form(request: HttpRequest, pour: Pour, log: PourLog, kind: str, more: dict[str, forms.Field]) -> EntryForm:
    make = entering.sent_form if request.method == "POST" else entering.blank_form
    return make(request, pour, log, kind, **more)


def _ticks(kind: str, log: PourLog) -> dict[str, forms.Field]:
    """Starting a batch before release is asked about once more; it is never made impossible."""
    if kind != EntryKind.LIQUIDS_STARTED or log.is_released:
        return {}
    open_points = ", ".join(str(point.position) for point in log.points if point.holds_the_pour and not point.is_closed)
    wrong = f"The pour is not released: hold points {open_points} are open [GROUTJOBS]. Close them, or tick below."
    return {"unreleased": tick_field("Start although the pour is not released", wrong)}


def _finish_ticks(log: PourLog) -> dict[str, forms.Field]:
    ticks: dict[str, forms.Field] = {
        "checked": tick_field(
            "I have read this, and it is right", "Read what is above and tick that it is right [GROUTJOBS]."
        )
    }
    if log.what_stands_in_the_way:
        wrong = "Things are missing, see above [GROUTJOBS]. Enter them first, or tick that placing is over."
        ticks["incomplete"] = tick_field("Placing is over, although things are missing", wrong)
    return ticks


def _form_page(request: HttpRequest, pour: Pour, log: PourLog, form: EntryForm) -> HttpResponse:
    about = entering.about_of(request)
    fixed = frozenset(field for name, field in entering.FIXED_BY_LINK.items() if name in about)
    screen = screen_of(form, log, fixed=fixed)
    words = told(form, log, fixed, timezone.now(), pour.plan.machine.site.tz)
    return _screen_page(request, pour, form, screen, {"told": words})


def _screen_page(
    request: HttpRequest,
    pour: Pour,
    form: EntryForm,
    screen: Screen,
    context: dict[str, Any],
    template: str = "phone/entry_form.html",
) -> HttpResponse:
    status = 422 if request.method == "POST" else 200
    return _page(request, template, {**context, "form": form, "screen": screen}, pour, status)


def _saved(request: HttpRequest, pour: Pour, entry: PourEntry, log: PourLog) -> HttpResponse:
    """Back to the log, with numbers read back in both units."""
    words = [title_of(entry.kind, log.grout_kind)]
    for slot in BODIES[entry.kind]:
        if slot.kind is SlotKind.NUMBER and slot.name in entry.body:
            suffix = LIMITS[slot.limit_key].suffix
            value = entry.body[slot.name]
            words.append(f"{slot.label.lower()} {in_both_units(value, suffix) if suffix else value}")
    messages.success(request, "Received: " + ", ".join(words) + ".")
    return redirect("phone:pour_log", pour.pk)


def _page(
    request: HttpRequest, template: str, context: dict[str, Any], pour: Pour | None = None, status: int = 200
) -> HttpResponse:
    mine = pour.entries.filter(author=person(request)).count() if pour else 0
    shared: dict[str, Any] = {"is_sunny": bool(request.COOKIES.get(SUN_COOKIE)), "received": mine, "pour": pour}
    if pour:
        shared["site"] = pour.plan.machine.site
    return render(request, template, {**shared, **context}, status=status)
