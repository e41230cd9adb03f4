"""Bags and pails in a store: published bodies, table values, and finite differences written here."""

import doctest
import math
from dataclasses import dataclass, replace
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs.engineering import preconditioning, series
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.materials import Solid
from groutjobs.engineering.preconditioning import (
    STORED,
    Brick,
    Pail,
    Stored,
    conditioning_findings,
    hours_in_store,
    lumped_time_constant_s,
    stored_temperatures,
)
from groutjobs.engineering.series import cylinder_series, wall_face_ratio, wall_series
from groutjobs.errors import OutOfRange
from groutjobs.findings import Level
from groutjobs.sources import sources
from tests.golden import golden_cases

TEMPS = (2.0, 21.0, 16.0)
"""Material, store and wanted temperature of the usual cold-weather case."""


def solid_of(case: dict[str, Any]) -> Solid:
    return Solid(
        conductivity_w_mk=case["conductivity_w_mk"],
        density_kg_m3=case["density_kg_m3"],
        specific_heat_j_kgk=case["specific_heat_j_kgk"],
        source="INCROPERA",
    )


@pytest.mark.parametrize("case", golden_cases("preconditioning", "lumped"))
def test_small_bead_follows_the_published_example(case: dict[str, Any]) -> None:
    constant_s = lumped_time_constant_s(solid_of(case), case["diameter_m"] / 6, case["film_w_m2k"])
    left = (case["wanted_c"] - case["fluid_c"]) / (case["start_c"] - case["fluid_c"])
    assert constant_s == pytest.approx(case["expected_constant_s"], abs=case["tolerance_constant_s"])
    assert -constant_s * math.log(left) == pytest.approx(case["expected_s"], abs=case["tolerance_s"])


@pytest.mark.parametrize("case", golden_cases("preconditioning", "wall"))
def test_pipe_wall_follows_the_published_example(case: dict[str, Any]) -> None:
    solid, thickness_m, film = solid_of(case), case["thickness_m"], case["film_w_m2k"]
    wall = wall_series(film * thickness_m / solid.conductivity_w_mk)
    fourier = solid.diffusivity_m2_s * case["seconds"] / thickness_m**2
    difference_k = case["start_c"] - case["fluid_c"]
    face_c = case["fluid_c"] + difference_k * wall_face_ratio(wall, fourier)
    stored_j_m2 = solid.heat_capacity_j_m3k * thickness_m * difference_k * (1 - wall.mean_ratio(fourier))
    back_c = case["fluid_c"] + difference_k * wall.middle_ratio(fourier)
    assert back_c == pytest.approx(case["expected_back_c"], abs=case["tolerance_c"])
    assert face_c == pytest.approx(case["expected_face_c"], abs=case["tolerance_c"])
    flux = film * (face_c - case["fluid_c"])
    assert flux == pytest.approx(case["expected_flux_w_m2"], abs=case["tolerance_flux_w_m2"])
    heat_j_m = stored_j_m2 * math.pi * case["diameter_m"]
    assert heat_j_m == pytest.approx(case["expected_heat_j_m"], abs=case["tolerance_heat_j_m"])


@pytest.mark.parametrize("case", golden_cases("preconditioning", "roots"))
def test_first_roots_and_weights_are_those_of_the_table(case: dict[str, Any]) -> None:
    walls, cylinders = [wall_series(x) for x in case["biot"]], [cylinder_series(x) for x in case["biot"]]
    assert [x.roots[0] for x in walls] == pytest.approx(case["wall_root"], abs=case["tolerance"])
    assert [x.middle[0] for x in walls] == pytest.approx(case["wall_weight"], abs=case["tolerance"])
    assert [x.roots[0] for x in cylinders] == pytest.approx(case["cylinder_root"], abs=case["tolerance"])
    assert [x.middle[0] for x in cylinders] == pytest.approx(case["cylinder_weight"], abs=case["tolerance"])


@dataclass(frozen=True)
class Axis:
    """One axis, index 0 at the middle: capacity over step, links between cells, link of the last cell to the air."""

    capacity: Floats
    links: Floats
    rim: float


