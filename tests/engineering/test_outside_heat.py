"""Conduction against exact functions and a general solver, over the depths, films and weather of the job."""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import erfc, erfcx, j0, j1, jn_zeros

from groutjobs.engineering import heat, materials
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.conduction import Cells, Column, Stepper, graded_cells_m
from groutjobs.engineering.heat import AnnualStart, Layers, Surroundings, Underside
from groutjobs.engineering.materials import Solid
from groutjobs.engineering.series import cylinder_series, wall_series
from groutjobs.engineering.sky import Exposure, HourlyAir, gap_conductance_w_m2k
from tests.engineering.test_heat import typical_year

BOLTZMANN_W_M2K4 = 5.670374419e-8
PLATE_CELLS = 3
SPANS_S = [900.0, 6 * 3600.0, 86400.0, 30 * 86400.0]
MATERIALS = [materials.concrete(), materials.steel(), materials.grout("epoxy"), materials.soil()]


def run_half_space(solid: Solid, span_s: float, film_w_m2k: float, beyond_c: float) -> tuple[Floats, Floats]:
    """Temperatures and depths, in units of the square root of diffusivity times time, after 1500 steps from 0 °C."""
    root_m = math.sqrt(solid.diffusivity_m2_s * span_s)
    column = Column([Cells(solid, graded_cells_m(10 * root_m, root_m / 60, 1.03))])
    stepper = Stepper(column, span_s / 1500, 1)
    films, beyond = np.full((1500, 1), film_w_m2k), np.full((1500, 1), beyond_c)
    cell_c = stepper.run(np.zeros((1, len(column.depth_m))), films, beyond, np.zeros(1))[0]
    return cell_c, column.depth_m / root_m


@pytest.mark.parametrize("span_s", SPANS_S)
@pytest.mark.parametrize("solid", MATERIALS)
def test_a_fixed_surface_warms_a_half_space_by_the_error_function(solid: Solid, span_s: float) -> None:
    """Reference: scipy.special. Range: four materials, a quarter of an hour to 30 days, all depths to 5 √(αt).
    Tolerance: 0.05 % of the step, for cells of 1/60 of √(αt) and 1500 backward steps."""
    cell_c, depth = run_half_space(solid, span_s, 1e9, 1.0)
    near = depth < 5.0
    assert cell_c[near] == pytest.approx(erfc(depth[near] / 2), abs=0.0005)


@pytest.mark.parametrize("span_s", SPANS_S)
@pytest.mark.parametrize("solid", MATERIALS)
def test_a_fixed_flux_warms_a_half_space_by_its_integral(solid: Solid, span_s: float) -> None:
    """Reference: scipy.special. Range: as for the fixed surface; in units of flux · √(αt) / k, where the surface
    has 1.13. Tolerance: 0.05 % of the surface, for cells and steps."""
    film = 1e-6
    per_flux = math.sqrt(solid.diffusivity_m2_s * span_s) / solid.conductivity_w_mk
    cell_c, depth = run_half_space(solid, span_s, film, 100.0 / film)
    exact = 2 / math.sqrt(math.pi) * np.exp(-(depth**2) / 4) - depth * erfc(depth / 2)
    near = depth < 5.0
    assert cell_c[near] / (100.0 * per_flux) == pytest.approx(exact[near], abs=0.0005)


@pytest.mark.parametrize("film_w_m2k", [2.5, 8.0, 25.0, 100.0])
@pytest.mark.parametrize("span_s", SPANS_S)
@pytest.mark.parametrize("solid", MATERIALS[:2])
def test_a_film_warms_a_half_space_by_the_exact_solution(solid: Solid, span_s: float, film_w_m2k: float) -> None:
    """Reference: scipy.special. Range: concrete and steel, a quarter of an hour to 30 days, films of still air to
    storm. Tolerance: 0.05 % of the step, for cells and steps. [CARSLAW] 2.7 with the scaled complement, which
    never overflows."""
    cell_c, depth = run_half_space(solid, span_s, film_w_m2k, 1.0)
    reach = film_w_m2k * math.sqrt(solid.diffusivity_m2_s * span_s) / solid.conductivity_w_mk
    exact = erfc(depth / 2) - np.exp(-(depth**2) / 4) * erfcx(depth / 2 + reach)
    near = depth < 5.0
    assert cell_c[near] == pytest.approx(exact[near], abs=0.0005)


