"""From a declaration to a locked record: who signs, what is refused, and what the database refuses by itself."""

import datetime as dt
import hashlib
import json
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import override_settings
from django.urls import reverse
from pytest_django.plugin import DjangoDbBlocker

from groutjobs.accounts.models import Role, User
from groutjobs.audit.models import Anchor, Event
from groutjobs.errors import NotAllowed, Stale
from groutjobs.pours.actions import add_entry, add_photo, open_pour
from groutjobs.pours.models import PourEntry
from groutjobs.signing import actions
from groutjobs.signing.models import PourRecord, RecordMeaning, RecordSignature, RecordState, SignatureVoid
from groutjobs.signing.queries import content_sha256, late_entries, state_of, undecided
from groutjobs.turnover.models import Meaning, Signature, TurnoverReport
from groutjobs.turnover.signing import SENTENCES
from tests.factories import PASSWORD, make_person
from tests.turnover.conftest import QUICK_HASH
from tests.turnover.finished import Job, answer_points, opened_job, picture, pour_batches
from tests.turnover.signed import client_of, text_of

pytestmark = pytest.mark.django_db
REASON = "the sample was cast by the other crew"


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Job]:
    """A whole log, declared complete; each test rolls its changes back."""
    with django_db_blocker.unblock(), override_settings(**QUICK_HASH), transaction.atomic():
        job = opened_job()
        began = dt.datetime.now(dt.UTC).replace(minute=0, second=0, microsecond=0) - dt.timedelta(days=40)
        answer_points(job, at=began - dt.timedelta(hours=5), before_pour=True, photos=1)
        pour_batches(job, at=began)
        answer_points(job, at=began + dt.timedelta(days=30), before_pour=False)
        sample = {"label": "C1", "batch": 1}
        add_entry(pour=job.pour, kind="sample", body=sample, by=job.lead, happened_at=began)
        add_entry(pour=job.pour, kind="declared_complete", body={}, by=job.lead)
        yield job
        transaction.set_rollback(True)


@pytest.fixture
def job(built: Job, db: None) -> Job:
    built.pour.refresh_from_db()
    return built


def row_of(job: Job) -> PourRecord:
    return PourRecord.objects.get(pour=job.pour)


def ready(job: Job) -> PourRecord:
    return actions.make_ready(pour=job.pour, by=job.lead)


def sign(job: Job, meaning: RecordMeaning, by: User, seen: str = "") -> RecordSignature:
    sha256 = seen or row_of(job).content_sha256
    return actions.sign_record(pour=job.pour, meaning=meaning, by=by, seen_sha256=sha256, proved_by="password")


def locked(job: Job) -> PourRecord:
    ready(job)
    sign(job, RecordMeaning.PERFORMED, job.lead)
    sign(job, RecordMeaning.REVIEWED, job.engineer)
    return row_of(job)


def note(job: Job, by: User | None = None) -> PourEntry:
    return add_entry(pour=job.pour, kind="note", body={"text": "seen later"}, by=by or job.lead)


def test_the_declaration_closes_it_and_striking_it_opens_it_again(job: Job) -> None:
    assert state_of(job.pour) == RecordState.CLOSED
    declared = PourEntry.objects.get(pour=job.pour, kind="declared_complete")
    add_entry(pour=job.pour, kind="struck", body={}, by=job.lead, replaces=declared, reason="too early")
    assert state_of(job.pour) == RecordState.OPEN
    assert Event.objects.get(kind="record.reopened").reason == "too early"
    add_entry(pour=job.pour, kind="declared_complete", body={}, by=job.lead)
    assert state_of(job.pour) == RecordState.CLOSED


def test_two_names_lock_it_with_an_anchor_in_one_step(job: Job) -> None:
    row = locked(job)
    assert row.state == RecordState.LOCKED
    assert row.anchor == Anchor.objects.latest("pk")
    signed = Event.objects.filter(kind="sign.reviewed").latest("seq")
    assert row.anchor is not None
    assert row.anchor.tree_size >= signed.seq
    assert json.loads(signed.body)["changed"]["content_sha256"]["new"] == row.content_sha256
    assert row.ready_at is not None
    assert content_sha256(job.pour, row.last_rev, row.ready_at) == row.content_sha256


