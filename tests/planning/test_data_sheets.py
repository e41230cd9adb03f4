"""Grout systems and their data sheets: adding, correcting, fixing, and what contradicts itself."""

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed, Unusable
from groutjobs.planning import actions
from groutjobs.planning.calc import check_data_sheet
from groutjobs.planning.models import DataSheet, GroutKind, GroutSystem
from tests.factories import make_data_sheet, make_grout_system, make_lot, make_person, make_site
from tests.planning.sheets import SHEET, engineer_of, planned, sheet_of, signed_in, typed

pytestmark = pytest.mark.django_db
LIST = reverse("planning:data_sheet_list")
ADD_SYSTEM = reverse("planning:grout_system_add")


def test_an_engineer_adds_a_system_and_is_led_to_its_data_sheet() -> None:
    site = make_site()
    data = {"site": str(site.pk), "name": "Test epoxy", "kind": "epoxy", "supplier": "Test supplier"}
    answer = signed_in(engineer_of(site)).post(ADD_SYSTEM, data)
    system = GroutSystem.objects.get(site=site)
    assert answer["Location"] == reverse("planning:data_sheet_add", args=[system.pk])
    assert Event.objects.filter(kind="grout_system.added", site_id=site.pk).exists()


def test_a_system_of_the_same_name_and_a_foreign_site_come_back() -> None:
    system = make_grout_system()
    client = signed_in(engineer_of(system.site))
    data = {"site": str(system.site_id), "name": system.name, "kind": "epoxy", "supplier": "S"}
    assert "is already a grout system of this site" in client.post(ADD_SYSTEM, data).content.decode()
    foreign = client.post(ADD_SYSTEM, data | {"site": str(make_site().pk), "name": "other"})
    assert "Site" in foreign.content.decode()
    assert GroutSystem.objects.count() == 1


def test_a_data_sheet_is_kept_in_si_with_the_text_as_typed() -> None:
    system = make_grout_system()
    client = signed_in(engineer_of(system.site))
    us = typed(kit_yield_l="2 ft3", kit_kg="253.5 lb", placing_min_c="50 degF")
    answer = client.post(reverse("planning:data_sheet_add", args=[system.pk]), SHEET | us)
    sheet = DataSheet.objects.get(grout_system=system)
    assert answer["Location"] == reverse("planning:data_sheet_detail", args=[sheet.pk])
    assert sheet.kit_yield_l == pytest.approx(56.634, abs=1e-3)
    assert sheet.placing_min_c == pytest.approx(10.0, abs=1e-9)
    assert sheet.as_entered["kit_yield_l"] == {"text": "2", "unit": "ft3"}
    assert sheet.working_life == [[10.0, 180.0], [23.0, 90.0], [32.0, 48.0]]
    assert sheet.strength[2] == [23.0, 168.0, 95.0]


def test_the_detail_page_shows_what_was_typed() -> None:
    sheet = sheet_of(make_site(), as_entered={"kit_yield_l": {"text": "2", "unit": "ft3"}})
    page = signed_in(engineer_of(sheet.grout_system.site)).get(reverse("planning:data_sheet_detail", args=[sheet.pk]))
    assert "typed as 2 ft³" in page.content.decode()
    assert "56.6 L" in page.content.decode()


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (typed(kit_yield_l=""), "Yield of one kit or bag, mixed is empty"),
        (typed(kit_yield_l="many L"), "is not a number"),
        (typed(kit_yield_l="-56.6 L"), "is below"),
        (typed(kit_yield_l="NaN L"), "is not a number"),
        (typed(kit_yield_l="56.6 ft3"), "is above"),
        (typed(density_kg_m3="2.03 kg_m3"), "is below"),
        (typed(placing_max_c="90 degC"), "is above"),
        (typed(placing_max_c="90 degF", placing_min_c="90 degF"), "is not above"),
        (typed(thickness_max_mm="20 mm"), "is not above"),
        (typed(kit_yield_l="28.3 L"), "but the kit holds"),
        ({"mixing_rules": "x" * 10_000_000}, "is longer than 1000 characters"),
        ({"working_life": ""}, "has 0 rows"),
        ({"working_life": "10; 90\n23; 180"}, "mixed grout lives shorter when warm"),
        ({"working_life": "10; 90\n10; 80"}, "two rows stand at 10"),
        ({"working_life": "10; -5"}, "Line 1"),
        ({"working_life": "10; 90; 7"}, "3 cells"),
        ({"strength": "23; 24; 62\n23; 48; 40"}, "grout does not lose strength with age"),
        ({"strength": "23; 24; 62\n23; 24; 63"}, "two rows stand at 23"),
        ({"strength": "23; 24; 62000"}, "is above"),
        ({"strength": "1;2;3\n" * 3_000_000}, "characters; up to"),
        ({"dated_on": "soon"}, "is not a day"),
    ],
)
def test_a_wrong_data_sheet_comes_back_with_field_value_limit_and_source(wrong: dict[str, str], words: str) -> None:
    system = make_grout_system()
    client = signed_in(engineer_of(system.site))
    answer = client.post(reverse("planning:data_sheet_add", args=[system.pk]), SHEET | wrong)
    text = answer.content.decode()
    assert answer.status_code == 200
    assert words in text
    assert "Everything you typed is still below" in text
    assert not DataSheet.objects.exists()