@pytest.mark.parametrize("biot", np.geomspace(1e-3, 1e5, 17).tolist())
def test_roots_of_the_series_are_those_of_a_general_root_finder(biot: float) -> None:
    """Reference: scipy.optimize. Range: Biot numbers 0.001 to 100 000, all 80 roots of wall and cylinder.
    Tolerance: 1e-9 of an interval of about 3; both halve or interpolate to the end of double precision."""
    wall, cylinder = wall_series(biot), cylinder_series(biot)
    ends = np.arange(81) * math.pi
    walls = [brentq(lambda x: x * math.sin(x) - biot * math.cos(x), a + 1e-12, a + math.pi / 2) for a in ends[:80]]
    brackets = zip([1e-12, *jn_zeros(1, 79)], jn_zeros(0, 80), strict=True)
    cylinders = [brentq(lambda x: x * j1(x) - biot * j0(x), low, high) for low, high in brackets]
    assert wall.roots == pytest.approx(walls, abs=3e-9)
    assert cylinder.roots == pytest.approx(cylinders, abs=3e-9)


@dataclass(frozen=True)
class Block:
    """A column for the general solver, cells built here: thickness, heat capacity and half-cell conductance."""

    thick: Floats
    capacity: Floats
    half: Floats
    gap_w_m2k: float | None


def block_of(layers: Layers, mean_c: float) -> Block:
    concrete = graded_cells_m(layers.concrete_mm / 1000, 0.004, 1.12)
    ground = graded_cells_m(2.0, 0.05, 1.2)
    parts: list[tuple[Solid, Floats]] = [(layers.concrete, concrete), (materials.soil(), ground)]
    gap = None
    if layers.plate is not None and layers.plate_mm is not None and layers.gap_mm is not None:
        parts.insert(0, (layers.plate, np.full(PLATE_CELLS, layers.plate_mm / 1000 / PLATE_CELLS)))
        gap = gap_conductance_w_m2k(layers.gap_mm, mean_c, layers.plate.emissivity, layers.concrete.emissivity)
    thick = np.concatenate([sizes for _, sizes in parts])
    capacity = np.concatenate([sizes * solid.density_kg_m3 * solid.specific_heat_j_kgk for solid, sizes in parts])
    half = np.concatenate([2 * solid.conductivity_w_mk / sizes for solid, sizes in parts])
    return Block(thick, capacity, half, gap)


@dataclass(frozen=True)
class Sky:
    """What a surface meets, written again from ISO6946, LI2017 and WALTON1983; straight lines between the hours.

    Rows of `hourly`: air in °C, sun taken up in W/m², film in W/m²·K, fourth power of what it sees in K⁴.
    """

    hourly: Floats
    emissivity: float

    def at(self, hour: float) -> Floats:
        before = min(int(hour), self.hourly.shape[1] - 2)
        share = hour - before
        row: Floats = self.hourly[:, before] * (1 - share) + self.hourly[:, before + 1] * share
        return row

    def surface_c(self, hour: float, half_w_m2k: float, cell_c: float) -> float:
        """Temperature at which what comes in from outside goes on into the cell, by Newton's rule."""
        air_c, sun_w_m2, film, seen_k4 = (float(value) for value in self.at(hour))
        surface_c = cell_c
        for _ in range(6):
            kelvin = surface_c + 273.15
            gain = film * (air_c - surface_c) + sun_w_m2 + self.emissivity * BOLTZMANN_W_M2K4 * (seen_k4 - kelvin**4)
            fall = film + half_w_m2k + 4 * self.emissivity * BOLTZMANN_W_M2K4 * kelvin**3
            surface_c += (gain - half_w_m2k * (surface_c - cell_c)) / fall
        return surface_c


def sky_of(air: HourlyAir, layers: Layers, exposure: Exposure) -> Sky:
    sun, sky, wind = {"indoors": (0.0, 0.0, 0.0), "sheltered": (0.0, 0.3, 0.35), "open": (1.0, 1.0, 1.0)}[exposure]
    dew, tenths, air_k4 = air.dew_point_c / 100, 10 * air.cloud_ratio, (air.air_c + 273.15) ** 4
    clear = 0.758 + 0.521 * dew + 0.625 * dew**2
    sky_share = np.minimum(1.0, clear * (1 + 0.0224 * tenths - 0.0035 * tenths**2 + 0.00028 * tenths**3))
    film = 4 + 4 * 0.66 * wind * air.wind_km_h / 3.6
    if exposure is Exposure.INDOORS:
        film = np.full_like(film, 2.5)
    taken_up = layers.top.absorptance * sun * air.solar_w_m2
    rows = np.stack([air.air_c, taken_up, film, sky * sky_share * air_k4 + (1 - sky) * air_k4])
    return Sky(rows, layers.top.emissivity)


