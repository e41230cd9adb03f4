"""What is due at a site, of an outage or a plan; a person's own reminders and calendar; mails that failed."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_safe

from groutjobs.accounts.access import allowed, may, person, posted, public, row_or_404, rows_for, signed_in
from groutjobs.accounts.models import EVERY_ROLE, ROLES_THAT_RECORD, Role
from groutjobs.equipment.models import Site
from groutjobs.errors import GroutJobsError
from groutjobs.outages.models import Outage, ScheduledPour
from groutjobs.planning.models import PourPlan
from groutjobs.reminders import actions
from groutjobs.reminders.feed import personal_calendar
from groutjobs.reminders.forms import MailForm
from groutjobs.reminders.nearing import nearing, running
from groutjobs.reminders.queries import (
    calendar_of_code,
    crews_of_person,
    failing_mails,
    own_calendar,
    site_duties,
    wants_mail,
)

ADMINISTRATORS = (Role.ADMINISTRATOR,)
SHOWN = 200


def _site(request: HttpRequest, site_id: int) -> Site:
    return row_or_404(request, Site.objects.all(), pk=site_id)


def _due(request: HttpRequest, site: Site, title: str, **only: Any) -> HttpResponse:
    """The list as a page of its own, or for a page that places it."""
    now = timezone.now()
    rows = site_duties(site, now, person(request).unit_system, **only)
    plans = {row.pour.plan_id for row in rows} | {plan.pk for name, plan in only.items() if name == "plan"}
    ahead, past = [row for row in rows if row.is_ahead], [row for row in rows if not row.is_ahead]
    context = {
        "site": site,
        "title": title,
        "rows": ahead[:SHOWN],
        "left_out": max(0, len(ahead) - SHOWN),
        "past": past[-SHOWN:],
        "near": [
            (near, near.title(now))
            for near in nearing(running(site, now), now)
            if not only or near.pour.plan_id in plans
        ],
        "one_machine": "plan" in only,
        "may_say": may(request, site, ROLES_THAT_RECORD),
        "back_to": request.htmx.current_url_abs_path,  # type: ignore[attr-defined]
    }
    part = "#what-is-due" if request.htmx else ""  # type: ignore[attr-defined]
    return render(request, f"reminders/due_list.html{part}", context)


@allowed(read=EVERY_ROLE)
def site_due(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    return _due(request, site, f"What is due at {site.name}")


@allowed(read=EVERY_ROLE)
def outage_due(request: HttpRequest, outage_id: int) -> HttpResponse:
    outage = row_or_404(request, Outage.objects.select_related("site"), pk=outage_id)
    return _due(request, outage.site, f"What is due in {outage.name}", outage=outage)


@allowed(read=EVERY_ROLE)
def plan_due(request: HttpRequest, plan_id: int) -> HttpResponse:
    plan = row_or_404(request, PourPlan.objects.select_related("machine__site").defer("result"), pk=plan_id)
    return _due(request, plan.machine.site, f"What is due for {plan.machine.tag}", plan=plan)


@allowed(write=ROLES_THAT_RECORD)
def duty_say(request: HttpRequest, scheduled_pour_id: int) -> HttpResponse:
    """Say that a duty is in hand, or take that back."""
    rows = ScheduledPour.objects.select_related("plan__machine__site")
    pour = row_or_404(request, rows, pk=scheduled_pour_id)
    act = actions.give_duty_back if request.POST.get("back") else actions.take_duty
    try:
        act(scheduled_pour=pour, code=request.POST.get("code", ""), by=person(request))
    except GroutJobsError as error:
        messages.error(request, str(error))
    wanted = request.POST.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return redirect(wanted if is_ours else reverse("reminders:plan_due", args=[pour.plan_id]))


@signed_in
@require_GET
def reminders(request: HttpRequest) -> HttpResponse:
    sites = list(rows_for(request, Site.objects.all()))
    if len(sites) == 1:
        return redirect("reminders:own_reminders", sites[0].pk)
    return render(request, "reminders/reminders.html", {"sites": sites})


def _own(request: HttpRequest, site: Site, **more: Any) -> HttpResponse:
    user = person(request)
    form = more.pop("form", None) or MailForm(by_mail=wants_mail(site, user))
    held = {"link": own_calendar(site, user), "crews": crews_of_person(user, site)}
    roles = {"is_engineer": may(request, site, (Role.ENGINEER,)), "may_see_mail": may(request, site, ADMINISTRATORS)}
    context = {"site": site, "form": form, "person": user} | held | roles | more
    return render(request, "reminders/own_reminders.html", context, status=422 if form.errors else 200)


@allowed(read=EVERY_ROLE, write=EVERY_ROLE)
def own_reminders(request: HttpRequest, site_id: int) -> HttpResponse:
    site, user = _site(request, site_id), person(request)
    form = MailForm(posted(request), by_mail=wants_mail(site, user))
    if request.method == "POST" and form.is_valid():
        actions.choose_mail(site=site, by_mail=form.wants(), by=user)
        messages.success(request, "Mail is on." if form.wants() else "Mail is off.")
        return redirect("reminders:own_reminders", site.pk)
    return _own(request, site, form=form)


@allowed(write=EVERY_ROLE)
def calendar_make(request: HttpRequest, site_id: int) -> HttpResponse:
    """A new address, shown once, in this answer."""
    site = _site(request, site_id)
    _, code = actions.make_calendar(site=site, by=person(request))
    answer = _own(request, site, address=request.build_absolute_uri(reverse("reminders:calendar", args=[code])))
    answer.headers["Referrer-Policy"] = "no-referrer"
    return answer


@allowed(write=EVERY_ROLE)
def calendar_end(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    actions.end_calendar(site=site, by=person(request))
    return redirect("reminders:own_reminders", site.pk)


@allowed(read=ADMINISTRATORS)
def site_mail(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    return render(request, "reminders/site_mail.html", {"site": site, "mails": failing_mails(site)})


@public
@require_safe
def calendar(request: HttpRequest, code: str) -> HttpResponse:
    """What is a person's at a site, for who knows the address, as long as the person has a role there."""
    link = calendar_of_code(actions.hash_of_code(code))
    if link is None:
        raise Http404
    body = personal_calendar(link.person, link.site, timezone.now())
    headers = {"Cache-Control": "private, no-store", "Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex"}
    return HttpResponse(body, content_type="text/calendar; charset=utf-8", headers=headers)
