"""Pages of the turnover."""

import re
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.pours.queries import pour_whole
from groutjobs.turnover.actions import draw_again, freeze_report, return_report, sign_report, why_not_back
from groutjobs.turnover.downloads import download, file_name
from groutjobs.turnover.forms import FreezeForm, ReturnForm, SignForm
from groutjobs.turnover.gathering import with_owed
from groutjobs.turnover.models import STATES_IN_FORCE, STATES_UNDER_WAY, Meaning, ReportState, TurnoverReport
from groutjobs.turnover.queries import (
    acceptance_of,
    in_force,
    recorded_since,
    report_whole,
    reports_of,
    signer_for,
    withdrawal_of,
)
from groutjobs.turnover.readiness import NEVER_ACCEPTED, blockers_of, by_debtor, readiness
from groutjobs.turnover.report import context_of
from groutjobs.turnover.signing import ORDER, ROLES_FOR, ROLES_THAT_SIGN, SENTENCES, next_meaning, refusal, role_words
from groutjobs.turnover.store import fetch

ENGINEERS = (Role.ENGINEER,)
WHO_WITHDRAWS = (Role.ENGINEER, Role.ADMINISTRATOR)


@allowed(read=EVERY_ROLE, write=ENGINEERS)
def readiness_list(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, with_owed(pour_whole()), pk=pour_id)
    site = pour.plan.machine.site
    reports = list(reports_of(pour))
    findings = readiness(pour, system=person(request).unit_system)
    blockers = blockers_of(findings)
    standing = next((row for row in reports if row.state in STATES_IN_FORCE), None)
    form = FreezeForm(
        posted(request), blockers=blockers, replaces=str(standing or ""), system=person(request).unit_system,
        zone=site.zone,
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        report = freeze_report(pour=pour, by=person(request), deviations=form.reasons(), **form.revision())
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
        "later": in_force(report.pour) if report.state == ReportState.SUPERSEDED else None,
        "seal_words": _in_words(report.seal_key.fingerprint) if report.seal_key else [],
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
        "may_send_back": (is_frozen or bool(report.fault))
        and report.state in STATES_UNDER_WAY
        and not why_not_back(report, signer_for(person(request), report.pour)),
        "acceptance": acceptance_of(report) if report.issued_at else None,
        "withdrawal": withdrawal_of(report) if report.pdf_sha256 else None,
        "recipients": report.recipients.count() if report.issued_at else 0,
        "may_issue": may(request, report, ENGINEERS),
        "may_withdraw": report.state in {ReportState.SEALED, ReportState.ISSUED}
        and may(request, report, WHO_WITHDRAWS),
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
def report_return(request: HttpRequest, report_id: int) -> HttpResponse:
    report = row_or_404(request, report_whole(), pk=report_id)
    form = ReturnForm(posted(request))
    if request.method == "POST" and form.is_valid():
        return_report(report=report, reason=form.cleaned_data["reason"], by=person(request))
        messages.success(request, f"{report} went back. Mend the record, then freeze a new revision.")
        return redirect("turnover:readiness", report.pour_id)
    context = {"report": report, "site": report.pour.plan.machine.site, "form": form}
    return render(request, "turnover/report_return.html", context)


@allowed(write=ENGINEERS)
def report_draw(request: HttpRequest, report_id: int) -> HttpResponse:
    report = row_or_404(request, report_whole(), pk=report_id)
    draw_again(report=report, by=person(request))
    messages.success(request, "The PDF is being drawn and sealed again; this page shows when it is done.")
    return redirect("turnover:report_detail", report.pk)


@allowed(read=EVERY_ROLE)
def report_pdf(request: HttpRequest, report_id: int) -> HttpResponse:
    """The sealed bytes, checked against their hash before they leave."""
    report = row_or_404(request, report_whole().exclude(pdf_sha256=""), pk=report_id)
    return download(fetch(report.pdf_sha256), "application/pdf", f"{file_name(report)}.pdf")


@allowed(read=EVERY_ROLE)
def report_manifest(request: HttpRequest, report_id: int) -> HttpResponse:
    """The very text whose hash the signatures carry."""
    report = row_or_404(request, report_whole(), pk=report_id)
    return download(report.manifest_text.encode(), "application/json", f"{file_name(report)}-record.json")
