"""The rate of cure against its closed form and against a general solver of differential equations."""

import doctest
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from groutjobs.engineering import kinetics
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.kinetics import (
    ILLUSTRATIVE_EPOXY,
    ILLUSTRATIVE_GLASS,
    CureKinetics,
    GlassLimit,
    closed_form_hours,
    degrees_of_cure,
    limiting_degree,
    rate_constants_per_h,
    rates_per_h,
)
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.sources import sources

FREE = replace(ILLUSTRATIVE_EPOXY, glass=None)
TWO_ENERGIES = replace(FREE, first_activation_kj_mol=80.0, second_activation_kj_mol=50.0)


def rate_by_hand(material: CureKinetics, degree: float, temp_c: float) -> float:
    """The law written out again from [KAMAL1973], [CHERN1987] and [DIBENEDETTO1987], apart from the program."""
    kelvin, reference = temp_c + 273.15, material.reference_c + 273.15
    k1, k2 = (
        rate * math.exp(-energy * 1000 / 8.314462618 * (1 / kelvin - 1 / reference))
        for rate, energy in (
            (material.first_rate_per_h, material.first_activation_kj_mol),
            (material.second_rate_per_h, material.second_activation_kj_mol),
        )
    )
    free = (k1 + k2 * degree) * (1 - degree) ** 2
    glass = material.glass
    if glass is None:
        return free
    span = (temp_c + glass.lead_k - glass.uncured_c) / (glass.cured_c - glass.uncured_c)
    limit = span / (glass.shape + (1 - glass.shape) * span)
    return free / (1 + math.exp(glass.steepness * (degree - limit)))


def by_scipy(material: CureKinetics, at_h: Floats, temp_c: Floats) -> Floats:
    """scipy's Runge-Kutta of order 8, restarted at each reading because the temperature has a kink there."""
    degrees = [0.0]
    for index in range(1, len(at_h)):
        span = (float(at_h[index - 1]), float(at_h[index]))
        ends = temp_c[index - 1 : index + 1]

        def slope(t: float, y: Floats, span: tuple[float, float] = span, ends: Floats = ends) -> list[float]:
            return [rate_by_hand(material, float(y[0]), float(np.interp(t, span, ends)))]

        answer = solve_ivp(slope, span, [degrees[-1]], method="DOP853", rtol=1e-11, atol=1e-12)
        degrees.append(float(answer.y[0, -1]))
    return np.array(degrees)


@pytest.mark.parametrize("material", [ILLUSTRATIVE_EPOXY, FREE, TWO_ENERGIES])
@pytest.mark.parametrize("swing_k", [0.0, 12.0])
def test_it_agrees_with_a_general_solver_to_a_millionth(material: CureKinetics, swing_k: float) -> None:
    """A day's swing about 22 °C, a reading each three hours for three days."""
    at_h = np.arange(0.0, 73.0, 3.0)
    temp_c = 22.0 + swing_k * np.sin(2 * np.pi * at_h / 24)
    found = degrees_of_cure(material, at_h, temp_c, start_degree=0.0)
    assert found == pytest.approx(by_scipy(material, at_h, temp_c), abs=1e-6)


def test_it_agrees_with_a_general_solver_through_a_hot_peak_with_few_readings() -> None:
    at_h = np.array([0.0, 2.0, 3.0, 9.0, 48.0])
    temp_c = np.array([20.0, 35.0, 80.0, 40.0, 15.0])
    found = degrees_of_cure(ILLUSTRATIVE_EPOXY, at_h, temp_c, start_degree=0.0)
    assert found == pytest.approx(by_scipy(ILLUSTRATIVE_EPOXY, at_h, temp_c), abs=1e-6)


