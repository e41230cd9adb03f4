"""One valid record of every frozen dataclass of the engineering that checks itself, with the limits of its fields.

The limits are typed here a second time, in the words that limits.py reads, so that a limit loosened in the code by
mistake is found.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from groutjobs.engineering.bolt_tables import Grade
from groutjobs.engineering.cure import CureClock
from groutjobs.engineering.cure_fit import ActivationPrior
from groutjobs.engineering.enclosure_heat import Tent
from groutjobs.engineering.exotherm import AirAround, Placements
from groutjobs.engineering.formwork import DepthLimit
from groutjobs.engineering.grout_ahead import Heating
from groutjobs.engineering.grout_correction import PourSetting
from groutjobs.engineering.kinetics import CureKinetics, GlassLimit
from groutjobs.engineering.layers import AnnualStart, Layers, Surroundings, Underside
from groutjobs.engineering.lifts import LiftLimits
from groutjobs.engineering.materials import Solid, concrete, grout, steel
from groutjobs.engineering.preconditioning import Brick, Pail, Stored
from groutjobs.engineering.protection import SINGLE_SKIN_W_M2K, Enclosure, Shade
from groutjobs.engineering.response import AirErrors
from groutjobs.engineering.sky import Exposure, HourlyAir, Surface
from groutjobs.engineering.strength import Milestone, StrengthCurve
from groutjobs.engineering.wet_cure import WetCureRule
from groutjobs.findings import Level


@dataclass(frozen=True)
class Record:
    """A valid record and the limits of each of its numbers."""

    valid: Any
    limits: Mapping[str, str]


WORDS = {"single_skin": SINGLE_SKIN_W_M2K}
"""Ends that stand in words below."""


PLATED = Layers(concrete=concrete(), concrete_mm=500.0, plate=steel(), plate_mm=25.0, gap_mm=50.0)
GROUTED = Layers(
    concrete=concrete(), concrete_mm=500.0, plate=steel(), plate_mm=25.0, grout=grout("epoxy"), grout_mm=50.0
)
AIR = HourlyAir(
    air_c=np.array([12.0, 14.0, 16.0]),
    dew_point_c=np.array([5.0, 5.0, 5.0]),
    wind_km_h=np.array([5.0, 10.0, 15.0]),
    solar_w_m2=np.array([0.0, 200.0, 400.0]),
    cloud_ratio=np.array([0.2, 0.5, 0.8]),
)
SURROUNDINGS = Surroundings(exposure=Exposure.OPEN, underside=Underside.GROUND, ground_c=11.0, sun_share_ratio=0.7)
ANNUAL_START = AnnualStart(annual_mean_c=11.0, annual_swing_k=20.0, days_after_warmest=60.0)
PLACEMENTS = Placements(
    placed_c=np.array([22.0]),
    foundation_c=np.array([18.0]),
    plate_c=np.array([19.0]),
    binder_ratio=np.array([0.15]),
    pace_ratio=np.array([1.0]),
)
SHADE = Shade(from_hour=0, to_hour=1, sun_left_ratio=0.2, sky_left_ratio=0.3, wind_left_ratio=0.9)
ENCLOSURE = Enclosure(from_hour=1, to_hour=2, air_c=22.0, film_w_m2k=2.5, walls_w_m2k=5.0)
TENT = Tent(skin_m2=30.0, volume_m3=20.0, surface_m2=6.0, air_changes=2.0)
SETTING = PourSetting(
    layers=GROUTED,
    placed_c=22.0,
    foundation_c=20.0,
    plate_c=20.0,
    film_w_m2k=10.0,
    model_sd_k=1.0,
    start_sd_h=0.25,
    binder_ratio=0.13,
)
AIR_ERRORS = AirErrors(air_k=np.array([[0.0, 0.5, 1.0], [0.0, -0.5, -1.0]]), dew_point_k=np.zeros((2, 3)))
AROUND = AirAround(air_c=np.array([[18.0, 20.0, 22.0]]), film_w_m2k=np.array([[10.0, 12.0, 14.0]]))
THREE = Placements(
    placed_c=np.array([20.0, 22.0, 24.0]),
    foundation_c=np.array([16.0, 18.0, 20.0]),
    plate_c=np.array([17.0, 19.0, 21.0]),
    binder_ratio=np.array([0.12, 0.15, 0.18]),
    pace_ratio=np.array([0.7, 1.0, 1.5]),
)
GLASS = GlassLimit(uncured_c=-20.0, cured_c=65.0, shape=0.4, lead_k=10.0, steepness=50.0, source="GROUTJOBS")
_SOLID = {
    "conductivity_w_mk": "[W/m·K], above 0",
    "density_kg_m3": "[kg/m³], above 0",
    "specific_heat_j_kgk": "[J/kg·K], above 0",
}
_EXPOSED = _SOLID | {"absorptance": "[-], 0 to 1", "emissivity": "[-], 0 to 1"}

RECORDS = (
    Record(SHADE, {"sun_left_ratio": "[-], 0 to 1", "sky_left_ratio": "[-], 0 to 1", "wind_left_ratio": "[-], 0 to 1"}),
    Record(
        ENCLOSURE,
        {
            "air_c": "[°C], -10 to 50",
            "film_w_m2k": "[W/m²·K], 0.7 to 30",
            "walls_w_m2k": "[W/m²·K], 0.1 to single_skin",
        },
    ),
    Record(
        TENT,
        {
            "skin_m2": "[m²], 0.5 to 5000",
            "volume_m3": "[m³], 0.1 to 20000",
            "surface_m2": "[m²], 0.1 to 2000",
            "air_changes": "[1/h], 0.1 to 30",
        },
    ),
    Record(
        SETTING,
        {
            "placed_c": "[°C], 0 to 60",
            "foundation_c": "[°C], -20 to 60",
            "plate_c": "[°C], -20 to 80",
            "film_w_m2k": "[W/m²·K], 1e-9 to 200",
            "model_sd_k": "[K], above 0",
            "start_sd_h": "[h], 0 to 12",
            "binder_ratio": "[-], above 0, to 0.35",
        },
    ),
    Record(AIR_ERRORS, {"air_k": "[K], -100 to 100", "dew_point_k": "[K], -100 to 100"}),
    Record(
        WetCureRule(wet_h=72.0, warm_h=168.0, least_c=10.0, source="GROUTJOBS"),
        {"wet_h": "[h], 0 to 1000", "warm_h": "[h], 0 to 2000", "least_c": "[°C], 0 to 20"},
    ),
    Record(
        Grade(name="8.8", yield_mpa=640.0, largest_mm=39.0, source="GROUTJOBS"),
        {"yield_mpa": "[MPa], above 0, to 3000", "largest_mm": "[mm], above 0"},
    ),
    Record(
        DepthLimit(depth_mm=25.0, is_least=True, level=Level.BLOCKER, hint="Raise the plate.", source="GROUTJOBS"),
        {"depth_mm": "[mm], above 0"},
    ),
    Record(
        StrengthCurve(ultimate_mpa=100.0, time_h=20.0, shape=1.0, scatter_ratio=0.02),
        {
            "ultimate_mpa": "[MPa], above 0",
            "time_h": "[h], above 0",
            "shape": "[-], above 0",
            "scatter_ratio": "[-], 0 or more",
        },
    ),
    Record(
        CureClock(activation_kj_mol=58.0, reference_c=23.0, minimum_c=10.0, hottest_c=32.0, source="GROUTJOBS"),
        {
            "activation_kj_mol": "[kJ/mol], 10 to 150",
            "reference_c": "[°C], minimum_c to hottest_c",
            "minimum_c": "[°C], -20 to reference_c",
            "hottest_c": "[°C], reference_c to 80",
        },
    ),
    Record(
        ActivationPrior(mean_kj_mol=58.0, sd_kj_mol=10.0, source="GROUTJOBS"),
        {"mean_kj_mol": "[kJ/mol], 10 to 150", "sd_kj_mol": "[kJ/mol], above 0"},
    ),
    Record(
        THREE,
        {
            "placed_c": "[°C], 0 to 60",
            "foundation_c": "[°C], -20 to 60",
            "plate_c": "[°C], -20 to 80",
            "binder_ratio": "[-], 0 to 0.35",
            "pace_ratio": "[-], 0.1 to 10",
        },
    ),
    Record(AROUND, {"air_c": "[°C], -40 to 80", "film_w_m2k": "[W/m²·K], 1e-9 to 200"}),
    Record(
        GLASS,
        {
            "uncured_c": "[°C], -80 to 20",
            "cured_c": "[°C], -10 to 220",
            "shape": "[-], 0.1 to 1",
            "lead_k": "[K], 0 to 40",
            "steepness": "[-], 1 to 200",
        },
    ),
    Record(
        CureKinetics(
            first_rate_per_h=0.036,
            first_activation_kj_mol=58.6,
            second_rate_per_h=0.72,
            second_activation_kj_mol=58.6,
            reference_c=23.0,
            heat_kj_kg=430.0,
            glass=GLASS,
            source="GROUTJOBS",
        ),
        {
            "first_rate_per_h": "[1/h], above 0",
            "first_activation_kj_mol": "[kJ/mol], 10 to 150",
            "second_rate_per_h": "[1/h], above 0",
            "second_activation_kj_mol": "[kJ/mol], 10 to 150",
            "reference_c": "[°C], -20 to 120",
            "heat_kj_kg": "[kJ/kg], 50 to 700",
        },
    ),
    Record(
        Heating(air_c=25.0, from_h=1.0, until_h=30.0),
        {"air_c": "[°C], -10 to 50", "from_h": "[h], 0 to 5000", "until_h": "[h], 0 to 5000"},
    ),
    Record(PLATED, {"concrete_mm": "[mm], 100 to 10000", "plate_mm": "[mm], 5 to 300", "gap_mm": "[mm], 5 to 300"}),
    Record(GROUTED, {"concrete_mm": "[mm], 100 to 10000", "plate_mm": "[mm], 5 to 300", "grout_mm": "[mm], 5 to 600"}),
    Record(SURROUNDINGS, {"ground_c": "[°C], -30 to 40", "sun_share_ratio": "[-], 0 to 1"}),
    Record(
        ANNUAL_START,
        {
            "annual_mean_c": "[°C], -30 to 40",
            "annual_swing_k": "[K], 0 to 60",
            "days_after_warmest": "[d], -366 to 366",
        },
    ),
    Record(
        LiftLimits(rise_k=30.0, peak_c=60.0, source="GROUTJOBS"),
        {"rise_k": "[K], 1 to 150", "peak_c": "[°C], 20 to 200"},
    ),
    Record(Solid(conductivity_w_mk=1.5, density_kg_m3=2000.0, specific_heat_j_kgk=900.0, source="GROUTJOBS"), _SOLID),
    Record(concrete(), _EXPOSED),
    Record(steel(), _EXPOSED),
    Record(grout("epoxy"), _EXPOSED),
    Record(
        Brick(length_mm=1200.0, width_mm=1000.0, height_mm=900.0),
        {"length_mm": "[mm], 20 to 3000", "width_mm": "[mm], 20 to 3000", "height_mm": "[mm], 20 to 3000"},
    ),
    Record(
        Pail(diameter_mm=285.0, height_mm=340.0), {"diameter_mm": "[mm], 20 to 1000", "height_mm": "[mm], 20 to 2000"}
    ),
    Record(
        Stored(
            name="pail",
            shape=Pail(diameter_mm=285.0, height_mm=340.0),
            solid=Solid(conductivity_w_mk=0.2, density_kg_m3=1150.0, specific_heat_j_kgk=1900.0, source="GROUTJOBS"),
            film_w_m2k=7.7,
            source="GROUTJOBS",
        ),
        {"film_w_m2k": "[W/m²·K], 0.1 to 1000"},
    ),
    Record(
        AIR,
        {
            "air_c": "[°C], -60 to 60",
            "dew_point_c": "[°C], -100 to 60",
            "wind_km_h": "[km/h], 0 to 250",
            "solar_w_m2": "[W/m²], 0 to 1400",
            "cloud_ratio": "[-], 0 to 1",
        },
    ),
    Record(
        Surface(exposure=Exposure.OPEN, absorptance=0.6, emissivity=0.9, sun_share_ratio=0.5),
        {"absorptance": "[-], 0 to 1", "emissivity": "[-], above 0, to 1", "sun_share_ratio": "[-], 0 to 1"},
    ),
    Record(
        Milestone(code="strip", label="strip", source="GROUTJOBS", needed_equivalent_age_h=24.0),
        {"needed_equivalent_age_h": "[h], above 0"},
    ),
    Record(
        Milestone(code="tension", label="tension", source="GROUTJOBS", needed_strength_ratio=0.8),
        {"needed_strength_ratio": "[-], above 0, to 1"},
    ),
)
