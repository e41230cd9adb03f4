"""Cells, starts and faces of the column worked out by hand: what stands where, and what is between two cells."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groutjobs.engineering import heat, materials
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.heat import AnnualStart, Layers, MeasuredConcrete, ProfileStart, Surroundings, Underside
from groutjobs.engineering.sky import Exposure, gap_conductance_w_m2k
from tests.engineering.test_heat import BARE, EVEN, OPEN, PLATED, weather

AIR = weather(1)
FREE = replace(OPEN, underside=Underside.FREE)
STONE, STEEL, EPOXY = materials.concrete(), materials.steel(), materials.grout("epoxy")
YEAR_S = 8766 * 3600


def cells_of(layers: Layers, around: Surroundings = OPEN) -> int:
    return int(heat.simulate(layers, AIR, around, EVEN, steps_per_hour=1).cell_c.shape[1])


def grouted(grout_mm: float) -> Layers:
    return Layers(concrete=STONE, concrete_mm=900.0, plate=STEEL, plate_mm=25.0, grout=EPOXY, grout_mm=grout_mm)


def concrete_cells_m(depth_m: float) -> Floats:
    """From 8 mm, each a quarter thicker than the one above, drawn together until they fill the depth."""
    cells = [0.008]
    while sum(cells) < depth_m - 1e-9:
        cells.append(1.25 * cells[-1])
    return np.array(cells) * depth_m / sum(cells)


@pytest.mark.parametrize(("grout_mm", "count"), [(5.0, 4), (40.0, 4), (41.0, 5), (150.0, 15), (600.0, 15)])
def test_grout_has_a_cell_for_each_centimetre_four_to_fifteen(grout_mm: float, count: int) -> None:
    assert cells_of(grouted(grout_mm), FREE) == 1 + count + len(concrete_cells_m(0.9))


def test_a_bare_block_in_the_air_has_the_cells_of_its_concrete_and_one_on_the_ground_those_of_the_soil_too() -> None:
    """Soil: two metres, from half the last cell of the concrete, each half as thick again. By hand for 900 mm: the last
    is 178 mm, so 89, 133, 200, 300, 450 and 675 mm make 1.85 m, and a seventh is needed."""
    concrete = concrete_cells_m(0.9)
    assert cells_of(BARE, FREE) == len(concrete)
    soil, thickness_m = 0, concrete[-1] / 2
    filled_m = 0.0
    while filled_m < 2.0:
        filled_m, soil, thickness_m = filled_m + thickness_m, soil + 1, thickness_m * 1.5
    assert cells_of(BARE, OPEN) == len(concrete) + soil


def test_a_thin_block_has_soil_from_five_centimetres() -> None:
    """Of 100 mm the last cell is under 10 cm thick: soil from 50 mm, then 75, 112 … 854 mm, eight cells for 2 m."""
    thin = replace(BARE, concrete_mm=100.0)
    assert cells_of(thin, OPEN) - cells_of(thin, FREE) == 8


def started(layers: Layers, cell_c: Floats) -> heat.Temperatures:
    return heat.simulate(layers, AIR, FREE, ProfileStart(cell_c=cell_c), steps_per_hour=1)


@pytest.mark.parametrize("concrete_mm", [300.0, 900.0, 2500.0])
def test_the_core_is_read_at_half_the_depth(concrete_mm: float) -> None:
    """A straight line of temperature is read back exactly, also under a plate and under grout."""
    thickness_m = concrete_cells_m(concrete_mm / 1000)
    line_c = 10 + 4 * (np.cumsum(thickness_m) - thickness_m / 2)
    for layers, above in ((BARE, 0), (PLATED, 1), (grouted(50.0), 6)):
        start_c = np.concatenate([np.full(above, 30.0), line_c])
        found = started(replace(layers, concrete_mm=concrete_mm), start_c)
        assert found.concrete_core_c[0] == pytest.approx(10 + 4 * concrete_mm / 2000, abs=1e-9)


def test_grout_is_told_by_its_mean_and_its_coldest_cell_and_the_plate_by_its_own() -> None:
    start_c = np.concatenate([[33.0], [20.0, 22.0, 27.0, 26.0, 25.0], np.full(len(concrete_cells_m(0.9)), 10.0)])
    found = started(grouted(50.0), start_c)
    assert found.plate_c is not None
    assert found.grout_c is not None
    assert found.grout_coldest_c is not None
    assert (found.plate_c[0], found.grout_c[0], found.grout_coldest_c[0]) == (33.0, 24.0, 20.0)
    assert started(PLATED, start_c[[0, *range(6, len(start_c))]]).grout_c is None
    assert started(BARE, start_c[6:]).plate_c is None


def test_the_face_of_the_concrete_lies_between_plate_and_first_cell_by_their_resistances() -> None:
    """By hand: half of 25 mm of steel, the gap of 50 mm at 14 °C, and half of the first cell of the concrete, in
    series. Under grout the last of its cells takes the place of plate and gap."""
    concrete = concrete_cells_m(0.9)
    gap = gap_conductance_w_m2k(50.0, float(AIR.air_c.mean()), STEEL.emissivity, STONE.emissivity)
    half = concrete[0] / 2 / STONE.conductivity_w_mk
    for layers, above_c, above in (
        (PLATED, [30.0], 0.0125 / STEEL.conductivity_w_mk + 1 / gap),
        (grouted(50.0), [35.0, 34.0, 33.0, 32.0, 31.0, 30.0], 0.005 / EPOXY.conductivity_w_mk),
    ):
        found = started(layers, np.concatenate([above_c, np.full(len(concrete), 10.0)]))
        assert found.concrete_surface_c[0] == pytest.approx(10 + 20 * half / (half + above), rel=1e-9)


def test_the_year_reaches_down_through_concrete_and_soil() -> None:
    """CARSLAW 2.6: mean plus half the swing times exp(-x) cos(wt - x), x the sum of thickness over damping depth, which
    is that of the material that each cell lies in. Plate and surface are as warm as the top."""
    start = AnnualStart(annual_mean_c=9.0, annual_swing_k=24.0, days_after_warmest=45.0)
    found = heat.simulate(PLATED, AIR, OPEN, start, steps_per_hour=1)
    concrete = concrete_cells_m(0.9)
    n_soil = found.cell_c.shape[1] - 1 - len(concrete)
    soil = concrete[-1] / 2 * 1.5 ** np.arange(n_soil)
    thickness_m = np.concatenate([concrete, soil * 2.0 / soil.sum()])
    diffusivity = np.repeat([STONE.diffusivity_m2_s, materials.soil().diffusivity_m2_s], [len(concrete), n_soil])
    depths = thickness_m / np.sqrt(diffusivity * YEAR_S / math.pi)
    phase = np.cumsum(depths) - depths / 2
    turn = 2 * math.pi * 45 * 24 / 8766
    assert found.cell_c[0, 1:] == pytest.approx(9 + 12 * np.exp(-phase) * np.cos(turn - phase), abs=1e-9)
    assert found.cell_c[0, 0] == pytest.approx(9 + 12 * math.cos(turn), abs=1e-9)


def test_a_reading_moves_the_cells_by_less_and_less_below() -> None:
    """GROUTJOBS: the difference fades by e in half a metre, counted from the first cell of the concrete; plate and air
    stay as they are. The first cell moves by more than the face, for the plate holds the face back."""
    plain = heat.simulate(PLATED, AIR, FREE, EVEN)
    read_c = float(plain.concrete_surface_c[6]) + 2.0
    found = heat.simulate(PLATED, AIR, FREE, EVEN, measured=(MeasuredConcrete(6, read_c),))
    moved_k = found.cell_c[6] - plain.cell_c[6]
    concrete = concrete_cells_m(0.9)
    depth_m = np.cumsum(concrete) - concrete / 2
    gap = gap_conductance_w_m2k(50.0, float(AIR.air_c.mean()), STEEL.emissivity, STONE.emissivity)
    half, above = 2 * STONE.conductivity_w_mk / concrete[0], 1 / (0.0125 / STEEL.conductivity_w_mk + 1 / gap)
    assert moved_k[0] == 0.0
    assert moved_k[1] == pytest.approx(2 * (half + above) / half)
    assert moved_k[1:] == pytest.approx(moved_k[1] * np.exp(-(depth_m - depth_m[0]) / 0.5))


def test_a_block_as_warm_as_still_air_all_round_stays_so() -> None:
    hall = Surroundings(exposure=Exposure.INDOORS, underside=Underside.FREE, ground_c=5.0)
    found = heat.simulate(BARE, weather(1, 25.0, 0.0), hall, replace(EVEN, annual_mean_c=25.0))
    assert found.cell_c[-1] == pytest.approx(25.0, abs=1e-9)
    assert found.heat_in_w_m2 == pytest.approx(0.0, abs=1e-9)


def test_a_steady_flow_from_a_hall_into_cold_ground_stays_so() -> None:
    """By hand: 20 K over the film, 0.9 m of concrete, two metres of soil and the ground's own film of 1000 W/m²K. The
    film is 2.5 and radiation between 25 °C and a face half a kelvin colder. Two days, within 0.01 K."""
    hall = Surroundings(exposure=Exposure.INDOORS, underside=Underside.GROUND, ground_c=5.0)
    film = 2.5 + STONE.emissivity * 5.670374419e-8 * 4 * (24.75 + 273.15) ** 3
    concrete = concrete_cells_m(0.9)
    soil = concrete[-1] / 2 * 1.5 ** np.arange(cells_of(BARE) - len(concrete))
    thickness_m = np.concatenate([concrete, soil * 2.0 / soil.sum()])
    conductivity = np.repeat([STONE.conductivity_w_mk, materials.soil().conductivity_w_mk], [len(concrete), len(soil)])
    resistance = thickness_m / conductivity
    flux_w_m2 = 20 / (1 / film + resistance.sum() + 1 / 1000)
    line_c = 25 - flux_w_m2 * (1 / film + np.cumsum(resistance) - resistance / 2)
    found = heat.simulate(BARE, weather(2, 25.0, 0.0), hall, ProfileStart(cell_c=line_c))
    assert found.cell_c[-1] == pytest.approx(line_c, abs=0.01)
    assert found.heat_in_w_m2 == pytest.approx(flux_w_m2, rel=0.01)