def test_what_is_missing_needs_a_reason_and_is_kept() -> None:
    job = opened_job()
    add_entry(pour=job.pour, kind="declared_complete", body={}, by=job.lead)
    with pytest.raises(NotAllowed, match="goes ahead with a reason"):
        ready(job)
    client = client_of(job.lead)
    url = reverse("signing:record_ready", args=[job.pour.pk])
    fields = client.get(url).context["form"].fields
    assert client.post(url, dict.fromkeys(fields, "short")).status_code == 200
    assert client.post(url, dict.fromkeys(fields, REASON)).status_code == 302
    assert {item["reason"] for item in row_of(job).explained} == {REASON}


def test_it_is_not_ready_before_it_is_declared() -> None:
    job = opened_job()
    with pytest.raises(NotAllowed, match="not declared complete"):
        ready(job)


@pytest.mark.parametrize("who", ["inspector", "engineer", "administrator", "auditor"])
def test_performed_is_signed_by_the_crew_lead_alone(job: Job, who: str) -> None:
    ready(job)
    with pytest.raises(NotAllowed, match="signed by a crew lead"):
        sign(job, RecordMeaning.PERFORMED, getattr(job, who))


def test_the_reviewer_recorded_nothing(job: Job) -> None:
    note(job, by=job.second)
    ready(job)
    sign(job, RecordMeaning.PERFORMED, job.lead)
    with pytest.raises(NotAllowed, match="recorded none of it"):
        sign(job, RecordMeaning.REVIEWED, job.second)


def test_the_order_of_names_is_fixed(job: Job) -> None:
    with pytest.raises(NotAllowed, match="is not due"):
        sign(job, RecordMeaning.PERFORMED, job.lead, "0" * 64)
    ready(job)
    with pytest.raises(NotAllowed, match="is not due"):
        sign(job, RecordMeaning.REVIEWED, job.engineer)
    with pytest.raises(Stale, match="not the one that you read"):
        sign(job, RecordMeaning.PERFORMED, job.lead, "0" * 64)


@pytest.mark.parametrize("what", ["entry", "photograph"])
def test_whatever_is_added_after_a_name_voids_it_visibly(job: Job, what: str) -> None:
    ready(job)
    signature = sign(job, RecordMeaning.PERFORMED, job.lead)
    if what == "entry":
        note(job)
    else:
        add_photo(pour=job.pour, content=picture(201), by=job.lead)
    assert row_of(job).state == RecordState.CLOSED
    assert SignatureVoid.objects.get(signature=signature).reason.startswith("An entry or a photograph was added")
    page = text_of(client_of(job.engineer).get(reverse("signing:record_detail", args=[job.pour.pk])))
    assert f"<s>{job.lead.name}</s>" in page
    assert locked(job).round == 2


def test_the_reviewer_sends_it_back_with_a_reason(job: Job) -> None:
    ready(job)
    sign(job, RecordMeaning.PERFORMED, job.lead)
    with pytest.raises(NotAllowed, match="at least 10"):
        actions.send_back(pour=job.pour, reason="no", by=job.engineer)
    with pytest.raises(NotAllowed, match="An engineer"):
        actions.send_back(pour=job.pour, reason=REASON, by=job.lead)
    actions.send_back(pour=job.pour, reason=REASON, by=job.engineer)
    assert row_of(job).state == RecordState.CLOSED
    assert SignatureVoid.objects.get().reason == REASON
    assert row_of(job).content_sha256 == ""


def test_a_late_entry_is_stored_and_waits_for_a_decision(job: Job) -> None:
    before = locked(job).content_sha256
    entry = note(job)
    row = row_of(job)
    assert (row.state, row.content_sha256) == (RecordState.LOCKED, before)
    assert [one.entry for one in late_entries(row)] == [entry]
    assert Event.objects.filter(kind="late.stored").exists()
    with pytest.raises(NotAllowed, match="at least 10"):
        actions.decide_late(pour=job.pour, entry=entry, by=job.engineer, reason="")
    actions.decide_late(pour=job.pour, entry=entry, by=job.engineer, reason=REASON)
    assert undecided(row) == []
    with pytest.raises(NotAllowed, match="waits for no decision"):
        actions.decide_late(pour=job.pour, entry=entry, by=job.engineer, reason=REASON)


