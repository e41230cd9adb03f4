"""Many machines in one run: each comes out as it does alone."""

from dataclasses import replace

import numpy as np
import pytest

from groutjobs.engineering import heat, materials
from groutjobs.engineering.heat import Case, Layers, MeasuredConcrete, Surroundings, Underside
from groutjobs.engineering.protection import Enclosure, Shade
from groutjobs.engineering.sky import Exposure
from groutjobs.errors import Unusable
from tests.engineering.test_heat import BARE, OPEN, PLATED, START, weather

TENT = (Enclosure(from_hour=20, to_hour=60, air_c=25.0), Shade(from_hour=60, to_hour=80, sun_left_ratio=0.3))
READINGS = (MeasuredConcrete(30, 12.0), MeasuredConcrete(80, 15.0))


def invented(number: int, *, plate: bool) -> Case:
    rng = np.random.default_rng(number)
    layers = Layers(
        concrete=materials.concrete(),
        concrete_mm=float(rng.uniform(300, 4000)),
        plate=materials.steel() if plate else None,
        plate_mm=float(rng.uniform(10, 100)) if plate else None,
        gap_mm=float(rng.uniform(20, 150)) if plate else None,
    )
    around = Surroundings(
        exposure=list(Exposure)[number % 3],
        underside=list(Underside)[number % 2],
        ground_c=10.0,
        covers=TENT if number % 4 == 0 else (),
    )
    measured = READINGS if number % 3 == 0 else ()
    air = weather(5, float(rng.uniform(-5, 30)))
    return Case(layers=layers, air=air, surroundings=around, start=START, measured=measured)


@pytest.mark.parametrize("plate", [True, False])
def test_each_machine_comes_out_as_it_does_alone(plate: bool) -> None:
    """The columns have 12 to 27 cells, different places, weather, covers and readings. Equal to rounding, 1e-9 K."""
    cases = [invented(number, plate=plate) for number in range(12)]
    for case, found in zip(cases, heat.simulate_machines(cases), strict=True):
        alone = heat.simulate(case.layers, case.air, case.surroundings, case.start, measured=case.measured)
        assert found.cell_c.shape == alone.cell_c.shape
        assert found.cell_c == pytest.approx(alone.cell_c, abs=1e-9)
        assert found.concrete_surface_c == pytest.approx(alone.concrete_surface_c, abs=1e-9)
        assert found.concrete_core_c == pytest.approx(alone.concrete_core_c, abs=1e-9)
        assert found.heat_in_w_m2 == pytest.approx(alone.heat_in_w_m2, abs=1e-9)
        assert (found.plate_c is None) == (not plate)
        assert found.energy_residual_ratio < 1e-3


def test_a_run_of_many_carries_on_to_the_pours_of_one() -> None:
    cases = [invented(number, plate=True) for number in range(3)]
    for case, found in zip(cases, heat.simulate_machines(cases), strict=True):
        alone = heat.simulate(case.layers, case.air, case.surroundings, case.start, measured=case.measured)
        grout = materials.grout("epoxy")
        poured = [heat.simulate_pours(run, case.air, np.array([70]), 24, grout, grout_c=20.0) for run in (found, alone)]
        assert poured[0].cell_c == pytest.approx(poured[1].cell_c, abs=1e-9)


@pytest.mark.parametrize(
    "cases",
    [
        [],
        [Case(layers=layers, air=weather(3), surroundings=OPEN, start=START) for layers in (PLATED, BARE)],
        [Case(layers=BARE, air=weather(days), surroundings=OPEN, start=START) for days in (3, 4)],
        [
            Case(
                layers=replace(BARE, grout=materials.grout("epoxy"), grout_mm=50.0),
                air=weather(3),
                surroundings=OPEN,
                start=START,
            )
        ],
    ],
)
def test_machines_that_do_not_fit_together_are_refused(cases: list[Case]) -> None:
    with pytest.raises(Unusable) as refusal:
        heat.simulate_machines(cases)
    assert refusal.value.quantity == "machines"