def stepped(cell: Floats, axes: list[Axis], steps: int) -> Floats:
    """Explicit finite differences of the share left, air at 0. [INCROPERA] 5.10.1"""
    for _ in range(steps):
        change = np.zeros_like(cell)
        for number, axis in enumerate(axes):
            view = np.moveaxis(cell, number, -1)
            moved, flow = np.zeros_like(view), axis.links * np.diff(view)
            moved[..., :-1] += flow
            moved[..., 1:] -= flow
            moved[..., -1] -= axis.rim * view[..., -1]
            change += np.moveaxis(moved / axis.capacity, -1, number)
        cell = cell + change
    return cell


def along_wall(half_m: float, stored: Stored, step_s: float, n: int) -> Axis:
    size, k = half_m / n, stored.solid.conductivity_w_mk
    capacity = np.full(n, stored.solid.density_kg_m3 * stored.solid.specific_heat_j_kgk * size / step_s)
    return Axis(capacity, np.full(n - 1, k / size), 1 / (1 / stored.film_w_m2k + size / 2 / k))


def along_radius(radius_m: float, stored: Stored, step_s: float, n: int) -> Axis:
    size, k = radius_m / n, stored.solid.conductivity_w_mk
    edges: Floats = np.linspace(0.0, radius_m, n + 1)
    heat = stored.solid.density_kg_m3 * stored.solid.specific_heat_j_kgk / step_s
    rim = radius_m / (1 / stored.film_w_m2k + size / 2 / k)
    return Axis(heat * (edges[1:] ** 2 - edges[:-1] ** 2) / 2, k * edges[1:-1] / size, rim)


def expect_agreement(stored: Stored, cell: Floats, weights: Floats, hours: float) -> None:
    found = stored_temperatures(stored, 1.0, 0.0, np.array([hours]))
    assert found.mean_c[0] == pytest.approx(float((cell * weights).sum() / weights.sum()), abs=0.005)
    assert found.core_c[0] == pytest.approx(float(cell.flat[0]), abs=0.008)


@pytest.mark.parametrize("hours", [10.0, 40.0, 90.0])
def test_pallet_agrees_with_finite_differences_in_three_dimensions(hours: float) -> None:
    """Twelve cells to a half side: 0.5 % for the mean, 0.8 % for the core, which is read half a cell off."""
    stored = STORED["pallet_wrapped"]
    halves = [0.6, 0.5, 0.45]
    steps = round(hours * 12)
    axes = [along_wall(half, stored, 300.0, 12) for half in halves]
    cell = stepped(np.ones((12, 12, 12)), axes, steps)
    expect_agreement(stored, cell, np.ones_like(cell), hours)


@pytest.mark.parametrize("hours", [3.0, 10.0, 25.0])
def test_pail_agrees_with_finite_differences_in_radius_and_height(hours: float) -> None:
    stored = STORED["pail_20_l"]
    steps = round(hours * 60)
    axes = [along_radius(0.1425, stored, 60.0, 16), along_wall(0.17, stored, 60.0, 16)]
    cell = stepped(np.ones((16, 16)), axes, steps)
    rings = np.repeat((2 * np.arange(16) + 1.0)[:, None], 16, axis=1)
    expect_agreement(stored, cell, rings, hours)


@pytest.mark.parametrize(
    ("key", "mean_h", "core_h"),
    [
        ("pallet_wrapped", 43.0, 88.0),
        ("pallet_opened", None, 8.0),
        ("bag", None, 6.0),
        ("pail_20_l", None, 21.0),
        ("pail_5_l", None, 9.0),
    ],
)
def test_usual_packages_take_what_a_first_program_of_ours_found(key: str, mean_h: float | None, core_h: float) -> None:
    """Regression against our own earlier numbers, 2 to 16 °C in a store of 21 °C; proves nothing. Within 12 %."""
    found = hours_in_store(STORED[key], *TEMPS)
    assert found.core_h == pytest.approx(core_h, rel=0.12)
    if mean_h is not None:
        assert found.mean_h == pytest.approx(mean_h, rel=0.05)


