"""The list of machines: what it shows, to whom, and in how many queries."""

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from groutjobs.accounts.models import EVERY_ROLE, Role
from tests.equipment.posting import signed_in, stranger
from tests.factories import make_foundation, make_machine, make_plan, make_site

pytestmark = pytest.mark.django_db
ADDRESS = "/machines/"


@pytest.mark.parametrize("role", sorted(EVERY_ROLE))
def test_everyone_with_a_role_sees_the_machines_of_the_site(role: Role) -> None:
    machine = make_machine(bare=True, tag="P-777")
    assert "P-777" in signed_in(machine.site, role).get(ADDRESS).content.decode()


def test_a_stranger_sees_an_empty_list_and_nobody_is_asked_to_sign_in(client: Client) -> None:
    make_machine(bare=True, tag="P-777")
    assert "P-777" not in stranger().get(ADDRESS).content.decode()
    assert client.get(ADDRESS).status_code == 302
    assert stranger().post(ADDRESS).status_code == 405


def test_it_says_what_each_machine_waits_for() -> None:
    site = make_site()
    make_machine(bare=True, site=site, tag="P-1")
    make_foundation(machine=make_machine(bare=True, site=site, tag="P-2"))
    make_machine(site=site, tag="P-3")
    make_plan(machine=make_machine(site=site, tag="P-4"), revision=2)
    page = signed_in(site, Role.CREW).get(ADDRESS).content.decode()
    words = ["foundation and plate missing", "plate missing", "ready to plan", "pour plan rev 2"]
    assert sorted(words, key=page.rindex) == words


@pytest.mark.parametrize(("asked", "found"), [("101", {"P-101"}), ("BRINE", {"P-101"}), ("zz", set())])
def test_it_finds_by_tag_and_service(asked: str, found: set[str]) -> None:
    site = make_site()
    make_machine(bare=True, site=site, tag="P-101", service="brine pump")
    make_machine(bare=True, site=site, tag="P-202", service="fan")
    page = signed_in(site, Role.CREW).get(ADDRESS, {"q": asked})
    assert {machine.tag for machine in page.context["page"]} == found


@pytest.mark.parametrize("asked", ["\x00", "<script>", "%", "x" * 5000])
def test_odd_searches_are_answered(asked: str) -> None:
    page = signed_in(make_site(), Role.CREW).get(ADDRESS, {"q": asked, "page": "nine"})
    assert page.status_code == 200
    assert "<script>" not in page.content.decode()


def test_only_an_engineer_is_offered_a_new_machine() -> None:
    site = make_site()
    address = reverse("equipment:machine_add", args=[site.pk])
    assert address in signed_in(site, Role.ENGINEER).get(ADDRESS).content.decode()
    assert address not in signed_in(site, Role.CREW).get(ADDRESS).content.decode()


@pytest.mark.parametrize("count", [1, 12])
def test_ten_times_the_machines_take_no_more_queries(
    count: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    site = make_site()
    for _ in range(count):
        make_plan(machine=make_machine(bare=True, site=site))
    client = signed_in(site, Role.ENGINEER)
    with django_assert_max_num_queries(8):
        client.get(ADDRESS)
