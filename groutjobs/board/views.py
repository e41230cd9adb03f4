"""The first page after sign-in, the bibliography, and how the numbers are computed."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from groutjobs.accounts.access import allowed, may, person, row_or_404, rows_for, signed_in
from groutjobs.accounts.models import EVERY_ROLE, ROLES_THAT_RECORD, Role
from groutjobs.board.forecast_score import score_of
from groutjobs.board.handbook import LONGEST_SEARCH, chapters, engine_version, found
from groutjobs.board.queries import machines_with_jobs, phones_that_hold, site_day, standing_of
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.reminders.queries import due_rows, site_duties
from groutjobs.sources import sources as bibliography
from groutjobs.sync.actions import DECIDERS
from groutjobs.weather.queries import learned_spread
from groutjobs.weather.scoring import LEAST_PAIRS
from groutjobs.weather.spread_actions import use_score

DUE_SHOWN = 12


@signed_in
@require_GET
def day_sheet(request: HttpRequest) -> HttpResponse:
    sites = list(rows_for(request, Site.objects.all()))
    if not sites:
        return render(request, "board/no_site.html")
    wanted = request.GET.get("site", "")
    site = row_or_404(request, Site.objects.all(), pk=int(wanted)) if wanted.isdecimal() else sites[0]
    finished = request.GET.get("show") == "all"
    page = Paginator(machines_with_jobs(site, finished=finished), 50).get_page(request.GET.get("page"))
    due = due_rows(site_duties(site, timezone.now(), person(request).unit_system), timezone.now())
    shown = {"site": site, "sites": sites, "page": page, "finished": finished, "day": site_day(site)}
    shown |= {"due": due[:DUE_SHOWN], "due_count": len(due), "may_say": may(request, site, ROLES_THAT_RECORD)}
    shown |= {"phones": phones_that_hold(site, timezone.now()), "may_see_phones": may(request, site, DECIDERS)}
    return render(request, "board/day_sheet.html", shown | {"standings": [standing_of(machine) for machine in page]})


@signed_in
@require_GET
def sources(request: HttpRequest) -> HttpResponse:
    return render(request, "board/sources.html", {"sources": bibliography().values()})


@signed_in
@require_GET
def how(request: HttpRequest) -> HttpResponse:
    wanted = " ".join(request.GET.get("find", "")[:LONGEST_SEARCH].split())
    is_open = bool(wanted) or request.GET.get("unfold") == "all"
    shown = {"wanted": wanted, "chapters": chapters(found(wanted)), "longest": LONGEST_SEARCH, "is_open": is_open}
    return render(request, "board/how.html", shown | {"version": engine_version()})


@allowed(read=EVERY_ROLE)
def forecast_score(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    shown = {"site": site, "score": score_of(site, timezone.now()), "least": LEAST_PAIRS, "taken": learned_spread(site)}
    shown["may_use"] = may(request, site, {Role.ENGINEER})
    part = "#forecast-score" if request.htmx else ""  # type: ignore[attr-defined]
    return render(request, f"board/forecast_score.html{part}", shown)


@allowed(write={Role.ENGINEER})
def forecast_score_use(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    score = score_of(site, timezone.now())
    try:
        use_score(site=site, pair_count=score.pair_count, days=score.days, by=person(request))
    except NotAllowed as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "Kept: searches of live forecasts count their odds with this score from now on.")
    return redirect("board:forecast_score", site.pk)
