"""The readiness list names what is missing, who owes it, and where that is asked."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from pytest_django.fixtures import DjangoAssertNumQueries

from groutjobs.curing.actions import InspectionHead, record_level
from groutjobs.curing.models import CureInspection
from groutjobs.findings import Finding, Level
from groutjobs.pours.actions import add_entry
from groutjobs.pours.photos import path_of
from groutjobs.turnover.readiness import blockers_of, by_debtor, readiness
from tests.turnover.finished import Job, answer_points, finished_job, opened_job, pour_batches
from tests.turnover.signed import client_of, text_of

pytestmark = pytest.mark.django_db


def codes(findings: list[Finding]) -> set[str]:
    return {finding.code for finding in findings}


def test_a_finished_job_lacks_nothing(job: Job) -> None:
    assert blockers_of(readiness(job.pour)) == []


def test_a_fresh_pour_lacks_everything_and_says_who_owes_it() -> None:
    job = opened_job()
    found = readiness(job.pour)
    assert {"turnover.not_declared", "turnover.no_level", "turnover.cure_not_started"} <= codes(blockers_of(found))
    debtors = dict(by_debtor(found))
    assert "turnover.no_sounding" in codes(debtors["Inspector"])
    assert "turnover.not_declared" in codes(debtors["Crew lead"])


def test_it_names_each_open_hold_point_with_its_acceptance_and_source() -> None:
    job = opened_job()
    point = job.pour.plan.points.filter(code="H").first()
    assert point is not None
    finding = next(item for item in readiness(job.pour) if item.code == f"turnover.point_{point.position}")
    assert finding.level is Level.BLOCKER
    assert point.acceptance in finding.hint
    assert finding.source == point.source


def test_a_milestone_that_the_readings_have_not_reached_stands_in_the_way() -> None:
    job = opened_job()
    began = timezone.now() - dt.timedelta(days=3)
    answer_points(job, at=began - dt.timedelta(hours=8), before_pour=True)
    pour_batches(job, at=began)
    assert "turnover.cure_full_cure" in codes(blockers_of(readiness(job.pour)))


def test_an_inspection_that_was_not_accepted_stands_in_the_way(job: Job) -> None:
    level = CureInspection.objects.get(pour=job.pour, kind="level")
    head = InspectionHead(
        made_at=level.made_at, instrument="level L-204", calibration_due_on=level.calibration_due_on,
        verdict="refused", remarks="read again after shimming", replaces=level,
    )  # fmt: skip
    record_level(pour=job.pour, head=head, rows=level.inputs, by=job.inspector)
    assert "turnover.refused_level" in codes(blockers_of(readiness(job.pour)))


def test_an_inspection_accepted_over_its_limit_is_told_with_its_reason(job: Job) -> None:
    level = CureInspection.objects.get(pour=job.pour, kind="level")
    head = InspectionHead(
        made_at=level.made_at, instrument="level L-204", calibration_due_on=level.calibration_due_on,
        verdict="accepted", remarks="the owner takes it for this pump", replaces=level,
    )  # fmt: skip
    points = [point | {"reading_mm": 5.0 * number} for number, point in enumerate(level.inputs["points"])]
    record_level(pour=job.pour, head=head, rows=level.inputs | {"points": points}, by=job.inspector)
    found = readiness(job.pour)
    told = next(item for item in found if item.code == "turnover.accepted_level")
    assert told.level is Level.WARNING
    assert "accepted although" in told.message
    assert "the owner takes it for this pump" in told.message
    assert blockers_of(found) == []


def test_an_instrument_overdue_for_calibration_stands_in_the_way() -> None:
    blockers = blockers_of(readiness(finished_job(photos=0, due_in_days=-3).pour))
    assert codes(blockers) == {f"turnover.calibration_{kind}" for kind in ("level", "sounding", "bolts")}
    assert "3 days before" in blockers[0].message


def test_an_open_leak_stands_in_the_way(job: Job) -> None:
    leak = {"compartment": "A", "where": "form corner"}
    add_entry(pour=job.pour, kind="leak", body=leak, by=job.lead, happened_at=job.pour.poured_at)
    assert "turnover.leak.open.A" in codes(blockers_of(readiness(job.pour)))


def test_two_findings_of_one_kind_can_be_told_apart(job: Job) -> None:
    for where in ("corner", "sleeve"):
        leak = {"compartment": "A", "where": where}
        add_entry(pour=job.pour, kind="leak", body=leak, by=job.lead, happened_at=job.pour.poured_at)
    assert {"turnover.leak.open.A", "turnover.leak.open.A-2"} <= codes(readiness(job.pour))


def test_a_lot_past_its_date_stands_in_the_way(job: Job) -> None:
    lot = job.pour.plan.lot
    assert lot is not None
    type(lot).objects.filter(pk=lot.pk).update(expires_on=dt.date(2020, 1, 1))
    assert "turnover.lot.expired.LOT-77" in codes(blockers_of(readiness(job.pour)))


def test_a_photo_that_left_the_store_stands_in_the_way(job: Job) -> None:
    photo = job.pour.photos.first()
    assert photo is not None
    path = path_of(photo.sha256)
    hidden = path.with_suffix(".hidden")
    path.rename(hidden)
    try:
        assert "turnover.photo_lost" in codes(blockers_of(readiness(job.pour)))
    finally:
        hidden.rename(path)


def test_a_point_without_the_photo_that_the_plan_asks_for_is_a_warning() -> None:
    job = finished_job(photos=0)
    found = [item for item in readiness(job.pour) if item.code.startswith("turnover.no_photo_")]
    assert found
    assert {item.level for item in found} == {Level.WARNING}


def test_text_that_the_report_cannot_print_is_a_warning(job: Job) -> None:
    add_entry(
        pour=job.pour, kind="note", body={"text": "見本 is a sample"}, by=job.lead, happened_at=job.pour.poured_at
    )
    finding = next(item for item in readiness(job.pour) if item.code == "turnover.no_sign")
    assert "見" in finding.message


def test_signs_of_the_trade_can_be_printed(job: Job) -> None:
    note = {"text": "≤ ≥ ± ² ³ ° − µ μ × √ Δ → Ø ½ жλ"}
    add_entry(pour=job.pour, kind="note", body=note, by=job.lead, happened_at=job.pour.poured_at)
    assert "turnover.no_sign" not in codes(readiness(job.pour))


def url_of(job: Job) -> str:
    return reverse("turnover:readiness", args=[job.pour.pk])


@pytest.mark.parametrize("who", ["engineer", "lead", "inspector", "auditor", "administrator"])
def test_everybody_of_the_site_reads_the_page(job: Job, who: str) -> None:
    response = client_of(getattr(job, who)).get(url_of(job))
    assert response.status_code == 200
    assert ("Freeze the report" in text_of(response)) == (who == "engineer")


def test_a_stranger_gets_404_and_other_methods_405(job: Job) -> None:
    assert client_of(job.stranger).get(url_of(job)).status_code == 404
    assert client_of(job.engineer).delete(url_of(job)).status_code == 405


def test_a_colleague_who_is_no_engineer_may_not_freeze(job: Job) -> None:
    assert client_of(job.lead).post(url_of(job)).status_code == 403


def test_the_page_asks_as_many_queries_for_a_hundred_entries_as_for_few(
    job: Job, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    for number in range(100):
        note = {"text": f"note {number}"}
        add_entry(pour=job.pour, kind="note", body=note, by=job.lead, happened_at=job.pour.poured_at)
    client = client_of(job.engineer)
    with django_assert_max_num_queries(20):
        assert client.get(url_of(job)).status_code == 200
