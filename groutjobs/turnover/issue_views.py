"""Pages after the seal: issuing, links of readers, acceptance on paper, and withdrawing by two people."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from groutjobs.accounts.access import allowed, may, person, posted, row_or_404
from groutjobs.accounts.models import Role
from groutjobs.errors import NotAllowed
from groutjobs.turnover.downloads import download, file_name
from groutjobs.turnover.forms import IssueForm, LinkForm, PaperForm, RevokeForm, WithdrawForm
from groutjobs.turnover.handing import (
    ACCEPTED,
    Handed,
    accept_on_paper,
    agree_withdrawal,
    issue_report,
    propose_withdrawal,
    renew_link,
    revoke_link,
)
from groutjobs.turnover.models import STATES_IN_FORCE, Acceptance, ReaderLink, Recipient, ReportState, TurnoverReport
from groutjobs.turnover.queries import report_whole, withdrawal_of
from groutjobs.turnover.store import fetch

ENGINEERS = (Role.ENGINEER,)
WHO_WITHDRAWS = (Role.ENGINEER, Role.ADMINISTRATOR)
EVERY_READER = frozenset(Role)


@allowed(read=ENGINEERS, write=ENGINEERS)
def report_issue(request: HttpRequest, report_id: int) -> HttpResponse:
    report = row_or_404(request, report_whole(), pk=report_id)
    form = IssueForm(posted(request), initial={"days": "30"})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        handed = issue_report(
            report=report, recipients=given["recipients"], days=int(given["days"]), by=person(request)
        )
        return _shown_once(request, report, handed)
    context = {
        "report": report, "site": report.pour.plan.machine.site, "form": form,
        "is_sealed": report.state == ReportState.SEALED,
    }  # fmt: skip
    return render(request, "turnover/report_issue.html", context)


def _shown_once(request: HttpRequest, report: TurnoverReport, handed: list[Handed]) -> HttpResponse:
    """The secret part of the addresses and the codes: on this one page and nowhere else."""
    rows = [
        (one.link.recipient, request.build_absolute_uri(reverse("turnover:outside", args=[one.token])), one)
        for one in handed
    ]
    context = {"report": report, "site": report.pour.plan.machine.site, "rows": rows}
    return render(request, "turnover/report_links_made.html", context)


@allowed(read=EVERY_READER)
def report_readers(request: HttpRequest, report_id: int) -> HttpResponse:
    """To whom the report went, and what happened with each link."""
    report = row_or_404(request, report_whole(), pk=report_id)
    recipients = report.recipients.select_related("added_by").prefetch_related("links__uses", "links__made_by")
    context = {
        "report": report, "site": report.pour.plan.machine.site, "recipients": recipients,
        "may_change": may(request, report, ENGINEERS) and report.state in STATES_IN_FORCE,
    }  # fmt: skip
    return render(request, "turnover/report_readers.html", context)


@allowed(read=ENGINEERS, write=ENGINEERS)
def link_renew(request: HttpRequest, recipient_id: int) -> HttpResponse:
    recipient = row_or_404(request, Recipient.objects.select_related("report__pour__plan__machine"), pk=recipient_id)
    report = recipient.report
    form = LinkForm(posted(request), initial={"days": "30"})
    if request.method == "POST" and form.is_valid():
        handed = renew_link(recipient=recipient, days=int(form.cleaned_data["days"]), by=person(request))
        return _shown_once(request, report, [handed])
    context = {"report": report, "site": report.pour.plan.machine.site, "form": form, "recipient": recipient}
    return render(request, "turnover/link_renew.html", context)


@allowed(read=ENGINEERS, write=ENGINEERS)
def link_revoke(request: HttpRequest, link_id: int) -> HttpResponse:
    rows = ReaderLink.objects.select_related("recipient__report__pour__plan__machine")
    link = row_or_404(request, rows, pk=link_id)
    report, form = link.recipient.report, RevokeForm(posted(request))
    if request.method == "POST" and form.is_valid():
        revoke_link(link=link, reason=form.cleaned_data["reason"], by=person(request))
        messages.success(request, f"The link of {link.recipient.name} is revoked.")
        return redirect("turnover:report_readers", report.pk)
    context = {"report": report, "site": report.pour.plan.machine.site, "form": form, "recipient": link.recipient}
    return render(request, "turnover/link_revoke.html", context)


@allowed(read=ENGINEERS, write=ENGINEERS)
def report_accept(request: HttpRequest, report_id: int) -> HttpResponse:
    """The client signed on paper: the scan and what stands on it."""
    report = row_or_404(request, report_whole(), pk=report_id)
    form = PaperForm(posted(request), request.FILES or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        accept_on_paper(
            report=report, name=given["name"], organisation=given["organisation"], accepted_on=given["accepted_on"],
            paper=given["scan"], by=person(request),
        )  # fmt: skip
        messages.success(request, f"{report} is accepted by {given['name']}.")
        return redirect("turnover:report_detail", report.pk)
    context = {
        "report": report, "site": report.pour.plan.machine.site, "form": form, "sentence": ACCEPTED,
        "is_issued": report.state == ReportState.ISSUED,
    }  # fmt: skip
    return render(request, "turnover/report_accept.html", context)


@allowed(read=EVERY_READER)
def report_paper(request: HttpRequest, report_id: int) -> HttpResponse:
    """The scan of the paper on which the client accepted, checked against its hash."""
    report = row_or_404(request, report_whole(), pk=report_id)
    paper = Acceptance.objects.filter(report=report).exclude(paper_sha256="").first()
    if paper is None:
        raise NotAllowed(f"{report} was not accepted on paper; there is no scan of it.")
    kind = "application/pdf" if paper.paper_kind == "pdf" else "image/jpeg"
    content = fetch(paper.paper_sha256, paper.paper_kind)
    return download(content, kind, f"{file_name(report)}-accepted.{paper.paper_kind}")


@allowed(read=WHO_WITHDRAWS, write=WHO_WITHDRAWS)
def report_withdraw(request: HttpRequest, report_id: int) -> HttpResponse:
    """The first person says why, the second agrees."""
    report = row_or_404(request, report_whole(), pk=report_id)
    proposed = withdrawal_of(report)
    form = WithdrawForm(posted(request))
    if request.method == "POST" and proposed:
        agree_withdrawal(report=report, by=person(request))
        messages.success(request, f"{report} is withdrawn.")
        return redirect("turnover:report_detail", report.pk)
    if request.method == "POST" and form.is_valid():
        propose_withdrawal(report=report, reason=form.cleaned_data["reason"], by=person(request))
        messages.success(request, "A second person must agree before the report is withdrawn.")
        return redirect("turnover:report_detail", report.pk)
    context = {
        "report": report, "site": report.pour.plan.machine.site, "form": form, "proposed": proposed,
        "is_own": proposed is not None and proposed.proposed_by_id == person(request).pk,
    }  # fmt: skip
    return render(request, "turnover/report_withdraw.html", context)