def test_the_typed_text_is_still_in_the_form() -> None:
    system = make_grout_system()
    client = signed_in(engineer_of(system.site))
    wrong = {"working_life": "10; 90\n23; 180", "composition": "a very own composition"}
    text = client.post(reverse("planning:data_sheet_add", args=[system.pk]), SHEET | wrong).content.decode()
    assert "a very own composition" in text
    assert "23; 180" in text


def test_an_unusual_value_is_taken_when_it_is_confirmed() -> None:
    system = make_grout_system()
    client = signed_in(engineer_of(system.site))
    address = reverse("planning:data_sheet_add", args=[system.pk])
    odd = typed(shelf_life_d="30 d")
    assert "It is right" in client.post(address, SHEET | odd).content.decode()
    assert client.post(address, SHEET | odd | {"shelf_life_d_sure": "on"}).status_code == 302


@pytest.mark.parametrize(("kit_yield_l", "is_taken"), [(10.9, False), (11.1, True), (16.2, True), (16.4, False)])
def test_a_bag_of_cement_takes_its_water_on_top(kit_yield_l: float, is_taken: bool) -> None:
    """25 kg of dry bag at 2150 kg/m³: 0.95 to 1.40 times its mass [GROUTJOBS] is 11.05 to 16.28 L."""
    sheet = make_data_sheet()
    columns = {name: getattr(sheet, name) for name in SHEET if hasattr(sheet, name)}
    columns |= {"kit_kg": 25.0, "density_kg_m3": 2150.0, "kit_yield_l": kit_yield_l}
    if is_taken:
        check_data_sheet(GroutKind.CEMENT, columns)
    else:
        with pytest.raises(Unusable) as refused:
            check_data_sheet(GroutKind.CEMENT, columns)
        assert refused.value.quantity == "kit_yield_l"


def test_the_next_revision_starts_with_the_numbers_of_the_newest() -> None:
    sheet = sheet_of(make_site())
    page = signed_in(engineer_of(sheet.grout_system.site)).get(
        reverse("planning:data_sheet_add", args=[sheet.grout_system_id])
    )
    text = page.content.decode()
    assert "23; 90" in text
    assert 'value="56.6"' in text
    assert page.context["form"]["revision"].value() is None


def test_one_revision_cannot_be_added_twice() -> None:
    sheet = sheet_of(make_site(), revision="4")
    client = signed_in(engineer_of(sheet.grout_system.site))
    answer = client.post(reverse("planning:data_sheet_add", args=[sheet.grout_system_id]), SHEET)
    assert "is already there" in answer.content.decode()


def test_a_data_sheet_is_corrected_until_an_approved_plan_rests_on_it() -> None:
    plan = planned()
    sheet, by = plan.data_sheet, engineer_of(plan.machine.site)
    client, address = signed_in(by), reverse("planning:data_sheet_edit", args=[sheet.pk])
    assert client.post(address, SHEET | {"mixing_rules": "Slowly."}).status_code == 302
    sheet.refresh_from_db()
    assert sheet.mixing_rules == "Slowly."
    actions.approve_plan(plan=plan, by=by)
    assert client.get(address).status_code == 409
    with pytest.raises(NotAllowed, match="Add a new revision"):
        actions.change_data_sheet(sheet=sheet, by=by, mixing_rules="Fast.")


@pytest.mark.parametrize("name", ["grout_system_add", "data_sheet_add", "lot_add", "data_sheet_edit"])
def test_a_colleague_is_refused_a_stranger_finds_nothing_and_delete_is_no_way(name: str) -> None:
    sheet = sheet_of(make_site())
    rows = {"data_sheet_add": sheet.grout_system_id, "lot_add": sheet.grout_system_id, "data_sheet_edit": sheet.pk}
    address = reverse(f"planning:{name}", args=[rows[name]] if name in rows else [])
    colleague = make_person(site=sheet.grout_system.site, roles=(Role.CREW_LEAD,))
    stranger = make_person(roles=(Role.ENGINEER,))
    assert signed_in(colleague).get(address).status_code == 403
    assert signed_in(colleague).post(address, SHEET).status_code == 403
    assert signed_in(stranger).post(address, SHEET).status_code == (404 if name in rows else 200)
    assert signed_in(stranger).delete(address).status_code == 405


def test_everyone_of_the_site_reads_and_a_stranger_sees_nothing() -> None:
    sheet = sheet_of(make_site())
    address = reverse("planning:data_sheet_detail", args=[sheet.pk])
    auditor = make_person(site=sheet.grout_system.site, roles=(Role.AUDITOR,))
    stranger = make_person(roles=(Role.ENGINEER,))
    assert sheet.grout_system.name in signed_in(auditor).get(LIST).content.decode()
    assert "Add a" not in signed_in(auditor).get(LIST).content.decode()
    assert signed_in(auditor).get(address).status_code == 200
    assert sheet.grout_system.name not in signed_in(stranger).get(LIST).content.decode()
    assert signed_in(stranger).get(address).status_code == 404
    assert signed_in(auditor).post(LIST).status_code == 405


def test_the_list_asks_no_more_when_there_is_more(django_assert_max_num_queries: object) -> None:
    site = make_site()
    client = signed_in(engineer_of(site))
    counts = []
    for systems in (1, 9):
        for _ in range(systems):
            sheet = sheet_of(site)
            make_lot(grout_system=sheet.grout_system)
            make_data_sheet(grout_system=sheet.grout_system, revision="next")
        with django_assert_max_num_queries(12) as asked:  # type: ignore[operator]
            client.get(LIST)
        counts.append(len(asked))
    assert counts[0] == counts[1]
