"""Every finding and refusal about heat of cure, lifts and stored material, word by word. The words stand in the TOML
file."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from groutjobs import units
from groutjobs.engineering import materials
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.exotherm import AirAround, Placements, curing_temperatures
from groutjobs.engineering.grout_correction import grout_pace
from groutjobs.engineering.kinetics import (
    ILLUSTRATIVE_EPOXY,
    ILLUSTRATIVE_GLASS,
    CureKinetics,
    closed_form_hours,
    degrees_of_cure,
)
from groutjobs.engineering.layers import Layers
from groutjobs.engineering.lifts import LIFT_LIMITS, Peak, PeakBand, lift_findings, lifts_needed, peak_band, peak_bands
from groutjobs.engineering.preconditioning import (
    STORED,
    Brick,
    conditioning_findings,
    hours_in_store,
    lumped_time_constant_s,
)
from groutjobs.engineering.series import wall_series
from groutjobs.errors import NotConverged
from tests.engineering import records
from tests.engineering.wording import Attempt, Told, kept

WORDS = kept("warmth")
PALLET = STORED["pallet_wrapped"]
BAND = PeakBand(
    grout_mm=100.4,
    kinetics_source="GROUTJOBS",
    low=Peak(peak_c=40.0, rise_k=20.0, at_h=9.4),
    likely=Peak(peak_c=50.0, rise_k=30.0, at_h=7.4),
    high=Peak(peak_c=60.0, rise_k=40.0, at_h=5.4),
)
HEATED_MORE = replace(
    BAND, likely=Peak(peak_c=60.5, rise_k=40.5, at_h=7.4), high=Peak(peak_c=71.0, rise_k=51.0, at_h=5.0)
)
COOL = replace(BAND, likely=replace(BAND.likely, rise_k=25.0), high=replace(BAND.high, rise_k=30.0))
BARE = Layers(concrete=materials.concrete(), concrete_mm=500.0)
OPEN_LIFT = Layers(concrete=materials.concrete(), concrete_mm=500.0, grout=materials.grout("epoxy"), grout_mm=50.0)
READ_H = np.arange(5.0)
AIR_C = np.full(10, 20.0)
ALIKE_C = np.array([22.0, 22.2, 22.6, 23.2, 24.0])


def stored(name: str, temps: tuple[float, float, float], hours_left: float) -> Told:
    return lambda system: conditioning_findings(STORED[name], *temps, hours_left, system=system)


def lifted(band: PeakBand) -> Told:
    """Without what they are about, which is the lift in the units of the reader; see below."""
    return lambda system: [replace(found, about="") for found in lift_findings(band, LIFT_LIMITS, system=system)]


def cured(at_h: Floats, temp_c: Floats) -> Attempt:
    return partial(degrees_of_cure, ILLUSTRATIVE_EPOXY, at_h, temp_c, start_degree=0.0)


def warmed(layers: Layers = records.GROUTED, placed: Placements = records.PLACEMENTS, **changed: object) -> Attempt:
    given = {"kinetics": ILLUSTRATIVE_EPOXY, "around": records.AROUND, **changed}
    return lambda: curing_temperatures(layers, placements=placed, **given)  # type: ignore[arg-type]


def read(at_h: Floats = READ_H, temp_c: Floats = ALIKE_C, model_sd_k: float = 1.0) -> Attempt:
    setting = replace(records.SETTING, model_sd_k=model_sd_k)
    return partial(grout_pace, ILLUSTRATIVE_EPOXY, setting, AIR_C, at_h, temp_c)


SILENT: dict[str, Told] = {
    "a lift whose high case stays at both limits": lifted(COOL),
}
FINDINGS: dict[str, Told] = {
    "a pallet in time": stored("pallet_wrapped", (2.0, 21.0, 16.0), 90.4),
    "a pallet late": stored("pallet_wrapped", (2.0, 21.0, 16.0), 40.4),
    "an opened pallet in time": stored("pallet_opened", (2.0, 21.0, 16.0), 24.0),
    "a pail that is ready": stored("pail_5_l", (16.0, 21.0, 16.0), 0.0),
    "a warm bag cooled": stored("bag", (35.0, 18.0, 24.0), 1.0),
    "a lift at the limit of its rise": lifted(BAND),
    "a lift over both limits": lifted(HEATED_MORE),
    "a lift over the limit of its peak": lifted(replace(COOL, high=replace(COOL.high, peak_c=60.6))),
    "a lift of a known product": lifted(replace(BAND, kinetics_source="DATASHEET")),
}
REFUSED: dict[str, Attempt] = {
    "a closed form with glass": partial(closed_form_hours, ILLUSTRATIVE_EPOXY, 20.0, 0.5),
    "one temperature": cured(np.zeros(1), np.full(1, 20.0)),
    "times in a square": cured(np.zeros((2, 2)), np.full((2, 2), 20.0)),
    "times and temperatures that differ": cured(np.arange(3.0), np.full(2, 20.0)),
    "times that stand": cured(np.zeros(3), np.full(3, 20.0)),
    "colder than glass": cured(np.arange(2.0), np.full(2, -30.5)),
    "a resin that is glass when cured at once": partial(replace, ILLUSTRATIVE_GLASS, cured_c=-10.5),
    "a reaction that does not begin": partial(replace, ILLUSTRATIVE_EPOXY, first_rate_per_h=0.0),
    "a reaction that does not go on": partial(replace, ILLUSTRATIVE_EPOXY, second_rate_per_h=0.0),
    "placements of no case": partial(Placements, **{name: np.zeros(0) for name in vars(records.PLACEMENTS)}),
    "placements that differ": partial(replace, records.PLACEMENTS, placed_c=np.array([20.0, 21.0])),
    "placements in a square": partial(Placements, **{name: np.ones((1, 1)) for name in vars(records.PLACEMENTS)}),
    "air of one course": partial(AirAround, air_c=np.zeros(3), film_w_m2k=np.ones(3)),
    "air of one hour": partial(AirAround, air_c=np.zeros((1, 1)), film_w_m2k=np.ones((1, 1))),
    "air and film that differ": partial(AirAround, air_c=np.zeros((1, 3)), film_w_m2k=np.ones((1, 2))),
    "a plate of no temperature": warmed(placed=replace(records.PLACEMENTS, plate_c=None)),
    "no plate and its temperature": warmed(OPEN_LIFT),
    "air of other cases": warmed(placed=records.THREE),
    "a foundation without grout": warmed(BARE, replace(records.PLACEMENTS, plate_c=None)),
    "air colder than glass": warmed(around=replace(records.AROUND, air_c=np.full((1, 3), -31.0))),
    "a plate colder than its resin knows": warmed(
        placed=replace(records.PLACEMENTS, plate_c=np.array([-11.0])),
        kinetics=replace(ILLUSTRATIVE_EPOXY, glass=replace(ILLUSTRATIVE_GLASS, uncured_c=0.0), source="DATASHEET"),
    ),
    "a foundation colder than its resin knows": warmed(
        placed=replace(records.PLACEMENTS, foundation_c=np.array([-11.0])),
        kinetics=replace(ILLUSTRATIVE_EPOXY, glass=replace(ILLUSTRATIVE_GLASS, uncured_c=0.0), source="DATASHEET"),
    ),
    "a band of several cases": partial(
        peak_band, records.GROUTED, ILLUSTRATIVE_EPOXY, records.THREE, records.AROUND
    ),
    "bands without grout": partial(peak_bands, BARE, ILLUSTRATIVE_EPOXY, records.PLACEMENTS, records.AROUND),
    "lifts of no bed": partial(lifts_needed, 0.0, 100.0),
    "lifts of no thickness": partial(lifts_needed, 100.0, 0.0),
    "a stack of no length": partial(Brick, length_mm=19.0, width_mm=100.0, height_mm=100.0),
    "a stack of no width": partial(Brick, length_mm=100.0, width_mm=19.0, height_mm=100.0),
    "a stack that is a house": partial(Brick, length_mm=100.0, width_mm=100.0, height_mm=3001.0),
    "a stack of months": partial(
        hours_in_store,
        replace(PALLET, shape=Brick(length_mm=3000.0, width_mm=3000.0, height_mm=3000.0), film_w_m2k=0.1),
        2.0,
        21.0,
        20.9,
    ),
    "a pallet taken for one temperature": partial(lumped_time_constant_s, PALLET.solid, 0.17, 6.0),
    "warmer than the store": partial(hours_in_store, PALLET, 2.0, 21.0, 21.0),
    "colder than the store": partial(hours_in_store, PALLET, 30.0, 21.0, 21.0),
    "time that runs back": partial(wall_series(1.0).middle_ratio, -0.1),
    "three readings": read(READ_H[:3], ALIKE_C[:3]),
    "readings within two hours": read(np.array([0.0, 1.0, 1.5, 2.5]), ALIKE_C[:4]),
    "readings that run back": read(READ_H[::-1]),
    "readings and times that differ": read(READ_H[:4]),
    "readings before mixing": read(READ_H - 1.0),
    "readings of hot grout": read(temp_c=np.full(5, 121.0)),
    "readings that tell nothing": read(model_sd_k=500.0),
    "readings that nothing fits": read(np.arange(9.0), np.array([22.0, 5.0, 60.0, 5.0, 60.0, 5.0, 60.0, 5.0, 60.0])),
}  # fmt: skip


def test_metric_is_what_a_reader_sees_who_chose_nothing() -> None:
    found = [*conditioning_findings(PALLET, 2.0, 21.0, 16.0, 90.4), *lift_findings(BAND, LIFT_LIMITS)]
    cases = ("a pallet in time", "a lift at the limit of its rise")
    assert [finding.message for finding in found] == [WORDS["findings"][case][0]["message"] for case in cases]


def test_a_finding_is_about_the_lift_as_its_reader_measures_it() -> None:
    found = {system: lift_findings(BAND, LIFT_LIMITS, system=system)[0].about for system in (units.METRIC, units.US)}
    assert found == {units.METRIC: "100 mm lift", units.US: "4.0 in lift"}


def test_a_reaction_too_fast_for_its_steps_says_how_fast() -> None:
    """By hand at 60 °C, ten times as fast, in ten minutes: constants 0.507 and 10.1 per hour, so half a step from 0
    makes 0.42, and there (0.507 + 10.1 · 0.42) · 0.58² · 10/6 = 2.66."""
    fast = replace(records.PLACEMENTS, placed_c=np.array([60.0]), pace_ratio=np.array([10.0]))
    with pytest.raises(NotConverged) as refused:
        warmed(placed=fast, steps_per_hour=6)()
    assert str(refused.value) == (
        "heat of cure: the cure grows by 2.66 in one step, more than 0.1; take more steps per hour [GROUTJOBS]"
    )


def test_a_history_too_far_apart_says_how_far() -> None:
    quick = CureKinetics(**vars(ILLUSTRATIVE_EPOXY) | {"second_rate_per_h": 50.0})
    with pytest.raises(NotConverged) as refused:
        degrees_of_cure(quick, np.array([0.0, 48.5]), np.array([-29.0, 240.0]), start_degree=0.0)
    assert str(refused.value) == ("cure: 10000 steps do not carry over 48.5 h; give temperatures closer together")
