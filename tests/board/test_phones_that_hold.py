"""The Day sheet says which phones still hold entries, and in red which of them were not heard of for a day."""

import datetime as dt

import pytest
from django.test import Client
from django.utils import timezone

from groutjobs.accounts.models import Device, Role
from groutjobs.sync.models import DeviceContact
from tests.factories import make_person
from tests.sync.calling import Wire, make_device, note, pour_and_phone

pytestmark = pytest.mark.django_db
RED = "not heard of for over 24 h"


def day_sheet(role: Role, device: Device) -> str:
    client = Client()
    client.force_login(make_person(site=device.site, roles=(role,)))
    return client.get("/").content.decode()


def test_a_phone_with_a_gap_is_named_and_red_after_a_day() -> None:
    pour, phone = pour_and_phone()
    first, *_held, last = (note(phone, pour) for _ in range(4))
    Wire(phone).send(first, last)
    device = Device.objects.get()
    page = day_sheet(Role.ENGINEER, device)
    assert "At least 2 entries" in page
    assert f"/devices/{device.pk}/" in page
    assert RED not in page
    DeviceContact.objects.update(at=timezone.now() - dt.timedelta(hours=23, minutes=59))
    assert RED not in day_sheet(Role.ENGINEER, device)
    DeviceContact.objects.update(at=timezone.now() - dt.timedelta(hours=24, minutes=1))
    assert RED in day_sheet(Role.ENGINEER, device)


def test_crew_is_told_without_a_link_that_it_may_not_follow() -> None:
    pour, phone = pour_and_phone()
    Wire(phone).get("hello", **{"X-Device-Seq": "1", "X-Pending": f"{pour.pk}=1"})
    device = Device.objects.get()
    page = day_sheet(Role.CREW, device)
    assert "At least 1 entry<" in page
    assert f"/devices/{device.pk}/" not in page


def test_phones_that_handed_over_everything_and_strangers_phones_are_not_named() -> None:
    pour, phone = pour_and_phone()
    Wire(phone).send(note(phone, pour))
    elsewhere, other = pour_and_phone()
    Wire(other).get("hello", **{"X-Device-Seq": "3", "X-Pending": f"{elsewhere.pk}=3"})
    assert "Entries still on phones" not in day_sheet(Role.ENGINEER, Device.objects.get(pk=phone.device_id))


def test_more_phones_cost_no_more_queries(django_assert_max_num_queries: object) -> None:
    pour, phone = pour_and_phone()
    Wire(phone).get("hello", **{"X-Device-Seq": "1", "X-Pending": f"{pour.pk}=1"})
    device = Device.objects.get()
    for number in range(6):
        row, _ = make_device(device.site, f"Phone 1{number}")
        DeviceContact.objects.create(device=row, at=timezone.now(), seq_told=2, pending={str(pour.pk): 2})
    client = Client()
    client.force_login(make_person(site=device.site, roles=(Role.ENGINEER,)))
    with django_assert_max_num_queries(20):  # type: ignore[operator]
        assert client.get("/").content.decode().count("At least") == 7
