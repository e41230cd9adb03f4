"""Entering and changing a machine."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Machine
from tests.equipment.posting import BAD_NUMBERS, assert_refused, errors_of, posted, signed_in, stranger
from tests.factories import make_machine, make_site

pytestmark = pytest.mark.django_db

GOOD: dict[str, Any] = {
    "tag": "P-101A",
    "service": "brine booster",
    "kind": "pump",
    "driver_kw": ("335", "hp"),
    "speed_rpm": ("1780", "rpm"),
    "mass_kg": ("3200", "kg"),
    "level_class": "api_pump",
}


def test_the_engineer_enters_a_machine_in_any_unit() -> None:
    site = make_site()
    response = signed_in(site, Role.ENGINEER).post(reverse("equipment:machine_add", args=[site.pk]), posted(GOOD))
    machine = Machine.objects.get()
    assert response["Location"] == reverse("equipment:machine_detail", args=[machine.pk])
    # 1 mechanical horsepower = 550 ft·lbf/s = 745.699872 W: 335 hp is 249.8 kW
    assert machine.driver_kw == pytest.approx(249.80946, rel=1e-6)
    assert machine.as_entered["driver_kw"] == {"text": "335", "unit": "hp"}
    assert Event.objects.filter(kind="machine.added").exists()


def test_a_change_shows_what_was_typed_and_keeps_the_reason() -> None:
    machine = make_machine(bare=True, as_entered={"mass_kg": {"text": "7055", "unit": "lb"}}, mass_kg=3200.1)
    client = signed_in(machine.site, Role.ENGINEER)
    address = reverse("equipment:machine_change", args=[machine.pk])
    form = client.get(address).context["form"]
    assert form["mass_kg"].value()[:2] == ["7055", "lb"]
    client.post(address, posted(GOOD | {"tag": machine.tag, "reason": "new driver"}))
    assert Event.objects.get(kind="machine.changed").reason == "new driver"
    machine.refresh_from_db()
    assert machine.service == "brine booster"


@pytest.mark.parametrize(
    ("who", "status"), [(Role.CREW_LEAD, 403), (Role.ADMINISTRATOR, 403), (Role.AUDITOR, 403), (None, 404)]
)
@pytest.mark.parametrize("method", ["get", "post"])
def test_others_do_not_enter_machines(who: Role | None, status: int, method: str) -> None:
    machine = make_machine(bare=True)
    client = signed_in(machine.site, who) if who else stranger()
    for name, pk in (("machine_add", machine.site_id), ("machine_change", machine.pk)):
        response = getattr(client, method)(reverse(f"equipment:{name}", args=[pk]), {})
        assert response.status_code == status
    assert Machine.objects.count() == 1


def test_wrong_methods_and_nobody_are_turned_away(client: Client) -> None:
    machine = make_machine(bare=True)
    address = reverse("equipment:machine_change", args=[machine.pk])
    assert signed_in(machine.site, Role.ENGINEER).put(address).status_code == 405
    assert client.get(address).status_code == 302


@pytest.mark.parametrize("bad", BAD_NUMBERS)
@pytest.mark.parametrize(
    ("field", "label", "unit"),
    [("driver_kw", "Driver power", "kW"), ("speed_rpm", "Speed", "rpm"), ("mass_kg", "Mass of machine", "kg")],
)
def test_a_wrong_number_comes_back_with_a_sentence(field: str, label: str, unit: str, bad: str) -> None:
    site = make_site()
    client = signed_in(site, Role.ENGINEER)
    response = client.post(reverse("equipment:machine_add", args=[site.pk]), posted(GOOD | {field: (bad, unit)}))
    assert_refused(response, field, label, bad)
    assert not Machine.objects.exists()


def test_a_mass_in_tonnes_taken_for_kilograms_is_asked_about_and_taken_when_confirmed() -> None:
    site = make_site()
    client, address = signed_in(site, Role.ENGINEER), reverse("equipment:machine_add", args=[site.pk])
    wrong = posted(GOOD | {"mass_kg": ("3.2", "kg")})
    assert "outside the usual 50.0 kg" in errors_of(client.post(address, wrong), "mass_kg")
    assert client.post(address, wrong | {"mass_kg_sure": "on"}).status_code == 302


@pytest.mark.parametrize(
    ("field", "bad", "words"),
    [
        ("tag", "", "Tag is empty"),
        ("tag", "x" * 31, "longer than 30"),
        ("service", "\x00", "NUL"),
        ("kind", "toaster", "none of: Pump"),
        ("level_class", "", "is not chosen"),
    ],
)
def test_a_wrong_word_comes_back_with_a_sentence(field: str, bad: str, words: str) -> None:
    site = make_site()
    response = signed_in(site, Role.ENGINEER).post(
        reverse("equipment:machine_add", args=[site.pk]), posted(GOOD | {field: bad})
    )
    assert words in errors_of(response, field)


def test_a_tag_that_is_taken_comes_back() -> None:
    machine = make_machine(bare=True, tag="p-101a")
    response = signed_in(machine.site, Role.ENGINEER).post(
        reverse("equipment:machine_add", args=[machine.site_id]), posted(GOOD)
    )
    assert "already used" in errors_of(response, "tag")
