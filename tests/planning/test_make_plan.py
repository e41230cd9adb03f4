"""Making and changing a plan: what is missing, what is refused, who may."""

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role, UnitSystem
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Machine
from groutjobs.errors import NotAllowed
from groutjobs.planning import actions
from groutjobs.planning.models import PlanState, PourPlan
from tests.factories import make_foundation, make_lot, make_machine, make_person
from tests.planning.sheets import COLUMNS, PLAN, engineer_of, planned, sheet_of, signed_in, typed

pytestmark = pytest.mark.django_db


def add(machine: Machine) -> str:
    return reverse("planning:plan_add", args=[machine.pk])


def test_an_engineer_makes_a_plan_from_what_is_typed() -> None:
    machine = make_machine()
    sheet = sheet_of(machine.site)
    lot = make_lot(grout_system=sheet.grout_system)
    data = PLAN | typed(clearance_mm="3 in") | {"data_sheet": str(sheet.pk), "lot": str(lot.pk), "on_plate": "machine"}
    answer = signed_in(engineer_of(machine.site)).post(add(machine), data)
    plan = PourPlan.objects.get(machine=machine)
    assert answer["Location"] == reverse("planning:plan_detail", args=[plan.pk])
    assert (plan.revision, plan.state, plan.lot, plan.machine_mounted) == (1, PlanState.DRAFTED, lot, True)
    assert plan.clearance_mm == pytest.approx(76.2)
    assert plan.as_entered["clearance_mm"] == {"text": "3", "unit": "in"}
    assert plan.result["kits_total"] == plan.result["kits_needed"] + 1
    assert Event.objects.filter(kind="plan.made", site_id=machine.site_id).count() == 1


def test_the_form_offers_usual_values_in_the_units_of_the_reader() -> None:
    machine = make_machine()
    client = signed_in(make_person(site=machine.site, roles=(Role.ENGINEER,), unit_system=UnitSystem.US))
    text = client.get(add(machine)).content.decode()
    assert 'name="clearance_mm" value="2.95276"' in text
    assert 'name="spare_kits" value="1"' in text


def test_a_machine_without_plate_and_foundation_says_what_is_missing() -> None:
    machine = make_machine(bare=True)
    client = signed_in(engineer_of(machine.site))
    text = client.get(add(machine)).content.decode()
    assert "Enter the foundation:" in text
    assert "Enter the plate:" in text
    assert reverse("equipment:foundation_change", args=[machine.pk]) in text
    assert client.post(add(machine), PLAN).status_code == 200
    assert not PourPlan.objects.exists()


def test_too_few_surveyed_points_are_missing_too() -> None:
    machine = make_machine(bare=True)
    make_foundation(machine=machine, survey=False)
    with pytest.raises(NotAllowed, match="3 or more surveyed points of the concrete; it has 0"):
        actions.make_plan(machine=machine, by=engineer_of(machine.site), data_sheet=sheet_of(machine.site), **COLUMNS)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"data_sheet": ""}, "Grout, by data sheet is not chosen"),
        ({"data_sheet": "999999"}, "is not in the list"),
        (typed(clearance_mm=""), "Plate edge to formwork is empty"),
        (typed(clearance_mm="wide mm"), "is not a number"),
        (typed(clearance_mm="75 in"), "is above"),
        (typed(clearance_mm="-75 mm"), "is below"),
        (typed(clearance_mm="nan mm"), "is not a number"),
        (typed(clearance_mm="200 mm"), "outside the usual"),
        ({"clearance_mm": "7" * 10_000_000, "clearance_mm_unit": "mm"}, "are too many for one number"),
        ({"mixers": "0"}, "is below"),
        ({"kits_per_batch": "1.5"}, "is not a whole number"),
        ({"on_plate": "elephant"}, "is none of"),
        (typed(material_c="cold degC"), "Material before it is conditioned: “cold” is not a number"),
        (typed(material_c="61 degC"), "Material before it is conditioned 61 °C is above 60.0 °C"),
        (typed(conditioning_store_c="-21 degC"), "Store that it is brought to -21 °C is below"),
        (typed(conditioning_h="-1 h"), "Time in that store before mixing -1 h is below 0.0 h"),
        (typed(conditioning_h="300 h"), "outside the usual"),
        (typed(core_c="9 degC"), "core before mixing 9 °C is below 10 °C, the lower limit in [DATASHEET]"),
        (typed(core_c="33 degC"), "core before mixing 33 °C is above 32 °C, the upper limit in [DATASHEET]"),
        (
            typed(material_c="9 degC", conditioning_store_c="18 degC"),
            "conditioning store 18 °C is below 18.5 °C, the lower limit in [GROUTJOBS]",
        ),
        (
            typed(material_c="35 degC", conditioning_store_c="30 degC"),
            "conditioning store 30 °C is above 26.5 °C, the upper limit in [GROUTJOBS]",
        ),
        ({"pour_on": "2026-13-01"}, "is not a day"),
        (typed(planned_grout_c="40 degC"), "grout temperature 40 °C is above 32 °C"),
        (typed(chamfer_mm="25 mm", clearance_mm="20 mm", clearance_mm_sure="on"), "chamfer 25 mm is above 20 mm"),
    ],
)
def test_a_wrong_entry_comes_back_with_field_value_limit_and_source(wrong: dict[str, str], words: str) -> None:
    machine = make_machine()
    sheet = sheet_of(machine.site)
    client = signed_in(engineer_of(machine.site))
    answer = client.post(add(machine), PLAN | {"data_sheet": str(sheet.pk)} | wrong)
    assert answer.status_code == 200
    assert words in answer.content.decode()
    assert "Everything you typed is still below" in answer.content.decode()
    assert not PourPlan.objects.exists()


