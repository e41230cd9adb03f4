"""The machine sheet and the tag to print."""

import datetime as dt

import pytest
import segno
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from groutjobs.accounts.models import EVERY_ROLE, Role
from groutjobs.equipment.models import Machine
from tests.equipment.drawn import SVG, read
from tests.equipment.posting import signed_in, stranger
from tests.factories import make_baseplate, make_foundation, make_machine, make_plan, make_site

pytestmark = pytest.mark.django_db


def sheet(machine: Machine, name: str = "machine_detail") -> str:
    return reverse(f"equipment:{name}", args=[machine.pk])


@pytest.mark.parametrize("name", ["machine_detail", "machine_tag"])
@pytest.mark.parametrize("role", sorted(EVERY_ROLE))
def test_everyone_with_a_role_reads_it(name: str, role: Role) -> None:
    machine = make_machine(bare=True)
    assert signed_in(machine.site, role).get(sheet(machine, name)).status_code == 200


@pytest.mark.parametrize("name", ["machine_detail", "machine_tag"])
def test_others_do_not(name: str, client: Client) -> None:
    machine = make_machine(bare=True)
    assert stranger().get(sheet(machine, name)).status_code == 404
    assert signed_in(machine.site, Role.CREW).post(sheet(machine, name)).status_code == 405
    assert client.get(sheet(machine, name)).status_code == 302
    assert signed_in(machine.site, Role.CREW).get("/machines/999999/").status_code == 404


def test_it_draws_the_plan_and_lists_bolts_and_parts() -> None:
    machine = make_machine()
    page = signed_in(machine.site, Role.CREW).get(sheet(machine)).content.decode()
    drawing = read(page[page.index("<svg") : page.index("</svg>") + 6])
    assert machine.tag in drawing.attrib["aria-label"]
    for words in ("M24×3", "ASTM F1554 grade 36", "3\u202f600.0 mm", "Fill hole", "300,300 1800,300"):
        assert words in page


def test_it_speaks_the_readers_units() -> None:
    machine = make_machine()
    page = signed_in(machine.site, Role.CREW, system="us").get(sheet(machine)).content.decode()
    # 3600 mm is 141.732 in, 3200 kg is 7055 lb, 250 kW is 335.3 hp
    for words in ("141.732 in", "7\u202f055 lb", "335.3 hp"):
        assert words in page


def test_the_engineer_is_led_to_the_next_step() -> None:
    machine = make_machine(bare=True)
    client = signed_in(machine.site, Role.ENGINEER)
    assert "Enter the foundation" in client.get(sheet(machine)).content.decode()
    make_foundation(machine=machine)
    assert sheet(machine, "plate_start") in client.get(sheet(machine)).content.decode()
    make_baseplate(machine=machine)
    assert reverse("planning:plan_add", args=[machine.pk]) in client.get(sheet(machine)).content.decode()
    plan = make_plan(machine=machine)
    assert reverse("planning:plan_detail", args=[plan.pk]) in client.get(sheet(machine)).content.decode()


def test_a_reader_without_the_role_is_offered_no_change() -> None:
    machine = make_machine()
    page = signed_in(machine.site, Role.INSPECTOR).get(sheet(machine)).content.decode()
    for name in ("machine_change", "foundation_change", "plate_change"):
        assert sheet(machine, name) not in page


def test_what_stands_in_the_way_is_shown_with_its_source() -> None:
    machine = make_machine(bare=True)
    make_foundation(machine=machine, placed_on=dt.date(2199, 1, 1))
    page = signed_in(machine.site, Role.CREW).get(sheet(machine)).content.decode()
    assert "Stands in the way:" in page
    assert "is not placed yet" in page
    assert "[API686]" in page


def test_words_of_people_cannot_become_markup() -> None:
    machine = make_machine(tag="<b>P</b>", service="<script>alert(1)</script>")
    client = signed_in(machine.site, Role.CREW)
    for name in ("machine_detail", "machine_tag"):
        page = client.get(sheet(machine, name)).content.decode()
        assert "<script>alert" not in page
        assert "<b>P</b>" not in page


def test_no_style_slips_into_the_page() -> None:
    machine = make_machine()
    for name in ("machine_detail", "machine_tag"):
        page = signed_in(machine.site, Role.CREW).get(sheet(machine, name)).content.decode()
        assert "style=" not in page
        assert "<style" not in page


def test_the_sheet_stays_within_its_queries(django_assert_max_num_queries: DjangoAssertNumQueries) -> None:
    machine = make_machine()
    make_plan(machine=machine)
    client = signed_in(machine.site, Role.ENGINEER)
    with django_assert_max_num_queries(12):
        client.get(sheet(machine))


def test_the_code_on_the_tag_holds_the_address_of_the_sheet() -> None:
    machine = make_machine(bare=True, site=make_site())
    page = signed_in(machine.site, Role.CREW).get(sheet(machine, "machine_tag")).content.decode()
    address = f"http://testserver{sheet(machine)}"
    assert address in page
    drawing = read(page[page.index("<svg") : page.index("</svg>") + 6].replace("<svg", f'<svg xmlns="{SVG[1:-1]}"', 1))
    # [ISO18004]: version v has 17 + 4 v modules a side; the quiet zone is 4 modules on every side; 8 units a module
    code = segno.make(address, error="m", micro=False)
    assert isinstance(code.version, int)
    assert float(drawing.attrib["width"]) == (17 + 4 * code.version + 8) * 8
