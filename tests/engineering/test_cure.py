"""The cure clock against published maturity examples, a fine sum, and its own limits."""

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from groutjobs.engineering import cure
from groutjobs.engineering.cure import CureClock
from groutjobs.errors import OutOfRange, Unusable
from tests.golden import golden_cases

BOUNDED = CureClock(activation_kj_mol=58.0, reference_c=23.0, minimum_c=10.0, hottest_c=32.0, source="GROUTJOBS")
FREE = CureClock(activation_kj_mol=50.0, reference_c=23.0, minimum_c=None, hottest_c=None, source="GROUTJOBS")
readings_c = st.lists(st.floats(-10.0, 60.0), min_size=2, max_size=12)


@pytest.mark.parametrize("case", golden_cases("cure", "en1992"))
def test_age_of_concrete_by_the_code(case: dict[str, Any]) -> None:
    found_d = cure.en1992_equivalent_age_d(case["duration_d"], case["temp_c"])
    assert found_d == pytest.approx(case["expected_d"], abs=case["tolerance_d"])


@pytest.mark.parametrize("case", golden_cases("cure", "nurse_saul"))
def test_temperature_time_sum_of_published_exercises(case: dict[str, Any]) -> None:
    sums = cure.nurse_saul_maturity_c_h(np.array(case["at_h"]), np.array(case["temp_c"]), case["datum_c"])
    assert sums[-1] == pytest.approx(case["expected_c_h"], abs=case["tolerance_c_h"])


@pytest.mark.parametrize("case", golden_cases("cure", "equivalent_age"))
def test_equivalent_age_worked_by_hand(case: dict[str, Any]) -> None:
    activation = case["activation_over_gas_k"] * cure.GAS_CONSTANT_KJ_MOLK
    clock = CureClock(
        activation_kj_mol=activation,
        reference_c=case["reference_c"],
        minimum_c=None,
        hottest_c=None,
        source="ASTMC1074",
    )
    ages_h = cure.equivalent_age_h(np.array([0.0, case["hours"]]), np.full(2, case["temp_c"]), clock)
    assert ages_h[-1] == pytest.approx(case["expected_h"], abs=case["tolerance_h"])


@pytest.mark.parametrize("case", golden_cases("cure", "hardening_rate"))
def test_hardening_rates_worked_by_hand(case: dict[str, Any]) -> None:
    rates = [cure.freiesleben_hansen_pedersen_rate(temp_c) for temp_c in case["temp_c"]]
    assert rates == pytest.approx(case["expected"], abs=case["tolerance"])


@pytest.mark.parametrize(
    ("temp_c", "factor"), [(5.0, 3.72), (10.0, 2.54), (15.0, 1.76), (18.0, 1.42), (25.0, 0.87), (35.0, 0.45)]
)
def test_time_factors_of_fifty_kilojoules(temp_c: float, factor: float) -> None:
    """exp(50/R·(1/T - 1/296.15)) worked by hand, rounded to 0.01."""
    assert 1 / cure.rate_ratio(FREE, temp_c) == pytest.approx(factor, abs=0.006)


def test_fifty_kilojoules_double_the_rate_from_fifteen_to_twenty_five_degrees() -> None:
    """The rule of thumb of BLOCH-MCM, doubling per 10 K, is 49.5 kJ/mol here: Ea = R ln 2 / (1/T1 - 1/T2)."""
    assert cure.rate_ratio(FREE, 25.0) / cure.rate_ratio(FREE, 15.0) == pytest.approx(2.0, rel=0.01)


def fine_age_h(at_h: list[float], temp_c: list[float], clock: CureClock) -> float:
    def rate(hour: float) -> float:
        return cure.rate_ratio(clock, float(np.interp(hour, at_h, temp_c)))

    level_marks = [clock.minimum_c, clock.hottest_c]
    marks: list[float] = []
    for left in range(len(at_h) - 1):
        first, last = temp_c[left], temp_c[left + 1]
        for level in level_marks:
            if level is not None and (first - level) * (last - level) < 0:
                marks.append(at_h[left] + (level - first) / (last - first) * (at_h[left + 1] - at_h[left]))
    edges = sorted({*at_h, *marks})
    return float(sum(quad(rate, a + 1e-12, b - 1e-12)[0] for a, b in itertools.pairwise(edges)))


@pytest.mark.parametrize(
    "temp_c",
    [[12, 20, 35, 28, 8, 4, 15], [9.5, 10.5, 9.5, 33, 31], [40, 2], [2, 40], [10, 10, 10], [5, 5, 5]],
)
def test_equivalent_age_equals_adaptive_quadrature(temp_c: list[float]) -> None:
    """scipy's quad on the same straight lines, split at the limits. 0.1 % covers 38 K in one interval."""
    at_h = [float(hour) for hour in range(len(temp_c))]
    found_h = cure.equivalent_age_h(np.array(at_h), np.array(temp_c, dtype=float), BOUNDED)[-1]
    assert found_h == pytest.approx(fine_age_h(at_h, temp_c, BOUNDED), rel=1e-3, abs=1e-9)


@given(readings_c)
def test_the_clock_never_runs_back_and_never_faster_than_its_cap(temp_c: list[float]) -> None:
    ages_h = cure.equivalent_age_h(np.arange(len(temp_c), dtype=float), np.array(temp_c), BOUNDED)
    steps_h = np.diff(ages_h)
    assert (steps_h >= 0).all()
    assert (steps_h <= cure.rate_ratio(BOUNDED, 32.0) + 1e-9).all()


