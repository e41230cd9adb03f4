"""Freezing copies every fact into one hashed text, and refuses what stands in the way unless a reason is given."""

import hashlib
import json
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed
from groutjobs.pours.actions import add_entry
from groutjobs.turnover.actions import freeze_report
from groutjobs.turnover.models import ReportState, TurnoverReport
from tests.turnover.finished import Job, opened_job
from tests.turnover.signed import client_of, frozen, settle_late, text_of

pytestmark = pytest.mark.django_db
REASON = "the owner's engineer looked at it and agreed in writing"


def with_leak(job: Job) -> str:
    leak = {"compartment": "A", "where": "form corner"}
    add_entry(pour=job.pour, kind="leak", body=leak, by=job.lead, happened_at=job.pour.poured_at)
    settle_late(job)
    return "turnover.leak.open.A"


def url_of(job: Job) -> str:
    return reverse("turnover:readiness", args=[job.pour.pk])


def test_the_hash_is_that_of_the_stored_text(job: Job) -> None:
    report = frozen(job)
    assert report.state == ReportState.FROZEN
    assert hashlib.sha256(report.manifest_text.encode()).hexdigest() == report.manifest_sha256


def test_the_manifest_holds_the_facts_of_every_stage(job: Job) -> None:
    manifest = json.loads(frozen(job).manifest_text)
    assert manifest["machine"]["tag"] == job.pour.plan.machine.tag
    assert manifest["drawing"]["compartments"]
    assert manifest["plan"]["result"]["net_l"] > 0
    assert manifest["data_sheet"]["working_life"]
    assert [lot["lot_no"] for lot in manifest["lots"]] == ["LOT-77"]
    assert len(manifest["log"]["points"]) == job.pour.plan.points.count()
    assert len(manifest["log"]["lines"]) == job.pour.entries.count()
    assert {row["kind"] for row in manifest["inspections"]} == {"level", "sounding", "bolts"}
    assert manifest["cure"]["milestones"][-1]["state"] == "reached"
    assert {photo["sha256"] for photo in manifest["photos"]} == set(job.pour.photos.values_list("sha256", flat=True))
    assert manifest["engine_version"]
    assert manifest["template"]


def test_the_manifest_holds_the_change_trail_and_where_the_record_stood(job: Job) -> None:
    manifest = frozen(job).manifest
    kinds = [row["kind"] for row in manifest["trail"]]
    assert {"plan.approved", "pour.opened", "pour.entry_added", "inspection.recorded", "readings.imported"} <= set(
        kinds
    )
    assert manifest["record"]["seq"] >= max(row["seq"] for row in manifest["trail"])
    approved = next(row for row in manifest["trail"] if row["kind"] == "plan.approved")
    assert {"name": "state", "old": "drafted", "new": "approved"} in approved["changes"]


def test_every_source_that_the_report_names_is_in_its_bibliography(job: Job) -> None:
    keys = {source["key"] for source in frozen(job).manifest["sources"]}
    assert {"GROUTJOBS", "PRACTICE", "ACI351.5", "PPH"} <= keys


def test_it_refuses_while_something_stands_in_the_way_and_says_what(job: Job) -> None:
    with_leak(job)
    with pytest.raises(NotAllowed, match="leak"):
        frozen(job)
    assert not TurnoverReport.objects.filter(pour=job.pour).exists()


def test_a_deviation_with_a_reason_enters_manifest_and_record(job: Job) -> None:
    code = with_leak(job)
    report = freeze_report(pour=job.pour, by=job.engineer, deviations={code: REASON})
    (deviation,) = report.manifest["deviations"]
    assert (deviation["code"], deviation["reason"], deviation["accepted_by"]) == (code, REASON, job.engineer.name)
    assert REASON in Event.objects.get(kind="report.frozen").body
    assert report.facts["deviations"] == 1


@pytest.mark.parametrize("reason", ["", "   ", "too short"])
def test_a_deviation_needs_a_real_reason(job: Job, reason: str) -> None:
    code = with_leak(job)
    with pytest.raises(NotAllowed, match="at least 10 characters"):
        freeze_report(pour=job.pour, by=job.engineer, deviations={code: reason})


def test_a_reason_for_what_is_no_longer_in_the_way_is_refused(job: Job) -> None:
    with pytest.raises(NotAllowed, match="stands in nobody's way"):
        freeze_report(pour=job.pour, by=job.engineer, deviations={"turnover.no_level": REASON})


def test_a_pour_that_is_not_declared_complete_cannot_be_accepted() -> None:
    job = opened_job()
    with pytest.raises(NotAllowed, match="cannot be accepted as a deviation"):
        freeze_report(pour=job.pour, by=job.engineer, deviations={"turnover.not_declared": REASON})


def test_there_is_one_report_under_way_for_a_pour(job: Job) -> None:
    report = frozen(job)
    with pytest.raises(NotAllowed, match="frozen for signing"):
        frozen(job)
    with pytest.raises(IntegrityError), transaction.atomic():
        TurnoverReport.objects.create(
            pour=job.pour, number=report.number, revision=2, frozen_by=job.engineer, manifest_sha256="0" * 64
        )


def test_names_and_texts_enter_the_record_as_hashes_only(job: Job) -> None:
    frozen(job)
    body = Event.objects.get(kind="report.frozen").body
    assert job.lead.name not in body
    assert job.lead.name.casefold() not in body


def test_an_engineer_freezes_on_the_page(job: Job) -> None:
    response = client_of(job.engineer).post(url_of(job))
    report = TurnoverReport.objects.get(pour=job.pour)
    assert response.status_code == 302
    assert response["Location"] == reverse("turnover:report_detail", args=[report.pk])


def test_the_page_asks_for_a_reason_for_each_blocker_and_keeps_what_was_typed(job: Job) -> None:
    code = with_leak(job)
    client = client_of(job.engineer)
    assert f'name="{code}"' in text_of(client.get(url_of(job)))
    page = text_of(client.post(url_of(job), {code: "short"}))
    assert "short" in page
    assert "at least 10" in page
    assert client.post(url_of(job), {code: REASON}).status_code == 302


@pytest.mark.parametrize("reason", ["", "x" * 301, "a\x00bcdefghijkl", "y" * 10_000_000])
def test_a_bad_reason_comes_back_with_a_sentence(job: Job, reason: str) -> None:
    code = with_leak(job)
    response = client_of(job.engineer).post(url_of(job), {code: reason})
    assert response.status_code == 200
    assert "error-summary" in text_of(response)
    assert not TurnoverReport.objects.exists()


def test_who_may_not_freeze(job: Job) -> None:
    assert client_of(job.auditor).post(url_of(job)).status_code == 403
    assert client_of(job.stranger).post(url_of(job)).status_code == 404
    assert client_of(job.engineer).put(url_of(job)).status_code == 405


def test_values_that_json_rounds_keep_their_text(job: Job) -> None:
    report = frozen(job)
    stored: Any = TurnoverReport.objects.get(pk=report.pk)
    assert stored.manifest_text == report.manifest_text
    assert (
        json.dumps(stored.manifest, sort_keys=True, separators=(",", ":"), ensure_ascii=False) == stored.manifest_text
    )
