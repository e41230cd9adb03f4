"""Our own rules on the choice of grout, the lot, the formwork and the allowances."""

import datetime as dt
from typing import Any

import pytest

from groutjobs.planning import actions
from groutjobs.planning.models import GroutLot, PourPlan
from groutjobs.sources import sources
from tests.factories import make_lot, make_machine
from tests.planning.sheets import engineer_of, planned, sheet_of

pytestmark = pytest.mark.django_db


def told(plan: PourPlan, code: str) -> list[str]:
    return [finding["level"] for finding in plan.result["findings"] if finding["code"] == code]


def with_lot(**lot: Any) -> PourPlan:
    machine = make_machine()
    sheet = sheet_of(machine.site)
    return planned(machine, data_sheet=sheet, lot=make_lot(grout_system=sheet.grout_system, **lot))


def cement_under(**machine: Any) -> PourPlan:
    row = make_machine(**{"mass_kg": 2000.0, "driver_kw": 100.0} | machine)
    sheet = sheet_of(row.site, kind="cement", kit_yield_l=12.5, kit_kg=25.0, density_kg_m3=2150.0)
    return planned(row, data_sheet=sheet)


def test_a_plain_plan_has_nothing_in_the_way() -> None:
    assert [f["code"] for f in with_lot().result["findings"] if f["level"] == "blocker"] == []


@pytest.mark.parametrize(
    ("machine", "count"),
    [
        ({}, 0),
        ({"mass_kg": 2270.0}, 0),
        ({"mass_kg": 2271.0}, 1),
        ({"driver_kw": 372.9}, 0),
        ({"driver_kw": 373.0}, 1),
        ({"speed_rpm": 3600.0}, 0),
        ({"speed_rpm": 3601.0, "mass_kg": 9000.0}, 2),
        ({"kind": "reciprocating_compressor"}, 1),
    ],
)
def test_cement_is_for_small_slow_light_rotating_machines(machine: dict[str, Any], count: int) -> None:
    """Limits: API RP 686 chapter 5 as operators' checklists quote it: 500 hp (373 kW), 3600 rpm, 2270 kg."""
    assert told(cement_under(**machine), "planning.cement_limits") == ["blocker"] * count


def test_epoxy_stands_under_any_machine() -> None:
    assert told(planned(make_machine(kind="reciprocating_compressor")), "planning.cement_limits") == []


@pytest.mark.parametrize(("planned_grout_c", "levels"), [(22.0, []), (18.0, []), (17.9, ["warning"])])
def test_cool_epoxy_is_a_warning(planned_grout_c: float, levels: list[str]) -> None:
    """18 °C (65 °F): Bloch and Geitner, appendix 3-D p. 140."""
    assert told(planned(planned_grout_c=planned_grout_c), "planning.grout_cool") == levels


def test_a_temperature_outside_the_placing_range_of_the_data_sheet_stands_in_the_way() -> None:
    machine = make_machine()
    plan = planned(machine, data_sheet=sheet_of(machine.site, placing_max_c=20.0))
    assert told(plan, "planning.grout_temperature") == ["blocker"]


@pytest.mark.parametrize(
    ("clearance_mm", "levels"), [(24.0, ["warning"]), (25.0, []), (150.0, []), (151.0, ["warning"])]
)
def test_a_shoulder_is_neither_narrow_nor_wide(clearance_mm: float, levels: list[str]) -> None:
    """25 to 150 mm: common practice, no source; from memory."""
    assert told(planned(clearance_mm=clearance_mm, chamfer_mm=20.0), "planning.shoulder") == levels


def test_grout_above_the_plate_and_a_low_head_are_told() -> None:
    assert told(planned(rise_mm=26.0), "planning.rise_over_plate") == ["warning"]
    assert told(planned(head_mm=15.0), "planning.head_below_grout") == ["blocker"]
    assert told(planned(head_mm=149.0), "planning.head_low") == ["warning"]
    assert told(planned(head_mm=150.0), "planning.head_low") == []


def test_too_little_waste_and_no_spare_are_told() -> None:
    plan = planned(waste_ratio=0.09, spare_kits=0)
    assert told(plan, "planning.waste_low") == ["warning"]
    assert told(plan, "planning.no_spare") == ["warning"]


def test_a_plan_without_a_lot_says_so() -> None:
    assert told(planned(), "planning.no_lot") == ["warning"]


def test_a_lot_is_short_when_other_plans_were_promised_it() -> None:
    first = with_lot(kits=20)
    assert told(first, "planning.lot_short") == []
    actions.approve_plan(plan=first, by=engineer_of(first.machine.site))
    machine = make_machine(site=first.machine.site)
    second = planned(machine, data_sheet=first.data_sheet, lot=first.lot)
    lot = second.result["inputs"]["lot"]
    assert lot["promised_kits"] == first.result["kits_total"] == 8
    assert told(second, "planning.lot_short") == []
    actions.change_lot(lot=GroutLot.objects.get(), by=engineer_of(first.machine.site), kits=15)
    third = actions.change_plan(plan=second, by=engineer_of(machine.site), crew=5)
    assert told(third, "planning.lot_short") == ["warning"]


@pytest.mark.parametrize(("days", "levels"), [(-1, ["blocker"]), (0, []), (1, [])])
def test_a_lot_must_be_in_date_on_the_day_of_the_pour(days: int, levels: list[str]) -> None:
    plan = with_lot(expires_on=dt.date(2026, 5, 4) + dt.timedelta(days=days))
    assert told(plan, "planning.lot_expired") == levels


def test_without_a_day_the_expiry_is_a_note() -> None:
    plan = with_lot()
    changed = actions.change_plan(plan=plan, by=engineer_of(plan.machine.site), pour_on=None)
    assert told(changed, "planning.no_day") == ["note"]


@pytest.mark.parametrize(
    ("store_c", "code"),
    [(3.9, "planning.store_temperature"), (32.1, "planning.store_temperature"), (17.9, "planning.condition_material")],
)
def test_the_store_is_judged(store_c: float, code: str) -> None:
    """4 to 32 °C (40 to 90 °F) and 18 °C for 48 h: Bloch and Geitner, appendix 3-B p. 134 and 3-D p. 138."""
    assert told(with_lot(store_c=store_c), code) == ["warning"]


def test_the_depth_limits_of_the_data_sheet_stand_in_the_way_and_general_ones_ask() -> None:
    machine = make_machine()
    strict = planned(machine, data_sheet=sheet_of(machine.site, thickness_min_mm=60.0))
    assert "blocker" in told(strict, "takeoff.bed_thin")
    machine = make_machine()
    machine.baseplate.underside_elevation_mm = 130.0
    machine.baseplate.save()
    thin = planned(machine, data_sheet=sheet_of(machine.site, thickness_min_mm=20.0))
    assert set(told(thin, "takeoff.bed_thin")) == {"warning"}


def test_every_finding_names_a_known_source() -> None:
    for plan in (cement_under(mass_kg=9000.0), with_lot(store_c=3.0), planned(waste_ratio=0.05, spare_kits=0)):
        for finding in plan.result["findings"]:
            assert all(key.split()[0] in sources() for key in finding["source"].split(","))
