"""Pages for people outside the program: checking a report, its published files, and reading it through a link."""

import re
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from groutjobs.accounts.access import READING, address_tried_from, posted, public
from groutjobs.turnover import verify_report
from groutjobs.turnover.downloads import download, file_name
from groutjobs.turnover.forms import AcceptForm, FileToCheckForm
from groutjobs.turnover.handing import ACCEPTED, accept_by_link, hash_of_token, note_use, try_code
from groutjobs.turnover.models import STATES_IN_FORCE, ReaderLink, ReportState, TurnoverReport
from groutjobs.turnover.queries import acceptance_of, in_force, reader_link, withdrawal_of
from groutjobs.turnover.store import fetch
from groutjobs.turnover.verifying import report_by_code, stands, verdict_on

SCHEMA = Path(settings.BASE_DIR) / "fixtures" / "reports" / "record.schema.json"
CHECKS_IN_TEN_MINUTES = 20
TEN_MINUTES_S = 600
LEAST_PREFIX = 16


@public
@never_cache
def verify(request: HttpRequest) -> HttpResponse:
    """Upload a PDF; it is judged in plain words, never shown and not kept."""
    if request.method not in ("GET", "HEAD", "POST"):
        return HttpResponse(status=405)
    form = FileToCheckForm(posted(request), request.FILES or None)
    context: dict[str, Any] = {"form": form, "verdict": None}
    if request.method == "POST" and _too_many(request):
        return render(request, "turnover/verify.html", context | {"slowed": True}, status=429)
    if request.method == "POST" and form.is_valid():
        verdict = verdict_on(form.cleaned_data["file"])
        context |= {"verdict": verdict, "stands": stands(verdict.report) if verdict.report else ""}
        context["in_force"] = verdict.report is not None and verdict.report.state in STATES_IN_FORCE
    return render(request, "turnover/verify.html", context)


def _too_many(request: HttpRequest) -> bool:
    key = f"verify {address_tried_from(request)}"
    cache.add(key, 0, TEN_MINUTES_S)
    return cache.incr(key) > CHECKS_IN_TEN_MINUTES


@public
@never_cache
def verify_code(request: HttpRequest, number: str, revision: int, prefix: str) -> HttpResponse:
    """The address in the QR code of each page: how that revision stands today."""
    if request.method not in ("GET", "HEAD"):
        return HttpResponse(status=405)
    is_code = re.fullmatch(f"[0-9a-f]{{{LEAST_PREFIX},64}}", prefix.lower()) is not None
    report = report_by_code(number[:40], revision, prefix) if is_code else None
    later = in_force(report.pour) if report and report.state == ReportState.SUPERSEDED else None
    context = {
        "report": report, "number": number[:40], "revision": revision, "later": later,
        "stands": stands(report) if report else "", "in_force": report is not None and report.state in STATES_IN_FORCE,
    }  # fmt: skip
    return render(request, "turnover/verify_code.html", context, status=200 if report else 404)


@public
@require_safe
def verify_script(request: HttpRequest) -> HttpResponse:
    """The checker for a machine without network, one file of the standard library."""
    return download(Path(verify_report.__file__).read_bytes(), "text/x-python", "verify_report.py")


@public
@require_safe
def record_schema(request: HttpRequest) -> HttpResponse:
    """The published description of record.json."""
    return download(SCHEMA.read_bytes(), "application/schema+json", "record.schema.json")


@public
@never_cache
@require_http_methods([*READING, "POST"])
def outside(request: HttpRequest, code: str) -> HttpResponse:
    """The page of a reader's link. Opening it is a button, so that programs that follow links in mails read nothing."""
    link = reader_link(hash_of_token(code)) if len(code) < 100 else None
    if link is None or link.word != "valid":
        return render(request, "turnover/outside_closed.html", {"link": link}, status=404 if link is None else 410)
    step = request.POST.get("step", "") if request.method == "POST" else ""
    if step == "pdf":
        return _file(link)
    if step == "accept":
        return _accepting(request, link)
    if step == "open":
        note_use(link=link, what="opened")
        return _read(request, link, AcceptForm())
    return render(request, "turnover/outside.html", {"link": link, "report": link.recipient.report})


def _file(link: ReaderLink) -> HttpResponse:
    report = link.recipient.report
    if report.state == ReportState.WITHDRAWN:
        return HttpResponse("This report was withdrawn.", status=410, content_type="text/plain")
    note_use(link=link, what="file taken")
    return download(fetch(report.pdf_sha256), "application/pdf", f"{file_name(report)}.pdf")


def _accepting(request: HttpRequest, link: ReaderLink) -> HttpResponse:
    form = AcceptForm(request.POST)
    if not form.is_valid():
        return _read(request, link, form)
    given = form.cleaned_data
    if not try_code(link=link, code=re.sub(r"\D", "", given["code"])):
        form.add_error("code", "This is not the code of this link; nothing was accepted. After five wrong ones ask for "
                       "another link [GROUTJOBS].")  # fmt: skip
        return _read(request, link, form)
    accept_by_link(link=link, name=given["name"], organisation=given["organisation"], accepted_on=given["accepted_on"])
    note_use(link=link, what="accepted")
    return redirect(reverse("turnover:outside", args=[request.resolver_match.kwargs["code"]]))  # type: ignore[union-attr]


def _read(request: HttpRequest, link: ReaderLink, form: AcceptForm) -> HttpResponse:
    report: TurnoverReport = link.recipient.report
    context = {
        "link": link, "report": report, "form": form, "stands": stands(report), "sentence": ACCEPTED,
        "site": report.pour.plan.machine.site, "in_force": report.state in STATES_IN_FORCE,
        "acceptance": acceptance_of(report), "withdrawal": withdrawal_of(report),
        "hash_words": re.findall("." * 8, report.pdf_sha256),
    }  # fmt: skip
    return render(request, "turnover/outside_report.html", context)
