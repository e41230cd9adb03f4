"""Valid calls of the public functions on air, heat and cure; see calls.py."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from groutjobs.engineering import (
    cure_belief,
    cure_fit,
    enclosure_heat,
    grout_ahead,
    grout_correction,
    heat,
    lifts,
    materials,
    milestone_bands,
    preconditioning,
    series,
    wet_cure,
)
from groutjobs.engineering.conduction import Cells, Column, Stepper
from groutjobs.engineering.cure import EPOXY_CLOCK
from groutjobs.engineering.kinetics import ILLUSTRATIVE_EPOXY, ILLUSTRATIVE_GLASS
from groutjobs.engineering.sky import Exposure
from groutjobs.engineering.strength import EPOXY_MILESTONES, Milestone, StrengthCurve
from tests.engineering import records
from tests.engineering.cures import PLAIN, THREE_TEMPERATURES
from tests.engineering.limits import Call, a_call

AT_H = np.array([0.0, 6.0, 12.0, 24.0])
TEMPS_C = np.array([18.0, 24.0, 22.0, 20.0])
ROWS_C = np.array([[18.0, 24.0, 22.0, 20.0], [12.0, 15.0, 15.0, 14.0]])
HOURLY_C = np.array([4.0, 12.0, 20.0])
HOURLY_RH = np.array([0.5, 0.7, 0.9])
POINTS = PLAIN.rows(THREE_TEMPERATURES)
FIT = cure_fit.fit_cure(POINTS, EPOXY_CLOCK)
BELIEF = cure_belief.belief_before(FIT)
CURES = milestone_bands.draw_cures(BELIEF, 1, 100)
AHEAD = milestone_bands.cures_ahead(CURES, EPOXY_CLOCK, AT_H, ROWS_C)
CURVE = StrengthCurve(ultimate_mpa=100.0, time_h=20.0, shape=1.0, scatter_ratio=0.02)
SHARE = Milestone(code="tension", label="tension the bolts", source="GROUTJOBS", needed_strength_ratio=0.8)
LIFE = (materials.WorkingLifePoint(10.0, 150.0), materials.WorkingLifePoint(23.0, 90.0))
UNFROZEN = replace(ILLUSTRATIVE_EPOXY, glass=None)
BEFORE = heat.simulate(records.PLATED, records.AIR, records.SURROUNDINGS, records.ANNUAL_START, steps_per_hour=1)
COLUMN = Column([Cells(materials.soil(), np.array([0.1, 0.1]))])
STEPPER = Stepper(COLUMN, 60.0, 1)
MEASURED = (heat.MeasuredConcrete(0, 12.0), heat.MeasuredConcrete(1, 12.5), heat.MeasuredConcrete(2, 13.0))
PALLET = preconditioning.STORED["pallet_wrapped"]
BAND = lifts.PeakBand(
    grout_mm=50.0,
    kinetics_source="GROUTJOBS",
    low=lifts.Peak(peak_c=25.0, rise_k=5.0, at_h=8.0),
    likely=lifts.Peak(peak_c=30.0, rise_k=10.0, at_h=6.0),
    high=lifts.Peak(peak_c=40.0, rise_k=20.0, at_h=4.0),
)

_CURE_TIME = {"at_h": AT_H, "temp_c": TEMPS_C, "clock": EPOXY_CLOCK}
_STORE = {"stored": PALLET, "start_c": 5.0, "store_c": 21.0, "wanted_c": 16.0}
_COOLING = {"stored": PALLET, "start_c": 35.0, "store_c": 21.0, "wanted_c": 24.0}
_WARM_END, _COOL_END = {"0.1 K short of store_c": 21.0 - 0.1}, {"0.1 K short of store_c": 21.0 + 0.1}

_EVAPORATION = {"grout_temp_c": 24.0, "air_temp_c": 20.0, "relative_humidity": 0.5, "wind_km_h": 15.0}
HEATED = heat.simulate(
    records.PLATED,
    records.AIR,
    replace(records.SURROUNDINGS, covers=(records.ENCLOSURE,)),
    records.ANNUAL_START,
    steps_per_hour=1,
)
LEADS = enclosure_heat.preheat_leads(BEFORE, records.AIR, records.ENCLOSURE)
CASE = heat.Case(
    layers=records.PLATED,
    air=records.AIR,
    surroundings=records.SURROUNDINGS,
    start=records.ANNUAL_START,
    measured=MEASURED,
)
READ_AT_H = np.arange(7.0)
READ_C = np.array([22.0, 22.2, 22.6, 23.2, 24.0, 24.6, 25.0])
PACE = grout_correction.GroutPace(log_pace=0.1, log_pace_sd=0.2, inverse_mol_kj=0.001, reading_count=7, surprise=0.5)
WET = (wet_cure.WetSpell(1.0, 6.0), wet_cure.WetSpell(7.0, 12.0), wet_cure.WetSpell(12.5, 20.0))

HEAT_AND_CURE: dict[str, tuple[Call, ...]] = {
    "conduction.graded_cells_m": a_call(depth_m=0.07, first_m=0.01, growth=1.5),
    "cure.rate_ratio": a_call(clock=EPOXY_CLOCK, temp_c=18.0),
    "cure.equivalent_age_h": (
        *a_call(**_CURE_TIME),
        *a_call(**_CURE_TIME | {"temp_c": ROWS_C}),
    ),
    "cure.hours_until": a_call(needed_equivalent_age_h=10.0, **_CURE_TIME),
    "cure.hours_until_ages": a_call(needed_equivalent_ages_h=np.array([10.0, 12.0]), **_CURE_TIME | {"temp_c": ROWS_C}),
    "cure.hours_until_each": a_call(needed_equivalent_age_h=10.0, **_CURE_TIME | {"temp_c": ROWS_C}),
    "cure.nurse_saul_maturity_c_h": a_call(at_h=AT_H, temp_c=TEMPS_C, datum_c=0.0),
    "cure.en1992_equivalent_age_d": a_call(duration_d=[7.0, 7.0, 14.0], temp_c=[10.0, 15.0, 20.0]),
    "cure.freiesleben_hansen_pedersen_rate": a_call(temp_c=10.0, reference_c=20.0),
    "cure_belief.belief_before": a_call(fit=FIT, log_rate_sd=0.3),
    "cure_belief.corrected_belief": a_call(
        before=BELIEF,
        clock=EPOXY_CLOCK,
        at_h=AT_H,
        temp_c=TEMPS_C,
        samples=[cure_belief.StrengthSample(20.0, PLAIN.at(18.0))],
        matches=[cure_belief.AgeMatch(12.0, 12.0)],
    ),
    "cure_fit.fit_cure": a_call(points=POINTS, clock=EPOXY_CLOCK, prior=cure_fit.EPOXY_PRIOR),
    "exotherm.adiabatic_rise_k": a_call(binder_ratio=0.13, heat_kj_kg=400.0, specific_heat_j_kgk=1000.0),
    "exotherm.heated_cells_c": a_call(
        stepper=STEPPER,
        cell_c=np.array([[20.0, 20.0]]),
        heat_j_m2=np.array([[10.0, 10.0]]),
        film_w_m2k=np.array([10.0]),
        air_c=np.array([20.0]),
    ),
    "exotherm.curing_temperatures": a_call(
        layers=records.GROUTED,
        kinetics=ILLUSTRATIVE_EPOXY,
        placements=records.PLACEMENTS,
        around=records.AROUND,
        steps_per_hour=60,
    ),
    "heat.simulate": (
        *a_call(
            layers=records.PLATED,
            air=records.AIR,
            surroundings=records.SURROUNDINGS,
            start=records.ANNUAL_START,
            measured=MEASURED,
            steps_per_hour=1,
            from_hours=np.array([0.0]),
        ),
        *a_call(
            layers=records.PLATED,
            air=records.AIR,
            surroundings=records.SURROUNDINGS,
            start=heat.ProfileStart(cell_c=BEFORE.cell_c[0]),
            steps_per_hour=1,
        ),
    ),
    "heat.simulate_pours": a_call(
        before=BEFORE,
        air=records.AIR,
        starts=np.array([0.0, 1.0, 2.0]),
        hours=1,
        grout=materials.grout("epoxy"),
        grout_c=22.0,
    ),
    "kinetics.rate_constants_per_h": a_call(kinetics=ILLUSTRATIVE_EPOXY, temp_c=20.0),
    "kinetics.limiting_degree": a_call(glass=ILLUSTRATIVE_GLASS, temp_c=20.0),
    "kinetics.rates_per_h": a_call(
        kinetics=ILLUSTRATIVE_EPOXY, degree=np.array([0.0, 0.3, 0.6]), temp_c=np.array([15.0, 20.0, 25.0])
    ),
    "kinetics.unchecked_rates_per_h": a_call(
        kinetics=ILLUSTRATIVE_EPOXY, degree=np.array([0.0, 0.3, 0.6]), temp_c=np.array([15.0, 20.0, 25.0])
    ),
    "kinetics.closed_form_hours": a_call(kinetics=UNFROZEN, temp_c=20.0, degree=0.5),
    "kinetics.degrees_of_cure": (
        *a_call(kinetics=ILLUSTRATIVE_EPOXY, at_h=AT_H, temp_c=TEMPS_C, start_degree=0.0),
        *a_call(kinetics=ILLUSTRATIVE_EPOXY, at_h=AT_H, temp_c=TEMPS_C + 225.0, start_degree=0.0),
    ),
    "lifts.peak_band": a_call(
        layers=records.GROUTED, kinetics=ILLUSTRATIVE_EPOXY, placements=records.PLACEMENTS, around=records.AROUND
    ),
    "lifts.lift_findings": a_call(band=BAND, limits=lifts.LIFT_LIMITS),
    "materials.concrete": a_call(key="stone_mix"),
    "materials.steel": a_call(key="carbon"),
    "materials.grout": a_call(kind="epoxy"),
    "materials.soil": a_call(),
    "materials.working_life_range_c": a_call(points=LIFE),
    "materials.working_life_min": (
        *a_call({"the coldest row": 10.0, "the hottest": 23.0}, points=LIFE, temp_c=18.0),
        *a_call({"the coldest row": 8.0, "the hottest": 38.0}, points=LIFE[1:], temp_c=18.0),
    ),
    "materials.working_lives_min": a_call(points=LIFE, temp_c=np.array([12.0, 16.0, 20.0])),
    "milestone_bands.draw_cures": a_call(belief=BELIEF, seed=1, count=120),
    "milestone_bands.cures_ahead": a_call(samples=CURES, clock=EPOXY_CLOCK, at_h=AT_H, temp_c=ROWS_C, fine_step_h=0.25),
    "milestone_bands.milestone_bands": a_call(milestones=(*EPOXY_MILESTONES, SHARE), ahead=AHEAD),
    "preconditioning.lumped_time_constant_s": a_call(
        {"a Biot number of 0.1": 0.01},
        solid=preconditioning.RESIN,
        volume_to_surface_m=0.001,
        film_w_m2k=2.0,
    ),
    "preconditioning.stored_temperatures": a_call(
        stored=PALLET, start_c=5.0, store_c=21.0, at_h=np.array([0.0, 10.0, 50.0])
    ),
    "preconditioning.hours_in_store": (*a_call(_WARM_END, **_STORE), *a_call(_COOL_END, **_COOLING)),
    "preconditioning.conditioning_findings": (
        *a_call(_WARM_END, **_STORE, hours_left=60.0),
        *a_call(_COOL_END, **_COOLING, hours_left=60.0),
    ),
    "series.wall_series": a_call(biot=1.0),
    "series.cylinder_series": a_call(biot=1.0),
    "series.wall_face_ratio": a_call(series=series.wall_series(1.0), fourier=0.2),
    "sky.sky_temps_c": a_call(air_c=HOURLY_C, dew_point_c=HOURLY_C - 5.0, cloud_ratio=HOURLY_RH),
    "sky.convection_films_w_m2k": tuple(
        Call({"wind_km_h": np.array([0.0, 10.0, 30.0]), "exposure": exposure}) for exposure in Exposure
    ),
    "sky.gap_conductance_w_m2k": a_call(gap_mm=40.0, mean_c=10.0, emissivity_above=0.8, emissivity_below=0.9),
    "strength.strength_mpa": a_call(curve=CURVE, equivalent_age_h=20.0),
    "strength.equivalent_age_at_strength_h": a_call(curve=CURVE, needed_mpa=50.0),
    "strength.fit_strength": a_call(points=POINTS, clock=EPOXY_CLOCK),
    "specimens.compressive_strength_mpa": a_call(load_kn=200.0, area_mm2=2500.0),
    "specimens.cylinder_area_mm2": a_call(diameter_mm=100.0),
    "strength.milestone_age_h": a_call(milestone=SHARE, curve=CURVE),
    "strength.milestone_hours": a_call(
        milestones=(*EPOXY_MILESTONES, SHARE), at_h=AT_H, temp_c=ROWS_C, clock=EPOXY_CLOCK, curve=CURVE
    ),
    "sun.sun_elevations_deg": a_call(
        first_at=datetime(2026, 6, 1, tzinfo=UTC),
        after_h=np.array([0.0, 6.0, 12.0]),
        latitude_deg=50.0,
        longitude_deg=10.0,
    ),
    "sunlight.sunlight_from_cloud_w_m2": a_call(
        elevation_deg=np.array([-10.0, 20.0, 50.0]), cloud_ratio=np.array([0.0, 0.5, 1.0])
    ),
    "psychrometrics.saturation_pressure_kpa": a_call(temp_c=20.0),
    "psychrometrics.dew_point_c": a_call(temp_c=20.0, relative_humidity=0.5),
    "psychrometrics.dew_points_c": a_call(temp_c=HOURLY_C, relative_humidity=HOURLY_RH),
    "psychrometrics.relative_humidity_from_dew_point": (
        *a_call(temp_c=20.0, dew_point_c=10.0),
        *a_call(temp_c=20.0, dew_point_c=-80.0),
    ),
    "psychrometrics.dew_point_spread_k": a_call(surface_temp_c=18.0, air_temp_c=20.0, relative_humidity=0.5),
    "psychrometrics.evaporation_rate_kg_m2_h": a_call(**_EVAPORATION),
    "psychrometrics.evaporation_rate_menzel_kg_m2_h": a_call(**_EVAPORATION),
    "psychrometrics.evaporation_rates_kg_m2_h": a_call(
        **{name: np.full(3, value) for name, value in _EVAPORATION.items()}
    ),
    "enclosure_heat.heater_need": a_call(enclosure=records.ENCLOSURE, tent=records.TENT, run=HEATED, air=records.AIR),
    "enclosure_heat.preheat_leads": a_call(before=BEFORE, air=records.AIR, enclosure=records.ENCLOSURE),
    "enclosure_heat.preheat_finding": a_call(leads=LEADS, wanted_c=20.0, system="metric"),
    "enclosure_heat.heater_findings": a_call(
        need=enclosure_heat.heater_need(records.ENCLOSURE, records.TENT, HEATED, records.AIR), system="metric"
    ),
    "grout_correction.product_kinetics": a_call(curve=CURVE, activation_kj_mol=58.0, clock=EPOXY_CLOCK),
    "grout_correction.grout_pace": a_call(
        kinetics=ILLUSTRATIVE_EPOXY, setting=records.SETTING, air_c=np.full(7, 20.0), at_h=READ_AT_H, temp_c=READ_C
    ),
    "grout_correction.belief_with_grout": a_call(before=BELIEF, found=PACE, link_log_sd=0.3),
    "grout_ahead.temperatures_ahead": a_call(
        kinetics=UNFROZEN,
        setting=records.SETTING,
        air_c=np.full((2, 4), 20.0),
        log_pace=0.1,
        log_pace_sd=0.2,
        seed=1,
        heating=grout_ahead.Heating(air_c=25.0, from_h=1.0, until_h=3.0),
    ),
    "grout_ahead.bent_to_readings": a_call(at_h=AT_H, rows_c=ROWS_C, read_at_h=AT_H[:2], read_c=TEMPS_C[:2]),
    "grout_ahead.band_of": a_call(rows_c=ROWS_C),
    "reading_checks.spikes": a_call(at_h=AT_H, temp_c=TEMPS_C),
    "reading_checks.stuck_spans": a_call(at_h=AT_H, temp_c=TEMPS_C, other_at_h=AT_H, other_c=TEMPS_C + 1.0),
    "reading_checks.in_air_spans": a_call(at_h=AT_H, grout_c=TEMPS_C, air_at_h=AT_H, air_c=TEMPS_C - 5.0),
    "reading_checks.exchanges": a_call(at_h=AT_H, one_c=TEMPS_C, other_c=TEMPS_C - 5.0),
    "reading_checks.exchanged_throughout": a_call(
        grout_c=TEMPS_C, air_c=TEMPS_C - 5.0, placed_c=20.0, outside_c=TEMPS_C - 6.0
    ),
    "reading_checks.clock_steps": a_call(at_h=AT_H),
    "reading_checks.clock_shift": a_call(at_h=AT_H, air_c=TEMPS_C, known_at_h=AT_H, known_c=TEMPS_C),
    "heat.simulate_machines": a_call(cases=(CASE, CASE)),
    "heat.simulate_onward": a_call(
        before=BEFORE, air=records.AIR, starts=np.array([0.0, 1.0, 2.0]), hours=1, surroundings=records.SURROUNDINGS
    ),
    "lifts.peak_bands": a_call(
        layers=records.GROUTED, kinetics=ILLUSTRATIVE_EPOXY, placements=records.PLACEMENTS, around=records.AROUND
    ),
    "lifts.lifts_needed": a_call(deepest_mm=150.0, most_mm=100.0),
    "milestone_bands.air_paths_c": a_call(temp_c=HOURLY_C, sd_k=np.array([0.5, 1.0, 1.5]), time_constant_h=6.0, seed=1),
    "protection.require_apart": a_call(covers=(records.SHADE, records.ENCLOSURE)),
    "protection.covers_before_and_after": a_call(
        covers=(records.ENCLOSURE,), hours=np.array([0, 1, 2]), air=records.AIR
    ),
    "protection.air_under": a_call(covers=(records.ENCLOSURE,), air=records.AIR, first=0),
    "protection.following_outside": a_call(covers=(records.SHADE, records.ENCLOSURE)),
    "protection.held_inside": a_call(covers=(records.SHADE, records.ENCLOSURE)),
    "psychrometrics.saturation_pressures_kpa": a_call(temp_c=HOURLY_C),
    "response.temperature_errors": a_call(
        {"the last but one": 1.0}, before=BEFORE, air=records.AIR, first=0, errors=records.AIR_ERRORS
    ),
    "wet_cure.wet_cure": a_call(spells=WET, at_h=AT_H, temp_c=TEMPS_C, rule=wet_cure.WET_CURE_RULE),
    "wet_cure.wet_cure_findings": a_call(
        found=wet_cure.wet_cure(WET, AT_H, TEMPS_C, wet_cure.WET_CURE_RULE), now_h=24.0
    ),
    "spin_up.spun_up": a_call(air=records.AIR, past_h=1, exposure=Exposure.OPEN, usual_year=records.AIR),
    "spin_up.left_error_k": a_call(past_h=240.0, exposure=Exposure.OPEN, usual_year_ratio=0.5),
}