def by_scipy(layers: Layers, air: HourlyAir, exposure: Exposure, start_c: float) -> Floats:
    """Plate, where there is one, and concrete surface at each hour, shape (n_hours + 1, 2), by a stiff solver."""
    block, sky = block_of(layers, float(air.air_c.mean())), sky_of(air, layers, exposure)
    resistance = 1 / block.half[:-1] + 1 / block.half[1:]
    if block.gap_w_m2k is not None:
        resistance[PLATE_CELLS - 1] += 1 / block.gap_w_m2k
    bottom, half = 1 / (1 / 1000.0 + 1 / block.half[-1]), float(block.half[0])

    def slope(hour: float, cell_c: Floats) -> Floats:
        top = half * (sky.surface_c(hour, half, float(cell_c[0])) - cell_c[0])
        flow = np.concatenate([[top], -np.diff(cell_c) / resistance, [bottom * (cell_c[-1] - start_c)]])
        return np.asarray(3600 * (flow[:-1] - flow[1:]) / block.capacity)

    at_h = np.arange(air.n_hours + 1.0)
    answer = solve_ivp(
        slope, (0.0, at_h[-1]), np.full(len(block.thick), start_c), method="LSODA", t_eval=at_h, lband=1, uband=1,
        max_step=0.5, rtol=1e-6, atol=1e-5,
    )  # fmt: skip
    cells = answer.y.T
    if block.gap_w_m2k is None:
        faces = [sky.surface_c(float(hour), half, float(row[0])) for hour, row in zip(at_h, cells, strict=True)]
        return np.column_stack([faces, faces])
    above, below = cells[:, PLATE_CELLS - 1], cells[:, PLATE_CELLS]
    share = 1 / (1 + 1 / (block.half[PLATE_CELLS] * (1 / block.half[PLATE_CELLS - 1] + 1 / block.gap_w_m2k)))
    return np.column_stack([cells[:, :PLATE_CELLS].mean(axis=1), below * share + above * (1 - share)])


PLATED = Layers(concrete=materials.concrete(), concrete_mm=900.0, plate=materials.steel(), plate_mm=25.0, gap_mm=50.0)
BARE = Layers(concrete=materials.concrete(), concrete_mm=900.0)


@pytest.mark.parametrize("day", [10, 100, 190, 280])
@pytest.mark.parametrize("exposure", list(Exposure))
@pytest.mark.parametrize("layers", [PLATED, BARE], ids=["plated", "bare"])
def test_foundation_under_hourly_weather_agrees_with_a_general_solver(
    layers: Layers, exposure: Exposure, day: int
) -> None:
    """Reference: scipy.integrate, stiff, radiation to the fourth power, cells of 4 mm. Range: three days of a
    typical year in each season, three exposures, with and without plate. Tolerance: what the module states of
    its steps of a quarter of an hour: concrete 0.15 K rms and 0.5 K at most, a plate in the open 0.25 K and 1.0
    K, a third of each out of the open; with steps of a minute it is a quarter."""
    air = typical_year(day * 24, 72)
    start_c = float(air.air_c.mean())
    around = Surroundings(exposure=exposure, underside=Underside.GROUND, ground_c=start_c)
    even = AnnualStart(annual_mean_c=start_c, annual_swing_k=0.0, days_after_warmest=0.0)
    found = heat.simulate(layers, air, around, even)
    expected = by_scipy(layers, air, exposure, start_c)
    share = 1.0 if exposure is Exposure.OPEN else 1 / 3
    expect_close(found.concrete_surface_c - expected[:, 1], rms_k=0.15 * share, most_k=0.5 * share)
    if found.plate_c is not None:
        expect_close(found.plate_c - expected[:, 0], rms_k=0.25 * share, most_k=1.0 * share)


def expect_close(difference_k: Floats, *, rms_k: float, most_k: float) -> None:
    assert math.sqrt(float(np.mean(difference_k**2))) < rms_k
    assert np.abs(difference_k).max() < most_k
