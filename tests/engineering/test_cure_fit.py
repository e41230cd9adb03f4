"""The fit of strength curve and activation energy against general-purpose least squares and against known truth."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit
from scipy.stats import chi2

from groutjobs.engineering import cure, cure_fit
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.cure import EPOXY_CLOCK, CureClock
from groutjobs.engineering.cure_fit import EPOXY_PRIOR, ActivationPrior
from groutjobs.engineering.strength import StrengthCurve, StrengthPoint
from groutjobs.errors import GroutJobsError, OutOfRange, Unusable
from groutjobs.sources import sources
from tests.engineering.cures import ONE_TEMPERATURE, PLAIN, THREE_TEMPERATURES, Truth, drawn_truth

NOISY = PLAIN.rows(THREE_TEMPERATURES, np.random.default_rng(3))


def with_row(*values: float) -> list[StrengthPoint]:
    return [*PLAIN.rows(ONE_TEMPERATURE), StrengthPoint(*values)]


@pytest.mark.parametrize("places", [ONE_TEMPERATURE, THREE_TEMPERATURES])
def test_rows_without_scatter_give_back_what_made_them(places: tuple[tuple[float, float], ...]) -> None:
    """The truth stands where it is believed beforehand, so nothing pulls the fit away from it."""
    found = cure_fit.fit_cure(PLAIN.rows(places), EPOXY_CLOCK)
    assert found.mean == pytest.approx(PLAIN.parameters[:4], rel=1e-5, abs=1e-5)
    assert found.curve.scatter_ratio == pytest.approx(0.0, abs=1e-6)
    assert found.row_count == len(places)


def test_many_rows_outweigh_what_was_believed() -> None:
    """Truth more than a spread of the belief off in energy and shape; 44 exact rows leave less than half a spread."""
    truth = Truth(StrengthCurve(95.0, 14.0, 0.6, 0.0), activation_kj_mol=42.0)
    places = tuple((temp_c, age_h) for temp_c in (10.0, 17.0, 23.0, 32.0) for age_h in np.geomspace(6.0, 400.0, 11))
    found = cure_fit.fit_cure(truth.rows(places), EPOXY_CLOCK)
    off = np.abs(found.mean - truth.parameters[:4]) / np.sqrt(np.diag(np.array(found.covariance)))
    assert off.max() < 0.5
    assert found.curve.ultimate_mpa == pytest.approx(95.0, rel=0.02)


def test_the_fit_and_its_covariance_agree_with_a_general_purpose_one() -> None:
    """scipy's curve_fit with its own derivatives; the beliefs stand as two more observations. 0.1 % of a spread."""
    inverse = [1 / (p.temp_c + 273.15) - 1 / 296.15 for p in NOISY]
    ages_h, x = np.array([p.age_h for p in NOISY]), np.array(inverse) / 8.314462618e-3

    def model(_: Floats, ultimate: float, time: float, shape: float, activation: float) -> Floats:
        te_h = ages_h * np.exp(-activation * x)
        return np.append(ultimate - (math.exp(time) / te_h) ** math.exp(shape), [shape, activation])

    seen = np.append(np.log([p.strength_mpa for p in NOISY]), [0.0, 58.0])
    spreads = np.append(np.full(len(NOISY), 0.07), [0.4, 10.0])
    expected, covariance = curve_fit(
        model, np.arange(len(seen)), seen, p0=(4.6, 2.8, 0.1, 50.0), sigma=spreads, absolute_sigma=True, xtol=1e-12
    )
    found = cure_fit.fit_cure(NOISY, EPOXY_CLOCK)
    assert (found.mean - expected) / np.sqrt(np.diag(covariance)) == pytest.approx(np.zeros(4), abs=1e-3)
    assert np.array(found.covariance) == pytest.approx(covariance, rel=2e-3, abs=1e-6)


def test_strength_and_time_solve_the_linear_problem_that_is_left() -> None:
    """With shape and energy held, ln strength is straight in te^-shape: numpy's lstsq must end at the same line."""
    found = cure_fit.fit_cure(NOISY, EPOXY_CLOCK)
    clock = replace(EPOXY_CLOCK, activation_kj_mol=found.activation_kj_mol)
    te_h = np.array([p.age_h * cure.rate_ratio(clock, p.temp_c) for p in NOISY])
    columns = np.column_stack([np.ones(len(NOISY)), -(te_h**-found.curve.shape)])
    line = np.linalg.lstsq(columns, np.log([p.strength_mpa for p in NOISY]), rcond=None)[0]
    assert math.exp(line[0]) == pytest.approx(found.curve.ultimate_mpa, rel=1e-5)
    assert line[1] ** (1 / found.curve.shape) == pytest.approx(found.curve.time_h, rel=1e-5)


def test_the_published_activation_energy_of_cement_is_found_from_its_rates() -> None:
    """FHP1977, from memory: 33.5 kJ/mol from 20 °C up. The rows are made with its rates; the belief is left wide."""
    clock = CureClock(activation_kj_mol=41.6, reference_c=20.0, minimum_c=None, hottest_c=None, source="ASTMC1074")
    rows = [
        StrengthPoint(age_h, temp_c, PLAIN.at(age_h * cure.freiesleben_hansen_pedersen_rate(temp_c)))
        for temp_c in (20.0, 30.0, 40.0)
        for age_h in (12.0, 24.0, 72.0, 168.0)
    ]
    wide = ActivationPrior(mean_kj_mol=41.6, sd_kj_mol=100.0, source="ASTMC1074")
    found = cure_fit.fit_cure(rows, clock, wide)
    assert found.activation_kj_mol == pytest.approx(33.5, abs=0.1)


