"""Hours of the material in its store, and the order of work that counts back from the pour."""

import datetime as dt
import math
from typing import Any

import pytest
from django.urls import reverse
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from groutjobs.errors import OutOfRange
from groutjobs.planning.models import PourPlan
from groutjobs.planning.page import package_rows
from groutjobs.planning.steps import StepRow, step_rows
from tests.factories import make_lot, make_machine
from tests.planning.sheets import engineer_of, planned, sheet_of, signed_in

pytestmark = pytest.mark.django_db
COLD: dict[str, Any] = {"material_c": 2.0, "conditioning_store_c": 21.0}


def with_lot(store_c: float, **columns: Any) -> PourPlan:
    machine = make_machine()
    sheet = sheet_of(machine.site)
    return planned(machine, data_sheet=sheet, lot=make_lot(grout_system=sheet.grout_system, store_c=store_c), **columns)


def of_cement(**columns: Any) -> PourPlan:
    machine = make_machine(mass_kg=2000.0, driver_kw=100.0)
    sheet = sheet_of(machine.site, kind="cement", kit_yield_l=12.5, kit_kg=25.0, density_kg_m3=2150.0)
    return planned(machine, data_sheet=sheet, **columns)


def told(plan: PourPlan, code: str) -> list[str]:
    return [finding["level"] for finding in plan.result["findings"] if finding["code"] == code]


def page_of(plan: PourPlan) -> str:
    client = signed_in(engineer_of(plan.machine.site))
    return client.get(reverse("planning:plan_detail", args=[plan.pk])).content.decode()


def step_of(plan: PourPlan, code: str, starts_at: dt.datetime | None = None) -> StepRow:
    return next(row for row in step_rows(plan.result, "metric", starts_at) if row.step.code == code)


TERMS = 40


def wall_left(biot: float, fourier: float) -> float:
    """Share left in the middle of a plane wall. [INCROPERA] 5.39, with roots by a general solver."""
    roots = [
        brentq(lambda x: x * math.sin(x) - biot * math.cos(x), n * math.pi + 1e-9, (n + 0.5) * math.pi)
        for n in range(TERMS)
    ]
    return math.fsum(4 * math.sin(x) / (2 * x + math.sin(2 * x)) * math.exp(-x * x * fourier) for x in roots)


def cylinder_left(biot: float, fourier: float) -> float:
    """Share left on the axis of a long cylinder. [INCROPERA] 5.47, with roots by a general solver."""
    lows = [1e-9, *jn_zeros(1, TERMS - 1)]
    roots = [
        brentq(lambda x: x * j1(x) - biot * j0(x), low, high)
        for low, high in zip(lows, jn_zeros(0, TERMS), strict=True)
    ]
    return math.fsum(2 / x * j1(x) / (j0(x) ** 2 + j1(x) ** 2) * math.exp(-x * x * fourier) for x in roots)


def core_c(number: dict[str, Any], hours: float) -> float:
    """Temperature of the core after some hours, from what the page unfolds of a number."""
    given = {row["label"]: row["value"] for row in number["inputs"]}
    conductivity, film = given["conductivity"], given["film, wrapping included, W/m²·K"]
    metres_2 = conductivity / (given["density"] * given["specific heat, J/kg·K"]) * hours * 3600.0
    left = 1.0
    for name, ratio in (
        ("length", wall_left), ("width", wall_left), ("height", wall_left), ("diameter", cylinder_left),
    ):  # fmt: skip
        if name in given:
            half_m = given[name] / 2000.0
            left *= ratio(film * half_m / conductivity, metres_2 / half_m**2)
    start, store, _ = (row["value"] for row in number["inputs"][:3])
    return float(store + (start - store) * left)


def test_unfolded_inputs_bring_the_core_there_by_the_textbooks_series() -> None:
    """Product of the series of [INCROPERA] 5.5 to 5.8, roots by a general solver; the rest of it is below 1e-4 K."""
    plan = planned(**COLD)
    numbers = [row for row in plan.result["numbers"] if row["group"] == "conditioning"]
    assert [row["code"].rpartition(".")[2] for row in numbers] == [
        "pallet_wrapped", "pallet_opened", "bag", "pail_20_l", "pail_5_l",
    ]  # fmt: skip
    for number in numbers:
        assert core_c(number, number["value"]) == pytest.approx(18.0, abs=1e-3)


def test_opened_stacks_need_a_fraction_of_the_hours_and_pails_are_last() -> None:
    found = planned(**COLD).result["conditioning"]
    hours = {row["key"]: row["core_h"] for row in found["rows"]}
    assert found["wanted_c"] == 18.0
    assert found["last"] == "pail_20_l"
    assert found["opened_h"] == hours["pail_20_l"] < found["as_it_stands_h"] / 3
    assert found["as_it_stands_h"] == hours["pallet_wrapped"]
    assert hours["pallet_opened"] < hours["pail_20_l"]


def test_hours_not_entered_follow_48_hours_and_what_the_core_needs() -> None:
    """48 h at 65 °F or more: Bloch and Geitner, appendix 3-D p. 138."""
    assert planned(**COLD).result["conditioning"]["planned_h"] == 48.0
    slow = planned(material_c=-15.0, conditioning_store_c=18.6).result["conditioning"]
    assert slow["planned_h"] == math.ceil(slow["opened_h"]) > 48.0


