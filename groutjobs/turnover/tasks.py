"""Work that runs behind the pages."""

from functools import partial

from django.db import transaction
from django_tasks import task, task_backends

from groutjobs.turnover.models import ReportState, TurnoverReport


@task()
def draw_report(report_id: int, after_tries: int = 0) -> str:
    """Draw and seal the report; repeating it changes nothing once it is sealed.

    `after_tries` names the failure that it follows, so that of two tasks that wait only the first tries again.
    """
    from groutjobs.turnover.sealed import seal_report  # noqa: PLC0415  half a second that only the worker needs

    report = TurnoverReport.objects.get(pk=report_id)
    if report.state != ReportState.APPROVED or report.tries != after_tries:
        return report.pdf_sha256
    pdf_sha256 = seal_report(report_id)
    _queue_retry(report_id)
    return pdf_sha256


def _queue_retry(report_id: int) -> None:
    report = TurnoverReport.objects.get(pk=report_id)
    if report.state != ReportState.APPROVED or report.next_try_at is None:
        return
    if task_backends["default"].supports_defer:
        later = draw_report.using(run_after=report.next_try_at)
        transaction.on_commit(partial(later.enqueue, report.pk, report.tries))
