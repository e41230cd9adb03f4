"""What came from phones and the turnover: conflicts cannot be waved through, a frozen record marks what comes later."""

import datetime as dt

import pytest

from groutjobs.errors import NotAllowed
from groutjobs.pours.models import PourEntry
from groutjobs.pours.queries import log_of, pour_whole
from groutjobs.turnover.actions import freeze_report, return_report
from groutjobs.turnover.readiness import blockers_of, readiness
from groutjobs.turnover.report import html_of
from tests.sync.calling import Wire, make_phone, note, now_of
from tests.turnover.finished import Job
from tests.turnover.signed import frozen

pytestmark = pytest.mark.django_db
REASON = "the two of them were asked about it"


def two_ways(job: Job) -> tuple[str, str]:
    """A compartment that two phones saw full at two moments, neither knowing of the other."""
    place = job.pour.plan.result["compartments"][0]["name"]
    at = job.pour.placed_at or dt.datetime.now(dt.UTC)
    made = []
    for number, name in enumerate(("Phone 1", "Phone 2")):
        phone = make_phone(job.site, job.lead, name)
        moment = at - dt.timedelta(minutes=30 * (number + 1))
        one = phone.op(job.pour.pk, "compartment_full", {"compartment": place}, at=moment)
        Wire(phone).send(one)
        made.append(one.op_id)
    return made[0], made[1]


def codes(job: Job) -> list[str]:
    return [finding.code for finding in blockers_of(readiness(pour_whole().get(pk=job.pour.pk)))]


def test_a_conflict_is_no_deviation_that_a_reason_could_accept(job: Job) -> None:
    two_ways(job)
    (code,) = [code for code in codes(job) if "entry.conflict" in code]
    with pytest.raises(NotAllowed, match="cannot be accepted as a deviation"):
        freeze_report(pour=job.pour, by=job.engineer, deviations={code: REASON})
    (conflict,) = log_of(pour_whole().get(pk=job.pour.pk)).conflicts
    keeps, *over = map(str, conflict.sides)
    phone = make_phone(job.site, job.lead, "Phone 3")
    decided = phone.op(job.pour.pk, "resolved", {"keeps": keeps, "over": over}, deps=[keeps, *over], reason=REASON)
    Wire(phone).send(decided)
    assert now_of(decided) == "accepted"
    assert not [code for code in codes(job) if "entry.conflict" in code]


def test_crew_does_not_settle_a_conflict(job: Job) -> None:
    first, second = two_ways(job)
    phone = make_phone(job.site, job.inspector, "Phone 3")
    body = {"keeps": first, "over": [second]}
    decided = phone.op(job.pour.pk, "resolved", body, deps=[first, second], reason=REASON)
    Wire(phone).send(decided)
    assert now_of(decided) == "quarantined"
    assert "turnover.phone_waiting" in codes(job)


def test_what_comes_after_freezing_is_late_until_the_report_goes_back(job: Job) -> None:
    phone = make_phone(job.site, job.lead)
    report = frozen(job)
    late, later = note(phone, job.pour, "came late"), note(phone, job.pour, "in time for the next")
    Wire(phone).send(late)
    return_report(report=report, reason=REASON, by=job.engineer)
    Wire(phone).send(later)
    marks = {
        str(row.pk): (row.sent or {})["late"] for row in PourEntry.objects.filter(pk__in=[late.op_id, later.op_id])
    }
    assert marks == {late.op_id: True, later.op_id: False}
    assert report.manifest_text.find("came late") < 0


def test_the_report_prints_phone_grade_and_what_the_phone_said(job: Job) -> None:
    phone = make_phone(job.site, job.lead)
    phone.clock = {"offset_ms": None, "age_s": None, "boot": "jump"}
    Wire(phone).send(note(phone, job.pour, "by a clock that nobody had compared"))
    text = html_of(frozen(job))
    assert "Phone 4, clock C" in text
    assert "the phone said" in text
