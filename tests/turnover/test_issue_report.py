"""After the third signature the PDF is drawn, sealed, kept by its hash, and noted before anybody can fetch it."""

import hashlib
import json
from typing import Any

import pytest
from django.test import TestCase
from django.urls import reverse

from groutjobs.audit.models import Event
from groutjobs.audit.queries import first_break
from groutjobs.errors import NotAllowed
from groutjobs.turnover import sealed as sealing
from groutjobs.turnover.actions import draw_again
from groutjobs.turnover.handing import issue_report
from groutjobs.turnover.models import ReportState, TurnoverReport
from groutjobs.turnover.report import NotDrawn
from groutjobs.turnover.sealed import seal_report
from groutjobs.turnover.store import fetch, keep, report_path
from tests.turnover.finished import Job
from tests.turnover.signed import client_of, frozen, signed_by_all, text_of

pytestmark = pytest.mark.django_db
READERS = [{"name": "Client Testperson", "organisation": "", "email": ""}]
PDF = b"%PDF-1.7 a small stand-in for the drawing"


def stand_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealing, "draw", lambda report: PDF + report.manifest_sha256.encode())
    monkeypatch.setattr(sealing, "seal_pdf", lambda pdf, seal, **more: pdf)
    monkeypatch.setattr(sealing, "refuse_bad_seal", lambda pdf, report, seal: None)


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Drawing and sealing take seconds and have tests of their own; here they give a few bytes at once."""
    stand_in(monkeypatch)


def sealed(job: Job, **freezing: str) -> TurnoverReport:
    report = signed_by_all(job, **freezing)
    seal_report(report.pk)
    report.refresh_from_db()
    return report


def issued(job: Job, **freezing: str) -> TurnoverReport:
    report = sealed(job, **freezing)
    issue_report(report=report, recipients=READERS, days=30, by=job.engineer)
    report.refresh_from_db()
    return report


def url_of(report: TurnoverReport, name: str) -> str:
    return reverse(f"turnover:{name}", args=[report.pk])


def test_the_third_signature_draws_and_seals_the_report(job: Job) -> None:
    """The one test here that draws in earnest, through the task."""
    with TestCase.captureOnCommitCallbacks(execute=True) as callbacks:
        report = signed_by_all(job)
    report.refresh_from_db()
    assert sum("draw_report" in repr(one) for one in callbacks) == 1
    assert (report.state, report.fault) == (ReportState.SEALED, "")
    assert fetch(report.pdf_sha256).startswith(b"%PDF-1.7")


@pytest.mark.usefixtures("drawn")
def test_a_waiting_page_is_told_to_load_again_once_the_report_is_sealed(job: Job) -> None:
    report, client = signed_by_all(job), client_of(job.engineer)
    waiting = client.get(url_of(report, "report_detail"), headers={"HX-Request": "true"})
    seal_report(report.pk)
    done = client.get(url_of(report, "report_detail"), headers={"HX-Request": "true"})
    assert "HX-Refresh" not in waiting
    assert done["HX-Refresh"] == "true"


@pytest.mark.usefixtures("drawn")
def test_the_hash_of_the_pdf_is_in_the_record(job: Job) -> None:
    report = issued(job)
    event = Event.objects.get(kind="report.sealed")
    assert json.loads(event.body)["changed"]["pdf_sha256"] == {"old": "", "new": report.pdf_sha256}
    assert first_break() is None


@pytest.mark.usefixtures("drawn")
def test_sealing_twice_changes_nothing(job: Job) -> None:
    report = sealed(job)
    count = Event.objects.count()
    assert seal_report(report.pk) == report.pdf_sha256
    assert Event.objects.count() == count


@pytest.mark.usefixtures("drawn")
def test_a_report_that_is_not_signed_is_not_sealed(job: Job) -> None:
    report = frozen(job)
    assert seal_report(report.pk) == ""
    report.refresh_from_db()
    assert report.state == ReportState.FROZEN


def test_a_failed_drawing_keeps_it_approved_with_the_reason_and_can_be_repeated(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(report: TurnoverReport) -> bytes:
        raise NotDrawn("photo 7 is missing from the store")

    monkeypatch.setattr(sealing, "draw", fail)
    report = sealed(job)
    assert (report.state, report.fault) == (ReportState.APPROVED, "photo 7 is missing from the store")
    assert "photo 7 is missing" in text_of(client_of(job.engineer).get(url_of(report, "report_detail")))
    stand_in(monkeypatch)
    with TestCase.captureOnCommitCallbacks(execute=True):
        draw_again(report=report, by=job.engineer)
    report.refresh_from_db()
    assert (report.state, report.fault) == (ReportState.SEALED, "")


@pytest.mark.usefixtures("drawn")
def test_a_new_revision_supersedes_the_issued_one_and_both_stay_readable(job: Job) -> None:
    first = issued(job)
    second = issued(job, revises_because="the torque of bolt 3 was copied wrongly")
    first.refresh_from_db()
    assert (first.state, second.state, second.revision) == (ReportState.SUPERSEDED, ReportState.ISSUED, 2)
    assert client_of(job.auditor).get(url_of(first, "report_pdf")).status_code == 200


@pytest.mark.usefixtures("drawn")
def test_the_download_is_the_issued_bytes_and_cannot_be_taken_for_a_page(job: Job) -> None:
    report = issued(job)
    response = client_of(job.auditor).get(url_of(report, "report_pdf"))
    assert hashlib.sha256(response.content).hexdigest() == report.pdf_sha256
    assert response["Content-Type"] == "application/pdf"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Content-Disposition"].startswith('attachment; filename="T-')
    assert "sandbox" in response["Content-Security-Policy"]


def test_the_manifest_is_handed_out_as_it_was_hashed(job: Job) -> None:
    report = frozen(job)
    response = client_of(job.auditor).get(url_of(report, "report_manifest"))
    assert hashlib.sha256(response.content).hexdigest() == report.manifest_sha256
    assert response["Content-Type"] == "application/json"


@pytest.mark.usefixtures("drawn")
def test_a_stored_file_that_was_changed_is_not_handed_out(job: Job) -> None:
    report = issued(job)
    path = report_path(report.pdf_sha256)
    path.write_bytes(path.read_bytes() + b"x")
    try:
        response = client_of(job.auditor).get(url_of(report, "report_pdf"))
        assert response.status_code == 409
        assert "no longer matches its hash" in text_of(response)
    finally:
        path.unlink()
    with pytest.raises(NotAllowed, match="not in the store"):
        fetch(report.pdf_sha256)


def test_keeping_the_same_bytes_twice_keeps_them_once() -> None:
    assert keep(b"%PDF-same") == keep(b"%PDF-same") == hashlib.sha256(b"%PDF-same").hexdigest()


@pytest.mark.usefixtures("drawn")
@pytest.mark.parametrize("name", ["report_detail", "report_read", "report_pdf", "report_manifest"])
def test_who_reads_an_issued_report(job: Job, name: str) -> None:
    report = issued(job)
    for person in (job.engineer, job.lead, job.inspector, job.auditor, job.administrator):
        assert client_of(person).get(url_of(report, name)).status_code == 200
    assert client_of(job.stranger).get(url_of(report, name)).status_code == 404
    assert client_of(job.auditor).post(url_of(report, name)).status_code == 405


def test_there_is_no_pdf_before_the_issue(job: Job) -> None:
    report = frozen(job)
    assert client_of(job.auditor).get(url_of(report, "report_pdf")).status_code == 404
    assert "Download the PDF" not in text_of(client_of(job.auditor).get(url_of(report, "report_detail")))


def test_who_has_it_drawn_again(job: Job) -> None:
    report = signed_by_all(job)
    assert client_of(job.lead).post(url_of(report, "report_draw")).status_code == 403
    assert client_of(job.stranger).post(url_of(report, "report_draw")).status_code == 404
    assert client_of(job.engineer).get(url_of(report, "report_draw")).status_code == 405
    assert client_of(job.engineer).post(url_of(report, "report_draw")).status_code == 302


def test_a_report_that_waits_for_a_name_is_not_drawn(job: Job) -> None:
    with pytest.raises(NotAllowed, match="only an approved report is drawn"):
        draw_again(report=frozen(job), by=job.engineer)


@pytest.mark.usefixtures("drawn")
def test_the_page_asks_few_queries(job: Job, django_assert_max_num_queries: Any) -> None:
    report = issued(job)
    client = client_of(job.auditor)
    with django_assert_max_num_queries(14):
        client.get(url_of(report, "report_detail"))


def test_entries_made_after_the_freeze_are_told_on_the_page(job: Job) -> None:
    report = frozen(job)
    page = text_of(client_of(job.auditor).get(url_of(report, "report_detail")))
    assert "Recorded after the freeze" not in page
    TurnoverReport.objects.filter(pk=report.pk).update(frozen_at=job.pour.opened_at)
    page = text_of(client_of(job.auditor).get(url_of(report, "report_detail")))
    assert "Recorded after the freeze" in page
    assert f"{job.pour.entries.count()} entries of the pour" in page
