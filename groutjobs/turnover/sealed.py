"""Sealing: draw the PDF of a signed report, seal it, check it, keep it by its hash, and note the hash in the record.

All of it happens before the report can be issued. What fails leaves the report signed and not sealed, with the reason.
"""

import datetime as dt

from django.utils import timezone

from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.errors import GroutJobsError
from groutjobs.turnover.checking import checked
from groutjobs.turnover.models import ReportState, SealKey, TurnoverReport
from groutjobs.turnover.report import draw
from groutjobs.turnover.seal_actions import seal_in_use
from groutjobs.turnover.sealing import NotSealed, Seal, seal_pdf
from groutjobs.turnover.store import keep
from groutjobs.turnover.time_stamps import timestamper
from groutjobs.turnover.verify_report import check

FIRST_WAIT = dt.timedelta(minutes=1)
LONGEST_WAIT = dt.timedelta(hours=6)
MOST_DOUBLINGS = 9


def seal_report(report_id: int) -> str:
    """Draw and seal a report that all three have signed; safe to repeat. Returns the hash of the PDF, or "".

    Drawing takes seconds, so it happens before the transaction; the state is looked at again inside it.
    """
    report = TurnoverReport.objects.prefetch_related("signatures").get(pk=report_id)
    if report.state != ReportState.APPROVED:
        return report.pdf_sha256
    try:
        plain = draw(report)
        site = report.manifest["site"]
        seal, key = seal_in_use(organisation=site["owner"])
        authority = timestamper()
        pdf = seal_pdf(plain, seal, place=site["name"], timestamper=authority)
        refuse_bad_seal(pdf, report, seal)
        pdf_sha256 = keep(pdf)
    except (GroutJobsError, OSError, ValueError) as error:
        note_fault(report_id=report_id, fault=str(error) or type(error).__name__)
        return ""
    return note_seal(
        report_id=report_id, pdf_sha256=pdf_sha256, key=key, is_time_stamped=authority is not None
    ).pdf_sha256


def refuse_bad_seal(pdf: bytes, report: TurnoverReport, seal: Seal) -> None:
    """NotSealed unless both checkers find the fresh file whole: ours from the standard library, and pyHanko."""
    for found in check(pdf, record_sha256=report.manifest_sha256, seal=seal.fingerprint):
        if not found.holds:
            raise NotSealed(f"the fresh file did not pass our own check: {found.words}")
    judged = checked(pdf, seal.pem)
    if not (judged["seal"]["holds"] and judged["seal"].get("whole_file")):
        raise NotSealed(f"the fresh seal did not pass the check by pyHanko: {judged['seal']['words']}")
    if judged["gaps"]:
        raise NotSealed(f"the fresh file is no PDF/A-3: {'; '.join(judged['gaps'])}")


@action
def note_seal(*, report_id: int, pdf_sha256: str, key: SealKey, is_time_stamped: bool) -> TurnoverReport:
    """Keep under which hash and key the report is sealed; the record knows the hash before anybody can fetch it."""
    report = TurnoverReport.objects.select_for_update().get(pk=report_id)
    if report.state != ReportState.APPROVED:
        unchanged()
        return report
    before = snapshot(report)
    report.state, report.pdf_sha256, report.seal_key = ReportState.SEALED, pdf_sha256, key
    report.sealed_at, report.is_time_stamped = timezone.now(), is_time_stamped
    report.fault, report.tries, report.next_try_at = "", 0, None
    report.save(
        update_fields=[
            "state", "pdf_sha256", "seal_key", "sealed_at", "is_time_stamped", "fault", "tries", "next_try_at"
        ]
    )  # fmt: skip
    record(report, by=None, kind="report.sealed", before=before)
    return report


@action
def note_fault(*, report_id: int, fault: str) -> TurnoverReport:
    """Keep why drawing or sealing failed and when it is tried again; the report stays signed and not sealed."""
    report = TurnoverReport.objects.select_for_update().get(pk=report_id)
    before = snapshot(report)
    if report.state == ReportState.APPROVED:
        wait = min(FIRST_WAIT * 2 ** min(report.tries, MOST_DOUBLINGS), LONGEST_WAIT)
        report.fault, report.tries, report.next_try_at = fault, report.tries + 1, timezone.now() + wait
        report.save(update_fields=["fault", "tries", "next_try_at"])
    record(report, by=None, kind="report.not_sealed", before=before, reason=fault)
    return report
