"""A frozen report can go back with a reason; signatures under it stay visible and count no more."""

import pytest
from django.urls import reverse

from groutjobs.errors import NotAllowed
from groutjobs.turnover.actions import return_report
from groutjobs.turnover.models import Meaning, ReportState, TurnoverReport
from tests.turnover.finished import Job
from tests.turnover.signed import client_of, frozen, sign, signed_by_all, text_of

pytestmark = pytest.mark.django_db
REASON = "the photo of step 5 shows another block"


def url_of(report: TurnoverReport) -> str:
    return reverse("turnover:report_return", args=[report.pk])


def test_an_engineer_sends_it_back_and_a_new_revision_is_frozen(job: Job) -> None:
    report = return_report(report=frozen(job), reason=REASON, by=job.engineer)
    assert (report.state, report.returned_because) == (ReportState.RETURNED, REASON)
    assert frozen(job).revision == 2


def test_who_is_to_sign_next_sends_it_back_and_the_name_stays_visible(job: Job) -> None:
    report = frozen(job)
    sign(report, Meaning.PERFORMED, job.lead)
    return_report(report=report, reason=REASON, by=job.second)
    assert report.signatures.count() == 1
    assert job.lead.name in text_of(client_of(job.auditor).get(reverse("turnover:report_detail", args=[report.pk])))


def test_who_has_signed_does_not_take_it_back(job: Job) -> None:
    report = frozen(job)
    sign(report, Meaning.PERFORMED, job.lead)
    with pytest.raises(NotAllowed, match="You have signed"):
        return_report(report=report, reason=REASON, by=job.lead)


def test_an_inspector_does_not_take_it_back(job: Job) -> None:
    with pytest.raises(NotAllowed, match="goes back through"):
        return_report(report=frozen(job), reason=REASON, by=job.inspector)


def test_a_report_that_all_signed_does_not_go_back(job: Job) -> None:
    with pytest.raises(NotAllowed, match="Freeze a new revision"):
        return_report(report=signed_by_all(job), reason=REASON, by=job.administrator)


def test_it_needs_a_reason(job: Job) -> None:
    report = frozen(job)
    with pytest.raises(NotAllowed, match="reason"):
        return_report(report=report, reason="because", by=job.engineer)


@pytest.mark.parametrize("reason", ["", "because", "x" * 301, "x" * 10_000_000])
def test_a_bad_reason_comes_back_with_a_sentence(job: Job, reason: str) -> None:
    report = frozen(job)
    response = client_of(job.engineer).post(url_of(report), {"reason": reason})
    assert response.status_code == 200
    assert "Why the report goes back" in text_of(response)
    report.refresh_from_db()
    assert report.state == ReportState.FROZEN


def test_who_uses_the_page(job: Job) -> None:
    report = frozen(job)
    assert client_of(job.auditor).post(url_of(report), {"reason": REASON}).status_code == 403
    assert client_of(job.stranger).post(url_of(report), {"reason": REASON}).status_code == 404
    assert client_of(job.engineer).put(url_of(report)).status_code == 405
    assert client_of(job.engineer).get(url_of(report)).status_code == 200
    assert client_of(job.engineer).post(url_of(report), {"reason": REASON}).status_code == 302