def test_a_lot_of_another_grout_is_refused_by_form_and_action() -> None:
    machine = make_machine()
    sheet, other = sheet_of(machine.site), sheet_of(machine.site)
    lot = make_lot(grout_system=other.grout_system)
    by = engineer_of(machine.site)
    answer = signed_in(by).post(add(machine), PLAN | {"data_sheet": str(sheet.pk), "lot": str(lot.pk)})
    assert f"Lot {lot.lot_no} is {other.grout_system}" in answer.content.decode()
    with pytest.raises(NotAllowed, match="choose one of its lots"):
        actions.make_plan(machine=machine, by=by, data_sheet=sheet, lot=lot, **COLUMNS)


def test_a_data_sheet_of_another_site_is_refused_by_form_and_action() -> None:
    machine = make_machine()
    foreign = sheet_of(make_machine(bare=True).site)
    by = engineer_of(machine.site)
    answer = signed_in(by).post(add(machine), PLAN | {"data_sheet": str(foreign.pk)})
    assert "is not in the list" in answer.content.decode()
    with pytest.raises(NotAllowed, match="belongs to another site"):
        actions.make_plan(machine=machine, by=by, data_sheet=foreign, **COLUMNS)


def test_a_second_first_plan_is_refused_and_the_page_leads_to_the_one_there_is() -> None:
    plan = planned()
    by = engineer_of(plan.machine.site)
    with pytest.raises(NotAllowed, match="already has revision 1 of its plan, drafted"):
        actions.make_plan(machine=plan.machine, by=by, data_sheet=plan.data_sheet, **COLUMNS)
    answer = signed_in(by).get(add(plan.machine))
    assert answer["Location"] == reverse("planning:plan_detail", args=[plan.pk])


def test_a_drafted_plan_is_changed_and_computed_again() -> None:
    plan = planned()
    client, address = signed_in(engineer_of(plan.machine.site)), reverse("planning:plan_edit", args=[plan.pk])
    assert 'name="head_mm" value="200"' in client.get(address).content.decode()
    answer = client.post(address, PLAN | {"data_sheet": str(plan.data_sheet_id)} | typed(waste_ratio="25 percent"))
    assert answer.status_code == 302
    before = plan.result["with_waste_l"]
    plan.refresh_from_db()
    assert plan.result["with_waste_l"] == pytest.approx(before * 1.25 / 1.15)
    assert Event.objects.filter(kind="plan.changed").count() == 1


def test_a_change_that_the_engineering_refuses_changes_nothing() -> None:
    plan = planned()
    client, address = signed_in(engineer_of(plan.machine.site)), reverse("planning:plan_edit", args=[plan.pk])
    data = PLAN | {"data_sheet": str(plan.data_sheet_id)} | typed(planned_grout_c="40 degC")
    answer = client.post(address, data)
    assert answer.context["form"].errors["planned_grout_c"]
    plan.refresh_from_db()
    assert plan.planned_grout_c == 22.0


@pytest.mark.parametrize("name", ["plan_add", "plan_edit"])
def test_a_colleague_is_refused_a_stranger_finds_nothing_and_delete_is_no_way(name: str) -> None:
    plan = planned()
    address = reverse(f"planning:{name}", args=[plan.machine_id if name == "plan_add" else plan.pk])
    colleague = make_person(site=plan.machine.site, roles=(Role.CREW_LEAD, Role.ADMINISTRATOR))
    stranger = make_person(roles=(Role.ENGINEER,))
    assert signed_in(colleague).get(address).status_code == 403
    assert signed_in(colleague).post(address, PLAN).status_code == 403
    assert signed_in(stranger).post(address, PLAN).status_code == 404
    assert signed_in(stranger).delete(address).status_code == 405
