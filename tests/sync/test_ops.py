"""Ops are stored first and judged later: one row each, one entry each, a receipt that never changes."""

import hashlib
import json
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.test import Client, override_settings

from groutjobs.accounts.models import Membership, Role
from groutjobs.audit.models import Event
from groutjobs.audit.queries import first_break
from groutjobs.faults.phone import canonical, envelope
from groutjobs.pours.models import PourEntry
from groutjobs.sync.models import OpRuling, PhoneOp
from tests.factories import make_person, make_pour
from tests.sync.calling import Wire, make_device, make_phone, note, now_of, pour_and_phone

pytestmark = pytest.mark.django_db


def test_an_op_becomes_one_entry_under_its_own_id() -> None:
    pour, phone = pour_and_phone()
    made = phone.op(pour.pk, "reading", {"what": "plate", "temp_c": 23.5,
                                         "as_entered": {"temp_c": {"text": "23.5", "unit": "degC"}}})  # fmt: skip
    (answer,) = Wire(phone).send(made)
    receipt = answer["receipt"]
    assert (receipt["op_id"], receipt["sha256"], receipt["status"], answer["now"]) == (
        made.op_id, made.sha256, "accepted", "accepted",
    )  # fmt: skip
    entry = PourEntry.objects.get(pk=made.op_id)
    assert entry.sent
    assert entry.author == pour.opened_by
    assert entry.sent["proof"] == "shift_key"
    event = Event.objects.get(seq=receipt["ledger_seq"])
    assert (event.event_hash, event.kind) == (receipt["event_hash"], "phone.op_received")
    assert PhoneOp.objects.get().text == made.text
    assert first_break() is None


def test_the_same_op_again_gives_the_same_receipt_and_nothing_else() -> None:
    pour, phone = pour_and_phone()
    made = note(phone, pour)
    wire = Wire(phone)
    first = wire.send(made)
    assert wire.send(made, made) == first * 2
    assert (PhoneOp.objects.count(), PourEntry.objects.count()) == (1, 1)


def test_the_same_id_with_other_bytes_is_a_conflict_and_overwrites_nothing() -> None:
    pour, phone = pour_and_phone()
    made = note(phone, pour)
    other = note(phone, pour, "wet", op_id=made.op_id)
    answers = Wire(phone).send(made, other, note(phone, pour, "third"))
    assert [answer.get("error", {}).get("code") for answer in answers] == [None, "other_bytes", None]
    assert answers[1]["error"]["http"] == 409
    assert PhoneOp.objects.get(pk=made.op_id).text == made.text
    assert PourEntry.objects.count() == 2


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"kind": "singing"}, "unusable"),
        ({"body": {"text": ""}}, "unusable"),
        ({"body": {"text": "x" * 1001}}, "unusable"),
        ({"body": {"text": "x", "mood": "good"}}, "unusable"),
        ({"v": 2}, "malformed"),
        ({"happened_at": "yesterday"}, "malformed"),
        ({"happened_at": "2026-04-30T09:05:12"}, "malformed"),
        ({"deps": "all"}, "malformed"),
        ({"clock": {}}, "malformed"),
        ({"extra": 1}, "malformed"),
        ({"record_id": 999_999}, "pour_unknown"),
        ({"proof": "ab" * 32}, "proof_wrong"),
        ({"author_key": None}, "proof_missing"),
        ({"author_id": 999_999}, "author_unknown"),
        ({"reason": "because"}, "unusable"),
        ({"body": {"text": "a\x00b"}}, "malformed"),
        ({"kind": "a\x00b"}, "malformed"),
        ({"body": {"text": 1e300}}, "unusable"),
        ({"body": {"text": [[]] * 300}}, "malformed"),
    ],
)
def test_what_breaks_a_rule_is_stored_with_the_reason_and_waits(fields: dict[str, Any], code: str) -> None:
    pour, phone = pour_and_phone()
    made = note(phone, pour, **fields)
    (answer,) = Wire(phone).send(made)
    assert answer["receipt"]["status"] == "quarantined"
    assert answer["receipt"]["reason"]
    row = PhoneOp.objects.get()
    assert (row.code, row.text) == (code, made.text)
    assert not PourEntry.objects.exists()


