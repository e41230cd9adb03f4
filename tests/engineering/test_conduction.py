"""Conduction against published examples and exact solutions. The column is deep enough to count as half of space."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import erf

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.conduction import Cells, Column, Stepper, graded_cells_m
from groutjobs.engineering.materials import Solid
from groutjobs.errors import OutOfRange
from tests.golden import golden_cases

FIXED_W_M2K = 1e7
"""A film so good that it holds the surface at the temperature beyond it."""
FLUX_FILM_W_M2K = 1e-6
"""A film so bad that only the product of film and temperature, a flux, gets through."""


def solid(conductivity_w_mk: float, diffusivity_m2_s: float) -> Solid:
    capacity = conductivity_w_mk / diffusivity_m2_s
    return Solid(
        conductivity_w_mk=conductivity_w_mk, density_kg_m3=1000.0, specific_heat_j_kgk=capacity / 1000, source="SI"
    )


def run(
    column: Column, start_c: float, film_w_m2k: float, equivalent_c: float, seconds: float, steps: int
) -> tuple[Floats, Stepper]:
    stepper = Stepper(column, seconds / steps, 1)
    cell_c = np.full((1, len(column.depth_m)), start_c)
    films = np.full((steps, 1), film_w_m2k)
    return stepper.run(cell_c, films, np.full((steps, 1), equivalent_c), np.zeros(1))[0], stepper


def half_space(case: dict[str, Any], reach_s: float) -> Column:
    material = solid(case["conductivity_w_mk"], case["diffusivity_m2_s"])
    reach_m = math.sqrt(material.diffusivity_m2_s * reach_s)
    return Column([Cells(material, graded_cells_m(10 * reach_m, reach_m / 80, 1.03))])


@pytest.mark.parametrize("case", golden_cases("conduction", "frost_depth"))
def test_depth_of_frost_in_published_examples(case: dict[str, Any]) -> None:
    seconds = case["days"] * 86400.0
    column = half_space(case, seconds)
    cell_c, _ = run(column, case["start_c"], FIXED_W_M2K, case["surface_c"], seconds, 1000)
    found_m = np.interp(case["at_c"], cell_c, column.depth_m)
    assert found_m == pytest.approx(case["expected_m"], abs=case["tolerance_m"])


@pytest.mark.parametrize("case", golden_cases("conduction", "step"))
def test_depth_under_a_surface_of_fixed_temperature(case: dict[str, Any]) -> None:
    column = half_space(case, case["seconds"])
    cell_c, _ = run(column, case["start_c"], FIXED_W_M2K, case["surface_c"], case["seconds"], 1000)
    found_c = np.interp(case["depth_m"], column.depth_m, cell_c)
    assert found_c == pytest.approx(case["expected_c"], abs=case["tolerance_c"])


@pytest.mark.parametrize("case", golden_cases("conduction", "flux"))
def test_temperature_under_a_fixed_flux(case: dict[str, Any]) -> None:
    column = half_space(case, case["seconds"])
    beyond_c = case["flux_w_m2"] / FLUX_FILM_W_M2K
    cell_c, _ = run(column, case["start_c"], FLUX_FILM_W_M2K, beyond_c, case["seconds"], 1000)
    face_c = float(column.top_surface_c(cell_c[:1], np.array([FLUX_FILM_W_M2K]), np.array([case["flux_w_m2"]]))[0])
    found_c = np.interp(case["depth_m"], [0.0, *column.depth_m], [face_c, *cell_c])
    assert found_c == pytest.approx(case["expected_c"], abs=case["tolerance_c"])


@pytest.mark.parametrize("case", golden_cases("conduction", "wall"))
def test_wall_between_a_film_and_insulation(case: dict[str, Any]) -> None:
    material = Solid(
        conductivity_w_mk=case["conductivity_w_mk"],
        density_kg_m3=case["density_kg_m3"],
        specific_heat_j_kgk=case["specific_heat_j_kgk"],
        source="INCROPERA",
    )
    column = Column([Cells(material, np.full(20, case["thickness_m"] / 20))])
    cell_c, _ = run(column, case["start_c"], case["film_w_m2k"], case["fluid_c"], case["seconds"], 480)
    film = np.array([case["film_w_m2k"]])
    face_c = float(column.top_surface_c(cell_c[:1], film, film * case["fluid_c"])[0])
    assert face_c == pytest.approx(case["expected_face_c"], abs=case["tolerance_c"])
    assert cell_c[-1] == pytest.approx(case["expected_back_c"], abs=case["tolerance_c"])


@pytest.mark.parametrize("case", golden_cases("conduction", "swing"))
def test_daily_wave_fades_and_lags_with_depth(case: dict[str, Any]) -> None:
    material = solid(1.4, case["diffusivity_m2_s"])
    column = Column([Cells(material, graded_cells_m(1.5, 0.008, 1.05))])
    stepper = Stepper(column, 900.0, 1)
    hours = np.arange(1, 30 * 96 + 1) / 4
    surface_c = np.cos(2 * np.pi * hours / case["period_h"])
    history, cell_c = [], np.zeros((1, len(column.depth_m)))
    for value in surface_c:
        cell_c = stepper.run(cell_c, np.array([[FIXED_W_M2K]]), np.array([[value]]), np.zeros(1))
        history.append(cell_c[0])
    last_day = np.array(history)[-96:]
    at_depth = np.array([np.interp(case["depth_m"], column.depth_m, row) for row in last_day])
    wave = (at_depth * np.exp(-2j * np.pi * hours[-96:, None] / 24)).mean(axis=0) * 2
    assert np.abs(wave) == pytest.approx(case["expected_amplitude"], abs=case["tolerance_amplitude"])
    assert -np.angle(wave) * 24 / (2 * np.pi) == pytest.approx(case["expected_lag_h"], abs=case["tolerance_lag_h"])


def test_half_space_with_a_film_follows_the_exact_solution() -> None:
    """CARSLAW 2.7, convection at the surface: (T-Ti)/(T∞-Ti) = erfc(x/2√αt) - e^(hx/k + h²αt/k²) erfc(x/2√αt + h√αt/k).

    0.3 % of the step for grid and time step.
    """
    conductivity, diffusivity, film, seconds = 1.4, 7e-7, 20.0, 6 * 3600.0
    column = Column([Cells(solid(conductivity, diffusivity), graded_cells_m(1.5, 0.004, 1.05))])
    cell_c, _ = run(column, 0.0, film, 1.0, seconds, 600)
    root = math.sqrt(diffusivity * seconds)
    ratio = column.depth_m / (2 * root)
    grow = np.exp(film * column.depth_m / conductivity + (film * root / conductivity) ** 2)
    expected = 1 - erf(ratio) - grow * (1 - erf(ratio + film * root / conductivity))
    assert cell_c[:20] == pytest.approx(expected[:20], abs=0.003)


def test_two_layers_and_a_gap_settle_to_resistances_in_series() -> None:
    """Steady state by hand: the flux is the difference over the sum of 1/h, L/k, 1/gap, L/k and 1/h."""
    steel, concrete = solid(60.0, 1.6e-5), solid(1.4, 7e-7)
    column = Column(
        [Cells(steel, np.array([0.03])), Cells(concrete, graded_cells_m(0.3, 0.01, 1.2))],
        gap_w_m2k=5.0,
        bottom_film_w_m2k=8.0,
    )
    cell_c, _ = run(column, 5.0, 10.0, 40.0, 100 * 86400.0, 400)
    flux = 40.0 / (1 / 10 + 0.03 / 60 + 1 / 5 + 0.3 / 1.4 + 1 / 8)
    assert cell_c[0] == pytest.approx(40.0 - flux * (1 / 10 + 0.015 / 60), abs=1e-6)
    assert cell_c[1] == pytest.approx(
        40.0 - flux * (1 / 10 + 0.03 / 60 + 1 / 5 + column.thickness_m[1] / 2.8), abs=1e-6
    )


@given(st.floats(0.5, 50.0), st.floats(-30.0, 60.0), st.floats(-30.0, 60.0))
def test_heat_in_is_heat_stored_and_nothing_overshoots(film: float, start_c: float, air_c: float) -> None:
    column = Column([Cells(solid(1.4, 7e-7), graded_cells_m(1.0, 0.008, 1.25))])
    cell_c, stepper = run(column, start_c, film, air_c, 86400.0, 96)
    first = np.full((1, len(cell_c)), start_c)
    assert stepper.residual_ratio(first, cell_c[None, :], np.zeros(1))[0] == pytest.approx(0, abs=1e-9)
    assert cell_c.min() >= min(start_c, air_c) - 1e-9
    assert cell_c.max() <= max(start_c, air_c) + 1e-9


@given(st.floats(0.05, 5.0), st.floats(0.001, 0.05), st.floats(1.0, 2.0))
def test_cells_add_up_and_grow(depth_m: float, first_m: float, growth: float) -> None:
    cells = graded_cells_m(depth_m, first_m, growth)
    assert cells.sum() == pytest.approx(depth_m)
    assert cells[0] <= first_m * (1 + 1e-9)
    assert cells[1:] / cells[:-1] == pytest.approx(growth)


@pytest.mark.parametrize("inputs", [(0.0, 0.01, 1.2), (1.0, 0.0, 1.2), (1.0, 0.01, 0.9), (math.nan, 0.01, 1.2)])
def test_impossible_cells_are_refused(inputs: tuple[float, float, float]) -> None:
    with pytest.raises(OutOfRange):
        graded_cells_m(*inputs)


def test_a_step_of_no_time_is_refused() -> None:
    column = Column([Cells(solid(1.4, 7e-7), np.array([0.1, 0.1]))])
    with pytest.raises(OutOfRange) as refusal:
        Stepper(column, 0.0, 1)
    assert refusal.value.quantity == "time step"
