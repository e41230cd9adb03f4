"""Kinetics, equivalent age and strength against general solvers and least squares, over the range of the materials."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit

from groutjobs.engineering import cure, strength
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.cure import EPOXY_CLOCK, CureClock
from groutjobs.engineering.kinetics import ILLUSTRATIVE_EPOXY, CureKinetics, closed_form_hours, degrees_of_cure
from groutjobs.engineering.strength import StrengthCurve, StrengthPoint
from tests.engineering.test_kinetics import by_scipy

FREE = replace(ILLUSTRATIVE_EPOXY, glass=None)
SEEDS = range(12)


@pytest.mark.parametrize("material", [ILLUSTRATIVE_EPOXY, FREE], ids=["glass", "free"])
@pytest.mark.parametrize("temp_c", [-10.0, 0.0, 5.0, 15.0, 25.0, 40.0, 60.0, 90.0])
def test_cure_at_one_temperature_agrees_with_a_general_solver(material: CureKinetics, temp_c: float) -> None:
    """Reference: scipy.integrate, the law written again. Range: -10 to 90 °C, with and without the glass limit,
    four days. Tolerance: a millionth of the degree of cure, what the module states of its steps."""
    at_h = np.array([0.0, 0.5, 2.0, 8.0, 24.0, 96.0])
    temps = np.full(6, temp_c)
    found = degrees_of_cure(material, at_h, temps, start_degree=0.0)
    assert found == pytest.approx(by_scipy(material, at_h, temps), abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_cure_along_any_history_agrees_with_a_general_solver(seed: int) -> None:
    """Reference: scipy.integrate, restarted at each reading. Range: twelve random histories of 1 to 12 h between
    readings, -10 to 80 °C, jumps of up to 60 K. Tolerance: a millionth of the degree of cure, what the module
    states."""
    rng = np.random.default_rng(seed)
    at_h = np.concatenate([[0.0], np.cumsum(rng.uniform(1.0, 12.0, 9))])
    temp_c = rng.uniform(-10.0, 50.0, 10) + (rng.uniform(0.0, 30.0) if seed % 2 else 0.0)
    for material in (ILLUSTRATIVE_EPOXY, FREE):
        found = degrees_of_cure(material, at_h, temp_c, start_degree=0.0)
        assert found == pytest.approx(by_scipy(material, at_h, temp_c), abs=1e-6)


@pytest.mark.parametrize("degree", [0.01, 0.1, 0.3, 0.6, 0.9, 0.99])
@pytest.mark.parametrize("temp_c", [-20.0, 0.0, 20.0, 50.0, 100.0])
def test_the_closed_form_agrees_with_a_general_solver(temp_c: float, degree: float) -> None:
    """Reference: scipy.integrate. Range: -20 to 100 °C, degree 0.01 to 0.99. Tolerance: 1e-7 of the degree; both
    are exact but for the solver's 1e-11."""
    at_h = np.array([0.0, closed_form_hours(FREE, temp_c, degree)])
    assert by_scipy(FREE, at_h, np.full(2, temp_c))[-1] == pytest.approx(degree, abs=1e-7)


@pytest.mark.parametrize("activation_kj_mol", [33.5, 45.0, 58.0, 75.0, 100.0])
@pytest.mark.parametrize("seed", SEEDS)
def test_equivalent_age_agrees_with_a_general_solver(seed: int, activation_kj_mol: float) -> None:
    """Reference: scipy.integrate, restarted at each reading. Range: 33.5 to 100 kJ/mol, four days of hourly
    readings that wander between -5 and 60 °C by up to 5 K an hour. Tolerance: 0.01 %, what the module states of
    10 K in one interval."""
    rng = np.random.default_rng(seed)
    temp_c = np.clip(rng.uniform(0.0, 50.0) + np.cumsum(rng.uniform(-5.0, 5.0, 97)), -5.0, 60.0)
    at_h = np.arange(97.0)
    clock = CureClock(
        activation_kj_mol=activation_kj_mol, reference_c=23.0, minimum_c=None, hottest_c=None, source="ASTMC1074"
    )
    found = cure.equivalent_age_h(at_h, temp_c, clock)
    assert found == pytest.approx(age_by_scipy(at_h, temp_c, activation_kj_mol), rel=1e-4)


def age_by_scipy(at_h: Floats, temp_c: Floats, activation_kj_mol: float) -> Floats:
    ages = [0.0]
    for index in range(1, len(at_h)):
        first_c, rise_k = float(temp_c[index - 1]), float(temp_c[index] - temp_c[index - 1])

        def rate(hour: float, _: Floats, first_c: float = first_c, rise_k: float = rise_k) -> list[float]:
            kelvin = first_c + rise_k * hour + 273.15
            return [math.exp(-activation_kj_mol / 8.314462618e-3 * (1 / kelvin - 1 / 296.15))]

        answer = solve_ivp(rate, (0.0, 1.0), [0.0], method="DOP853", rtol=1e-10, atol=1e-12)
        ages.append(ages[-1] + float(answer.y[0, -1]))
    return np.array(ages)


@pytest.mark.parametrize("seed", range(40))
def test_the_strength_curve_agrees_with_general_least_squares(seed: int) -> None:
    """Reference: scipy.optimize, curve_fit from the truth. Range: forty invented products of 60 to 140 MPa, 8 to
    30 h and shape 0.6 to 1.3, five to eight rows at 12 to 30 °C with 4 % of scatter. Tolerance: 0.1 % of
    strength over the ages of the rows; the minimum is flat along its valley, so numbers differ more."""
    rng = np.random.default_rng(seed)
    truth = StrengthCurve(rng.uniform(60.0, 140.0), rng.uniform(8.0, 30.0), rng.uniform(0.6, 1.3), 0.0)
    temps = rng.uniform(12.0, 30.0, rng.integers(5, 9))
    ages_h = np.geomspace(12.0, 240.0, len(temps)) / [cure.rate_ratio(EPOXY_CLOCK, float(one)) for one in temps]
    te_h = np.geomspace(12.0, 240.0, len(temps))
    mpa = np.array([strength.strength_mpa(truth, float(age)) for age in te_h]) * rng.normal(1.0, 0.04, len(temps))
    rows = [StrengthPoint(float(a), float(t), float(s)) for a, t, s in zip(ages_h, temps, mpa, strict=True)]
    found = strength.fit_strength(rows, EPOXY_CLOCK)

    def law(age_h: Floats, ultimate: float, time: float, shape: float) -> Floats:
        return np.asarray(ultimate * np.exp(-((time / age_h) ** shape)))

    begin = (truth.ultimate_mpa, truth.time_h, truth.shape)
    best, _ = curve_fit(law, te_h, mpa, p0=begin, sigma=mpa, bounds=(0.0, np.inf), xtol=1e-14, ftol=1e-14)
    ours = [strength.strength_mpa(found, float(age)) for age in te_h]
    assert ours == pytest.approx(law(te_h, *best), rel=1e-3)