TEXTS: dict[str, Any] = {
    "wrong": "the lot",
    "right": "LOT-78",
    "evidence": "bag kept in the store",
    "reason": "read from the wrong bag",
}


def test_an_addendum_needs_two_people_and_cites_the_locked_hash(job: Job) -> None:
    with pytest.raises(NotAllowed, match="An addendum follows a lock"):
        actions.state_addendum(pour=job.pour, by=job.engineer, proved_by="password", **TEXTS)
    row, entry = locked(job), note(job)
    addendum = actions.state_addendum(pour=job.pour, by=job.engineer, proved_by="password", late=entry, **TEXTS)
    assert (addendum.number, addendum.record_sha256) == (1, row.content_sha256)
    assert undecided(row_of(job)) == []
    seen = {"seen_sha256": addendum.content_sha256, "proved_by": "password"}
    with pytest.raises(NotAllowed, match="that of another person"):
        actions.agree_addendum(addendum=addendum, by=job.engineer, **seen)
    actions.agree_addendum(addendum=addendum, by=job.second, **seen)
    with pytest.raises(NotAllowed, match="both names"):
        actions.agree_addendum(addendum=addendum, by=job.lead, **seen)


def test_two_people_make_it_void_and_another_pour_is_opened(job: Job) -> None:
    actions.ask_void(pour=job.pour, reason=REASON, by=job.lead)
    with pytest.raises(NotAllowed, match="A second person"):
        actions.void_record(pour=job.pour, by=job.lead)
    actions.void_record(pour=job.pour, by=job.engineer)
    assert row_of(job).state == RecordState.VOID
    with pytest.raises(NotAllowed, match="is void"):
        actions.ask_void(pour=job.pour, reason=REASON, by=job.lead)
    assert open_pour(plan=job.pour.plan, by=job.lead).number == 2


def test_a_locked_record_is_not_made_void(job: Job) -> None:
    locked(job)
    with pytest.raises(NotAllowed, match="nothing makes it void"):
        actions.ask_void(pour=job.pour, reason=REASON, by=job.lead)


# What the database refuses when the program is passed by.
def raw(row: PourRecord, **columns: Any) -> None:
    PourRecord.objects.filter(pk=row.pk).update(**columns)


def forged(job: Job, by: User, meaning: str, **columns: Any) -> RecordSignature:
    row = row_of(job)
    values = {"record": row, "round": row.round, "content_sha256": row.content_sha256} | columns
    return RecordSignature.objects.create(
        meaning=meaning, sentence="x", signer=by, printed_name=by.name, proved_by="nothing", **values
    )


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("ready", "CHECK|check|step"),
        ("performed", "step|missing"),
        ("reviewed", "step|missing"),
        ("locked", "step|missing"),
    ],
)
def test_the_database_lets_no_step_be_skipped(job: Job, state: str, said: str) -> None:
    with pytest.raises(DatabaseError, match=said), transaction.atomic():
        raw(row_of(job), state=state)


def test_the_database_wants_the_name_before_the_state(job: Job) -> None:
    row = ready(job)
    with pytest.raises(DatabaseError, match="who performed the work is missing"), transaction.atomic():
        raw(row, state="performed")
    sign(job, RecordMeaning.PERFORMED, job.lead)
    with pytest.raises(DatabaseError, match="reviewer is missing"), transaction.atomic():
        raw(row_of(job), state="reviewed")
    with pytest.raises(DatabaseError, match=r"under the names|is missing"), transaction.atomic():
        raw(row_of(job), content_sha256="f" * 64)


def test_the_database_refuses_names_that_do_not_fit(job: Job) -> None:
    ready(job)
    with pytest.raises(DatabaseError, match="does not fit"), transaction.atomic():
        forged(job, job.engineer, "reviewed")
    with pytest.raises(DatabaseError, match="does not fit"), transaction.atomic():
        forged(job, job.lead, "performed", content_sha256="f" * 64)
    sign(job, RecordMeaning.PERFORMED, job.lead)
    with pytest.raises(DatabaseError, match="who recorded does not review"), transaction.atomic():
        forged(job, job.lead, "reviewed")


