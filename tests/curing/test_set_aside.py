"""Setting readings aside: out of the clock, on the record, with a reason."""

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.curing.actions import add_reading, set_aside_readings
from groutjobs.curing.models import CureReading, ReadingImport
from groutjobs.curing.queries import cure_of
from groutjobs.errors import NotAllowed
from tests.curing.asking import RECORDING, errors_of, fresh_pour, signed_in, site_of, statuses, stranger
from tests.factories import make_cure_readings

pytestmark = pytest.mark.django_db


def address(brought: ReadingImport) -> str:
    return reverse("curing:reading_set_aside", args=[brought.pk])


def test_readings_set_aside_no_longer_drive_the_clock_and_stay_on_record() -> None:
    pour = fresh_pour()
    make_cure_readings(pour=pour, temps=[(0.0, 23.0), (1.0, 23.0)])
    wrong = make_cure_readings(pour=pour, temps=[(2.0, 71.0)])
    signed_in(site_of(pour), Role.CREW).post(address(wrong), {"why": "typed 71 for 21"})
    assert cure_of(pour)["last"]["temp_c"] == 23.0
    assert CureReading.objects.count() == 3
    assert Event.objects.get(kind="readings.set_aside").reason == "typed 71 for 21"
    text = signed_in(site_of(pour), Role.AUDITOR).get(reverse("curing:cure_detail", args=[pour.pk])).content.decode()
    assert "typed 71 for 21" in text
    assert "<s>71.0 °C</s>" in text


def test_the_right_reading_can_take_its_place() -> None:
    pour = fresh_pour()
    wrong = make_cure_readings(pour=pour, temps=[(2.0, 71.0)])
    set_aside_readings(brought_in=wrong, why="typed 71 for 21", by=pour.opened_by)
    at = wrong.readings.get().read_at
    add_reading(pour=pour, probe="grout", temp_c=21.0, read_at=at, typed="21 °C", by=pour.opened_by)
    assert cure_of(pour)["last"]["temp_c"] == 21.0


def test_it_happens_once() -> None:
    pour = fresh_pour()
    wrong = make_cure_readings(pour=pour, temps=[(2.0, 71.0)])
    client = signed_in(site_of(pour), Role.CREW)
    client.post(address(wrong), {"why": "first"})
    assert client.post(address(wrong), {"why": "second"}).status_code == 409
    wrong.refresh_from_db()
    assert wrong.set_aside_why == "first"


@pytest.mark.parametrize(("why", "words"), [("", "is empty"), ("x" * 301, "longer than 300"), ("a\x00b", "NUL")])
def test_a_reason_is_needed(why: str, words: str) -> None:
    pour = fresh_pour()
    brought = make_cure_readings(pour=pour, temps=[(2.0, 71.0)])
    response = signed_in(site_of(pour), Role.CREW).post(address(brought), {"why": why})
    assert response.status_code == 422
    assert words in errors_of(response, "why")
    assert not CureReading.objects.filter(set_aside=True).exists()


def test_the_action_wants_a_reason_too() -> None:
    pour = fresh_pour()
    brought = make_cure_readings(pour=pour, temps=[(2.0, 71.0)])
    with pytest.raises(NotAllowed, match="Say why"):
        set_aside_readings(brought_in=brought, why="  ", by=pour.opened_by)


@pytest.mark.parametrize("method", ["get", "post"])
def test_only_people_who_record_may_set_aside(method: str) -> None:
    pour = fresh_pour()
    brought = make_cure_readings(pour=pour, temps=[(2.0, 71.0)])
    answers = statuses(method, address(brought), site_of(pour), {})
    assert {role for role, status in answers.items() if status != 403} == set(RECORDING)
    assert getattr(stranger(), method)(address(brought)).status_code == 404
    assert signed_in(site_of(pour), Role.CREW).put(address(brought)).status_code == 405
