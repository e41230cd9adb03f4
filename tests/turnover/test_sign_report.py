"""Three people sign in one order, each with the password once more, over the hash of what was read."""

from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.urls import reverse

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed, Stale
from groutjobs.pours.actions import add_entry
from groutjobs.signing.rules import Signer
from groutjobs.turnover.actions import sign_report
from groutjobs.turnover.models import Meaning, ReportState, Signature, TurnoverReport
from groutjobs.turnover.signing import next_meaning, refusal
from tests.factories import PASSWORD
from tests.turnover.finished import Job
from tests.turnover.signed import client_of, frozen, sign, signed_by_all, text_of

pytestmark = pytest.mark.django_db


def url_of(report: TurnoverReport) -> str:
    return reverse("turnover:report_sign", args=[report.pk])


def answers(report: TurnoverReport, **other: Any) -> dict[str, Any]:
    return {"manifest_sha256": report.manifest_sha256, "has_read": "on", "password": PASSWORD} | other


def test_three_names_approve_the_report(job: Job) -> None:
    report = signed_by_all(job)
    assert report.state == ReportState.APPROVED
    rows = report.signatures.values_list("meaning", "signer_id", "manifest_sha256")
    people = [job.lead.pk, job.second.pk, job.engineer.pk]
    assert list(rows) == [(m.value, p, report.manifest_sha256) for m, p in zip(Meaning, people, strict=True)]


@pytest.mark.parametrize("meaning", [Meaning.REVIEWED, Meaning.APPROVED])
def test_nobody_signs_out_of_order(job: Job, meaning: Meaning) -> None:
    with pytest.raises(NotAllowed, match="due is: performed"):
        sign(frozen(job), meaning, job.second)


def test_one_person_never_signs_twice(job: Job) -> None:
    report = frozen(job)
    sign(report, Meaning.PERFORMED, job.lead)
    sign(report, Meaning.REVIEWED, job.second)
    with pytest.raises(NotAllowed, match="three different people"):
        sign(report, Meaning.APPROVED, job.second)


def test_the_database_refuses_one_person_twice(job: Job) -> None:
    report = frozen(job)
    sign(report, Meaning.PERFORMED, job.lead)
    with pytest.raises(IntegrityError), transaction.atomic():
        Signature.objects.create(
            report=report, meaning=Meaning.REVIEWED, sentence="x", signer=job.lead, printed_name="x",
            manifest_sha256=report.manifest_sha256,
        )  # fmt: skip


@pytest.mark.parametrize(
    "verb", ["UPDATE groutjobs_signature SET printed_name = 'x'", "DELETE FROM groutjobs_signature"]
)
def test_the_database_refuses_to_change_a_signature(job: Job, verb: str) -> None:
    sign(frozen(job), Meaning.PERFORMED, job.lead)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(verb)
    assert Signature.objects.count() == 1


def test_a_signature_is_not_changed_by_the_program_either(job: Job) -> None:
    signature = sign(frozen(job), Meaning.PERFORMED, job.lead)
    with pytest.raises(NotAllowed):
        signature.save()
    with pytest.raises(NotAllowed):
        signature.delete()


def test_an_engineer_who_recorded_does_not_review(job: Job) -> None:
    add_entry(pour=job.pour, kind="note", body={"text": "seen"}, by=job.second, happened_at=job.pour.poured_at)
    report = frozen(job)
    sign(report, Meaning.PERFORMED, job.lead)
    with pytest.raises(NotAllowed, match="You recorded part of this pour"):
        sign(report, Meaning.REVIEWED, job.second)


def test_a_crew_lead_who_recorded_nothing_does_not_sign_as_performed(job: Job) -> None:
    Membership.objects.create(user=job.second, site=job.site, role=Role.CREW_LEAD)
    with pytest.raises(NotAllowed, match="made entries"):
        sign(frozen(job), Meaning.PERFORMED, job.second)


def test_a_stranger_to_the_site_does_not_sign(job: Job) -> None:
    with pytest.raises(NotAllowed, match="of this site"):
        sign(frozen(job), Meaning.PERFORMED, job.stranger)


