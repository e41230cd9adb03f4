"""Forecasts of a site: list, sheet, the ways to add one, and the service that brings them."""

import datetime as dt
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.equipment.models import Site
from groutjobs.errors import GroutJobsError
from groutjobs.weather import actions, feed_actions
from groutjobs.weather.days import Day, days_of, hours_on
from groutjobs.weather.drawing import forecast_picture
from groutjobs.weather.files import COLUMNS, example_csv
from groutjobs.weather.forms import CorrectionForm, CsvForm, HandForm, ServiceForm, YearForm
from groutjobs.weather.models import Forecast, ForecastFeed
from groutjobs.weather.queries import credit_for, forecasts_of, live_forecast, place_of
from groutjobs.weather.services.offered import OFFERS
from groutjobs.wording import counted

WRITERS = (Role.ENGINEER, Role.ADMINISTRATOR)
SHOWN = 50


def _site(request: HttpRequest, site_id: int) -> Site:
    return row_or_404(request, Site.objects.all(), pk=site_id)


def _forecast(request: HttpRequest, forecast_id: int) -> Forecast:
    return row_or_404(request, Forecast.objects.select_related("site", "made_by", "corrects"), pk=forecast_id)


@allowed(read=EVERY_ROLE)
def forecast_list(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    shows_live = request.GET.get("show") == "live"
    rows = forecasts_of(site, live=shows_live)
    context = {
        "site": site,
        "forecasts": rows[:SHOWN],
        "count": rows.count(),
        "shown": SHOWN,
        "shows_live": shows_live,
        "other_count": forecasts_of(site, live=not shows_live).count(),
        "live": live_forecast(site, timezone.now()),
        "may_add": may(request, site, WRITERS),
    }
    return render(request, "weather/forecast_list.html", context)


@allowed(read=EVERY_ROLE)
def forecast_detail(request: HttpRequest, forecast_id: int) -> HttpResponse:
    forecast = _forecast(request, forecast_id)
    days = days_of(forecast)
    context = {
        "site": forecast.site,
        "forecast": forecast,
        "days": days,
        "credit": credit_for(forecast),
        **_chosen_day(request, forecast, days),
        "may_add": may(request, forecast, WRITERS),
    }
    if request.htmx:  # type: ignore[attr-defined]
        return render(request, "weather/forecast_detail.html#day-hours", context)
    context["picture"] = forecast_picture(forecast, system=person(request).unit_system)
    context["corrections"] = forecast.corrections.order_by("pk")
    return render(request, "weather/forecast_detail.html", context)


def _chosen_day(request: HttpRequest, forecast: Forecast, days: list[Day]) -> dict[str, Any]:
    """The day of the query string with its hours; the first day where none is named."""
    text = request.GET.get("day") or days[0].on.isoformat()
    try:
        on = dt.date.fromisoformat(text)
    except ValueError as error:
        raise Http404 from error
    return {"day": on, "hours": hours_on(forecast, on)}


def _add(request: HttpRequest, site: Site, form: Any, title: str, columns: Any, **more: Any) -> HttpResponse:
    """The page of a form that adds a forecast."""
    if request.method == "POST" and form.is_valid():
        try:
            forecast = actions.add_forecast(site=site, by=person(request), **columns())
        except GroutJobsError as error:
            form.refuse(error)
        else:
            messages.success(request, f"Kept: {counted(forecast.hour_count, 'hour')} of weather.")
            return redirect("weather:forecast_detail", forecast.pk)
    context = {"site": site, "form": form, "heading": title, **more}
    return render(request, "weather/forecast_form.html", context, status=422 if form.errors else 200)


@allowed(read=WRITERS, write=WRITERS)
def forecast_add_csv(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    form = CsvForm(posted(request), request.FILES or None, system=person(request).unit_system, zone=site.zone)
    return _add(request, site, form, "Add a table of hours (CSV)", form.columns, csv_columns=COLUMNS)


@allowed(read=WRITERS, write=WRITERS)
def forecast_add_year(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    form = YearForm(posted(request), request.FILES or None, system=person(request).unit_system, site=site)
    return _add(request, site, form, "Read a typical year", lambda: form.columns(timezone.now()), is_year=True)


@allowed(read=WRITERS, write=WRITERS)
def forecast_add_hand(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    form = HandForm(posted(request), system=person(request).unit_system, zone=site.zone)
    return _add(request, site, form, "Enter hours by hand", form.columns)


@allowed(read=WRITERS, write=WRITERS)
def forecast_correct(request: HttpRequest, forecast_id: int) -> HttpResponse:
    forecast = _forecast(request, forecast_id)
    form = CorrectionForm(posted(request), forecast=forecast, system=person(request).unit_system)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            corrected = actions.correct_forecast(
                forecast=forecast, changes=form.changes(), reason=reason, by=person(request)
            )
        except GroutJobsError as error:
            form.refuse(error)
        else:
            messages.success(request, "Kept as a new forecast; the old one stays as it was.")
            return redirect("weather:forecast_detail", corrected.pk)
    context = {"site": forecast.site, "forecast": forecast, "form": form, "heading": "Correct hours"}
    return render(request, "weather/forecast_form.html", context, status=422 if form.errors else 200)


@allowed(read=WRITERS, write=WRITERS)
def feed_edit(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    feed = ForecastFeed.objects.filter(site=site).first()
    form = ServiceForm(posted(request), feed=feed, usual_contact=settings.FORECAST_CONTACT)
    if request.method == "POST" and form.is_valid():
        try:
            feed = feed_actions.choose_service(site=site, by=person(request), **form.columns())
        except GroutJobsError as error:
            form.refuse(error)
        else:
            words = "The forecast is fetched behind this page." if feed.is_on else "No forecast is fetched any more."
            messages.success(request, f"Kept. {words}")
            return redirect("weather:forecast_list", site.pk)
    context = {"site": site, "form": form, "offers": OFFERS.values(), "place": place_of(site)}
    return render(request, "weather/feed_form.html", context, status=422 if form.errors else 200)


@allowed(write=WRITERS)
def feed_ask(request: HttpRequest, site_id: int) -> HttpResponse:
    site = _site(request, site_id)
    try:
        feed_actions.ask_now(site=site, by=person(request))
    except GroutJobsError as error:
        messages.warning(request, str(error))
    else:
        messages.success(request, "The service is asked behind this page; look again in a minute.")
    return redirect("weather:forecast_list", site.pk)


@allowed(read=EVERY_ROLE)
def csv_example(request: HttpRequest, site_id: int) -> HttpResponse:
    _site(request, site_id)
    headers = {"Content-Disposition": 'attachment; filename="hours-example.csv"'}
    return HttpResponse(example_csv(), content_type="text/csv; charset=utf-8", headers=headers)