def test_half_a_sign_in_a_text_is_stored_and_waits() -> None:
    """A lone surrogate in JSON, RFC 8259 section 8.2: no database takes it, so the whole text waits as it came."""
    pour, phone = pour_and_phone()
    made = note(phone, pour)
    text = made.text.replace('"text":"dry"', '"text":"dr\\ud800y"')
    sent = {"op_id": made.op_id, "sha256": hashlib.sha256(text.encode()).hexdigest(), "text": text}
    answer = Wire(phone).post("ops", {"ops": [sent]}).json()["answers"][0]
    assert answer["now"] == "quarantined"
    row = PhoneOp.objects.get()
    assert (row.code, row.text) == ("malformed", text)
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    client = Client()
    client.force_login(engineer)
    assert client.get(f"/devices/decisions/{row.pk}/").status_code == 200


def test_a_person_without_a_role_today_is_quarantined_not_refused() -> None:
    pour, phone = pour_and_phone()
    Membership.objects.filter(user=pour.opened_by).delete()
    (answer,) = Wire(phone).send(note(phone, pour))
    assert answer["receipt"]["status"] == "quarantined"
    assert "no role" in answer["receipt"]["reason"]


def test_a_pour_of_another_site_is_not_reached() -> None:
    _, phone = pour_and_phone()
    other = make_pour()
    (answer,) = Wire(phone).send(note(phone, other))
    assert PhoneOp.objects.get().code == "pour_unknown"
    assert answer["now"] == "quarantined"
    assert not other.entries.exists()


def test_the_author_stays_whoever_sends_it() -> None:
    """A enters, B is on the phone when it is sent: the author is A."""
    pour, phone = pour_and_phone()
    made = note(phone, pour)
    site = pour.plan.machine.site
    colleague = make_person(site=site, roles=(Role.CREW,))
    other = make_phone(site, colleague, "Phone 5")
    forged = note(other, pour, author_id=pour.opened_by.pk, author_key=phone.author_key)
    Wire(phone).send(made)
    Wire(other).send(forged)
    assert PourEntry.objects.get(pk=made.op_id).author == pour.opened_by
    assert PhoneOp.objects.get(pk=forged.op_id).code == "proof_wrong"


def test_what_builds_on_an_entry_waits_for_it_and_is_released() -> None:
    pour, phone = pour_and_phone()
    leak = phone.op(pour.pk, "leak", {"compartment": "A", "where": "north"})
    closed = phone.op(pour.pk, "leak_closed", {"leak": leak.op_id, "how": "clay"}, deps=[leak.op_id])
    better = phone.op(pour.pk, "leak_closed", {"leak": leak.op_id, "how": "clay and wedge"}, deps=[closed.op_id],
                      replaces=closed.op_id, reason="said better")  # fmt: skip
    wire = Wire(phone)
    assert [wire.send(one)[0]["now"] for one in (better, closed)] == ["held", "held"]
    assert wire.send(leak)[0]["now"] == "accepted"
    assert [now_of(one) for one in (better, closed)] == ["accepted", "accepted"]
    again = wire.send(better)[0]
    assert (again["receipt"]["status"], again["now"]) == ("held", "accepted")
    assert pour.entries.count() == 3
    assert OpRuling.objects.count() == 2


@pytest.mark.parametrize(
    ("change", "code", "http"),
    [
        ({"sha256": "0" * 64}, "hash_wrong", 422),
        ({"text": "{"}, "malformed", 422),
        ({"text": "[]"}, "malformed", 422),
        ({"text": "[" * 8000}, "malformed", 422),
        ({"text": '{"op_id":1}'}, "malformed", 422),
        ({"text": "\ud800"}, "malformed", 422),
        ({"text": '{"a":1,"a":2}'}, "malformed", 422),
        ({"text": '{"a":NaN}'}, "malformed", 422),
        ({"text": "x" * 20_000}, "op_too_big", 413),
    ],
)
def test_what_cannot_be_filed_is_refused_alone(change: dict[str, str], code: str, http: int) -> None:
    pour, phone = pour_and_phone()
    good, bad = note(phone, pour), note(phone, pour)
    values = {"ops": [bad.sent() | change, good.sent()]}
    answers = Wire(phone).post("ops", values).json()["answers"]
    assert (answers[0]["error"]["code"], answers[0]["error"]["http"]) == (code, http)
    assert answers[1]["now"] == "accepted"
    assert PhoneOp.objects.count() == 1