@pytest.mark.parametrize("material", [FREE, TWO_ENERGIES])
@pytest.mark.parametrize("temp_c", [5.0, 23.0, 60.0])
@pytest.mark.parametrize("degree", [0.05, 0.5, 0.95])
def test_it_reaches_a_degree_when_the_closed_form_says(material: CureKinetics, temp_c: float, degree: float) -> None:
    """Constant temperature, no glass limit: the rate law integrated by partial fractions. To 1e-6 of a degree."""
    hours = closed_form_hours(material, temp_c, degree)
    found = degrees_of_cure(material, np.array([0.0, hours]), np.full(2, temp_c), start_degree=0.0)
    assert found[-1] == pytest.approx(degree, abs=1e-6)


def test_glass_temperature_of_fresh_and_of_full_cure_bound_the_limit() -> None:
    """[DIBENEDETTO1987]: the curve runs from 0 at the glass temperature before cure to 1 at that after full cure."""
    lead_k = ILLUSTRATIVE_GLASS.lead_k
    assert limiting_degree(ILLUSTRATIVE_GLASS, ILLUSTRATIVE_GLASS.uncured_c - lead_k) == pytest.approx(0.0)
    assert limiting_degree(ILLUSTRATIVE_GLASS, ILLUSTRATIVE_GLASS.cured_c - lead_k) == pytest.approx(1.0)


def test_cure_in_a_cool_shop_stops_short_until_it_is_warmed() -> None:
    """0.75 to 0.9 in a week at 20 to 25 °C, until warmed. Common practice, no source, from memory."""
    at_h, cool = np.arange(0.0, 169.0, 6.0), np.full(29, 22.0)
    cool_end = degrees_of_cure(ILLUSTRATIVE_EPOXY, at_h, cool, start_degree=0.0)[-1]
    warm_end = degrees_of_cure(ILLUSTRATIVE_EPOXY, at_h, cool + 40, start_degree=float(cool_end))[-1]
    assert 0.75 <= cool_end <= 0.9
    assert warm_end > 0.97


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(-25.0, 45.0), min_size=2, max_size=6), st.floats(0.0, 1.0))
def test_cure_never_goes_back_nor_beyond_one(temps: list[float], start: float) -> None:
    """Hourly, to 45 °C: 2100 steps an hour at most there; a rise of 50 K in six hours is refused, see its wording."""
    at_h = np.arange(len(temps), dtype=np.float64)
    found = degrees_of_cure(ILLUSTRATIVE_EPOXY, at_h, np.array(temps), start_degree=start)
    assert (np.diff(found) >= 0).all()
    assert found.max() <= 1.0


@settings(max_examples=12, deadline=None)
@given(st.floats(-20.0, 60.0), st.floats(0.5, 20.0))
def test_warmer_grout_is_ahead(temp_c: float, warmer_k: float) -> None:
    at_h = np.arange(0.0, 30.0, 3.0)
    both = np.array([np.full(10, temp_c), np.full(10, temp_c + warmer_k)])
    cool, warm = degrees_of_cure(ILLUSTRATIVE_EPOXY, at_h, both, start_degree=0.0)
    assert (warm[1:] > cool[1:]).all()


def test_a_batch_is_its_single_cases_and_readings_in_between_change_nothing() -> None:
    at_h = np.array([0.0, 4.0, 10.0])
    batch = np.array([[10.0, 20.0, 20.0], [30.0, 30.0, 15.0]])
    together = degrees_of_cure(ILLUSTRATIVE_EPOXY, at_h, batch, start_degree=0.0)
    for row, temps in zip(together, batch, strict=True):
        finer_h = np.linspace(0, 10, 11)
        alone = degrees_of_cure(ILLUSTRATIVE_EPOXY, finer_h, np.interp(finer_h, at_h, temps), start_degree=0.0)
        assert row[-1] == pytest.approx(alone[-1], abs=1e-7)