def test_the_administrator_may_approve_but_not_review(job: Job) -> None:
    report = frozen(job)
    sign(report, Meaning.PERFORMED, job.lead)
    with pytest.raises(NotAllowed, match="signed by engineer"):
        sign(report, Meaning.REVIEWED, job.administrator)
    sign(report, Meaning.REVIEWED, job.second)
    assert sign(report, Meaning.APPROVED, job.administrator).meaning == Meaning.APPROVED


def test_a_signature_over_another_text_is_refused(job: Job) -> None:
    with pytest.raises(Stale, match="not the one that you read"):
        sign_report(report=frozen(job), meaning=Meaning.PERFORMED, by=job.lead, manifest_sha256="0" * 64)


def test_each_signature_is_in_the_record_with_its_hash(job: Job) -> None:
    report = signed_by_all(job)
    kinds = ["report.signed_performed", "report.signed_reviewed", "report.signed_approved"]
    events = Event.objects.filter(kind__in=kinds).order_by("seq")
    assert [event.kind for event in events] == kinds
    assert all(report.manifest_sha256 in event.body for event in events)


def test_the_right_person_signs_on_the_page(job: Job) -> None:
    report = frozen(job)
    response = client_of(job.lead).post(url_of(report), answers(report))
    assert response.status_code == 302
    assert report.signatures.get().signer == job.lead


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"password": "not the password"}, "This is not your password"),
        ({"password": ""}, "Your password, to sign is empty"),
        ({"password": "x" * 10_000_000}, "10000000 characters"),
        ({"has_read": ""}, "is not ticked"),
    ],
)
def test_a_signature_that_is_not_deliberate_is_refused(job: Job, wrong: dict[str, str], sentence: str) -> None:
    report = frozen(job)
    response = client_of(job.lead).post(url_of(report), answers(report, **wrong))
    assert response.status_code == 200
    assert sentence in text_of(response)
    assert not report.signatures.exists()


def test_the_password_of_another_person_does_not_sign(job: Job) -> None:
    job.lead.set_password("a phrase of its own")
    job.lead.save()
    report = frozen(job)
    response = client_of(job.lead).post(url_of(report), answers(report))
    assert "This is not your password" in text_of(response)
    assert not report.signatures.exists()


def test_a_page_read_before_another_freeze_does_not_sign(job: Job) -> None:
    report = frozen(job)
    response = client_of(job.lead).post(url_of(report), answers(report, manifest_sha256="f" * 64))
    assert response.status_code == 409
    assert not report.signatures.exists()


def test_who_may_not_sign_is_told_who_may(job: Job) -> None:
    report = frozen(job)
    page = text_of(client_of(job.engineer).get(url_of(report)))
    assert "is signed by crew lead or crew of this site" in page
    assert '<button class="button">Sign' not in page


def test_who_does_not_reach_the_page(job: Job) -> None:
    report = frozen(job)
    assert client_of(job.auditor).get(url_of(report)).status_code == 403
    assert client_of(job.inspector).post(url_of(report), answers(report)).status_code == 403
    assert client_of(job.stranger).get(url_of(report)).status_code == 404
    assert client_of(job.lead).delete(url_of(report)).status_code == 405


def test_rules_of_signing_need_no_table() -> None:
    lead = Signer(person_id=1, roles=frozenset({Role.CREW_LEAD}), has_recorded=True)
    assert refusal(Meaning.PERFORMED, lead, set()) == ""
    assert "signed by engineer" in refusal(Meaning.REVIEWED, lead, set())
    both = Signer(person_id=2, roles=frozenset({Role.ENGINEER, Role.CREW_LEAD}), has_recorded=True)
    assert "recorded part" in refusal(Meaning.APPROVED, both, {1})
    assert next_meaning(["performed", "reviewed"]) is Meaning.APPROVED
    assert next_meaning([meaning.value for meaning in Meaning]) is None


def test_the_signer_of_a_report_is_kept_even_if_the_name_changes(job: Job) -> None:
    report = frozen(job)
    old = job.lead.name
    sign(report, Meaning.PERFORMED, job.lead)
    User.objects.filter(pk=job.lead.pk).update(name="Another Name")
    assert report.signatures.get().printed_name == old
