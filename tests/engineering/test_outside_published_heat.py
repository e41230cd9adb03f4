"""More published examples of conduction; sources, tolerances and their reasons stand in fixtures/golden."""

import math
from typing import Any

import numpy as np
import pytest

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.conduction import Cells, Column, Stepper, graded_cells_m
from groutjobs.engineering.exotherm import heated_cells_c
from groutjobs.engineering.materials import Solid
from groutjobs.engineering.series import cylinder_series, wall_series
from tests.golden import golden_cases

FIXED_W_M2K = 1e7
"""A film so good that it holds the surface at the temperature beyond it."""
STEPS_A_WAVE = 1600
WAVES = 6


def solid(conductivity_w_mk: float, diffusivity_m2_s: float) -> Solid:
    capacity = conductivity_w_mk / diffusivity_m2_s
    return Solid(
        conductivity_w_mk=conductivity_w_mk, density_kg_m3=1000.0, specific_heat_j_kgk=capacity / 1000, source="SI"
    )


@pytest.mark.parametrize("case", golden_cases("conduction", "damping_depth"))
def test_a_wave_at_the_surface_reaches_as_deep_as_published(case: dict[str, Any]) -> None:
    """The straight line of ln(amplitude) against depth, between half and twice the depth that it gives."""
    period_s = case["period_h"] * 3600.0
    reach_m = math.sqrt(case["diffusivity_m2_s"] * period_s / math.pi)
    column = Column([Cells(solid(1.0, case["diffusivity_m2_s"]), graded_cells_m(8 * reach_m, reach_m / 80, 1.02))])
    stepper = Stepper(column, period_s / STEPS_A_WAVE, 1)
    turns = np.arange(1, WAVES * STEPS_A_WAVE + 1) / STEPS_A_WAVE
    history, cell_c = [], np.zeros((1, len(column.depth_m)))
    for surface_c in np.sin(2 * np.pi * turns):
        cell_c = stepper.run(cell_c, np.array([[FIXED_W_M2K]]), np.array([[surface_c]]), np.zeros(1))
        history.append(cell_c[0])
    wave = np.exp(-2j * np.pi * turns[-STEPS_A_WAVE:])[:, None] * np.array(history[-STEPS_A_WAVE:])
    middle = (column.depth_m > reach_m / 2) & (column.depth_m < 2 * reach_m)
    slope, _ = np.polyfit(column.depth_m[middle], np.log(np.abs(wave.mean(axis=0)))[middle], 1)
    assert -1 / slope == pytest.approx(case["expected_m"], abs=case["tolerance_m"])


def test_every_node_of_the_fuel_element_follows_the_book() -> None:
    (book,) = golden_cases("kinetics", "heat_profile")
    half_m, film = book["half_thickness_m"], np.array([book["film_w_m2k"]])
    slab = solid(book["conductivity_w_mk"], book["diffusivity_m2_s"])
    column = Column([Cells(slab, np.full(100, half_m / 100))])
    face_c = book["fluid_c"] + book["heat_before_w_m3"] * half_m / book["film_w_m2k"]
    curve_k = book["heat_before_w_m3"] / (2 * slab.conductivity_w_mk)
    cell_c = (face_c + curve_k * (half_m**2 - (half_m - column.depth_m) ** 2))[None, :]
    after_s = np.diff(book["seconds"], prepend=0.0)
    for span_s, expected_c in zip(after_s, book["rows_c"], strict=True):
        cell_c = heated_for(column, cell_c, float(span_s), book)
        top_c = column.top_surface_c(cell_c[:, 0], film, film * book["fluid_c"])[0]
        places = [*(half_m - column.depth_m[::-1]), half_m]
        found_c = np.interp(book["depth_from_middle_m"], places, [*cell_c[0, ::-1], top_c])
        assert found_c == pytest.approx(expected_c, abs=book["tolerance_c"])


def heated_for(column: Column, cell_c: Floats, span_s: float, book: dict[str, Any]) -> Floats:
    if span_s == 0.0:
        return cell_c
    steps = max(40, round(span_s * 10))
    stepper = Stepper(column, span_s / steps, 1)
    heat = (book["heat_after_w_m3"] * column.thickness_m * stepper.step_s)[None, :]
    for _ in range(steps):
        cell_c = heated_cells_c(stepper, cell_c, heat, np.array([book["film_w_m2k"]]), np.array([book["fluid_c"]]))
    return cell_c


@pytest.mark.parametrize("case", golden_cases("preconditioning", "six_roots"))
def test_six_roots_are_those_of_the_table(case: dict[str, Any]) -> None:
    series = {"wall": wall_series, "cylinder": cylinder_series}[case["shape"]]
    for biot, roots in zip(case["biot"], case["roots"], strict=True):
        assert series(biot).roots[:6] == pytest.approx(roots, abs=case["tolerance"])


def test_a_long_shaft_cools_as_published() -> None:
    (book,) = golden_cases("preconditioning", "shaft")
    radius_m = book["diameter_m"] / 2
    shaft = cylinder_series(book["film_w_m2k"] * radius_m / book["conductivity_w_mk"])
    fourier = book["diffusivity_m2_s"] * book["seconds"] / radius_m**2
    axis_c = book["fluid_c"] + (book["start_c"] - book["fluid_c"]) * shaft.middle_ratio(fourier)
    assert axis_c == pytest.approx(book["expected_axis_c"], abs=book["tolerance_c"])
    assert 1 - shaft.mean_ratio(fourier) == pytest.approx(book["expected_heat_ratio"], abs=book["tolerance_heat_ratio"])
