"""One reading typed by hand."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.curing.actions import add_reading
from groutjobs.curing.models import CureReading, ReadingImport
from groutjobs.errors import NotAllowed
from groutjobs.pours.models import Pour
from tests.curing.asking import RECORDING, errors_of, fresh_pour, signed_in, site_of, site_time, statuses, stranger
from tests.equipment.posting import BAD_NUMBERS
from tests.factories import make_pour

pytestmark = pytest.mark.django_db


def address(pour: Pour) -> str:
    return reverse("curing:reading_add", args=[pour.pk])


def fields(pour: Pour, **given: Any) -> dict[str, Any]:
    read_at = site_time(pour, timezone.now() - dt.timedelta(hours=1))
    return {"probe": "grout", "temp_c": "22,4", "temp_c_unit": "degC", "read_at": read_at} | given


def test_the_crew_keeps_a_reading_as_typed() -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.CREW).post(address(pour), fields(pour, temp_c="72.3", temp_c_unit="degF"))
    assert response["Location"] == reverse("curing:cure_detail", args=[pour.pk])
    reading = CureReading.objects.get()
    assert (reading.probe, reading.typed) == ("grout", "72.3 °F")
    assert reading.temp_c == pytest.approx(22.39, abs=0.01)
    assert Event.objects.get(kind="reading.added").object_id == str(reading.brought_in_id)


@pytest.mark.parametrize("method", ["get", "post"])
def test_only_people_who_record_may_enter_readings(method: str) -> None:
    pour = fresh_pour()
    answers = statuses(method, address(pour), site_of(pour), {})
    assert {role for role, status in answers.items() if status != 403} == set(RECORDING)
    assert getattr(stranger(), method)(address(pour)).status_code == 404
    assert not CureReading.objects.exists()


def test_wrong_methods_are_turned_away() -> None:
    pour = fresh_pour()
    assert signed_in(site_of(pour), Role.CREW).put(address(pour)).status_code == 405


@pytest.mark.parametrize("bad", BAD_NUMBERS)
def test_a_wrong_temperature_comes_back_with_a_sentence(bad: str) -> None:
    pour = fresh_pour()
    value = "-99" if bad == "-12" else bad
    response = signed_in(site_of(pour), Role.CREW).post(address(pour), fields(pour, temp_c=value))
    said = errors_of(response, "temp_c")
    assert response.status_code == 422
    assert "Temperature" in said
    assert "[GROUTJOBS]" in said
    assert response.context["form"]["temp_c"].value()[0] == value
    assert not CureReading.objects.exists()


def test_fahrenheit_typed_as_celsius_is_asked_about_and_taken_when_confirmed() -> None:
    pour = fresh_pour()
    client = signed_in(site_of(pour), Role.CREW)
    response = client.post(address(pour), fields(pour, temp_c="95"))
    assert "outside the usual" in errors_of(response, "temp_c")
    client.post(address(pour), fields(pour, temp_c="95", temp_c_sure="on"))
    assert CureReading.objects.get().temp_c == 95.0


def test_the_limit_is_that_of_the_probe() -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.CREW).post(address(pour), fields(pour, probe="air", temp_c="75"))
    assert "above 60.0 °C" in errors_of(response, "temp_c")


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"probe": "steam"}, "probe", "“steam” is none of"),
        ({"probe": ""}, "probe", "not chosen"),
        ({"temp_c_unit": "K"}, "temp_c", "not one of its units"),
        ({"read_at": ""}, "read_at", "is empty"),
        ({"read_at": "noon"}, "read_at", "not a time"),
        ({"read_at": "2199-01-01T00:00"}, "read_at", "is outside"),
        ({"read_at": "2001-01-01T00:00"}, "read_at", "is outside"),
    ],
)
def test_other_wrong_entries_are_named(changed: dict[str, str], field: str, words: str) -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.CREW).post(address(pour), fields(pour, **changed))
    assert response.status_code == 422
    assert words in errors_of(response, field)


def test_a_second_reading_at_the_same_minute_is_refused_in_words() -> None:
    pour = fresh_pour()
    client, data = signed_in(site_of(pour), Role.CREW), fields(pour)
    client.post(address(pour), data)
    response = client.post(address(pour), data | {"temp_c": "30"})
    assert "on record: 22,4 °C" in errors_of(response)
    assert CureReading.objects.count() == ReadingImport.objects.count() == 1


def test_before_any_grout_is_placed_no_reading_is_taken() -> None:
    pour = make_pour()
    at = timezone.now()
    with pytest.raises(NotAllowed, match="Log the pour first"):
        add_reading(pour=pour, probe="grout", temp_c=20.0, read_at=at, typed="20 °C", by=pour.opened_by)
