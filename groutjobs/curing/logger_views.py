"""Loggers of a site: what is remembered of each, where it stands, its keys, and how programs send."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404, signed_in
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.curing import api, loggers
from groutjobs.curing.forms import LoggerForm, StandForm
from groutjobs.curing.logger_models import Logger, LoggerKey
from groutjobs.curing.logger_queries import logger_pages, logger_rows, running_pours
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed

MANAGERS = frozenset({Role.ENGINEER, Role.ADMINISTRATOR, Role.CREW_LEAD})


@allowed(read=EVERY_ROLE)
def logger_list(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    context = {"site": site, "loggers": logger_rows(site), "may_manage": may(request, site, MANAGERS)}
    return render(request, "curing/logger_list.html", context)


@allowed(read=MANAGERS, write=MANAGERS)
def logger_add(request: HttpRequest, site_id: int) -> HttpResponse:
    site = row_or_404(request, Site.objects.all(), pk=site_id)
    form = LoggerForm(posted(request), site=site, year=timezone.now().year)
    if form.is_valid():
        try:
            row = loggers.keep_logger(site=site, by=person(request), **form.columns())
        except NotAllowed as error:
            form.refuse(error, field="name")
        else:
            messages.success(request, f"{row.name} is remembered. Say next where it stands.")
            return redirect("curing:logger_detail", row.pk)
    context = {"site": site, "form": form, "heading": "Remember a logger"}
    return render(request, "curing/logger_form.html", context, status=422 if form.errors else 200)


@allowed(read=MANAGERS, write=MANAGERS)
def logger_edit(request: HttpRequest, logger_id: int) -> HttpResponse:
    logger = row_or_404(request, Logger.objects.select_related("site"), pk=logger_id)
    form = LoggerForm(posted(request), site=logger.site, year=timezone.now().year, logger=logger)
    if form.is_valid():
        try:
            loggers.keep_logger(site=logger.site, by=person(request), logger=logger, **form.columns())
        except NotAllowed as error:
            form.refuse(error, field="name")
        else:
            return redirect("curing:logger_detail", logger.pk)
    context = {"site": logger.site, "form": form, "heading": f"What is remembered of {logger.name}"}
    return render(request, "curing/logger_form.html", context, status=422 if form.errors else 200)


@allowed(read=EVERY_ROLE)
def logger_detail(request: HttpRequest, logger_id: int) -> HttpResponse:
    logger = row_or_404(request, Logger.objects.select_related("site", "made_by"), pk=logger_id)
    return render(request, "curing/logger_detail.html", _about(request, logger))


def _about(request: HttpRequest, logger: Logger) -> dict[str, Any]:
    return {
        "logger": logger,
        "site": logger.site,
        "may_manage": may(request, logger, MANAGERS),
        "endpoint": request.build_absolute_uri(reverse("curing:logger_readings")),
        **logger_pages(logger),
    }


@allowed(read=MANAGERS, write=MANAGERS)
def logger_place(request: HttpRequest, logger_id: int) -> HttpResponse:
    logger = row_or_404(request, Logger.objects.select_related("site"), pk=logger_id)
    form = StandForm(
        posted(request), pours=running_pours(logger.site), zone=logger.site.zone, initial={"at": timezone.now()}
    )
    if form.is_valid():
        try:
            loggers.place_logger(logger=logger, by=person(request), **form.place())
        except NotAllowed as error:
            form.refuse(error, field="at")
        else:
            return redirect("curing:logger_detail", logger.pk)
    context = {"site": logger.site, "form": form, "heading": f"Where {logger.name} stands"}
    return render(request, "curing/logger_form.html", context, status=422 if form.errors else 200)


@never_cache
@allowed(write=MANAGERS)
def key_add(request: HttpRequest, logger_id: int) -> HttpResponse:
    """A new key, shown on this one page and never again."""
    logger = row_or_404(request, Logger.objects.select_related("site", "made_by"), pk=logger_id)
    _, key = loggers.make_key(logger=logger, by=person(request))
    return render(request, "curing/logger_detail.html", _about(request, logger) | {"made_key": key})


@allowed(write=MANAGERS)
def key_revoke(request: HttpRequest, logger_key_id: int) -> HttpResponse:
    key = row_or_404(request, LoggerKey.objects.select_related("logger__site"), pk=logger_key_id)
    loggers.revoke_key(key=key, by=person(request))
    messages.success(request, "The key is revoked. What was sent with it stays.")
    return redirect("curing:logger_detail", key.logger_id)


@signed_in
def logger_endpoint(request: HttpRequest) -> HttpResponse:
    """How programs send, from the same description as openapi.json, without anything from outside."""
    if request.method not in {"GET", "HEAD"}:
        return HttpResponse(status=405, headers={"Allow": "GET, HEAD"})
    context = {
        "endpoint": request.build_absolute_uri(reverse("curing:logger_readings")),
        "limits": {
            "calls": api.CALLS_A_MIN,
            "readings": api.MOST_READINGS,
            "kilobytes": api.LARGEST_BYTES // 1024,
            "a_day": api.READINGS_A_DAY,
        },
        "schemas": api.described("")["components"]["schemas"],
    }
    return render(request, "curing/logger_endpoint.html", context)
