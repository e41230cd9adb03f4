"""Phones join by a code, write with shift keys, and are revoked; what they hold back is seen at the desk."""

import datetime as dt
import json
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.device_actions import make_device_code, plain_code, revoke_device, set_phone_pin
from groutjobs.accounts.models import Device, Role, ShiftKey
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed
from groutjobs.faults.phone import envelope
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.pours.queries import pour_whole
from groutjobs.sync.actions import accept_by_hand
from groutjobs.sync.door import COOKIE
from groutjobs.sync.epochs import begin_epoch, mark_safe
from groutjobs.sync.models import PhoneOp
from groutjobs.sync.queries import head_seq
from groutjobs.turnover.readiness import readiness
from tests.factories import PASSWORD, make_person, make_pour
from tests.sync.calling import Wire, make_device, make_phone, note, now_of, pour_and_phone

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def no_slowing(settings: Any) -> None:
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}}


def site_and_administrator() -> tuple[Pour, Any]:
    pour = make_pour()
    return pour, make_person(site=pour.plan.machine.site, roles=(Role.ADMINISTRATOR,))


def signed_in(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_code_from_the_desk_makes_a_phone_a_device_once() -> None:
    pour, administrator = site_and_administrator()
    site = pour.plan.machine.site
    page = signed_in(administrator).post(f"/devices/at/{site.pk}/add/", {"name": "Phone 4"}).content.decode()
    code = page.split("<code>")[1].split("</code>")[0]
    assert "<svg" in page
    wire = Wire(None)
    first = wire.post("enrol", {"code": f" {code.lower().replace('-', ' ')} "})
    assert first.status_code == 201
    cookie = first.cookies[COOKIE]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Strict", "/")
    device = Device.objects.get()
    assert (device.name, device.enrolled_by) == ("Phone 4", administrator)
    assert cookie.value not in device.token_hash
    assert wire.client.get("/sync/v1/hello", headers={"X-Sync-Proto": "1"}).json()["device"]["name"] == "Phone 4"
    assert Wire(None).post("enrol", {"code": code}).status_code == 410
    assert not Event.objects.filter(body__contains=cookie.value).exists()


def test_a_code_ends_after_ten_minutes() -> None:
    pour, administrator = site_and_administrator()
    _, code = make_device_code(site_id=pour.plan.machine.site_id, name="Phone 4", by=administrator)
    with time_machine.travel(timezone.now() + dt.timedelta(minutes=10, seconds=1), tick=False):
        assert Wire(None).post("enrol", {"code": code}).status_code == 410
    assert Wire(None).post("enrol", {"code": code}).status_code == 201


def test_the_page_on_which_a_phone_joins() -> None:
    pour, administrator = site_and_administrator()
    _, code = make_device_code(site_id=pour.plan.machine.site_id, name="Phone 4", by=administrator)
    client = Client()
    wrong = client.post("/phone/join/", {"code": "22222-22222"})
    assert wrong.status_code == 422
    assert "not known" in wrong.content.decode()
    assert client.post("/phone/join/?next=app", {"code": code})["Location"] == "/phone/app/"
    assert client.cookies[COOKIE].value


def test_only_the_administrator_lets_phones_join_and_revokes_them() -> None:
    pour, phone = pour_and_phone()
    device = Device.objects.get()
    for act in (
        lambda: make_device_code(site_id=pour.plan.machine.site_id, name="x", by=pour.opened_by),
        lambda: revoke_device(device=device, reason="lost in the river", by=pour.opened_by),
    ):
        with pytest.raises(NotAllowed, match="administrator"):
            act()
    assert plain_code("7kq2m-x4tbd") == "7KQ2MX4TBD"
    assert phone.seq == 0


@pytest.mark.parametrize("secret", [PASSWORD, "428193"])
def test_a_person_starts_a_shift_with_pin_or_password(secret: str) -> None:
    pour = make_pour()
    person = pour.opened_by
    set_phone_pin(by=person, pin="428193")
    phone = make_phone(pour.plan.machine.site, person)
    answer = Wire(phone).post("shift-keys", {"person_id": person.pk, "secret": secret})
    assert answer.status_code == 201
    told = answer.json()
    assert told["author_id"] == person.pk
    assert len(told["key"]) == 43
    assert ShiftKey.objects.filter(pk=told["key_id"], person=person).exists()
    assert Wire(phone).post("shift-keys", {"email": person.email, "secret": "111111"}).status_code == 403


def test_a_pin_opens_no_session() -> None:
    person = make_person()
    set_phone_pin(by=person, pin="428193")
    answer = Client().post("/sign-in/", {"email": person.email, "password": "428193"})
    assert answer.status_code == 200
    assert "do not belong together" in answer.content.decode()


def test_a_stranger_to_the_site_gets_no_shift_key() -> None:
    _, phone = pour_and_phone()
    stranger = make_person(roles=(Role.CREW,))
    answer = Wire(phone).post("shift-keys", {"person_id": stranger.pk, "secret": PASSWORD})
    assert (answer.status_code, answer.json()["error"]["code"]) == (403, "no_role")


def test_after_signing_out_on_the_phone_waiting_entries_still_go() -> None:
    pour, phone = pour_and_phone()
    before = note(phone, pour)
    assert Wire(phone).post(f"shift-keys/{phone.author_key}/end", {}).status_code == 200
    after = note(phone, pour, at=timezone.now() + dt.timedelta(seconds=30))
    Wire(phone).send(before, after)
    assert (now_of(before), now_of(after)) == ("accepted", "quarantined")
    assert PhoneOp.objects.get(pk=after.op_id).code == "proof_ended"


def test_uploads_need_no_session_and_go_on_after_the_password_changed() -> None:
    pour, phone = pour_and_phone()
    pour.opened_by.set_password("another password entirely")
    pour.opened_by.save()
    assert Wire(phone).send(note(phone, pour))[0]["now"] == "accepted"


def test_what_was_entered_before_the_revocation_waits_and_later_entries_are_not_taken() -> None:
    pour, phone = pour_and_phone()
    administrator = make_person(site=pour.plan.machine.site, roles=(Role.ADMINISTRATOR,))
    before = note(phone, pour)
    revoke_device(device=Device.objects.get(), reason="left on the train", by=administrator)
    after = note(phone, pour, at=timezone.now() + dt.timedelta(seconds=30))
    wire = Wire(phone)
    answers = wire.send(before, after)
    assert answers[0]["receipt"]["status"] == "quarantined"
    assert answers[1]["error"]["code"] == "device_revoked"
    assert wire.post("ops", envelope([after])).status_code == 403
    assert wire.get("hello").status_code == 403
    assert PhoneOp.objects.count() == 1


def test_the_desk_sees_how_many_entries_are_still_on_a_phone() -> None:
    pour, phone = pour_and_phone()
    first, *_lost, last = (note(phone, pour) for _ in range(5))
    wire = Wire(phone)
    wire.send(first, last)
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    client = signed_in(engineer)
    page = client.get(f"/devices/at/{pour.plan.machine.site_id}/").content.decode()
    assert "At least 3 entries" in page
    fragment = client.get(f"/pours/{pour.pk}/phones/", headers={"HX-Request": "true"})
    assert "at least 3 entries" in fragment.content.decode()
    known = {"HX-Request": "true", "If-None-Match": fragment["ETag"]}
    assert client.get(f"/pours/{pour.pk}/phones/", headers=known).status_code == 304
    codes = [finding.code for finding in readiness(pour_whole().get(pk=pour.pk))]
    assert "turnover.phone_holds_1" in codes


def test_what_a_phone_says_of_itself_counts_before_anything_came() -> None:
    pour, phone = pour_and_phone()
    Wire(phone).get("hello", **{"X-Device-Seq": "4", "X-Pending": f"{pour.pk}=4,nonsense"})
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    page = signed_in(engineer).get(f"/pours/{pour.pk}/phones/").content.decode()
    assert "at least 4 entries" in page


def test_a_gap_that_is_explained_stands_in_nobodys_way() -> None:
    pour, phone = pour_and_phone()
    first, *_lost, last = (note(phone, pour) for _ in range(4))
    Wire(phone).send(first, last)
    Wire(phone).get("hello", **{"X-Device-Seq": "6", "X-Pending": f"{pour.pk}=4"})
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    url = reverse("sync:gap_explain", args=[phone.device_id])
    assert signed_in(engineer).post(url, {"gap-reason": "short"}).status_code == 422
    assert signed_in(engineer).post(url, {"gap-reason": "the phone fell into the mixer"}).status_code == 302
    codes = [finding.code for finding in readiness(pour_whole().get(pk=pour.pk))]
    assert not any(code.startswith("turnover.phone_holds") for code in codes)


def test_an_engineer_enters_or_sets_aside_what_waits() -> None:
    pour, phone = pour_and_phone()
    counts, falls = note(phone, pour, author_key=None), note(phone, pour, author_key=None)
    Wire(phone).send(counts, falls)
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    client = signed_in(engineer)
    assert "Needs a decision" in client.get(f"/devices/{phone.device_id}/").content.decode()
    listed = client.get(f"/devices/at/{pour.plan.machine.site_id}/decisions/").content.decode()
    assert counts.op_id in listed
    url = f"/devices/decisions/{counts.op_id}/"
    assert client.post(url, {"choice": "accept", "reason": "short"}).status_code == 422
    assert client.post(url, {"choice": "accept", "reason": "the lead confirms that he typed it"}).status_code == 302
    entry = PourEntry.objects.get(pk=counts.op_id)
    assert entry.sent
    assert (entry.author, entry.sent["vouched_by"], entry.sent["proof"]) == (pour.opened_by, engineer.name, "by_hand")
    aside = {"choice": "aside", "reason": "typed as a trial of the phone"}
    assert client.post(f"/devices/decisions/{falls.op_id}/", aside).status_code == 302
    assert (now_of(counts), now_of(falls)) == ("accepted", "set_aside")
    assert Wire(phone).send(falls)[0]["now"] == "set_aside"
    again = client.post(url, {"choice": "aside", "reason": "changed my mind about it"})
    assert "stands in the pour log already" in again.content.decode()


def test_crew_decides_nothing() -> None:
    pour, phone = pour_and_phone()
    made = note(phone, pour, author_key=None)
    Wire(phone).send(made)
    assert signed_in(pour.opened_by).get(f"/devices/decisions/{made.op_id}/").status_code == 403
    with pytest.raises(NotAllowed, match="engineer or the administrator"):
        accept_by_hand(op=PhoneOp.objects.get(), by=pour.opened_by, reason="because I say so")


def test_what_cannot_stand_in_the_log_says_so_when_it_is_accepted() -> None:
    pour, phone = pour_and_phone()
    made = phone.op(pour.pk, "wetted_out", {"batch": 1, "grout_c": 900.0})
    Wire(phone).send(made)
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    answer = signed_in(engineer).post(
        f"/devices/decisions/{made.op_id}/", {"choice": "accept", "reason": "the thermometer said so"}
    )
    assert answer.status_code == 422
    assert "900" in answer.content.decode()
    assert now_of(made) == "quarantined"


def test_a_rescue_file_at_the_desk_gives_the_receipts_that_the_wire_gives() -> None:
    pour, phone = pour_and_phone()
    sent, kept = note(phone, pour), note(phone, pour, "never sent")
    wire = Wire(phone)
    receipt = wire.send(sent)[0]["receipt"]
    file = {"rescue": 1, "device_id": phone.device_id, "made_at": "2026-04-30T09:05:12Z",
            "ops": [sent.sent(), kept.sent()]}  # fmt: skip
    administrator = make_person(site=pour.plan.machine.site, roles=(Role.ADMINISTRATOR,))
    client, url = signed_in(administrator), f"/devices/at/{pour.plan.machine.site_id}/rescue/"
    upload = SimpleUploadedFile("rescue.json", json.dumps(file).encode())
    page = client.post(url, {"file": upload}).content.decode()
    assert "2 × Entered in the pour log" in page
    assert PhoneOp.objects.get(pk=kept.op_id).brought_by == administrator
    assert wire.send(sent)[0]["receipt"] == receipt
    assert json.dumps(wire.post("rescue", file).json()["answers"][0]["receipt"]) == json.dumps(receipt)
    for content in (b"{", b"[]", b'{"rescue": 1, "device_id": "x"}'):
        assert client.post(url, {"file": SimpleUploadedFile("x.json", content)}).status_code == 422


def test_a_new_epoch_and_the_safe_mark_are_told() -> None:
    pour, phone = pour_and_phone()
    wire = Wire(phone)
    wire.send(note(phone, pour))
    before = wire.get("hello").json()
    mark_safe(seq=head_seq())
    begin_epoch()
    after = wire.get("hello")
    assert after.json()["epoch"] != before["epoch"] == str(PhoneOp.objects.get().epoch)
    assert int(after["X-Safe-Seq"]) >= before["head_seq"]
    assert after.json()["epoch_head"] >= before["head_seq"]
    with pytest.raises(NotAllowed, match="not between"):
        mark_safe(seq=head_seq() + 1)


def test_an_easy_pin_is_refused() -> None:
    person = make_person()
    client = signed_in(person)
    for pin in ("123456", "111111", "12345", "12a456"):
        answer = client.post("/my-settings/pin/", {"present": PASSWORD, "pin": pin})
        assert "PIN for phones" in answer.content.decode()
        assert answer.status_code == 422
    assert client.post("/my-settings/pin/", {"present": "wrong", "pin": "428193"}).status_code == 422
    assert client.post("/my-settings/pin/", {"present": PASSWORD, "pin": "428193"}).status_code == 302


def test_a_device_may_not_read_pages() -> None:
    pour, _ = pour_and_phone()
    _, token = make_device(pour.plan.machine.site, "Phone 6")
    client = Client()
    client.cookies[COOKIE] = token
    assert client.get(f"/pours/{pour.pk}/").status_code == 302
