"""Lifts of a plan and the heat of cure of the thickest one, kept with the plan."""

import json
from typing import Any

import pytest
from django.urls import reverse

from groutjobs.equipment.queries import machine_whole
from groutjobs.planning import actions
from groutjobs.planning.calc import compute, lifts
from groutjobs.planning.models import PourPlan
from tests.factories import make_machine
from tests.planning.sheets import engineer_of, planned, sheet_of, signed_in

pytestmark = pytest.mark.django_db


def on_sheet(**sheet: Any) -> PourPlan:
    machine = make_machine()
    return planned(machine, data_sheet=sheet_of(machine.site, **sheet))


def told(plan: PourPlan, code: str, key: str = "findings") -> list[dict[str, Any]]:
    return [finding for finding in plan.result[key] if finding["code"] == code]


def page_of(plan: PourPlan) -> str:
    client = signed_in(engineer_of(plan.machine.site))
    return client.get(reverse("planning:plan_detail", args=[plan.pk])).content.decode()


def test_a_bed_within_one_lift_is_one_lift() -> None:
    plan = planned()
    deepest = max(region["depth_max_mm"] for region in [*plan.result["compartments"], plan.result["shoulder"]])
    assert plan.result["lifts"] == {"deepest_mm": deepest, "most_mm": 150.0, "count": 1, "lift_mm": deepest}
    assert told(plan, "planning.lifts") == []


def test_a_deeper_bed_is_lifts_with_a_cold_joint_and_a_decision() -> None:
    plan = on_sheet(thickness_max_mm=40.0)
    found = plan.result["lifts"]
    assert found["count"] == 2
    assert found["count"] * found["lift_mm"] == pytest.approx(found["deepest_mm"])
    (lift,) = told(plan, "planning.lifts")
    assert lift["level"] == "warning"
    assert "cold joint" in lift["hint"]
    text = page_of(plan)
    for words in ("Mix and place lift 1 of 2", "Cold joint between lift 1 and lift 2", "Mix and place lift 2 of 2"):
        assert words in text


def test_lifts_thinner_than_the_data_sheet_allows_stand_in_the_way() -> None:
    plan = on_sheet(thickness_min_mm=39.0, thickness_max_mm=40.0)
    assert [finding["level"] for finding in told(plan, "planning.lifts_misfit")] == ["blocker"]


@pytest.mark.parametrize(
    ("composition", "share"),
    [
        ("resin 9.5 kg, hardener 3.5 kg, aggregate 4 bags of 25.5 kg", 13.0 / 115.0),
        ("Resin: 9,5 kg; Hardener: 3,5 kg", 13.0 / 115.0),
        ("resin 20 lb, hardener 8 lb", 28.0 * 0.45359237 / 115.0),
        ("resin, hardener and 4 bags", 0.15),
        ("resin 9.5 kg and 4 bags", 0.15),
        ("resin 9.5 kg, resin 1 kg, hardener 3.5 kg", 0.15),
        ("resin 95 kg, hardener 35 kg", 0.15),
    ],
)
def test_the_binder_is_read_from_the_composition_else_general_and_says_so(composition: str, share: float) -> None:
    """One pound is 0.45359237 kg, the international definition; from memory."""
    sheet = {"composition": composition, "kit_kg": 115.0, "name": "Test", "revision": "1"}
    found, basis, source = lifts.binder_of(sheet)
    assert found == pytest.approx(share)
    assert (source == "GROUTJOBS") is (share == 0.15)
    assert ("general share" in basis) is (share == 0.15)


def test_heat_is_that_of_the_cold_the_planned_and_the_hot_case() -> None:
    heat = planned().result["heat"]
    assert [(case["code"], case["temp_c"]) for case in heat["cases"]] == [
        ("cold", 10.0),
        ("planned", 22.0),
        ("hot", 32.0),
    ]
    for case in heat["cases"]:
        assert case["low"]["peak_c"] < case["likely"]["peak_c"] < case["high"]["peak_c"]
        assert case["likely"]["peak_c"] == pytest.approx(case["temp_c"] + case["likely"]["rise_k"])
    rises = [case["likely"]["rise_k"] for case in heat["cases"]]
    assert rises == sorted(rises)


