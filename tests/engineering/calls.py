"""One valid call, or more, of every public function of the engineering, by "module.function".

Each is refused when one of its numbers is made wrong; that is what test_refusals does. `words` say what an end of a
range is that stands in words in the docstring. Numbers are invented and ordinary. Floats are written as floats: an int
is a count. Heat and cure stand in calls_heat_and_cure.py.
"""

from dataclasses import replace

import numpy as np
import shapely

from groutjobs.engineering import (
    batching,
    bolt_tables,
    formwork,
    jackscrews,
    levelling,
    reconciliation,
    sounding,
    survey,
    takeoff,
)
from groutjobs.engineering.compartments import Hole, HoleKind
from groutjobs.engineering.tightening import BoltPlace
from tests.engineering.calls_heat_and_cure import HEAT_AND_CURE
from tests.engineering.limits import Call, a_call
from tests.engineering.plates import UNDERSIDE_MM, flat, moved, plate_case, rectangle, tilted, whole_block

SQUARE = rectangle(0.0, 0.0, 2000.0, 1000.0)
SQUARE_POLYGON = shapely.Polygon(SQUARE)
BLOCK = shapely.box(-75.0, -75.0, 3075.0, 1575.0)
READINGS_X = np.array([0.0, 2000.0, 2000.0, 0.0, 1000.0])
READINGS_Y = np.array([0.0, 0.0, 1000.0, 1000.0, 500.0])
READINGS_Z = np.array([100.0, 100.2, 100.3, 100.1, 100.15])
PLANE = levelling.best_fit_plane(READINGS_X, READINGS_Y, READINGS_Z, resolution_mm=0.01)
LEVELS = levelling.level_survey(READINGS_X, READINGS_Y, READINGS_Z, resolution_mm=0.01)
LIMIT = levelling.LevelLimit(label="owner", tilt_mm_m=0.2, coplanarity_mm=0.1, source="GROUTJOBS")
SCREWS = tuple(
    jackscrews.Jackscrew(name=f"J{number}", x_mm=x, y_mm=y, pitch_mm=2.0, gap_mm=50.0)
    for number, (x, y) in enumerate(SQUARE, start=1)
)
TARGET = jackscrews.Target(
    min_gap_mm=25.0, tilt_mm_m=0.05, lowest_elevation_mm=90.0, highest_elevation_mm=120.0, raise_only=False
)
BATCHES = batching.BatchPlan(
    kits=7, kits_per_batch=2, kit_yield_l=14.0, mixers=2, mix_min=4.0, turnaround_min=3.0, place_min=6.0,
    working_life_min=90.0,
)  # fmt: skip
THREAD = bolt_tables.threads()["M24×3"]
INCH_THREAD = bolt_tables.threads()["1 1/2-8 UN"]
GRADE = bolt_tables.grades()["ISO 898-1 class 8.8"]
FRICTION = next(iter(bolt_tables.frictions().values()))
CASE = moved(plate_case(tilted), lambda place: (float(place[0]), float(place[1])))
TAKEOFF = takeoff.take_off(plate_case())
PARTS = (takeoff.Part(name="pad", volume_m3=0.001, count=4, compartment="A"),)
TAPS = tuple(
    sounding.Tap(x_mm=75.0 + 150.0 * column, y_mm=75.0 + 150.0 * row, hollow=column == row == 1)
    for column in range(4)
    for row in range(3)
)
DECK = {"A": rectangle(0.0, 0.0, 600.0, 450.0)}
FEET = {"foot": rectangle(100.0, 100.0, 100.0, 100.0)}
SOUNDED = sounding.sounding(TAPS, 150.0, DECK, FEET)
FILLS = (
    Hole(kind=HoleKind.FILL, x_mm=500.0, y_mm=500.0, diameter_mm=100.0),
    Hole(kind=HoleKind.FILL, x_mm=1500.0, y_mm=500.0, diameter_mm=100.0),
    Hole(kind=HoleKind.VENT, x_mm=1900.0, y_mm=900.0, diameter_mm=13.0),
)
FILLED = tuple(
    reconciliation.FillReading(placed_l=placed_l, batches=number, filled_ratio=ratio)
    for number, (placed_l, ratio) in enumerate([(20.0, 0.2), (40.0, 0.4), (60.0, 0.6)], start=1)
)
_LEVEL = {"x_mm": READINGS_X, "y_mm": READINGS_Y, "elevation_mm": READINGS_Z, "resolution_mm": 0.01}
CALLS: dict[str, tuple[Call, ...]] = HEAT_AND_CURE | {
    "batching.timetable": a_call(plan=BATCHES),
    "batching.timetable_findings": a_call(plan=BATCHES),
    "block.block_mass_kg": a_call(length_mm=3000.0, width_mm=1500.0, height_mm=1000.0, density_kg_m3=2400.0),
    "block.mass_ratio": a_call(block_kg=10_800.0, machine_kg=3000.0),
    "block.free_length_diameters": a_call(free_length_mm=288.0, diameter_mm=24.0),
    "block.grout_space_mm": a_call(underside_elevation_mm=1050.0, concrete_elevations_mm=[1000.0, 1004.0, 996.0]),
    "bolt_tables.threads": a_call(),
    "bolt_tables.grades": a_call(),
    "bolt_tables.frictions": a_call(),
    "bolt_tables.stress_area_mm2": a_call({"half the diameter": 12.0}, diameter_mm=24.0, pitch_mm=3.0, series="ISO"),
    "bolt_tables.torque_at_30_ksi": a_call(thread=INCH_THREAD),
    "bolting.torque_nm": a_call(tension_kn=70.0, diameter_mm=24.0, friction_factor=0.15),
    "bolting.tension_kn": a_call(torque_nm=250.0, diameter_mm=24.0, friction_factor=0.15),
    "bolting.tension_band": a_call(torque_nm=250.0, diameter_mm=24.0, friction=FRICTION),
    "bolting.elongation_mm": a_call(
        tension_kn=70.0, free_length_mm=300.0, stress_area_mm2=353.0, modulus_mpa=200_000.0
    ),
    "bolting.stress_mpa": a_call(tension_kn=70.0, area_mm2=353.0),
    "bolting.grout_bearing_kpa": a_call(total_tension_kn=560.0, weight_kn=40.0, contact_area_m2=1.5),
    "bolting.bolt_findings": a_call(thread=THREAD, tension_kn=100.0, grade=GRADE, free_length_mm=200.0),
    "bolting.bearing_findings": a_call(bearing_kpa=400.0),
    "checks.require_between": a_call(quantity="width", value=5.0, low=0.0, high=10.0, unit="mm", source="GROUTJOBS"),
    "checks.require_above": a_call(quantity="width", value=5.0, low=0.0, unit="mm", source="GROUTJOBS"),
    "checks.require_all_between": a_call(
        quantity="width", values=np.array([1.0, 5.0, 9.0]), low=0.0, high=10.0, unit="mm", source="GROUTJOBS"
    ),
    "compartments.checked_compartments": a_call(
        plate=shapely.Polygon(CASE.plate_outline), compartments=CASE.compartments
    ),
    "compartments.flow_distance_mm": a_call(compartment=SQUARE_POLYGON, fill_holes=FILLS[:2]),
    "compartments.compartment_findings": a_call(
        plate_outline=CASE.plate_outline, compartments=CASE.compartments, holes=FILLS
    ),
    "compartments.expansion_joints": a_call(length_m=4.0),
    "formwork.formwork_list": a_call(
        takeoff=TAKEOFF, bed_length_m=3.0, chamfered=True, epoxy_joints=1, rules=formwork.DEFAULT_RULES
    ),
    "formwork.head_pressure_kpa": a_call(density_kg_m3=2000.0, head_mm=300.0),
    "formwork.uplift": a_call(
        density_kg_m3=2000.0, head_mm=300.0, plate_area_m2=4.5, held_mass_kg=4000.0, snug_bolts_kn=20.0
    ),
    "formwork.uplift_findings": a_call(lift=formwork.Uplift(head_pressure_kpa=6.0, uplift_kn=27.0, hold_down_kn=50.0)),
    "formwork.depth_findings": a_call(takeoff=TAKEOFF, limits=formwork.EPOXY_DEPTH_LIMITS),
    "injection.injection_holes": a_call(outline=((0.0, 0.0), (300.0, 0.0), (300.0, 200.0)), farthest_apart_mm=1000.0),
    "injection.resin_need_l": a_call(area_m2=0.1, least_depth_mm=1.0, greatest_depth_mm=5.0, waste_ratio=0.25),
    "jackscrews.jackscrew_moves": a_call(plane=PLANE, screws=SCREWS, target=TARGET),
    "level_change.level_change": a_call(
        x_mm=READINGS_X,
        y_mm=READINGS_Y,
        before_mm=READINGS_Z,
        after_mm=READINGS_Z + 0.1,
        before_resolution_mm=0.01,
        after_resolution_mm=0.02,
    ),
    "levelling.reading_sd_mm": a_call(resolution_mm=0.01),
    "levelling.best_fit_plane": a_call(**_LEVEL),
    "levelling.level_survey": a_call(**_LEVEL),
    "levelling.level_findings": a_call(survey=LEVELS, limit=LIMIT),
    "levelling.require_spread": a_call(quantity="readings", places=np.array(SQUARE)),
    "outlines.require_point": a_call(quantity="corner", x_mm=10.0, y_mm=10.0),
    "outlines.checked_polygon": a_call(quantity="plate", outline=SQUARE[:3]),
    "outlines.require_inside": a_call(
        quantity="plate", inner=SQUARE_POLYGON, outer_name="block", outer=SQUARE_POLYGON.buffer(100.0)
    ),
    "outlines.require_apart": a_call(polygons={"A": SQUARE_POLYGON}),
    "outlines.area_m2": a_call(quantity="plate", outline=SQUARE[:3]),
    "reconciliation.compare": a_call(reading=FILLED[0], takeoff_l=100.0, errors=reconciliation.DEFAULT_ERRORS),
    "reconciliation.reconciliation_findings": a_call(
        compartment="A", readings=FILLED, takeoff_l=100.0, errors=reconciliation.DEFAULT_ERRORS
    ),
    "sounding.sounding": a_call(taps=TAPS, spacing_mm=150.0, compartments=DECK, feet=FEET),
    "sounding.sounding_findings": a_call(survey=SOUNDED, limits=sounding.DEFAULT_LIMITS),
    "sounding.injection_volume_l": a_call(area_m2=0.1, least_depth_mm=1.0, greatest_depth_mm=5.0),
    "survey.survey_surface": a_call(points=whole_block(tilted), block=BLOCK),
    "survey.bed_over": a_call(
        surface=survey.survey_surface(whole_block(flat), BLOCK), region=SQUARE_POLYGON, top_elevation_mm=UNDERSIDE_MM
    ),
    "takeoff.cylinder_volume_m3": a_call(diameter_mm=100.0, height_mm=50.0),
    "takeoff.take_off": a_call(
        case=replace(CASE, chamfer_mm=20.0, roughness_mm=6.0, shoulder_rise_mm=15.0, parts=PARTS)
    ),
    "takeoff.kits_to_order": a_call(net_m3=0.3, waste_ratio=0.15, kit_yield_l=14.0, kit_kg=30.0, spare_kits=1),
    "takeoff.survey_depth_sd_mm": a_call(spacing_m=0.4),
    "takeoff.takeoff_notes": a_call(takeoff=TAKEOFF),
    "tap_grid.hit_probability": a_call(diameter_mm=100.0, spacing_mm=150.0),
    "tap_grid.missed_void_mm": a_call(spacing_mm=150.0, probability=0.5),
    "tightening.tightening_passes": a_call(final_torque_nm=300.0),
    "tightening.tightening_order": a_call(
        bolts=tuple(BoltPlace(name=f"B{n}", x_mm=x, y_mm=y) for n, (x, y) in enumerate(SQUARE, start=1))
    ),
}
