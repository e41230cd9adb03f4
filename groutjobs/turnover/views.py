"""Pages of the turnover."""

import re
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404, rows_for
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.pours.queries import pour_whole
from groutjobs.turnover.actions import draw_again, freeze_report, sign_report, why_not_back, withdraw_report
from groutjobs.turnover.forms import FreezeForm, RegisterForm, SignForm, WithdrawForm
from groutjobs.turnover.models import STATES_UNDER_WAY, Meaning, ReportState, TurnoverReport
from groutjobs.turnover.queries import (
    found_reports,
    recorded_since,
    report_whole,
    reports_of,
    signer_for,
    sites_where,
    years_of,
)
from groutjobs.turnover.readiness import NEVER_ACCEPTED, blockers_of, by_debtor, readiness
from groutjobs.turnover.report import context_of
from groutjobs.turnover.signing import ORDER, ROLES_FOR, ROLES_THAT_SIGN, SENTENCES, next_meaning, refusal, role_words
from groutjobs.turnover.store import fetch

ENGINEERS = (Role.ENGINEER,)
PER_PAGE = 25


@allowed(read=EVERY_ROLE)
def register(request: HttpRequest) -> HttpResponse:
    reports = rows_for(request, report_whole()).defer("pour__plan__result")
    form = RegisterForm(
        request.GET or None, sites=sites_where(person(request)), years=years_of(reports),
        system=person(request).unit_system,
    )  # fmt: skip
    is_asked = form.is_bound and form.is_valid()
    found = found_reports(reports, **form.cleaned_data) if is_asked else reports
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    query = request.GET.copy()
    query.pop("page", None)
    context = {"form": form, "page": page, "query": query.urlencode(), "site": None}
    template = "turnover/report_register.html"
    return render(request, f"{template}#found-reports" if request.htmx else template, context)  # type: ignore[attr-defined]


