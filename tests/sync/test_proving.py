"""A phone that lost its cookie proves itself with its key and gets another one; a revoked phone gets none.

Keys, signatures and their form: ECDSA on P-256 with SHA-256 [FIPS 186-5], r and s side by side as browsers give them
[W3C Web Cryptography API, ECDSA], made here by the library `cryptography` and in the browser's tests by Chromium.
"""

import base64
import datetime as dt
import hashlib
import importlib
from typing import Any

import pytest
import time_machine
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from django.apps import apps
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from groutjobs import keeping
from groutjobs.accounts.device_actions import make_device_code, revoke_device
from groutjobs.accounts.models import SHIFT_KEYS, Device, Role, ShiftKey
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed
from groutjobs.pours.models import Pour
from groutjobs.sync import proving
from groutjobs.sync.door import COOKIE
from groutjobs.sync.models import DeviceCookie, DeviceKey
from tests.factories import make_person, make_pour
from tests.sync.calling import Wire, make_device, note, now_of, pour_and_phone

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def no_slowing(settings: Any) -> None:
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}}


def plain64(content: bytes) -> str:
    return base64.urlsafe_b64encode(content).decode().rstrip("=")


class Signer:
    """The key of a phone, as its browser holds it."""

    def __init__(self, curve: ec.EllipticCurve | None = None) -> None:
        self.private = ec.generate_private_key(curve or ec.SECP256R1())
        der = self.private.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        self.public, self.thumbprint = plain64(der), hashlib.sha256(der).hexdigest()

    def sign(self, question: str) -> str:
        words = b"groutjobs phone asks for its cookie\n" + question.encode()
        r, s = decode_dss_signature(self.private.sign(words, ec.ECDSA(SHA256())))
        return plain64(r.to_bytes(32) + s.to_bytes(32))


def joined() -> tuple[Pour, Device, Signer, Wire]:
    """A phone that has joined with its key and then lost its cookie."""
    pour, signer = make_pour(), Signer()
    administrator = make_person(site=pour.plan.machine.site, roles=(Role.ADMINISTRATOR,))
    _, code = make_device_code(site_id=pour.plan.machine.site_id, name="Phone 4", by=administrator)
    assert Wire(None).post("enrol", {"code": code, "public_key": signer.public}).status_code == 201
    return pour, Device.objects.get(), signer, Wire(None)


def asked(wire: Wire, signer: Signer) -> str:
    answer = wire.post("cookie", {"thumbprint": signer.thumbprint})
    assert answer.status_code == 200
    return str(answer.json()["question"])


def prove(wire: Wire, signer: Signer, question: str, signature: str = "") -> Any:
    given = {"thumbprint": signer.thumbprint, "question": question, "signature": signature or signer.sign(question)}
    return wire.post("cookie", given)


def test_a_phone_that_lost_its_cookie_gets_another_with_the_same_rights() -> None:
    _, device, signer, wire = joined()
    assert wire.get("hello").status_code == 401
    answer = prove(wire, signer, asked(wire, signer))
    assert (answer.status_code, answer.json()["device"]["id"]) == (201, str(device.pk))
    cookie = answer.cookies[COOKIE]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Strict", "/")
    assert wire.get("hello").json()["device"]["id"] == str(device.pk)
    row = DeviceCookie.objects.get()
    assert cookie.value not in (row.token_hash, row.question)
    assert not Event.objects.filter(body__contains=cookie.value).exists()
    assert Event.objects.filter(kind="device.cookie_given_again", object_kind="devicecookie").count() == 1


def test_a_cookie_that_was_given_again_appends_and_reads_no_page() -> None:
    pour, phone = pour_and_phone()
    signer, wire = Signer(), Wire(phone)
    assert wire.post("device-key", {"public_key": signer.public}).status_code == 201
    fresh = Wire(None)
    assert prove(fresh, signer, asked(fresh, signer)).status_code == 201
    made = note(phone, pour)
    fresh.send(made)
    assert now_of(made) == "accepted"
    assert fresh.client.get(f"/pours/{pour.pk}/").status_code == 302


def test_a_revoked_phone_gets_no_cookie_and_its_given_ones_end() -> None:
    pour, device, signer, wire = joined()
    assert prove(wire, signer, asked(wire, signer)).status_code == 201
    question = asked(wire, signer)
    administrator = make_person(site=pour.plan.machine.site, roles=(Role.ADMINISTRATOR,))
    revoke_device(device=device, reason="left on the train", by=administrator)
    answer = prove(Wire(None), signer, question)
    assert (answer.status_code, answer.json()["error"]["code"]) == (403, "device_revoked")
    assert COOKIE not in answer.cookies
    assert DeviceCookie.objects.count() == 1
    assert (wire.get("hello").status_code, wire.get("records").status_code) == (403, 403)


