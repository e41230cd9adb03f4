"""Every finding and refusal about weather, covers and heat, word by word. The words stand in the TOML file."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from groutjobs.engineering import heat, materials
from groutjobs.engineering.conduction import Cells, Column, Stepper
from groutjobs.engineering.cure import EPOXY_CLOCK
from groutjobs.engineering.enclosure_heat import (
    HeaterNeed,
    PreheatLeads,
    heater_findings,
    heater_need,
    preheat_finding,
    preheat_leads,
)
from groutjobs.engineering.heat import Case, Layers, MeasuredConcrete, ProfileStart
from groutjobs.engineering.protection import Enclosure, Shade
from groutjobs.engineering.response import AirErrors, DrawnAges, temperature_errors
from groutjobs.engineering.sky import Exposure, HourlyAir
from groutjobs.engineering.spin_up import spun_up
from tests.engineering.records import AIR, AIR_ERRORS, ANNUAL_START, ENCLOSURE, GROUTED, PLATED, SURROUNDINGS, TENT
from tests.engineering.wording import Attempt, Told, kept

WORDS = kept("weather")
BARE = Layers(concrete=materials.concrete(), concrete_mm=500.0)
EPOXY = materials.grout("epoxy")
PAIR = HourlyAir(**{name: np.stack([row, row]) for name, row in vars(AIR).items()})
SHORT = AIR.at(np.arange(2))
RUN = heat.simulate(PLATED, AIR, SURROUNDINGS, ANNUAL_START, steps_per_hour=1)
PAIR_RUN = heat.simulate(PLATED, PAIR, SURROUNDINGS, ANNUAL_START, steps_per_hour=1)
BARE_RUN = heat.simulate(BARE, AIR, SURROUNDINGS, ANNUAL_START, steps_per_hour=1)
COVERED = SURROUNDINGS.under(ENCLOSURE)
COVERED_RUN = heat.simulate(PLATED, AIR, COVERED, ANNUAL_START, steps_per_hour=1)
NEED = HeaterNeed(walls_heat_kw=np.full(2, 3.0), air_heat_kw=np.full(2, 0.5), surface_heat_kw=np.array([2.0, 0.0]))
TWO_CELLS = Cells(materials.soil(), np.array([0.1, 0.1]))


def leads(*concrete_c: float) -> PreheatLeads:
    return PreheatLeads(lead_h=np.arange(len(concrete_c)), concrete_c=np.array(concrete_c), plate_c=None)


def preheated(found: PreheatLeads, wanted_c: float) -> Told:
    return lambda system: [preheat_finding(found, wanted_c, system)]


def machines(*cases: Case) -> Attempt:
    return partial(heat.simulate_machines, cases)


def case_of(layers: Layers, air: HourlyAir = AIR) -> Case:
    return Case(layers=layers, air=air, surroundings=SURROUNDINGS, start=ANNUAL_START)


def simulated(*measured: MeasuredConcrete, cells: Sequence[int] | None = None) -> Attempt:
    start = ANNUAL_START if cells is None else ProfileStart(cell_c=np.zeros(tuple(cells)))
    return lambda: heat.simulate(PLATED, AIR, SURROUNDINGS, start, measured=measured)


def poured(run: heat.Temperatures, air: HourlyAir = AIR, start: float = 0.0) -> Attempt:
    return lambda: heat.simulate_pours(run, air, np.array([start]), 1, EPOXY, grout_c=20.0)


def onward(run: heat.Temperatures, air: HourlyAir) -> Attempt:
    return lambda: heat.simulate_onward(run, air, np.array([0]), 1, SURROUNDINGS)


def ages_without_grout() -> object:
    drawn = temperature_errors(RUN, AIR, 0, AIR_ERRORS)
    ages = DrawnAges(RUN, replace(PAIR_RUN, grout_coldest_c=None), AIR, 0, AIR_ERRORS, drawn, EPOXY_CLOCK)
    return ages.ready_h(0, 1.0)


def heat_after_the_weather() -> object:
    late = replace(ENCLOSURE, from_hour=2, to_hour=4)
    return heater_need(late, TENT, replace(RUN, surroundings=SURROUNDINGS.under(late)), AIR)


FINDINGS: dict[str, Told] = {
    "warm without heating": preheated(leads(12.0, 14.0), 12.0),
    "warm after three hours": preheated(leads(5.0, 9.0, 11.9, 14.0), 12.0),
    "warm after just a day": preheated(leads(*np.arange(25.0)), 24.0),
    "warm after more than a day": preheated(leads(*np.arange(26.0)), 25.0),
    "never warm": preheated(leads(5.0, 9.0, 12.0, 14.0), 15.0),
    "a heater": lambda system: list(heater_findings(NEED, system)),
}
REFUSED: dict[str, Attempt] = {
    "a plate of no thickness told": partial(Layers, **vars(PLATED) | {"plate_mm": None}),
    "a thickness without a plate": partial(Layers, concrete=materials.concrete(), concrete_mm=500.0, plate_mm=20.0),
    "grout of no thickness told": partial(Layers, **vars(GROUTED) | {"grout_mm": None}),
    "a plate without a gap": partial(Layers, **vars(PLATED) | {"gap_mm": None}),
    "a gap without a plate": partial(Layers, concrete=materials.concrete(), concrete_mm=500.0, gap_mm=50.0),
    "a gap over grout": partial(Layers, **vars(GROUTED) | {"gap_mm": 50.0}),
    "a gap no plate can leave": partial(Layers, **vars(PLATED) | {"gap_mm": 301.0}),
    "a shade before the weather": partial(Shade, from_hour=-1, to_hour=5, sun_left_ratio=0.5),
    "a shade of no hours": partial(Shade, from_hour=5, to_hour=5, sun_left_ratio=0.5),
    "an enclosure before the weather": partial(Enclosure, from_hour=-1, to_hour=5, air_c=20.0),
    "an enclosure of no hours": partial(Enclosure, from_hour=5, to_hour=5, air_c=20.0),
    "a cooler that holds nothing": partial(Enclosure, from_hour=0, to_hour=5, air_c=None, is_cooled=True),
    "two covers at once": partial(COVERED.under, replace(ENCLOSURE, from_hour=0, to_hour=4)),
    "rows of weather that differ": partial(replace, AIR, cloud_ratio=AIR.cloud_ratio[1:]),
    "one hour of weather": partial(AIR.at, np.arange(1)),
    "weather of three axes": partial(HourlyAir, **{name: row[None, None] for name, row in vars(AIR).items()}),
    "a dew point above the air": partial(replace, AIR, dew_point_c=AIR.air_c + 0.6),
    "machines under weather of two lengths": machines(case_of(BARE), case_of(BARE, SHORT)),
    "machines of several weathers": machines(case_of(BARE, PAIR)),
    "no machine": machines(),
    "machines with and without a plate": machines(case_of(BARE), case_of(PLATED)),
    "machines with grout": machines(case_of(GROUTED)),
    "a start of other cells": simulated(cells=(3,)),
    "a start of other cases": simulated(cells=(2, RUN.cell_c.shape[-1])),
    "two readings in one hour": simulated(MeasuredConcrete(1, 10.0), MeasuredConcrete(1, 12.0)),
    "a reading after the weather": simulated(MeasuredConcrete(3, 10.0)),
    "a reading of hot concrete": simulated(MeasuredConcrete(1, 81.0)),
    "a pour without a plate": poured(BARE_RUN),
    "a pour of two weathers": poured(PAIR_RUN, PAIR),
    "a pour between two hours": poured(RUN, start=0.5),
    "a pour after the weather": poured(RUN, start=3.0),
    "going on from two weathers": onward(RUN, PAIR),
    "going on from two cases": onward(PAIR_RUN, AIR),
    "steps of no time": partial(Stepper, Column([TWO_CELLS]), 0.0, 1),
    "a cell of no thickness": partial(Column, [Cells(materials.soil(), np.array([0.1, 9e-7]))]),
    "a gap that conducts nothing": partial(Column, [TWO_CELLS, TWO_CELLS], gap_w_m2k=0.0),
    "a film that cools backwards": partial(Column, [TWO_CELLS], bottom_film_w_m2k=-1.0),
    "errors of air and dew point that differ": partial(AirErrors, np.zeros((2, 3)), np.zeros((2, 4))),
    "errors of one course": partial(AirErrors, np.zeros(3), np.zeros(3)),
    "no errors": partial(AirErrors, np.zeros((0, 3)), np.zeros((0, 3))),
    "errors of fewer hours": partial(temperature_errors, RUN, AIR, 1, AIR_ERRORS),
    "errors of two cases": partial(temperature_errors, PAIR_RUN, AIR, 0, AIR_ERRORS),
    "errors after the weather": partial(temperature_errors, RUN, AIR, 2, AIR_ERRORS),
    "ages without grout": ages_without_grout,
    "several weathers before the forecast": partial(spun_up, PAIR, 0, Exposure.OPEN, None),
    "several usual years": partial(spun_up, AIR, 0, Exposure.OPEN, PAIR),
    "more past than weather": partial(spun_up, AIR, 3, Exposure.OPEN, None),
    "heat of no enclosure": partial(heater_need, ENCLOSURE, TENT, RUN, AIR),
    "heat of an unheated enclosure": partial(heater_need, replace(ENCLOSURE, air_c=None), TENT, COVERED_RUN, AIR),
    "heat of an enclosure of other weather": partial(heater_need, ENCLOSURE, TENT, COVERED_RUN, SHORT),
    "heat of an enclosure after the weather": heat_after_the_weather,
    "heating for a pour after the weather": partial(preheat_leads, RUN, AIR, replace(ENCLOSURE, to_hour=3)),
}


def test_the_edge_of_what_is_taken() -> None:
    """Half a kelvin of dew point above the air, covers end to end, a gap of the widest, a reading at either end."""
    replace(AIR, dew_point_c=AIR.air_c + 0.5)
    assert len(COVERED.under(replace(ENCLOSURE, from_hour=2, to_hour=4)).covers) == 2
    assert replace(PLATED, gap_mm=300.0).gap_mm == 300.0
    found = simulated(MeasuredConcrete(0, 10.0), MeasuredConcrete(2, 80.0))()
    assert isinstance(found, heat.Temperatures)
    assert found.concrete_surface_c[[0, 2]] == pytest.approx([10.0, 80.0])
