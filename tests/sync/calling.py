"""A phone of a test site, and calls as it makes them through the test client."""

import json
from typing import Any

from django.test import Client

from groutjobs.accounts.device_actions import enrol_device, issue_shift_key, make_device_code
from groutjobs.accounts.models import Device, Role, User
from groutjobs.equipment.models import Site
from groutjobs.faults.phone import Made, Phone, envelope, headers
from groutjobs.pours.models import Pour
from groutjobs.sync.door import COOKIE
from groutjobs.sync.models import PhoneOp
from groutjobs.sync.queries import with_status
from tests.factories import make_person, make_pour

ORIGIN = "http://testserver"


def make_device(site: Site, name: str = "Phone 4") -> tuple[Device, str]:
    administrator = make_person(site=site, roles=(Role.ADMINISTRATOR,))
    _, code = make_device_code(site_id=site.pk, name=name, by=administrator)
    return enrol_device(typed=code)


def make_phone(site: Site, person: User, name: str = "Phone 4", device: tuple[Device, str] | None = None) -> Phone:
    """An enrolled phone on which this person has started a shift."""
    row, token = device or make_device(site, name)
    key = issue_shift_key(device=row, person=person)
    return Phone(str(row.pk), token, person.pk, str(key.pk), key.key)


def pour_and_phone() -> tuple[Pour, Phone]:
    pour = make_pour()
    return pour, make_phone(pour.plan.machine.site, pour.opened_by)


class Wire:
    """The calls of one phone."""

    def __init__(self, phone: Phone | None) -> None:
        self.client = Client()
        if phone:
            self.client.cookies[COOKIE] = phone.token

    def get(self, url: str, **more: str) -> Any:
        return self.client.get(f"/sync/v1/{url}", headers={"X-Sync-Proto": "1", **more})

    def post(self, url: str, values: Any, **more: str) -> Any:
        content = values if isinstance(values, bytes) else json.dumps(values).encode()
        sent = headers(content, Origin=ORIGIN) | more
        return self.client.post(f"/sync/v1/{url}", content, content_type=sent.pop("Content-Type"), headers=sent)

    def put(self, url: str, content: bytes, **more: str) -> Any:
        sent = {"X-Sync-Proto": "1", "Origin": ORIGIN} | more
        return self.client.put(f"/sync/v1/{url}", content, content_type="image/jpeg", headers=sent)

    def send(self, *ops: Made) -> list[dict[str, Any]]:
        """The answers to these ops."""
        response = self.post("ops", envelope(ops))
        assert response.status_code == 200, response.content
        answers: list[dict[str, Any]] = response.json()["answers"]
        return answers


def note(phone: Phone, pour: Pour, text: str = "dry", **fields: Any) -> Made:
    return phone.op(pour.pk, "note", {"text": text}, **fields)


def now_of(made: Made) -> str:
    return str(with_status(PhoneOp.objects.filter(pk=made.op_id)).get().now)