def test_no_lift_gets_hotter_than_one_that_loses_no_heat() -> None:
    """[SI] balance of heat by hand: 13.0 kg of 115 kg × 430 kJ/kg ÷ 1.0 kJ/kg·K is 48.6 K, a third more 64.8 K."""
    heat = planned().result["heat"]
    assert heat["adiabatic_k"] == pytest.approx(48.6, abs=0.05)
    for case in heat["cases"]:
        assert case["likely"]["rise_k"] < 48.7
        assert case["high"]["rise_k"] < 64.9


def test_a_thick_rich_lift_is_told_in_the_readers_units() -> None:
    machine = make_machine()
    machine.baseplate.underside_elevation_mm += 80.0
    machine.baseplate.save()
    plan = planned(machine, data_sheet=sheet_of(machine.site, composition="resin and hardener, 4 bags"))
    (metric,), (us,) = told(plan, "lift_rise"), told(plan, "lift_rise", "findings_us")
    assert "mm lift heats itself from 22 °C" in metric["message"]
    assert "in lift heats itself from 72 °F" in us["message"]
    assert "limit 54 °F" in us["message"]
    assert "°C" not in us["message"]


def test_what_only_the_hottest_placing_gives_is_one_note() -> None:
    plan = on_sheet(placing_max_c=45.0)
    notes = [*told(plan, "lift_rise"), *told(plan, "lift_peak")]
    assert [note["level"] for note in notes] == ["note"]
    assert notes[0]["message"].startswith("Placed as hot as the data sheet allows: the ")


def test_a_temperature_that_the_model_refuses_leaves_the_plan_standing() -> None:
    plan = on_sheet(placing_min_c=-5.0)
    assert plan.result["heat"]["cases"] == []
    (note,) = told(plan, "planning.no_heat")
    assert "grout temperature as placed -5 °C is below 0 °C" in note["message"]
    assert "The heat of cure is not estimated" in page_of(plan)


def test_heat_is_computed_with_the_plan_and_not_when_it_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = planned()

    def never(*args: object) -> None:
        raise AssertionError(f"computed again for {args}")

    monkeypatch.setattr(lifts, "_bands", never)
    assert "Peak temperature of a lift" in page_of(plan)
    plan.refresh_from_db()
    whole = machine_whole().get(pk=plan.machine_id)
    assert compute(plan, whole)["heat"] == plan.result["heat"]


def test_another_thickness_is_computed_again() -> None:
    plan = planned()
    before = plan.result["heat"]
    plan.machine.baseplate.underside_elevation_mm += 20.0
    plan.machine.baseplate.save()
    changed = actions.change_plan(plan=plan, by=engineer_of(plan.machine.site), crew=5)
    after = changed.result["heat"]
    assert after["inputs"]["lift_mm"] == pytest.approx(before["inputs"]["lift_mm"] + 20.0)
    assert after["cases"][1]["likely"]["rise_k"] > before["cases"][1]["likely"]["rise_k"]


def test_cement_has_lifts_and_no_heat_and_says_so() -> None:
    machine = make_machine(mass_kg=2000.0, driver_kw=100.0)
    plan = planned(
        machine, data_sheet=sheet_of(machine.site, kind="cement", kit_yield_l=12.5, kit_kg=25.0, density_kg_m3=2150.0)
    )
    assert plan.result["heat"] is None
    assert plan.result["lifts"]["count"] == 1
    text = page_of(plan)
    assert "The heat band is not given for cementitious grout" in text
    assert "Peak temperature of a lift" not in text


def test_a_plan_frozen_before_there_were_lifts_is_still_shown() -> None:
    plan = planned()
    plan = actions.approve_plan(plan=plan, by=engineer_of(plan.machine.site))
    kept = {name: value for name, value in plan.result.items() if name not in {"lifts", "heat", "conditioning"}}
    PourPlan.objects.filter(pk=plan.pk).update(result=json.loads(json.dumps(kept)))
    text = page_of(plan)
    assert "Head and uplift" in text
    assert "Order of work" not in text