def test_a_lumped_pallet_would_promise_a_third_of_the_mean_and_is_refused() -> None:
    """By hand: volume over surface 0.17 m, 1.344e6 J/m³K, 6 W/m²K and ln(19/5) make 14 h where the mean takes 43 h."""
    stored = STORED["pallet_wrapped"]
    lumped_h = stored.solid.heat_capacity_j_m3k * 0.17 / stored.film_w_m2k / 3600 * math.log(19 / 5)
    assert lumped_h < hours_in_store(stored, *TEMPS).mean_h / 2.5
    with pytest.raises(OutOfRange, match=r"Biot number of a lumped body 2\.68"):
        lumped_time_constant_s(stored.solid, 0.17, stored.film_w_m2k)


@given(st.floats(1e-3, 1e4), st.floats(0.0, 5.0), st.floats(1e-3, 1.0))
def test_what_is_left_falls_with_time_and_the_core_lags_the_mean(biot: float, fourier: float, more: float) -> None:
    for found in (wall_series(biot), cylinder_series(biot)):
        assert found.mean_ratio(fourier) <= found.middle_ratio(fourier) + 1e-9 or fourier < 3e-4
        assert found.mean_ratio(fourier + more) < found.mean_ratio(fourier) + 1e-12
        assert 0.0 <= found.mean_ratio(fourier) <= 1.0


@given(st.floats(1e-3, 1e4))
def test_a_series_begins_at_one(biot: float) -> None:
    for found in (wall_series(biot), cylinder_series(biot)):
        assert found.middle_ratio(3e-4) == pytest.approx(1.0, abs=1e-6)
        assert found.mean_ratio(0.0) == found.middle_ratio(0.0) == 1.0


@given(st.floats(1e-4, 1e-2))
def test_a_small_biot_number_is_a_lumped_body(biot: float) -> None:
    """[INCROPERA] 5.1: exp(-Biot · Fourier) for a wall, twice that for a cylinder; within Biot/3 of a time constant."""
    wall, cylinder = wall_series(biot).mean_ratio(1 / biot), cylinder_series(biot).mean_ratio(0.5 / biot)
    assert [wall, cylinder] == pytest.approx([math.exp(-1)] * 2, abs=biot / 3)


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(sorted(STORED)), st.floats(-10.0, 15.0), st.floats(20.0, 45.0), st.floats(0.1, 0.9))
def test_the_hours_found_bring_the_material_to_the_wanted_temperature(
    key: str, start_c: float, store_c: float, share: float
) -> None:
    wanted_c = start_c + share * (store_c - start_c)
    found = hours_in_store(STORED[key], start_c, store_c, wanted_c)
    at = stored_temperatures(STORED[key], start_c, store_c, np.array([found.mean_h, found.core_h]))
    assert [at.mean_c[0], at.core_c[1]] == pytest.approx([wanted_c] * 2, abs=1e-4)
    assert found.mean_h < found.core_h
    mirrored = hours_in_store(STORED[key], store_c, start_c, store_c + start_c - wanted_c)
    assert mirrored.core_h == pytest.approx(found.core_h, abs=1e-4)


def test_sides_of_a_stack_may_change_places_and_a_flat_stack_is_a_wall() -> None:
    stored = STORED["bag"]
    turned = replace(stored, shape=Brick(length_mm=120.0, width_mm=600.0, height_mm=400.0))
    assert hours_in_store(turned, *TEMPS).core_h == pytest.approx(hours_in_store(stored, *TEMPS).core_h)
    flat = replace(stored, shape=Brick(length_mm=3000.0, width_mm=3000.0, height_mm=100.0))
    wall = wall_series(stored.film_w_m2k * 0.05 / stored.solid.conductivity_w_mk)
    fourier = stored.solid.diffusivity_m2_s * 3 * 3600 / 0.05**2
    found = stored_temperatures(flat, 1.0, 0.0, np.array([3.0]))
    assert found.core_c[0] == pytest.approx(wall.middle_ratio(fourier), abs=1e-6)


def test_material_already_at_the_wanted_temperature_needs_no_time() -> None:
    found = hours_in_store(STORED["bag"], 16.0, 21.0, 16.0)
    assert (found.mean_h, found.core_h) == (0.0, 0.0)


