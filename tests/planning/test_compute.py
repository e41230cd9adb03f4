"""The result of a plan: the worked takeoff through the whole stack, and that it can be computed again from itself."""

import json

import pytest

from groutjobs.engineering import ENGINE_VERSION
from groutjobs.equipment.queries import machine_whole
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.planning.calc import compute, computed
from groutjobs.planning.models import PourPlan
from groutjobs.sources import sources
from tests.factories import make_machine, make_plan
from tests.planning.sheets import GOLDEN, planned, worked_machine

pytestmark = pytest.mark.django_db


def result_of(plan: PourPlan) -> dict[str, object]:
    return compute(plan, machine_whole().get(pk=plan.machine_id))


def test_the_worked_takeoff_gives_nine_kits() -> None:
    """Source and tolerance: fixtures/golden/takeoff.toml, derived by hand from closed forms."""
    plan = planned(worked_machine(), rise_mm=0.0)
    result = plan.result
    litres = 1000.0 * GOLDEN["tolerance"]
    assert result["net_l"] == pytest.approx(1000.0 * GOLDEN["net_m3"], abs=litres)
    assert result["chamfer_l"] == pytest.approx(1000.0 * GOLDEN["chamfer_m3"], abs=litres)
    assert result["with_waste_l"] == pytest.approx(1000.0 * GOLDEN["with_waste_m3"], abs=litres)
    assert result["kits_needed"] == 8
    assert result["kits_total"] == GOLDEN["total_kits"] == 9


def test_parts_add_up_to_the_net_volume() -> None:
    result = planned().result
    regions = sum(region["volume_l"] for region in result["compartments"])
    less = result["chamfer_l"] + result["displaced_l"]
    assert result["rest"] is None
    assert regions + result["shoulder_l"] - less == pytest.approx(result["net_l"], abs=1e-9)


def test_bolts_of_a_known_thread_and_pads_take_the_place_of_grout() -> None:
    """M24 with a wrap of 6 mm is 36 mm across; closed form of a cylinder over the mean gap."""
    machine = worked_machine()
    bolt = machine.foundation.bolts.create(
        label="B1", x_mm=450, y_mm=450, thread="M24×3", grade="F1554-36", free_length_mm=320
    )
    result = planned(machine).result
    assert result["displaced"] == [{"name": f"bolt {bolt.label}", "volume_l": pytest.approx(0.07634, abs=5e-6)}]


def test_the_result_is_computed_again_from_its_own_inputs() -> None:
    result = planned().result
    again = computed(json.loads(json.dumps(result["inputs"])))
    assert again == result
    assert again["engine_version"] == ENGINE_VERSION


def test_every_number_has_formula_inputs_and_a_known_source() -> None:
    numbers = planned().result["numbers"]
    assert len(numbers) >= 28
    for number in numbers:
        assert number["formula"], number["code"]
        assert number["inputs"] or number["code"] == "displaced", number["code"]
        for key in number["source"].split(","):
            assert key.split()[0] in sources(), number["code"]


def test_the_numbers_of_a_plan_have_different_codes() -> None:
    codes = [number["code"] for number in planned().result["numbers"]]
    assert len(codes) == len(set(codes))


def test_a_product_of_inputs_is_the_value_that_stands_beside_it() -> None:
    """Pressure is density × standard gravity × head [SI], from the inputs that the page unfolds."""
    number = next(row for row in planned().result["numbers"] if row["code"] == "head")
    density, head = (row["value"] for row in number["inputs"])
    assert number["value"] == pytest.approx(density * 9.80665 * head / 1e6, rel=1e-12)


def test_the_batches_are_as_many_as_the_kits_need() -> None:
    result = planned(kits_per_batch=3).result
    batches = result["timetable"]["batches"]
    assert sum(batch["kits"] for batch in batches) == result["kits_needed"]
    assert [batch["number"] for batch in batches] == list(range(1, len(batches) + 1))
    assert result["timetable"]["cycle_min"] == 3 * 8.0 + 3.0


def test_findings_are_told_in_both_unit_systems() -> None:
    result = planned(snug_kn=0.0).result
    codes = [[finding["code"] for finding in result[key]] for key in ("findings", "findings_us")]
    assert codes[0] == codes[1]
    lift = [
        next(f["message"] for f in result[key] if f["code"] == "takeoff.uplift") for key in ("findings", "findings_us")
    ]
    assert "kN" in lift[0]
    assert "lbf" in lift[1]


def test_a_grout_temperature_outside_the_data_sheet_is_refused() -> None:
    plan = make_plan(planned_grout_c=45.0)
    with pytest.raises(OutOfRange) as refused:
        result_of(plan)
    assert refused.value.quantity == "grout temperature"


def test_formwork_that_leaves_the_block_is_refused() -> None:
    plan = make_plan(machine=make_machine(), clearance_mm=299.0)
    plan.machine.foundation.width_mm = 2000.0
    plan.machine.foundation.save()
    plan.machine.foundation.survey_points.filter(y_mm__gt=2000.0).delete()
    with pytest.raises(Unusable) as refused:
        result_of(plan)
    assert refused.value.quantity == "forms"


def test_concrete_above_the_plate_is_refused() -> None:
    plan = make_plan()
    plan.machine.foundation.survey_points.update(elevation_mm=160.0)
    with pytest.raises(OutOfRange):
        result_of(plan)