def test_the_rate_is_the_law_written_out_by_hand() -> None:
    degree, temp_c = np.array([0.0, 0.3, 0.8, 1.0]), np.array([5.0, 23.0, 23.0, 60.0])
    expected = [rate_by_hand(ILLUSTRATIVE_EPOXY, a, t) for a, t in zip(degree, temp_c, strict=True)]
    assert rates_per_h(ILLUSTRATIVE_EPOXY, degree, temp_c) == pytest.approx(expected, rel=1e-12)
    assert rates_per_h(FREE, np.zeros(1), np.full(1, 23.0))[0] == pytest.approx(FREE.first_rate_per_h)


@pytest.mark.parametrize("temp_c", [-30.5, 250.5, math.nan])
def test_a_temperature_outside_the_model_is_refused(temp_c: float) -> None:
    with pytest.raises(OutOfRange, match="resin temperature"):
        rate_constants_per_h(ILLUSTRATIVE_EPOXY, temp_c)
    with pytest.raises(OutOfRange, match="resin temperature"):
        limiting_degree(ILLUSTRATIVE_GLASS, temp_c)
    with pytest.raises(OutOfRange, match="resin temperature"):
        degrees_of_cure(ILLUSTRATIVE_EPOXY, np.array([0.0, 1.0]), np.array([20.0, temp_c]), start_degree=0.0)


@pytest.mark.parametrize("degree", [-0.01, 1.01, math.nan])
def test_a_degree_of_cure_outside_its_range_is_refused(degree: float) -> None:
    with pytest.raises(OutOfRange, match="degree of cure"):
        rates_per_h(ILLUSTRATIVE_EPOXY, np.array([degree]), np.array([20.0]))
    with pytest.raises(OutOfRange, match="degree of cure"):
        closed_form_hours(FREE, 20.0, degree)
    with pytest.raises(OutOfRange, match="degree of cure at the start"):
        degrees_of_cure(FREE, np.array([0.0, 1.0]), np.full(2, 20.0), start_degree=degree)


def test_there_is_no_closed_form_with_a_glass_limit_nor_for_full_cure() -> None:
    with pytest.raises(Unusable, match="closed form"):
        closed_form_hours(ILLUSTRATIVE_EPOXY, 20.0, 0.5)
    with pytest.raises(OutOfRange):
        closed_form_hours(FREE, 20.0, 1.0)


@pytest.mark.parametrize("at_h", [[0.0, 2.0, 1.0], [0.0, 1.0, 1.0], [0.0, 1.0], [0.0]])
def test_times_that_do_not_grow_or_do_not_match_are_refused(at_h: list[float]) -> None:
    temps = np.full(1 if len(at_h) == 1 else 3, 20.0)
    with pytest.raises(Unusable, match="history of temperature"):
        degrees_of_cure(ILLUSTRATIVE_EPOXY, np.array(at_h), temps, start_degree=0.0)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("first_rate_per_h", 0.0),
        ("second_rate_per_h", -1.0),
        ("first_activation_kj_mol", 5.0),
        ("second_activation_kj_mol", 200.0),
        ("reference_c", 150.0),
        ("heat_kj_kg", 10.0),
    ],
)
def test_impossible_kinetics_are_refused(field: str, value: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        CureKinetics(**{**vars(ILLUSTRATIVE_EPOXY), field: value})
    assert refusal.value.value == value


@pytest.mark.parametrize(
    ("field", "value"),
    [("uncured_c", 30.0), ("cured_c", -15.0), ("shape", 0.0), ("lead_k", -1.0), ("steepness", 0.5)],
)
def test_impossible_glass_is_refused(field: str, value: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        GlassLimit(**{**vars(ILLUSTRATIVE_GLASS), field: value})
    assert refusal.value.value == value


def test_sources_are_known_and_examples_come_out_as_printed() -> None:
    assert {ILLUSTRATIVE_EPOXY.source, ILLUSTRATIVE_GLASS.source} <= set(sources())
    outcome = doctest.testmod(kinetics)
    assert (outcome.attempted > 0, outcome.failed) == (True, 0)
