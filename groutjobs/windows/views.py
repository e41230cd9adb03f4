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
from groutjobs.windows.compare_forms import CompareForm
from groutjobs.windows.compared import measures
from groutjobs.windows.drawing import pour_hours_picture
from groutjobs.windows.forms import SearchForm
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import latest_pour_hours, notes_of, searches_of, start_hour, whole_searches_of
from groutjobs.windows.tables import best_index, days_of_hours, limit_table, run_table
from groutjobs.wording import counted

WRITERS = (Role.ENGINEER,)
SEARCHES_SHOWN = 10
MEASURES_SHOWN = 6
"""As many as one comparison makes: the work as it is, and each measure alone."""


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
    """The newest searches of a plan beside each other, in the order in which they were made."""
    plan = _plan(request, plan_id)
    newest = list(whole_searches_of(plan)[:MEASURES_SHOWN])
    latest = latest_pour_hours(plan)
    context = {
        "site": plan.machine.site,
        "plan": plan,
        "measures": measures(newest[::-1]),
        "shown": MEASURES_SHOWN,
        "rests_on": latest.pk if latest else None,
        "may_search": may(request, plan, WRITERS),
    }
    return render(request, "windows/measures_compared.html", context)


@allowed(read=WRITERS, write=WRITERS)
def compare(request: HttpRequest, plan_id: int) -> HttpResponse:
    plan = _plan(request, plan_id)
    if "timetable" not in plan.result:
        return _not_computed(request, plan)
    system = person(request).unit_system
    form = CompareForm(posted(request), plan=plan, earlier=latest_pour_hours(plan), system=system)
    if request.method == "POST" and form.is_valid():
        try:
            actions.compare_measures(plan=plan, questions=form.questions(), by=person(request))
        except GroutJobsError as error:
            form.refuse(error)
        else:
            return redirect("windows:measures_compared", plan.pk)
    context = {"site": plan.machine.site, "plan": plan, "form": form}
    return render(request, "windows/compare.html", context, status=422 if form.errors else 200)


@allowed(write=WRITERS)
def measure_take(request: HttpRequest, search_id: int) -> HttpResponse:
    trial = row_or_404(request, PourHours.objects.select_related("plan__machine__site", "forecast"), pk=search_id)
    try:
        actions.take_measure(trial=trial, by=person(request))
    except GroutJobsError as error:
        messages.error(request, str(error))
        return redirect("windows:measures_compared", trial.plan_id)
    messages.success(request, "The plan rests on this measure now. Choose its hour.")
    return redirect("windows:pour_hours", trial.plan_id)


def _not_computed(request: HttpRequest, plan: PourPlan) -> HttpResponse:
    messages.info(request, "Save the plan once, so that it is computed; then search for its hours.")
    return redirect("planning:plan_detail", plan.pk)


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
        return _not_computed(request, plan)
    earlier = latest_pour_hours(plan)
    form = SearchForm(posted(request), plan=plan, earlier=earlier, system=person(request).unit_system)
    if request.method == "POST" and form.is_valid():
        try:
            found = actions.search_pour_hours(plan=plan, by=person(request), **form.question())
        except GroutJobsError as error:
            form.refuse(error)
        else:
            messages.success(request, f"{counted(len(found.result['hours']), 'hour')} judged.")
            return redirect("windows:pour_hours", plan.pk)
    context = {"site": plan.machine.site, "plan": plan, "form": form}
    return render(request, "windows/search.html", context, status=422 if form.errors else 200)