def test_a_late_pallet_gives_a_warning_that_says_to_open_it() -> None:
    (late,) = conditioning_findings(STORED["pallet_wrapped"], *TEMPS, hours_left=40.0)
    assert (late.level, late.code) == (Level.WARNING, "conditioning_late")
    assert "87 h for the core and 43 h for the mean; there it has 40 h" in late.message
    assert late.hint.startswith("Open the stack")
    assert late.margin == pytest.approx(-47.0, abs=1.0)


def test_a_pallet_whose_mean_alone_is_in_time_is_late() -> None:
    (late,) = conditioning_findings(STORED["pallet_wrapped"], *TEMPS, hours_left=60.0)
    assert late.level is Level.WARNING


def test_an_opened_pallet_in_time_gives_a_note_that_asks_for_a_core_reading() -> None:
    (note,) = conditioning_findings(STORED["pallet_opened"], *TEMPS, hours_left=40.0)
    assert (note.level, note.code) == (Level.NOTE, "conditioning_in_time")
    assert note.hint.startswith("Read the core")
    assert note.margin is not None
    assert note.margin > 30


@pytest.mark.parametrize(
    ("start_c", "store_c", "wanted_c"),
    [
        (2.0, 21.0, 21.0),
        (2.0, 21.0, 25.0),
        (2.0, 21.0, 1.0),
        (35.0, 20.0, 20.0),
        (35.0, 20.0, 36.0),
        (-41.0, 20.0, 10.0),
        (2.0, 81.0, 10.0),
        (2.0, 21.0, math.nan),
    ],
)
def test_a_temperature_that_cannot_be_reached_is_refused(start_c: float, store_c: float, wanted_c: float) -> None:
    with pytest.raises(OutOfRange, match=r"temperature|wanted"):
        hours_in_store(STORED["bag"], start_c, store_c, wanted_c)


def test_a_stack_that_takes_more_than_months_is_refused() -> None:
    huge = replace(STORED["bag"], shape=Brick(length_mm=3000.0, width_mm=3000.0, height_mm=3000.0), film_w_m2k=0.1)
    with pytest.raises(OutOfRange, match="share left in 5000 h"):
        hours_in_store(huge, 2.0, 21.0, 20.9)


@pytest.mark.parametrize("biot", [0.0, -1.0, 1e7, math.nan])
def test_an_impossible_biot_number_is_refused(biot: float) -> None:
    with pytest.raises(OutOfRange, match="Biot number"):
        wall_series(biot)
    with pytest.raises(OutOfRange, match="Biot number"):
        cylinder_series(biot)


def test_other_impossible_inputs_are_refused() -> None:
    with pytest.raises(OutOfRange, match="Fourier number"):
        wall_series(1.0).middle_ratio(-0.1)
    with pytest.raises(OutOfRange, match="time in the store"):
        stored_temperatures(STORED["bag"], 2.0, 21.0, np.array([-1.0]))
    with pytest.raises(OutOfRange, match="hours left"):
        conditioning_findings(STORED["bag"], *TEMPS, hours_left=-1.0)
    with pytest.raises(OutOfRange, match="diameter of the pail"):
        Pail(diameter_mm=0.0, height_mm=300.0)
    with pytest.raises(OutOfRange, match="height of the stack"):
        Brick(length_mm=300.0, width_mm=300.0, height_mm=10.0)
    with pytest.raises(OutOfRange, match="film around the material"):
        replace(STORED["bag"], film_w_m2k=0.0)
    with pytest.raises(OutOfRange, match="volume over surface"):
        lumped_time_constant_s(STORED["bag"].solid, 0.0, 5.0)


def test_sources_of_the_packages_are_known() -> None:
    used = {source for stored in STORED.values() for source in (stored.source, stored.solid.source)}
    assert used <= set(sources())


@pytest.mark.parametrize("module", [preconditioning, series])
def test_docstring_examples_come_out_as_printed(module: ModuleType) -> None:
    outcome = doctest.testmod(module)
    assert (outcome.attempted > 0, outcome.failed) == (True, 0)