def test_an_op_of_another_phone_is_refused_outside_a_rescue_file() -> None:
    pour, phone = pour_and_phone()
    other = make_phone(pour.plan.machine.site, pour.opened_by, "Phone 5")
    made = note(other, pour)
    assert Wire(phone).send(made)[0]["error"]["code"] == "other_device"
    file = {"rescue": 1, "device_id": other.device_id, "made_at": "2026-04-30T09:05:12Z", "ops": [made.sent()]}
    rescued = Wire(phone).post("rescue", file).json()["answers"][0]
    assert rescued["receipt"] == Wire(other).send(made)[0]["receipt"]
    assert PourEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "status", "code"),
    [
        ({"X-Sync-Proto": "2"}, 400, "proto"),
        ({"Origin": "http://elsewhere.example"}, 403, "origin"),
        ({"Origin": ""}, 403, "origin"),
        ({"Sec-Fetch-Site": "cross-site"}, 403, "origin"),
        ({"Content-Type": "text/plain"}, 415, "type"),
        ({"Content-Digest": "sha-256=:AAAA:"}, 422, "digest_wrong"),
    ],
)
def test_a_call_that_is_not_ours_stores_nothing(more: dict[str, str], status: int, code: str) -> None:
    pour, phone = pour_and_phone()
    response = Wire(phone).post("ops", envelope([note(phone, pour)]), **more)
    assert (response.status_code, response.json()["error"]["code"]) == (status, code)
    assert response["X-Sync-Proto"] == "1"
    assert not PhoneOp.objects.exists()


def test_a_call_that_is_too_big_is_refused_as_a_whole() -> None:
    pour, phone = pour_and_phone()
    many = [note(phone, pour) for _ in range(51)]
    assert Wire(phone).post("ops", envelope(many)).status_code == 413
    assert Wire(phone).post("ops", b" " * 262_145).status_code == 413
    assert not PhoneOp.objects.exists()


def test_no_device_no_entry() -> None:
    pour, phone = pour_and_phone()
    assert Wire(None).post("ops", envelope([note(phone, pour)])).status_code == 401
    stolen = make_phone(pour.plan.machine.site, pour.opened_by)
    stolen.token = "x" * 43
    assert Wire(stolen).post("ops", envelope([note(phone, pour)])).status_code == 401
    assert not PhoneOp.objects.exists()


def test_the_database_refuses_to_change_or_delete_what_a_phone_sent() -> None:
    pour, phone = pour_and_phone()
    Wire(phone).send(note(phone, pour))
    for change in (lambda: PhoneOp.objects.update(text="{}"), lambda: PhoneOp.objects.all().delete()):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            change()
    assert PhoneOp.objects.get().text != "{}"


def test_an_op_after_the_record_was_frozen_is_stored_as_late() -> None:
    pour, phone = pour_and_phone()
    pour.locked_at = pour.opened_at
    pour.save()
    made = note(phone, pour)
    Wire(phone).send(made)
    entry = PourEntry.objects.get(pk=made.op_id)
    assert entry.sent
    assert entry.sent["late"] is True


def test_hello_says_what_the_phone_must_know() -> None:
    pour, phone = pour_and_phone()
    first, _lost, third = (note(phone, pour) for _ in range(3))
    wire = Wire(phone)
    wire.send(first, third)
    told = wire.get("hello").json()
    assert told["device"]["highest_seq"] == 3
    assert told["device"]["missing_seqs"] == [2]
    assert [one["author_id"] for one in told["people"]] == [pour.opened_by.pk]
    assert told["head_seq"] >= told["safe_seq"] == 0
    assert told["limits"]["ops"] == 50


@override_settings(CACHES={"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "slow"}})
def test_too_many_calls_are_slowed_and_told_when_to_come_again() -> None:
    pour, phone = pour_and_phone()
    wire = Wire(phone)
    answers = [wire.post("shift-keys", {"person_id": pour.opened_by.pk, "secret": "no"}) for _ in range(11)]
    assert {one.status_code for one in answers} == {403, 429}
    assert answers[-1]["Retry-After"]


def test_canonical_text_is_what_the_golden_file_says() -> None:
    """The text is hashed as it is; another spelling of the same values is another op."""
    assert canonical({"b": 1, "a": "ä"}) == '{"a":"ä","b":1}'
    pour, phone = pour_and_phone()
    made = note(phone, pour)
    spaced = json.dumps(json.loads(made.text))
    assert spaced != made.text


def test_a_phone_of_another_site_reads_nothing_of_this_one() -> None:
    pour, _ = pour_and_phone()
    elsewhere = make_pour()
    stranger = make_phone(elsewhere.plan.machine.site, elsewhere.opened_by)
    wire = Wire(stranger)
    assert wire.get(f"records/{pour.pk}").status_code == 404
    assert wire.get(f"records/{pour.pk}/snapshot").status_code == 404
    assert pour.plan.machine.tag not in wire.get("records").content.decode()
    assert make_device(elsewhere.plan.machine.site)[0].site_id != pour.plan.machine.site_id
