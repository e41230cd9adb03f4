"""Sites: who reads and writes them, and what a wrong entry is told."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from groutjobs.accounts.models import EVERY_ROLE, Membership, Role
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Site
from tests.equipment.posting import BAD_NUMBERS, assert_refused, errors_of, posted, signed_in, stranger
from tests.factories import make_machine, make_person, make_site

pytestmark = pytest.mark.django_db

GOOD: dict[str, Any] = {
    "name": "Works of the form",
    "owner": "Nobody",
    "zone": "America/New_York",
    "latitude_deg": ("36.1", "deg"),
    "longitude_deg": ("-79.95", "deg"),
    "elevation_m": ("896", "ft"),
    "annual_mean_c": ("58", "degF"),
    "annual_swing_c": ("", "delta_degC"),
    "emergency_contact": "gate house",
    "environmental_contact": "duty desk",
    "shift_starts": "06:00",
    "shift_ends": "18:00",
    "working_days": ["0", "4"],
}


def put(**more: Any) -> Any:
    client = signed_in(make_site(), Role.ADMINISTRATOR)
    return client.post(reverse("equipment:site_add"), posted(GOOD | more))


def test_an_administrator_adds_a_site_and_can_open_it() -> None:
    client = signed_in(make_site(), Role.ADMINISTRATOR)
    response = client.post(reverse("equipment:site_add"), posted(GOOD), follow=True)
    site = Site.objects.get(name="Works of the form")
    # 1 ft = 0.3048 m exactly; 58 °F is (58 − 32) / 1.8 °C
    assert site.elevation_m == pytest.approx(273.1008)
    assert site.annual_mean_c == pytest.approx(14.4444, abs=1e-4)
    assert site.working_days == [0, 4]
    assert "Monday, Friday" in response.content.decode()


def test_a_change_is_recorded() -> None:
    site = make_site()
    client = signed_in(site, Role.ADMINISTRATOR)
    address = reverse("equipment:site_change", args=[site.pk])
    assert client.get(address).context["form"]["shift_starts"].value() == "06:00"
    assert client.post(address, posted(GOOD | {"name": site.name})).status_code == 302
    assert Event.objects.get(kind="site.changed").site_id == site.pk


@pytest.mark.parametrize("role", sorted(EVERY_ROLE - {Role.ADMINISTRATOR}))
def test_others_read_a_site_and_do_not_write_it(role: Role) -> None:
    site = make_site()
    client = signed_in(site, role)
    assert client.get(reverse("equipment:site_detail", args=[site.pk])).status_code == 200
    for address in (reverse("equipment:site_add"), reverse("equipment:site_change", args=[site.pk])):
        assert client.get(address).status_code == 403
        assert client.post(address, posted(GOOD)).status_code == 403
    assert Site.objects.count() == 1


def test_strangers_wrong_methods_and_nobody_are_turned_away(client: Client) -> None:
    site = make_site(name="Hidden works")
    for name in ("site_detail", "site_change"):
        assert stranger().get(reverse(f"equipment:{name}", args=[site.pk])).status_code == 404
    assert "Hidden works" not in stranger().get(reverse("equipment:site_list")).content.decode()
    assert stranger().post(reverse("equipment:site_detail", args=[site.pk])).status_code == 405
    assert client.get(reverse("equipment:site_add")).status_code == 302


@pytest.mark.parametrize("bad", BAD_NUMBERS)
@pytest.mark.parametrize("field", ["latitude_deg", "elevation_m"])
def test_a_wrong_number_comes_back_with_a_sentence(field: str, bad: str) -> None:
    if (field, bad) == ("elevation_m", "-12"):
        bad = "-500"
    unit, label = {"latitude_deg": ("deg", "Latitude"), "elevation_m": ("m", "Elevation")}[field]
    if (field, bad) == ("latitude_deg", "-12"):
        bad = "-91"
    assert_refused(put(**{field: (bad, unit)}), field, label, bad)


@pytest.mark.parametrize(
    ("field", "bad", "words"),
    [
        ("zone", "Mars/Olympus", "not in the time zone database"),
        ("zone", "", "is empty"),
        ("shift_starts", "25:00", "not a time of day"),
        ("shift_starts", "06:00Z", "has an offset"),
        ("shift_ends", "06:00", "is the time it starts"),
        ("working_days", [], "no day is ticked"),
        ("working_days", ["7"], "none of Monday to Sunday"),
        ("emergency_contact", "", "is empty"),
        ("emergency_contact", "x" * 1_000_000, "longer than 200"),
        ("longitude_deg", ("181", "deg"), "above 180.0000°"),
        ("annual_mean_c", ("58", "degC"), "above 40.0 °C"),
    ],
)
def test_a_wrong_entry_comes_back_with_a_sentence(field: str, bad: Any, words: str) -> None:
    response = put(**{field: bad})
    assert response.status_code == 422
    assert words in errors_of(response, field)
    assert "[" in errors_of(response, field)


def test_a_name_is_used_once() -> None:
    make_site(name="works OF the form")
    assert "is taken" in errors_of(put(), "name")


def test_ten_times_the_sites_take_no_more_queries(django_assert_max_num_queries: DjangoAssertNumQueries) -> None:
    person = make_person()
    for _ in range(11):
        site = make_machine(bare=True).site
        Membership.objects.create(user=person, site=site, role=Role.CREW)
    client = Client()
    client.force_login(person)
    with django_assert_max_num_queries(6):
        assert len(client.get(reverse("equipment:site_list")).context["sites"]) == 11