@given(readings_c, st.floats(0.1, 10.0))
def test_warmer_grout_is_never_younger(temp_c: list[float], warmer_k: float) -> None:
    at_h = np.arange(len(temp_c), dtype=float)
    cold = cure.equivalent_age_h(at_h, np.array(temp_c), BOUNDED)
    warm = cure.equivalent_age_h(at_h, np.array(temp_c) + warmer_k, BOUNDED)
    assert (warm >= cold - 1e-9).all()


def test_the_clock_stands_still_below_the_minimum_and_runs_at_it() -> None:
    at_h = np.array([0.0, 100.0])
    assert cure.equivalent_age_h(at_h, np.full(2, 9.99), BOUNDED)[-1] == 0
    assert cure.equivalent_age_h(at_h, np.full(2, 10.0), BOUNDED)[-1] > 30


def test_at_the_reference_the_clock_is_the_wall_clock() -> None:
    at_h = np.linspace(0, 48, 97)
    assert cure.equivalent_age_h(at_h, np.full(97, 23.0), BOUNDED) == pytest.approx(at_h)


@given(readings_c, st.floats(0.05, 0.95))
def test_hours_until_and_equivalent_age_undo_each_other(temp_c: list[float], share: float) -> None:
    at_h = np.arange(len(temp_c), dtype=float)
    total_h = float(cure.equivalent_age_h(at_h, np.array(temp_c), BOUNDED)[-1])
    if total_h < 0.01:
        assert cure.hours_until(total_h + 1, at_h, np.array(temp_c), BOUNDED) is None
        return
    found_h = cure.hours_until(share * total_h, at_h, np.array(temp_c), BOUNDED)
    assert found_h is not None
    cut = [hour for hour in at_h if hour < found_h - 1e-9] + [found_h]
    there_c = np.interp(cut, at_h, temp_c)
    age_h = cure.equivalent_age_h(np.array([*cut, found_h + 1]), np.append(there_c, 0.0), BOUNDED)[len(cut) - 1]
    assert age_h == pytest.approx(share * total_h, rel=2e-3)


def test_hours_until_says_none_where_the_temperatures_end() -> None:
    at_h, temp_c = np.arange(5.0), np.full(5, 23.0)
    assert cure.hours_until(4.1, at_h, temp_c, BOUNDED) is None
    assert cure.hours_until(4.0, at_h, temp_c, BOUNDED) == pytest.approx(4.0)
    assert cure.hours_until(0.0, at_h, temp_c, BOUNDED) == 0.0


def test_rows_that_end_early_are_followed_to_their_end() -> None:
    at_h = np.arange(6.0)
    temp_c = np.full((2, 6), 23.0)
    temp_c[1, 3:] = np.nan
    found_h = cure.hours_until_each(2.5, at_h, temp_c, BOUNDED)
    assert found_h[0] == pytest.approx(2.5)
    assert math.isnan(found_h[1])
    assert cure.hours_until_each(1.5, at_h, temp_c, BOUNDED) == pytest.approx([1.5, 1.5])


@pytest.mark.parametrize(
    ("at_h", "temp_c", "words"),
    [
        ([0, 1, 1], [20, 20, 20], "do not rise"),
        ([0, 2, 1], [20, 20, 20], "do not rise"),
        ([0], [20], "two or more"),
        ([0, 1], [20, 20, 20], "one for one"),
        ([0, 1, 2], [20, math.nan, 20], "missing"),
    ],
)
def test_readings_that_contradict_themselves_are_refused(at_h: list[float], temp_c: list[float], words: str) -> None:
    with pytest.raises(Unusable, match=words):
        cure.equivalent_age_h(np.array(at_h, dtype=float), np.array(temp_c, dtype=float), BOUNDED)


@pytest.mark.parametrize("temp_c", [-60.0, 300.0, math.inf])
def test_impossible_grout_temperatures_are_refused(temp_c: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        cure.equivalent_age_h(np.array([0.0, 1.0]), np.array([20.0, temp_c]), BOUNDED)
    assert refusal.value.quantity == "grout temperature"
    with pytest.raises(OutOfRange):
        cure.rate_ratio(BOUNDED, temp_c)


@pytest.mark.parametrize(
    ("field", "value"), [("activation_kj_mol", 5.0), ("minimum_c", 30.0), ("hottest_c", 20.0), ("reference_c", 99.0)]
)
def test_a_clock_that_contradicts_itself_is_refused(field: str, value: float) -> None:
    numbers = {"activation_kj_mol": 58.0, "reference_c": 23.0, "minimum_c": 10.0, "hottest_c": 32.0, field: value}
    with pytest.raises(OutOfRange):
        CureClock(**numbers, source="GROUTJOBS")


def test_temperatures_below_the_datum_add_nothing() -> None:
    sums = cure.nurse_saul_maturity_c_h(np.array([0.0, 10.0, 20.0]), np.array([-10.0, 10.0, 10.0]), 0.0)
    assert sums.tolist() == pytest.approx([0.0, 25.0, 125.0])


def test_the_code_formula_refuses_frost_and_unequal_lists() -> None:
    with pytest.raises(OutOfRange):
        cure.en1992_equivalent_age_d([1.0], [-5.0])
    with pytest.raises(OutOfRange):
        cure.en1992_equivalent_age_d([0.0], [5.0])
    with pytest.raises(Unusable):
        cure.en1992_equivalent_age_d([1.0, 2.0], [5.0])
