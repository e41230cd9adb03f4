"""Issuing: draw the PDF of an approved report, keep it by its hash, and note the hash before anybody can fetch it."""

from django.utils import timezone

from groutjobs.audit.actions import action, record, snapshot
from groutjobs.turnover.models import ReportState, TurnoverReport
from groutjobs.turnover.report import NotDrawn, draw
from groutjobs.turnover.store import keep


def issue_report(report_id: int) -> str:
    """Draw and issue a report that all three have signed; safe to repeat. Returns the hash of the PDF, or "".

    Drawing takes seconds, so it happens before the transaction; the state is looked at again inside it.
    """
    report = TurnoverReport.objects.prefetch_related("signatures").get(pk=report_id)
    if report.state != ReportState.APPROVED:
        return report.pdf_sha256
    try:
        pdf_sha256 = keep(draw(report))
    except (NotDrawn, OSError) as error:
        note_fault(report_id=report_id, fault=str(error))
        return ""
    return note_issue(report_id=report_id, pdf_sha256=pdf_sha256).pdf_sha256


@action
def note_issue(*, report_id: int, pdf_sha256: str) -> TurnoverReport:
    """Make the report the issued one of its pour; the revision issued before is superseded in the same step."""
    report = TurnoverReport.objects.select_for_update().get(pk=report_id)
    before = snapshot(report)
    if report.state == ReportState.APPROVED:
        for earlier in TurnoverReport.objects.select_for_update().filter(pour=report.pour_id, state=ReportState.ISSUED):
            _supersede(earlier, by_report=report)
        report.state = ReportState.ISSUED
        report.pdf_sha256, report.issued_at, report.fault = pdf_sha256, timezone.now(), ""
        report.save(update_fields=["state", "pdf_sha256", "issued_at", "fault"])
    record(report, by=None, kind="report.issued", before=before)
    return report


def _supersede(earlier: TurnoverReport, *, by_report: TurnoverReport) -> None:
    before = snapshot(earlier)
    earlier.state = ReportState.SUPERSEDED
    earlier.save(update_fields=["state"])
    record(earlier, by=None, kind="report.superseded", before=before, reason=f"{by_report} was issued")


@action
def note_fault(*, report_id: int, fault: str) -> TurnoverReport:
    """Keep why the drawing failed; the report stays approved and can be drawn again."""
    report = TurnoverReport.objects.select_for_update().get(pk=report_id)
    before = snapshot(report)
    if report.state == ReportState.APPROVED:
        report.fault = fault
        report.save(update_fields=["fault"])
    record(report, by=None, kind="report.not_drawn", before=before, reason=fault)
    return report