def test_the_database_keeps_reviewer_and_approver_of_a_pour_apart(job: Job) -> None:
    locked(job)
    report = TurnoverReport.objects.create(
        pour=job.pour, number="T-1", manifest_text="{}", manifest_sha256=hashlib.sha256(b"{}").hexdigest(),
        frozen_by=job.engineer,
    )  # fmt: skip
    columns = {"report": report, "sentence": SENTENCES[Meaning.APPROVED], "manifest_sha256": report.manifest_sha256}
    for signer, said in ((job.lead, "neither reviews nor approves"), (job.engineer, "does not approve the report")):
        with pytest.raises(DatabaseError, match=said), transaction.atomic():
            Signature.objects.create(meaning="approved", signer=signer, printed_name=signer.name, **columns)


def test_void_needs_two_different_people_in_the_database_too(job: Job) -> None:
    actions.ask_void(pour=job.pour, reason=REASON, by=job.lead)
    with pytest.raises(DatabaseError, match="void_by_two"), transaction.atomic():
        raw(row_of(job), voided_by=job.lead, state="void")


# The pages.
def test_the_pages_lead_from_ready_to_locked(job: Job) -> None:
    urls = {name: reverse(f"signing:record_{name}", args=[job.pour.pk]) for name in ("detail", "ready", "sign")}
    lead, engineer = client_of(job.lead), client_of(job.engineer)
    assert lead.post(urls["ready"]).status_code == 302
    assert "Sign: performed" in text_of(lead.get(urls["detail"]))
    given = {"seen_sha256": row_of(job).content_sha256, "password": PASSWORD, "has_read": "on"}
    assert "is not your password" in text_of(lead.post(urls["sign"], given | {"password": "wrong"}))
    assert lead.post(urls["sign"], given).status_code == 302
    assert "I have read the change trail" in text_of(engineer.get(urls["sign"]))
    assert "is not ticked" in text_of(engineer.post(urls["sign"], given))
    assert engineer.post(urls["sign"], given | {"has_read_trail": "on"}).status_code == 302
    assert row_of(job).state == RecordState.LOCKED
    assert "Came after the lock" not in text_of(lead.get(urls["detail"]))


def test_void_by_the_pages(job: Job) -> None:
    url = reverse("signing:record_void", args=[job.pour.pk])
    lead, engineer = client_of(job.lead), client_of(job.engineer)
    assert lead.post(url, {"reason": "no"}).status_code == 200
    assert lead.post(url, {"reason": REASON}).status_code == 302
    assert "You have asked already" in text_of(lead.get(url))
    assert "Agree: it is void" in text_of(engineer.get(url))
    assert engineer.post(url).status_code == 302
    assert row_of(job).state == RecordState.VOID


def test_late_entries_and_addenda_by_the_pages(job: Job) -> None:
    locked(job)
    first, second = note(job), note(job)
    engineer, lead = client_of(job.engineer), client_of(job.lead)
    late = reverse("signing:late_decide", args=[job.pour.pk, first.pk])
    assert "seen later" in text_of(engineer.get(late))
    assert engineer.post(late, {"reason": REASON}).status_code == 302
    url = reverse("signing:addendum_state", args=[job.pour.pk])
    assert engineer.post(f"{url}?late={second.pk}", TEXTS | {"password": PASSWORD}).status_code == 302
    assert undecided(row_of(job)) == []
    agree = reverse("signing:addendum_agree", args=[job.pour.pk, 1])
    seen = row_of(job).addenda.get().content_sha256
    assert "LOT-78" in text_of(lead.get(agree))
    assert lead.post(agree, {"seen_sha256": seen, "password": PASSWORD, "has_read": "on"}).status_code == 302
    page = text_of(lead.get(reverse("signing:record_detail", args=[job.pour.pk])))
    assert "Leads to addendum 1" in page
    assert "No effect" in page


@pytest.mark.parametrize("name", ["record_detail", "record_ready", "record_sign", "record_void", "addendum_state"])
def test_a_stranger_finds_nothing(job: Job, name: str) -> None:
    stranger = make_person(roles=tuple(Role))
    assert client_of(stranger).get(reverse(f"signing:{name}", args=[job.pour.pk])).status_code == 404