def test_one_temperature_leaves_the_activation_energy_as_believed_and_says_so() -> None:
    found = cure_fit.fit_cure(PLAIN.rows(tuple((15.0, age_h) for age_h in (24.0, 72.0, 200.0))), EPOXY_CLOCK)
    assert not found.is_activation_fitted
    assert found.activation_kj_mol == pytest.approx(58.0, abs=1e-6)
    assert found.activation_sd_kj_mol == pytest.approx(10.0)
    assert "stays as believed, 58 ± 10 kJ/mol" in found.activation_basis


def test_more_temperatures_tell_the_activation_energy() -> None:
    found = cure_fit.fit_cure(NOISY, EPOXY_CLOCK)
    assert found.is_activation_fitted
    assert found.activation_sd_kj_mol < 6.0
    assert "from rows at 15, 23, 30 °C" in found.activation_basis


@pytest.mark.parametrize("places", [ONE_TEMPERATURE, THREE_TEMPERATURES])
def test_the_truth_lies_inside_the_covariance_as_often_as_it_says(places: tuple[tuple[float, float], ...]) -> None:
    """300 invented products: the 80 % region of four normal numbers holds 80 %; three spreads of the count are 7 %."""
    inside = fitted = 0
    for seed in range(300):
        random = np.random.default_rng([seed, 1])
        truth = drawn_truth(random, 0.3)
        try:
            found = cure_fit.fit_cure(truth.rows(places, random), EPOXY_CLOCK)
        except GroutJobsError:
            continue
        off = truth.parameters[:4] - found.mean
        inside += off @ np.linalg.solve(np.array(found.covariance), off) < chi2.ppf(0.8, 4)
        fitted += 1
    assert fitted > 285
    assert 0.73 < inside / fitted < 0.87


@given(st.permutations(range(len(NOISY))))
def test_the_order_of_the_rows_does_not_matter(order: list[int]) -> None:
    found = cure_fit.fit_cure([NOISY[index] for index in order], EPOXY_CLOCK)
    assert found == cure_fit.fit_cure(NOISY, EPOXY_CLOCK)


@given(st.floats(0.2, 1.5))
def test_stronger_rows_raise_the_ultimate_strength_and_nothing_else(factor: float) -> None:
    before = cure_fit.fit_cure(NOISY, EPOXY_CLOCK)
    stronger = [replace(row, strength_mpa=factor * row.strength_mpa) for row in NOISY]
    after = cure_fit.fit_cure(stronger, EPOXY_CLOCK)
    assert after.mean == pytest.approx(before.mean + np.array([math.log(factor), 0, 0, 0]), rel=1e-4, abs=1e-4)
    assert np.array(after.covariance) == pytest.approx(np.array(before.covariance), rel=1e-2, abs=1e-5)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([], "0 given; three"),
        (PLAIN.rows(ONE_TEMPERATURE[:2]), "2 given; three"),
        ([*PLAIN.rows(ONE_TEMPERATURE[:2]), *PLAIN.rows(ONE_TEMPERATURE[:2])], "4 given; three"),
        (with_row(300.0, 23.0, 60.0), "lower than"),
        (with_row(72.0, 30.0, 50.0), "lower than"),
        (with_row(168.0, 23.0, 160.0), "no curve follows the rows"),
        (PLAIN.rows(((23.0, 24.0), (23.0, 26.0), (23.0, 28.0))), "factor of two"),
        (PLAIN.rows(((23.0, 150.0), (23.0, 160.0), (23.0, 170.0))), "factor of two"),
    ],
)
def test_rows_that_carry_no_fit_are_refused(rows: list[StrengthPoint], words: str) -> None:
    with pytest.raises(Unusable, match=words) as refusal:
        cure_fit.fit_cure(rows, EPOXY_CLOCK)
    assert refusal.value.quantity == "strength rows"


def test_rows_that_ask_for_an_unbelievable_activation_energy_are_refused() -> None:
    truth = replace(PLAIN, activation_kj_mol=120.0)
    with pytest.raises(Unusable) as refusal:
        cure_fit.fit_cure(truth.rows(THREE_TEMPERATURES), EPOXY_CLOCK)
    assert refusal.value.quantity == "activation energy"


def test_a_fall_within_the_scatter_of_tests_is_accepted() -> None:
    found = cure_fit.fit_cure(with_row(170.0, 23.0, PLAIN.at(168.0) * 0.9), EPOXY_CLOCK)
    assert 0.02 < found.curve.scatter_ratio < 0.07


@pytest.mark.parametrize(
    ("row", "quantity"),
    [
        ((0.0, 23.0, 50.0), "age"),
        ((math.nan, 23.0, 50.0), "age"),
        ((24.0, 23.0, 0.0), "strength"),
        ((24.0, 23.0, math.nan), "strength"),
        ((24.0, 23.0, 251.0), "strength"),
        ((24.0, 9.9, 50.0), "temperature"),
        ((24.0, 32.1, 50.0), "temperature"),
    ],
)
def test_a_row_outside_its_limits_is_refused(row: tuple[float, float, float], quantity: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        cure_fit.fit_cure(with_row(*row), EPOXY_CLOCK)
    assert refusal.value.quantity == quantity


@pytest.mark.parametrize(("mean", "sd"), [(9.0, 10.0), (151.0, 10.0), (58.0, 0.0), (58.0, math.nan)])
def test_a_belief_that_cannot_be_is_refused(mean: float, sd: float) -> None:
    with pytest.raises(OutOfRange):
        ActivationPrior(mean_kj_mol=mean, sd_kj_mol=sd, source="GROUTJOBS")


def test_the_source_of_the_belief_is_known() -> None:
    assert EPOXY_PRIOR.source in sources()