@pytest.mark.parametrize(
    ("entered_h", "levels", "words"),
    [
        (20.0, ["warning"], "more than planned"),
        (48.0, ["warning"], "to spare, and only opened"),
        (200.0, [], "to spare."),
    ],
)
def test_the_step_shows_the_difference_to_what_was_entered(entered_h: float, levels: list[str], words: str) -> None:
    plan = planned(conditioning_h=entered_h, **COLD)
    step = step_of(plan, "condition").step
    assert (step.before_h, step.lasts_h) == (entered_h, entered_h)
    assert words in step.note
    assert told(plan, "conditioning_late") == levels
    assert told(plan, "conditioning_in_time") == ([] if entered_h < 25.0 else ["note"])


def test_once_the_hour_is_chosen_the_days_stand_there() -> None:
    plan = planned(conditioning_h=48.0, **COLD)
    starts_at = dt.datetime(2026, 5, 4, 8, tzinfo=dt.UTC)
    assert step_of(plan, "condition", starts_at).at == dt.datetime(2026, 5, 2, 8, tzinfo=dt.UTC)
    assert step_of(plan, "core", starts_at).at == dt.datetime(2026, 5, 4, 7, tzinfo=dt.UTC)
    assert step_of(plan, "condition").at is None
    wrapped = package_rows(plan.result, starts_at)[0]
    needed_h = math.ceil(plan.result["conditioning"]["as_it_stands_h"])
    assert wrapped.at == starts_at - dt.timedelta(hours=needed_h)
    assert wrapped.is_late


def test_steps_stand_in_the_order_of_the_work() -> None:
    steps = [row.step for row in step_rows(planned(**COLD).result, "metric", None)]
    before = [step.before_h for step in steps if step.before_h is not None]
    assert before == sorted(before, reverse=True)
    assert [step.code for step in steps] == ["dry", "condition", "shade", "core", "place", "shade_after"]


def test_a_lot_in_a_warm_store_needs_nothing_but_a_core_reading() -> None:
    plan = with_lot(20.0)
    assert plan.result["conditioning"]["is_needed"] is False
    assert "needs no time in another store" in page_of(plan)
    assert step_of(plan, "core").step.before_h == 1.0


def test_what_was_read_outranks_the_store_of_the_lot() -> None:
    plan = with_lot(20.0, **COLD)
    assert plan.result["conditioning"]["start_c"] == 2.0
    assert told(plan, "conditioning_in_time") == ["note"]


def test_cold_material_without_a_store_asks_for_one() -> None:
    plan = planned(material_c=2.0)
    assert told(plan, "planning.condition_material") == ["warning"]
    assert "No store is planned to bring it there" in page_of(plan)


def test_nobody_knows_how_warm_the_material_is() -> None:
    plan = planned()
    assert plan.result["conditioning"] is None
    assert "Nobody said yet how warm the material is" in page_of(plan)


def test_hot_material_is_cooled_to_27_degrees() -> None:
    """70 to 80 °F before mixing: Bloch and Geitner p. 121."""
    found = planned(material_c=38.0, conditioning_store_c=20.0).result["conditioning"]
    assert found["wanted_c"] == 27.0
    assert 0 < found["opened_h"] < found["as_it_stands_h"]


def test_the_core_that_the_supplier_asks_for_is_taken() -> None:
    found = planned(core_c=20.0, **COLD).result["conditioning"]
    assert (found["wanted_c"], found["least_basis"]) == (20.0, "as entered")
    assert found["opened_h"] > planned(**COLD).result["conditioning"]["opened_h"]


def test_cement_comes_in_bags_and_is_warmed_to_its_data_sheet() -> None:
    plan = of_cement(**COLD)
    found = plan.result["conditioning"]
    assert found["wanted_c"] == plan.data_sheet.placing_min_c
    assert [row["key"] for row in found["rows"]] == ["pallet_wrapped", "pallet_opened", "bag"]
    assert step_of(plan, "core").step.label == "Read the core of a bag"
    assert step_of(plan, "wet").step.before_h == 24.0


@pytest.mark.parametrize(
    ("columns", "quantity"),
    [
        ({"material_c": 2.0, "conditioning_store_c": 18.4}, "conditioning store"),
        ({"material_c": 38.0, "conditioning_store_c": 26.6}, "conditioning store"),
        ({"core_c": 9.9}, "core before mixing"),
        ({"core_c": 32.1}, "core before mixing"),
        ({"material_c": -41.0, "conditioning_store_c": 21.0}, "temperature of the material"),
    ],
)
def test_a_store_or_core_that_cannot_do_it_is_refused(columns: dict[str, Any], quantity: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        planned(**columns)
    assert refused.value.quantity == quantity


def test_a_reader_of_us_units_sees_fahrenheit_in_findings_and_steps() -> None:
    plan = planned(**COLD)
    (message,) = [f["message"] for f in plan.result["findings_us"] if f["code"] == "conditioning_in_time"]
    assert "from 35.6 °F to 64.4 °F in a store of 69.8 °F" in message
    step = next(row.step for row in step_rows(plan.result, "us", None) if row.step.code == "condition")
    assert step.label == "Bring the material into the store of 69.8 °F, open the pallets"
    assert "°C" not in step.note