@allowed(read=EVERY_ROLE, write=ENGINEERS)
def readiness_list(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    site = pour.plan.machine.site
    reports = list(reports_of(pour))
    findings = readiness(pour, system=person(request).unit_system)
    blockers = blockers_of(findings)
    form = FreezeForm(posted(request), blockers=blockers, system=person(request).unit_system, zone=site.zone)
    if request.method == "POST" and form.is_valid():
        report = freeze_report(pour=pour, by=person(request), deviations=form.reasons())
        messages.success(request, f"{report} is frozen. It is now read and signed by three people.")
        return redirect("turnover:report_detail", report.pk)
    context = {
        "pour": pour, "site": site, "debtors": by_debtor(findings), "blockers": blockers, "form": form,
        "never": [blocker for blocker in blockers if blocker.code.startswith(NEVER_ACCEPTED)],
        "reports": reports,
        "open_report": next((row for row in reports if row.state in STATES_UNDER_WAY), None),
        "may_freeze": may(request, pour, ENGINEERS),
    }  # fmt: skip
    return render(request, "turnover/report_readiness.html", context)


@allowed(read=EVERY_ROLE)
def report_detail(request: HttpRequest, report_id: int) -> HttpResponse:
    report = row_or_404(request, report_whole(), pk=report_id)
    context = _progress(request, report) | {
        "report": report,
        "site": report.pour.plan.machine.site,
        "since": recorded_since(report),
        "revisions": reports_of(report.pour),
        "hash_words": _in_words(report.pdf_sha256),
        "manifest_words": _in_words(report.manifest_sha256),
    }
    template = "turnover/report_detail.html"
    if not request.htmx:  # type: ignore[attr-defined]
        return render(request, template, context)
    response = render(request, f"{template}#report-progress", context)
    if report.state != ReportState.APPROVED:
        response["HX-Refresh"] = "true"  # it is drawn: the state stands in other parts of the page too
    return response


def _in_words(sha256: str) -> list[str]:
    """A hash in words of eight letters, which can be compared by eye."""
    return re.findall("." * 8, sha256)


def _progress(request: HttpRequest, report: TurnoverReport) -> dict[str, Any]:
    """The signatures there and to come, and what this person may do next."""
    signed = {signature.meaning: signature for signature in report.signatures.all()}
    is_frozen = report.state == ReportState.FROZEN
    due = next_meaning(signed) if is_frozen else None
    rows = [(meaning, SENTENCES[meaning], signed.get(meaning), role_words(ROLES_FOR[meaning])) for meaning in ORDER]
    return {
        "rows": rows,
        "due": due,
        "refusal": _why_not(request, report, due),
        "may_send_back": is_frozen and not why_not_back(report, signer_for(person(request), report.pour)),
        "may_draw": report.state == ReportState.APPROVED and may(request, report, ENGINEERS),
    }


@allowed(read=EVERY_ROLE)
def report_read(request: HttpRequest, report_id: int) -> HttpResponse:
    """The report on the screen, from the same template as the PDF: what a person reads before signing."""
    report = row_or_404(request, report_whole(), pk=report_id)
    return render(request, "turnover/report.html", context_of(report))


@allowed(read=ROLES_THAT_SIGN, write=ROLES_THAT_SIGN)
def report_sign(request: HttpRequest, report_id: int) -> HttpResponse:
    report = row_or_404(request, report_whole(), pk=report_id)
    due = next_meaning(signature.meaning for signature in report.signatures.all())
    form = SignForm(posted(request), request=request, initial={"manifest_sha256": report.manifest_sha256})
    if request.method == "POST" and due and form.is_valid():
        seen = form.cleaned_data["manifest_sha256"]
        sign_report(report=report, meaning=due, by=person(request), manifest_sha256=seen)
        messages.success(request, f"You signed {report}: {due.label.lower()}.")
        return redirect("turnover:report_detail", report.pk)
    context = {
        "report": report, "site": report.pour.plan.machine.site, "form": form, "due": due,
        "sentence": SENTENCES[due] if due else "", "refusal": _why_not(request, report, due),
        "manifest_words": _in_words(report.manifest_sha256),
    }  # fmt: skip
    return render(request, "turnover/report_sign.html", context)


def _why_not(request: HttpRequest, report: TurnoverReport, due: Meaning | None) -> str:
    if due is None or report.state != ReportState.FROZEN:
        return f"{report} is {ReportState(report.state).label.lower()}; there is nothing to sign."
    signed_by = {signature.signer_id for signature in report.signatures.all()}
    return refusal(due, signer_for(person(request), report.pour), signed_by)


@allowed(read=ROLES_THAT_SIGN, write=ROLES_THAT_SIGN)
def report_withdraw(request: HttpRequest, report_id: int) -> HttpResponse:
    report = row_or_404(request, report_whole(), pk=report_id)
    form = WithdrawForm(posted(request))
    if request.method == "POST" and form.is_valid():
        withdraw_report(report=report, reason=form.cleaned_data["reason"], by=person(request))
        messages.success(request, f"{report} went back. Mend the record, then freeze a new revision.")
        return redirect("turnover:readiness", report.pour_id)
    context = {"report": report, "site": report.pour.plan.machine.site, "form": form}
    return render(request, "turnover/report_withdraw.html", context)


@allowed(write=ENGINEERS)
def report_draw(request: HttpRequest, report_id: int) -> HttpResponse:
    report = row_or_404(request, report_whole(), pk=report_id)
    draw_again(report=report, by=person(request))
    messages.success(request, "The PDF is being drawn again; this page shows when it is issued.")
    return redirect("turnover:report_detail", report.pk)


@allowed(read=EVERY_ROLE)
def report_pdf(request: HttpRequest, report_id: int) -> HttpResponse:
    """The issued bytes, checked against their hash before they leave."""
    report = row_or_404(
        request, report_whole().filter(state__in=[ReportState.ISSUED, ReportState.SUPERSEDED]), pk=report_id
    )
    return _download(fetch(report.pdf_sha256), "application/pdf", f"{_file_name(report)}.pdf")


@allowed(read=EVERY_ROLE)
def report_manifest(request: HttpRequest, report_id: int) -> HttpResponse:
    """The very text whose hash the signatures carry."""
    report = row_or_404(request, report_whole(), pk=report_id)
    return _download(report.manifest_text.encode(), "application/json", f"{_file_name(report)}-manifest.json")


def _download(content: bytes, kind: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


def _file_name(report: TurnoverReport) -> str:
    tag = re.sub(r"[^A-Za-z0-9-]+", "-", report.pour.plan.machine.tag).strip("-")
    return f"{report.number}-rev{report.revision}-{tag}"[:80]
