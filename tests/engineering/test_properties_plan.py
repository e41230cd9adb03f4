"""What must hold for any plate, survey, bolts, screws, taps and batches: order, mirror image, scale, growth, limits.

Nothing here is a published number; each check is a law of geometry or arithmetic that needs no source.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from groutjobs.engineering import bolt_tables, bolting, formwork
from groutjobs.engineering.batching import BatchPlan, timetable
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.compartments import Hole, HoleKind, flow_distance_mm
from groutjobs.engineering.jackscrews import Jackscrew, Target, jackscrew_moves
from groutjobs.engineering.levelling import LevelSurvey, best_fit_plane, level_survey
from groutjobs.engineering.outlines import area_m2
from groutjobs.engineering.reconciliation import FillReading, compare
from groutjobs.engineering.sounding import Sounding, Tap, sounding
from groutjobs.engineering.takeoff import (
    Part,
    TakeoffCase,
    cylinder_volume_m3,
    kits_to_order,
    survey_depth_sd_mm,
    take_off,
)
from groutjobs.engineering.tap_grid import hit_probability, missed_void_mm
from groutjobs.engineering.tightening import BoltPlace, tightening_order
from groutjobs.findings import Level
from tests.engineering.plates import moved, plate_case, rectangle, scattered_case, tilted

seeds = st.integers(0, 2**32 - 1)
Place = Callable[[tuple[float, float]], tuple[float, float]]


def along_mirrored(place: tuple[float, float]) -> tuple[float, float]:
    return 3000.0 - place[0], place[1]


def twice(place: tuple[float, float]) -> tuple[float, float]:
    return 2.0 * place[0], 2.0 * place[1]


def doubled(case: TakeoffCase) -> TakeoffCase:
    """The same case with every length twice as long."""
    larger = moved(case, twice)
    return replace(
        larger,
        survey=tuple((x, y, 2.0 * z) for x, y, z in larger.survey),
        compartments=tuple(replace(one, fill_above_mm=2.0 * one.fill_above_mm) for one in larger.compartments),
        plate_underside_elevation_mm=2.0 * case.plate_underside_elevation_mm,
        clearance_mm=2.0 * case.clearance_mm,
        roughness_mm=2.0 * case.roughness_mm,
        chamfer_mm=2.0 * case.chamfer_mm,
        shoulder_rise_mm=2.0 * case.shoulder_rise_mm,
        parts=tuple(replace(part, volume_m3=8.0 * part.volume_m3) for part in case.parts),
    )


def shuffled(seed: int, values: Sequence[Any]) -> tuple[Any, ...]:
    return tuple(values[index] for index in np.random.default_rng(seed).permutation(len(values)))


# Takeoff


@settings(max_examples=20)
@given(seeds)
def test_survey_points_in_any_order_give_the_same_volume(seed: int) -> None:
    case = scattered_case(seed)
    other = replace(case, survey=shuffled(seed, case.survey))
    assert take_off(other).net_m3 == pytest.approx(take_off(case).net_m3, rel=1e-9)


@settings(max_examples=20)
@given(seeds)
def test_compartments_and_parts_in_any_order_give_the_same_volume(seed: int) -> None:
    parts = tuple(Part(name=f"pad {n}", volume_m3=0.001 * n, compartment="AB"[n % 2]) for n in range(1, 5))
    case = replace(scattered_case(seed), parts=parts)
    other = replace(case, compartments=shuffled(seed, case.compartments), parts=shuffled(seed, parts))
    assert take_off(other).net_m3 == pytest.approx(take_off(case).net_m3, rel=1e-12)


@settings(max_examples=20)
@given(seeds)
def test_a_mirrored_plate_takes_the_same_volume(seed: int) -> None:
    case = scattered_case(seed)
    assert take_off(moved(case, along_mirrored)).net_m3 == pytest.approx(take_off(case).net_m3, rel=1e-9)


@settings(max_examples=20)
@given(seeds)
def test_twice_every_length_is_eight_times_the_volume(seed: int) -> None:
    parts = (Part(name="pad", volume_m3=0.002, count=3, compartment="A"),)
    case = replace(scattered_case(seed), roughness_mm=6.0, chamfer_mm=20.0, shoulder_rise_mm=15.0, parts=parts)
    one, two = take_off(case), take_off(doubled(case))
    assert two.net_m3 == pytest.approx(8.0 * one.net_m3, rel=1e-9)
    assert two.chamfer_m3 == pytest.approx(8.0 * one.chamfer_m3, rel=1e-9)
    assert two.bed_area_m2 == pytest.approx(4.0 * one.bed_area_m2, rel=1e-9)
    assert two.form_perimeter_m == pytest.approx(2.0 * one.form_perimeter_m, rel=1e-9)


@settings(max_examples=20)
@given(seed=seeds, roughness_mm=st.floats(0.0, 50.0))
def test_roughness_adds_its_share_over_the_whole_bed_and_none_adds_nothing(seed: int, roughness_mm: float) -> None:
    smooth, rough = scattered_case(seed), replace(scattered_case(seed), roughness_mm=roughness_mm)
    added_m3 = take_off(rough).net_m3 - take_off(smooth).net_m3
    assert added_m3 == pytest.approx(take_off(smooth).bed_area_m2 * 0.5 * roughness_mm / 1000.0, abs=1e-12)


@given(factor=st.floats(0.1, 20.0), diameter_mm=st.floats(10.0, 500.0), height_mm=st.floats(10.0, 500.0))
def test_areas_grow_with_the_square_and_volumes_with_the_cube(
    factor: float, diameter_mm: float, height_mm: float
) -> None:
    plain = cylinder_volume_m3(diameter_mm, height_mm)
    assert cylinder_volume_m3(factor * diameter_mm, factor * height_mm) == pytest.approx(factor**3 * plain)
    outline = rectangle(0.0, 0.0, factor * diameter_mm, factor * height_mm)
    assert area_m2("plate", outline) == pytest.approx(factor**2 * diameter_mm * height_mm / 1e6)


@given(net_m3=st.floats(0.01, 5.0), waste=st.floats(0.0, 0.5), more=st.floats(0.0, 0.5))
def test_more_waste_or_more_volume_never_needs_fewer_kits(net_m3: float, waste: float, more: float) -> None:
    def kits(volume_m3: float, waste_ratio: float) -> int:
        return kits_to_order(volume_m3, waste_ratio=waste_ratio, kit_yield_l=14.0, kit_kg=30.0, spare_kits=0).kits

    assert kits(net_m3, waste) <= kits(net_m3, waste + more)
    assert kits(net_m3, waste) <= kits(net_m3 * (1.0 + more), waste)


@given(one_m=st.floats(0.01, 5.0), other_m=st.floats(0.01, 5.0))
def test_a_coarser_survey_is_never_surer(one_m: float, other_m: float) -> None:
    fine_m, coarse_m = sorted((one_m, other_m))
    assert survey_depth_sd_mm(fine_m) <= survey_depth_sd_mm(coarse_m)


@given(seed=seeds, factor=st.floats(0.5, 5.0))
def test_the_flow_distance_scales_and_does_not_depend_on_the_order_of_holes(seed: int, factor: float) -> None:
    random = np.random.default_rng(seed)
    places = random.uniform((0.0, 0.0), (2000.0, 1000.0), (4, 2))

    def flow(scale: float, order: Sequence[int]) -> float:
        holes = [
            Hole(kind=HoleKind.FILL, x_mm=scale * float(x), y_mm=scale * float(y), diameter_mm=100.0)
            for x, y in places[list(order)]
        ]
        return flow_distance_mm(shapely.box(0.0, 0.0, 2000.0 * scale, 1000.0 * scale), holes)

    plain = flow(1.0, range(4))
    assert flow(1.0, [2, 0, 3, 1]) == pytest.approx(plain, rel=1e-9)
    assert flow(factor, range(4)) == pytest.approx(factor * plain, rel=1e-6)


@given(head_mm=st.floats(0.0, 2000.0), more_mm=st.floats(0.0, 2000.0))
def test_a_higher_head_never_leaves_more_in_reserve(head_mm: float, more_mm: float) -> None:
    plate = {"density_kg_m3": 2000.0, "plate_area_m2": 3.0, "held_mass_kg": 2000.0, "snug_bolts_kn": 10.0}
    low, high = (formwork.uplift(head_mm=head, **plate) for head in (head_mm, head_mm + more_mm))
    assert high.reserve_kn <= low.reserve_kn
    assert formwork.uplift(head_mm=0.0, **plate).uplift_kn == 0.0


# Level and jackscrews


def readings(seed: int) -> tuple[Floats, Floats, Floats]:
    random = np.random.default_rng(seed)
    x, y = random.uniform(0.0, 3000.0, 8), random.uniform(0.0, 1500.0, 8)
    assume(
        min(math.dist(a, b) for i, a in enumerate(zip(x, y, strict=True)) for b in list(zip(x, y, strict=True))[:i])
        > 50
    )
    return x, y, random.uniform(99.0, 101.0, 8)


def surveyed(x: Floats, y: Floats, z: Floats) -> LevelSurvey:
    return level_survey(x, y, z, resolution_mm=0.01)


@settings(max_examples=40)
@given(seeds)
def test_a_mirrored_plate_has_the_mirrored_plane(seed: int) -> None:
    x, y, z = readings(seed)
    one, other = surveyed(x, y, z), surveyed(-x, y, z)
    assert other.plane.tilt_along_mm_m == pytest.approx(-one.plane.tilt_along_mm_m, abs=1e-9)
    assert other.plane.tilt_across_mm_m == pytest.approx(one.plane.tilt_across_mm_m, abs=1e-9)
    assert other.plane.elevation_mm == pytest.approx(one.plane.elevation_mm, abs=1e-9)
    assert other.coplanarity_mm == pytest.approx(one.coplanarity_mm, abs=1e-9)
    assert other.steepest.slope_mm_m == pytest.approx(one.steepest.slope_mm_m)


@settings(max_examples=40)
@given(seeds)
def test_a_plate_turned_over_its_diagonal_swaps_its_tilts(seed: int) -> None:
    x, y, z = readings(seed)
    one, other = surveyed(x, y, z).plane, surveyed(y, x, z).plane
    assert (other.tilt_along_mm_m, other.tilt_across_mm_m) == pytest.approx(
        (one.tilt_across_mm_m, one.tilt_along_mm_m), abs=1e-9
    )


@settings(max_examples=40)
@given(seed=seeds, factor=st.floats(0.2, 5.0))
def test_a_plate_of_another_size_has_the_same_tilt(seed: int, factor: float) -> None:
    x, y, z = readings(seed)
    one, other = surveyed(x, y, z), surveyed(factor * x, factor * y, factor * z)
    assert other.plane.tilt_along_mm_m == pytest.approx(one.plane.tilt_along_mm_m, abs=1e-8)
    assert other.coplanarity_mm == pytest.approx(factor * one.coplanarity_mm, abs=1e-8)


@settings(max_examples=40)
@given(seed=seeds, share=st.floats(0.0, 1.0))
def test_readings_mixed_from_two_surveys_give_the_mixed_plane(seed: int, share: float) -> None:
    x, y, first = readings(seed)
    second = np.random.default_rng([seed, 1]).uniform(99.0, 101.0, 8)

    def tilt(z: Floats) -> float:
        return best_fit_plane(x, y, z, resolution_mm=0.01).tilt_along_mm_m

    mixed = tilt(share * first + (1.0 - share) * second)
    assert mixed == pytest.approx(share * tilt(first) + (1.0 - share) * tilt(second), abs=1e-8)


CORNERS = [(100.0, 100.0), (2900.0, 100.0), (2900.0, 1400.0), (100.0, 1400.0), (1500.0, 750.0)]


def total_moves_mm(places: Sequence[tuple[float, float]], along: float, across: float, *, raise_only: bool) -> float:
    x, y = (np.array(row) for row in zip(*places, strict=True))
    plane = best_fit_plane(x, y, 250.0 + along * x / 1e3 + across * y / 1e3, resolution_mm=0.01)
    screws = [Jackscrew(name=f"J{n}", x_mm=px, y_mm=py, pitch_mm=2.0, gap_mm=60.0) for n, (px, py) in enumerate(places)]
    return jackscrew_moves(plane, screws, Target(min_gap_mm=30.0, raise_only=raise_only)).total_move_mm


@settings(max_examples=40)
@given(along=st.floats(-3.0, 3.0), across=st.floats(-3.0, 3.0), raise_only=st.booleans())
def test_a_mirrored_plate_asks_for_the_same_sum_of_moves(along: float, across: float, raise_only: bool) -> None:
    plain = total_moves_mm(CORNERS, along, across, raise_only=raise_only)
    mirrored = [(-x, y) for x, y in CORNERS]
    assert total_moves_mm(mirrored, -along, across, raise_only=raise_only) == pytest.approx(plain, abs=1e-6)


@settings(max_examples=40)
@given(along=st.floats(-3.0, 3.0), across=st.floats(-3.0, 3.0), order=st.permutations(CORNERS))
def test_screws_in_any_order_ask_for_the_same_sum_of_moves(
    along: float, across: float, order: list[tuple[float, float]]
) -> None:
    plain = total_moves_mm(CORNERS, along, across, raise_only=False)
    assert total_moves_mm(order, along, across, raise_only=False) == pytest.approx(plain, abs=1e-6)


@settings(max_examples=40)
@given(along=st.floats(-1.0, 1.0), across=st.floats(-1.0, 1.0), factor=st.floats(0.1, 3.0))
def test_a_tilt_so_many_times_as_steep_asks_for_as_many_times_the_moves(
    along: float, across: float, factor: float
) -> None:
    plain = total_moves_mm(CORNERS, along, across, raise_only=True)
    steeper = total_moves_mm(CORNERS, factor * along, factor * across, raise_only=True)
    assert steeper == pytest.approx(factor * plain, abs=1e-6)


# Bolts


@given(tension=st.floats(1.0, 500.0), more=st.floats(0.0, 500.0))
def test_more_tension_never_speaks_less_against_a_bolt(tension: float, more: float) -> None:
    thread, grade = bolt_tables.threads()["M24×3"], bolt_tables.grades()["ISO 898-1 class 8.8"]

    def weight(tension_kn: float) -> int:
        levels = [one.level for one in bolting.bolt_findings(thread, tension_kn, grade, 400.0)]
        return sum({Level.BLOCKER: 2, Level.WARNING: 1}[level] for level in levels)

    assert weight(tension) <= weight(tension + more)


@given(factor=st.floats(0.1, 10.0), tension=st.floats(1.0, 500.0), length=st.floats(50.0, 2000.0))
def test_stretch_is_proportional_to_force_and_length_and_inverse_to_area(
    factor: float, tension: float, length: float
) -> None:
    plain = bolting.elongation_mm(tension, length, 353.0)
    assert bolting.elongation_mm(factor * tension, length, 353.0) == pytest.approx(factor * plain)
    assert bolting.elongation_mm(tension, factor * length, 353.0) == pytest.approx(factor * plain)
    assert bolting.elongation_mm(tension, length, factor * 353.0) == pytest.approx(plain / factor)


@given(torque=st.floats(10.0, 3000.0), low=st.floats(0.05, 0.5), high=st.floats(0.05, 0.5))
def test_a_band_of_tension_holds_its_usual_value_and_closes_with_the_friction(
    torque: float, low: float, high: float
) -> None:
    low, high = sorted((low, high))
    friction = bolt_tables.Friction(name="any", low=low, usual=(low + high) / 2.0, high=high)
    band = bolting.tension_band(torque, 24.0, friction)
    assert band.low_kn <= band.usual_kn * (1.0 + 1e-12) <= band.high_kn * (1.0 + 2e-12)
    even = bolting.tension_band(torque, 24.0, replace(friction, low=high, usual=high))
    assert (even.low_kn, even.high_kn) == (even.usual_kn, even.usual_kn)


def bolts_at(places: Sequence[tuple[float, float]]) -> list[BoltPlace]:
    return [BoltPlace(name=f"B{number}", x_mm=float(x), y_mm=float(y)) for number, (x, y) in enumerate(places)]


@given(
    st.lists(
        st.tuples(st.integers(-2000, 2000), st.integers(-1000, 1000)), min_size=2, max_size=24, unique=True
    ).filter(lambda places: min(math.dist(a, b) for a in places for b in places if a != b) > 2.0)
)
def test_in_any_pattern_every_bolt_comes_once(places: list[tuple[float, float]]) -> None:
    bolts = bolts_at(places)
    assert sorted(tightening_order(bolts)) == sorted(bolt.name for bolt in bolts)


@given(pairs=st.integers(2, 12), seed=seeds)
def test_on_an_even_circle_the_pull_is_never_off_by_more_than_one_bolt(pairs: int, seed: int) -> None:
    angles = np.arange(2 * pairs) * math.pi / pairs
    places = shuffled(seed, [(500.0 * math.cos(angle), 500.0 * math.sin(angle)) for angle in angles])
    at = dict(zip((bolt.name for bolt in bolts_at(places)), places, strict=True))
    pulls = np.cumsum([at[name] for name in tightening_order(bolts_at(places))], axis=0)
    assert np.hypot(*pulls.T).max() <= 500.0 * (1.0 + 1e-9)


@given(half=st.lists(st.integers(1, 60), min_size=1, max_size=6, unique=True), seed=seeds)
def test_in_two_rows_the_pull_is_never_off_by_more_than_one_bolt(half: list[int], seed: int) -> None:
    """Two rows that are alike at both ends, columns 100 mm or more apart, put in any order."""
    columns = [sign * 100.0 * place for place in half for sign in (-1.0, 1.0)]
    places = shuffled(seed, [(x, y) for x in columns for y in (-50.0, 50.0)])
    at = dict(zip((bolt.name for bolt in bolts_at(places)), places, strict=True))
    order = [at[name] for name in tightening_order(bolts_at(places))]
    pulls = np.cumsum([x for x, _ in order])
    farthest = np.maximum.accumulate([abs(x) for x, _ in order])
    assert (np.abs(pulls) <= farthest + 1e-9).all()


# Sounding


def tapped(hollow: set[int], order: Sequence[int], *, mirrored: bool = False) -> Sounding:
    taps = [Tap(x_mm=75.0 + 150.0 * (n % 6), y_mm=75.0 + 150.0 * (n // 6), hollow=n in hollow) for n in order]
    if mirrored:
        taps = [replace(tap, x_mm=900.0 - tap.x_mm) for tap in taps]
    return sounding(taps, 150.0, {"A": rectangle(0.0, 0.0, 900.0, 600.0)}, {})


@settings(max_examples=30)
@given(hollow=st.sets(st.integers(0, 23)), order=st.permutations(range(24)), mirrored=st.booleans())
def test_taps_in_any_order_and_mirrored_find_the_same_voids(hollow: set[int], order: list[int], mirrored: bool) -> None:
    plain, other = tapped(hollow, range(24)), tapped(hollow, order, mirrored=mirrored)
    assert [void.area_m2 for void in other.voids] == pytest.approx([void.area_m2 for void in plain.voids])
    assert other.hollow_m2 == pytest.approx(plain.hollow_m2, abs=1e-12)
    assert other.hollow_sd_m2 == pytest.approx(plain.hollow_sd_m2, abs=1e-9)


@settings(max_examples=30)
@given(hollow=st.sets(st.integers(0, 23)), more=st.integers(0, 23))
def test_one_more_hollow_tap_adds_its_cell(hollow: set[int], more: int) -> None:
    assume(more not in hollow)
    before, after = tapped(hollow, range(24)), tapped(hollow | {more}, range(24))
    assert after.hollow_m2 - before.hollow_m2 == pytest.approx(0.15**2)


@given(diameter_mm=st.floats(1.0, 400.0), spacing_mm=st.floats(20.0, 400.0), factor=st.floats(0.1, 10.0))
def test_the_odds_of_a_hit_depend_on_the_share_of_the_spacing_alone(
    diameter_mm: float, spacing_mm: float, factor: float
) -> None:
    plain = hit_probability(diameter_mm, spacing_mm)
    assert hit_probability(factor * diameter_mm, factor * spacing_mm) == pytest.approx(plain, abs=1e-12)
    assert missed_void_mm(factor * spacing_mm, probability=0.5) == pytest.approx(
        factor * missed_void_mm(spacing_mm, probability=0.5)
    )


# Batches

plans = st.builds(
    BatchPlan,
    kits=st.integers(1, 40),
    kits_per_batch=st.integers(1, 4),
    kit_yield_l=st.floats(5.0, 60.0),
    mixers=st.integers(1, 4),
    mix_min=st.floats(1.0, 20.0),
    turnaround_min=st.floats(0.0, 10.0),
    place_min=st.floats(1.0, 30.0),
    working_life_min=st.just(90.0),
)


@given(plans)
def test_the_batches_hold_all_kits_and_no_more(plan: BatchPlan) -> None:
    times = timetable(plan)
    assert sum(batch.kits for batch in times.batches) == plan.kits
    assert all(1 <= batch.kits <= plan.kits_per_batch for batch in times.batches)
    assert times.pour_rate_l_min * times.placing_min == pytest.approx(plan.kits * plan.kit_yield_l)


@given(plan=plans, factor=st.floats(0.1, 10.0))
def test_everything_so_many_times_as_slow_is_a_pour_so_many_times_as_long(plan: BatchPlan, factor: float) -> None:
    slower = replace(
        plan,
        mix_min=factor * plan.mix_min,
        turnaround_min=factor * plan.turnaround_min,
        place_min=factor * plan.place_min,
    )
    assert timetable(slower).placing_min == pytest.approx(factor * timetable(plan).placing_min)
    assert timetable(slower).longest_gap_min == pytest.approx(factor * timetable(plan).longest_gap_min)


@given(placed_l=st.floats(1.0, 200.0), more_l=st.floats(0.0, 50.0), filled=st.floats(0.0, 1.0))
def test_more_placed_at_the_same_level_never_looks_less_like_a_leak(
    placed_l: float, more_l: float, filled: float
) -> None:
    one, other = (
        compare(FillReading(placed_l=volume_l, batches=3, filled_ratio=filled), 100.0)
        for volume_l in (placed_l, placed_l + more_l)
    )
    assert one.difference_l <= other.difference_l
    assert (one.z > 0.0) <= (other.z > 0.0)


@given(st.sampled_from([0.1, 0.5, 2.0, 5.0]))
def test_a_pour_of_another_size_has_the_same_odds_of_a_leak(factor: float) -> None:
    one = compare(FillReading(placed_l=60.0, batches=3, filled_ratio=0.5), 100.0)
    other = compare(FillReading(placed_l=60.0 * factor, batches=3, filled_ratio=0.5), 100.0 * factor)
    assert other.z == pytest.approx(one.z)


def test_the_plate_of_these_tests_is_no_special_one() -> None:
    """A tilted block under it, so that mirror images and scales are not the same by accident."""
    depths = [region.bed.mean_depth_mm for region in take_off(plate_case(tilted)).regions]
    assert len({round(depth, 3) for depth in depths}) == len(depths)