@pytest.mark.parametrize("how", ["other key", "changed question", "of another time", "nonsense", "too long", "empty"])
def test_what_is_not_signed_by_the_phone_gets_nothing(how: str) -> None:
    _, _, signer, wire = joined()
    question = asked(wire, signer)
    wrong = {
        "other key": (question, Signer().sign(question)),
        "changed question": (question + "x", signer.sign(question + "x")),
        "of another time": (question, signer.sign(asked(wire, signer))),
        "nonsense": (question, "!!"),
        "too long": (question, signer.sign(question) + "AAAA"),
        "empty": (question, " "),
    }[how]
    answer = prove(wire, signer, *wrong)
    assert (answer.status_code, answer.json()["error"]["code"]) == (403, "not_proven")
    assert wire.get("hello").status_code == 401


def test_a_question_is_good_once_and_for_two_minutes() -> None:
    _, _, signer, wire = joined()
    question = asked(wire, signer)
    assert prove(wire, signer, question).status_code == 201
    assert prove(Wire(None), signer, question).status_code == 403
    late = asked(wire, signer)
    with time_machine.travel(timezone.now() + dt.timedelta(seconds=proving.QUESTION_S + 1), tick=False):
        assert prove(wire, signer, late).status_code == 403


def test_a_key_that_no_phone_has_is_not_asked_anything() -> None:
    answer = Wire(None).post("cookie", {"thumbprint": Signer().thumbprint})
    assert (answer.status_code, answer.json()["error"]["code"]) == (401, "device_unknown")


def test_only_keys_of_the_right_kind_are_noted_and_each_for_one_phone() -> None:
    pour, phone = pour_and_phone()
    wire, signer = Wire(phone), Signer()
    for wrong in ("", "AAAA", "…", Signer(ec.SECP384R1()).public):
        assert wire.post("device-key", {"public_key": wrong}).status_code == 403
    assert [wire.post("device-key", {"public_key": signer.public}).status_code for _ in range(2)] == [201, 201]
    assert DeviceKey.objects.count() == 1
    other, _ = make_device(pour.plan.machine.site, "Phone 6")
    with pytest.raises(NotAllowed, match="another phone"):
        proving.add_key(device=other, public_key=signer.public)


def test_a_wrong_key_spoils_no_code() -> None:
    pour = make_pour()
    administrator = make_person(site=pour.plan.machine.site, roles=(Role.ADMINISTRATOR,))
    _, code = make_device_code(site_id=pour.plan.machine.site_id, name="Phone 4", by=administrator)
    assert Wire(None).post("enrol", {"code": code, "public_key": "AAAA"}).status_code == 410
    assert Wire(None).post("enrol", {"code": code}).status_code == 201


@pytest.mark.parametrize("table", ["devicekey", "devicecookie"])
@pytest.mark.parametrize("verb", ["UPDATE groutjobs_{} SET at = at", "DELETE FROM groutjobs_{}"])
def test_the_database_keeps_keys_and_cookies_as_they_were(table: str, verb: str) -> None:
    _, _, signer, wire = joined()
    assert prove(wire, signer, asked(wire, signer)).status_code == 201
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(verb.format(table))


def test_a_shift_key_stands_closed_in_the_database_and_still_proves() -> None:
    pour, phone = pour_and_phone()
    stored = ShiftKey.objects.values_list("secret", flat=True).get()
    assert phone.key.hex() not in stored
    assert keeping.opened(stored, purpose=SHIFT_KEYS) == phone.key.hex()
    with pytest.raises(keeping.NotOurs):
        keeping.opened(stored, purpose="second factor")
    made = note(phone, pour)
    Wire(phone).send(made)
    assert now_of(made) == "accepted"


def test_keys_from_before_are_closed_by_the_migration_and_still_prove() -> None:
    pour, phone = pour_and_phone()
    ShiftKey.objects.update(secret=phone.key.hex())
    step = importlib.import_module("groutjobs.migrations.0012_phone_keys")
    step.close_shift_keys(apps, None)
    assert phone.key.hex() not in ShiftKey.objects.get().secret
    made = note(phone, pour)
    Wire(phone).send(made)
    assert now_of(made) == "accepted"
    step.open_shift_keys(apps, None)
    assert ShiftKey.objects.get().secret == phone.key.hex()


def test_a_key_closed_by_another_installation_proves_nothing_and_loses_nothing(settings: Any) -> None:
    pour, phone = pour_and_phone()
    settings.SECRET_KEY = "another installation, restored without its key " * 2
    made = note(phone, pour)
    answer = Wire(phone).send(made)[0]
    assert (answer["receipt"]["status"], now_of(made)) == ("quarantined", "quarantined")
