"""Pour hours of a plan: the newest search, one of its hours, and the form of another search."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.errors import GroutJobsError
from groutjobs.planning.models import PourPlan
from groutjobs.planning.queries import hour_set
from groutjobs.weather.queries import forecasts_of
from groutjobs.windows import actions
from groutjobs.windows.compared import measures
from groutjobs.windows.drawing import pour_hours_picture
from groutjobs.windows.forms import SearchForm
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import latest_pour_hours, notes_of, searches_of, start_hour, whole_searches_of
from groutjobs.windows.tables import best_index, days_of_hours, limit_table, run_table

WRITERS = (Role.ENGINEER,)
SEARCHES_SHOWN = 10
MEASURES_SHOWN = 6


def _plan(request: HttpRequest, plan_id: int) -> PourPlan:
    rows = PourPlan.objects.select_related("machine__site", "machine__foundation", "data_sheet__grout_system")
    return row_or_404(request, rows, pk=plan_id)


@allowed(read=EVERY_ROLE)
def pour_hours(request: HttpRequest, plan_id: int) -> HttpResponse:
    plan = _plan(request, plan_id)
    context: dict[str, Any] = {"site": plan.machine.site, "plan": plan, "may_search": may(request, plan, WRITERS)}
    context["scheduled"] = hour_set(plan)
    found = _asked_search(request, plan)
    if found is None:
        context["has_forecast"] = forecasts_of(plan.machine.site).exists()
        return render(request, "windows/pour_hours_none.html", context)
    system = person(request).unit_system
    index = _asked_hour(request, found)
    context |= {"found": found, "hour": start_hour(found, index, system)}
    if request.htmx:  # type: ignore[attr-defined]
        return render(request, "windows/pour_hours.html#hour-detail", context)
    context |= {
        "notes": notes_of(found, system),
        "runs": run_table(found),
        "days": days_of_hours(found, index),
        "limits": limit_table(found),
        "picture": pour_hours_picture(found.result, plan.machine.site.zone, system),
        "searches": searches_of(plan)[:SEARCHES_SHOWN],
    }
    return render(request, "windows/pour_hours.html", context)


@allowed(read=EVERY_ROLE)
def measures_compared(request: HttpRequest, plan_id: int) -> HttpResponse:
    """The newest searches of a plan beside each other."""
    plan = _plan(request, plan_id)
    context = {
        "site": plan.machine.site,
        "plan": plan,
        "measures": measures(whole_searches_of(plan)[:MEASURES_SHOWN]),
        "shown": MEASURES_SHOWN,
        "may_search": may(request, plan, WRITERS),
    }
    return render(request, "windows/measures_compared.html", context)


def _asked_search(request: HttpRequest, plan: PourPlan) -> PourHours | None:
    """The search of the query string, else the newest one."""
    text = request.GET.get("search", "")
    if not text:
        return latest_pour_hours(plan)
    is_key = text.isascii() and text.isdigit() and len(text) < 19
    found = whole_searches_of(plan).filter(pk=text).first() if is_key else None
    if found is None:
        raise Http404
    return found


def _asked_hour(request: HttpRequest, found: PourHours) -> int:
    """The index of the query string, else that of the best hour."""
    text = request.GET.get("hour", "")
    if not text:
        return best_index(found)
    if not (text.isascii() and text.isdigit() and len(text) < 6 and int(text) < len(found.result["hours"])):
        raise Http404
    return int(text)


@allowed(read=WRITERS, write=WRITERS)
def search(request: HttpRequest, plan_id: int) -> HttpResponse:
    plan = _plan(request, plan_id)
    if "timetable" not in plan.result:
        messages.info(request, "Save the plan once, so that it is computed; then search for its hours.")
        return redirect("planning:plan_detail", plan.pk)
    earlier = latest_pour_hours(plan)
    form = SearchForm(posted(request), plan=plan, earlier=earlier, system=person(request).unit_system)
    if request.method == "POST" and form.is_valid():
        try:
            found = actions.search_pour_hours(plan=plan, by=person(request), **form.question())
        except GroutJobsError as error:
            form.refuse(error)
        else:
            messages.success(request, f"{len(found.result['hours'])} hours were judged.")
            return redirect("windows:pour_hours", plan.pk)
    context = {"site": plan.machine.site, "plan": plan, "form": form}
    return render(request, "windows/search.html", context, status=422 if form.errors else 200)
