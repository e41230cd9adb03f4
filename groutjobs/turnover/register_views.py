"""The register of all reports: search, filters, searches kept by a person, and what is taken away from it."""

from typing import Any, cast

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from groutjobs.accounts.access import allowed, person, posted, rows_for
from groutjobs.accounts.models import EVERY_ROLE
from groutjobs.turnover.bulk import MOST_REPORTS, bulk_zip
from groutjobs.turnover.downloads import download, streamed
from groutjobs.turnover.forms import RegisterForm, SaveSearchForm
from groutjobs.turnover.models import SavedSearch, TurnoverReport
from groutjobs.turnover.queries import found_reports, register_choices, report_listed, saved_searches
from groutjobs.turnover.register_rows import as_csv, as_xlsx, register_table
from groutjobs.turnover.search_actions import forget_search, save_search

PER_PAGE = 25
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@allowed(read=EVERY_ROLE)
def register(request: HttpRequest) -> HttpResponse:
    form, found = _found(request)
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    query = _query_of(request).urlencode()
    context = {
        "form": form, "page": page, "query": query, "site": None, "saved": saved_searches(person(request)),
        "save_form": SaveSearchForm(initial={"query": query}), "most": MOST_REPORTS,
    }  # fmt: skip
    template = "turnover/report_register.html"
    return render(request, f"{template}#found-reports" if request.htmx else template, context)  # type: ignore[attr-defined]


def _found(request: HttpRequest) -> tuple[RegisterForm, QuerySet[TurnoverReport]]:
    """The form of the search and what it finds; a wrong search finds everything and says what is wrong."""
    reports = rows_for(request, report_listed())
    form = RegisterForm(_query_of(request) or None, choices=register_choices(reports, person(request)))
    is_asked = form.is_bound and form.is_valid()
    return form, found_reports(reports, **form.cleaned_data) if is_asked else reports


def _query_of(request: HttpRequest) -> QueryDict:
    query = request.GET.copy()
    query.pop("page", None)
    return query


def _table(request: HttpRequest) -> list[list[Any]]:
    _, found = _found(request)
    return register_table(found.select_related("acceptance"), person(request).unit_system)


@allowed(read=EVERY_ROLE)
def register_csv(request: HttpRequest) -> HttpResponse:
    return download(as_csv(_table(request)), "text/csv; charset=utf-8", "register.csv")


@allowed(read=EVERY_ROLE)
def register_xlsx(request: HttpRequest) -> HttpResponse:
    return download(as_xlsx(_table(request)), XLSX, "register.xlsx")


@allowed(read=EVERY_ROLE)
def register_zip(request: HttpRequest) -> HttpResponse:
    """The sealed files of what the search finds, with a list of their hashes, sent while it is packed."""
    _, found = _found(request)
    reports = list(found.exclude(pdf_sha256="")[: MOST_REPORTS + 1])
    if len(reports) > MOST_REPORTS:
        words = f"This search finds more than {MOST_REPORTS} files; narrow it, then take them in several parts."
        return render(request, "not_allowed.html", {"reason": words}, status=409)
    return cast(HttpResponse, streamed(bulk_zip(reports), "application/zip", "reports.zip"))


@allowed(write=EVERY_ROLE)
def search_save(request: HttpRequest) -> HttpResponse:
    form = SaveSearchForm(posted(request))
    if not form.is_valid():
        return render(request, "turnover/search_save.html", {"save_form": form}, status=200)
    given = form.cleaned_data
    save_search(name=given["name"], query=given["query"], by=person(request))
    messages.success(request, f"The search is kept as “{given['name']}”; only you see it.")
    return redirect(f"{reverse('turnover:register')}?{given['query']}")


@allowed(write=EVERY_ROLE)
def search_forget(request: HttpRequest, saved_id: int) -> HttpResponse:
    search = get_object_or_404(SavedSearch, pk=saved_id, person=person(request))
    forget_search(search=search, by=person(request))
    return redirect("turnover:register")
