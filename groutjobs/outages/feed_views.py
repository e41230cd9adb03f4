"""The calendar of an outage: making and revoking its secret address, and what calendar programs read there."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from groutjobs.accounts.access import allowed, person, public, row_or_404
from groutjobs.accounts.models import EVERY_ROLE
from groutjobs.outages import feed_actions as actions
from groutjobs.outages.feed import calendar_of
from groutjobs.outages.models import CalendarLink, Outage
from groutjobs.outages.queries import accepted_schedule, calendar_link


@allowed(read=EVERY_ROLE, write=EVERY_ROLE)
def calendar_address(request: HttpRequest, outage_id: int) -> HttpResponse:
    """A person's own address; a new one is shown once, in the answer that made it."""
    outage = row_or_404(request, Outage.objects.select_related("site"), pk=outage_id)
    context = {"site": outage.site, "outage": outage}
    if request.method == "POST":
        made, code = actions.make_calendar_link(outage=outage, by=person(request))
        address = request.build_absolute_uri(reverse("outages:calendar", args=[code]))
        answer = render(request, "outages/calendar_address.html", context | {"link": made, "address": address})
        answer.headers["Referrer-Policy"] = "no-referrer"
        return answer
    link = CalendarLink.objects.filter(outage=outage, person=person(request), revoked_at=None).first()
    return render(request, "outages/calendar_address.html", context | {"link": link})


@allowed(write=EVERY_ROLE)
def calendar_revoke(request: HttpRequest, outage_id: int) -> HttpResponse:
    outage = row_or_404(request, Outage.objects.select_related("site"), pk=outage_id)
    actions.revoke_calendar_links(outage=outage, by=person(request))
    return redirect("outages:calendar_address", outage.pk)


@public
@require_safe
def calendar(request: HttpRequest, code: str) -> HttpResponse:
    """The accepted schedule as a calendar, for who knows the address, as long as its person has a role at the site."""
    link = calendar_link(actions.hash_of_code(code))
    if link is None:
        raise Http404
    outage = link.outage
    body = calendar_of(outage.name, outage.site.zone, accepted_schedule(outage))
    headers = {"Cache-Control": "private, no-store", "Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex"}
    return HttpResponse(body, content_type="text/calendar; charset=utf-8", headers=headers)
