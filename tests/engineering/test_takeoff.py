"""Volumes: the worked example, closed forms, an independent integration, and properties that any takeoff has."""

import math
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import LinearNDInterpolator

from groutjobs.engineering.compartments import Compartment
from groutjobs.engineering.takeoff import (
    Part,
    PartRole,
    cylinder_volume_m3,
    kits_to_order,
    survey_depth_sd_mm,
    take_off,
    takeoff_notes,
)
from tests.engineering.plates import (
    UNDERSIDE_MM,
    flat,
    moved,
    plate_case,
    rectangle,
    scattered_case,
    surveyed,
    tilted,
    turned,
)

GOLDEN = tomllib.loads((Path(__file__).parents[2] / "fixtures" / "golden" / "takeoff.toml").read_text("utf-8"))
EXACT = 1e-9
"""Relative; sums of a few dozen products in double precision."""
seeds = st.integers(min_value=0, max_value=2**32 - 1)
few = settings(max_examples=25, deadline=None)


def test_golden_rectangular_plate_takes_nine_kits() -> None:
    """Source and tolerance stand in fixtures/golden/takeoff.toml."""
    book = GOLDEN["plate"]
    plain = plate_case(chamfer_mm=book["chamfer_mm"], clearance_mm=book["clearance_mm"])
    assert plain.plate_outline == rectangle(0, 0, book["length_mm"], book["width_mm"])
    assert plain.plate_underside_elevation_mm - flat(0, 0) == book["gap_mm"]
    takeoff = take_off(plain)
    bed_m3 = sum(region.bed.volume_m3 for region in takeoff.regions)
    yields = {"waste_ratio": book["waste_ratio"], "kit_yield_l": book["kit_yield_l"]}
    order = kits_to_order(takeoff.net_m3, **yields, kit_kg=115.0, spare_kits=book["spare_kits"])
    assert bed_m3 == pytest.approx(book["bed_m3"], abs=book["tolerance"])
    assert takeoff.chamfer_m3 == pytest.approx(book["chamfer_m3"], abs=book["tolerance"])
    assert takeoff.net_m3 == pytest.approx(book["net_m3"], abs=book["tolerance"])
    assert order.with_waste_m3 == pytest.approx(book["with_waste_m3"], abs=book["tolerance"])
    assert order.exact_kits == pytest.approx(book["exact_kits"], abs=0.005)
    assert (order.kits, order.total_kits) == (8, book["total_kits"])
    assert order.mass_kg == 9 * 115.0


def test_a_plane_tilted_surface_has_the_volume_of_a_cut_prism() -> None:
    """Closed form: a prism cut by a plane holds its base times the height at the centroid of the base."""
    takeoff = take_off(plate_case(tilted))
    for region, x_mm in zip(takeoff.compartments, (600.0, 2100.0), strict=True):
        depth_mm = UNDERSIDE_MM - tilted(x_mm, 750.0)
        assert region.bed.mean_depth_mm == pytest.approx(depth_mm, rel=EXACT)
        assert region.bed.volume_m3 == pytest.approx(region.bed.area_m2 * depth_mm / 1000.0, rel=EXACT)
    first = takeoff.compartments[0].bed
    assert first.min_depth_mm == pytest.approx(UNDERSIDE_MM - tilted(1200, 0), rel=EXACT)
    assert first.max_depth_mm == pytest.approx(UNDERSIDE_MM - tilted(0, 1500), rel=EXACT)


def test_the_volume_agrees_with_an_independent_integration() -> None:
    """Midpoint rule on the linear interpolation of scipy, 10 mm cells: error below 0.05 mm of mean depth."""
    case = plate_case(survey=(*surveyed(tilted, [-75, 1400, 3075], [-75, 1575]), (900.0, 400.0, 130.0)))
    survey = np.array(case.survey)
    x, y = np.meshgrid(np.arange(5.0, 3000.0, 10.0), np.arange(5.0, 1500.0, 10.0))
    depths = UNDERSIDE_MM - LinearNDInterpolator(survey[:, :2], survey[:, 2])(x, y)
    takeoff = take_off(case)
    under_plate_m3 = sum(region.bed.volume_m3 for region in takeoff.compartments)
    assert under_plate_m3 / 4.5 * 1000.0 == pytest.approx(float(depths.mean()), abs=0.05)


@few
@given(seed=seeds, angle=st.floats(-3.1, 3.1), shift=st.tuples(st.floats(-9e3, 9e3), st.floats(-9e3, 9e3)))
def test_the_volume_does_not_depend_on_where_the_plan_lies(seed: int, angle: float, shift: tuple[float, float]) -> None:
    case = scattered_case(seed)
    before, after = take_off(case), take_off(moved(case, turned(angle, shift)))
    assert after.net_m3 == pytest.approx(before.net_m3, rel=1e-7)
    for one, other in zip(before.regions, after.regions, strict=True):
        assert other.net_m3 == pytest.approx(one.net_m3, rel=1e-6)
        assert other.bed.min_depth_mm == pytest.approx(one.bed.min_depth_mm, abs=1e-4)


@few
@given(seed=seeds, cut=st.floats(50.0, 2950.0))
def test_compartments_add_up_to_the_plate(seed: int, cut: float) -> None:
    whole = take_off(replace(scattered_case(seed), compartments=()))
    parts = (
        Compartment(name="left", outline=rectangle(0, 0, cut, 1500)),
        Compartment(name="right", outline=rectangle(cut, 0, 3000 - cut, 1500)),
    )
    divided = take_off(replace(scattered_case(seed), compartments=parts))
    assert divided.rest is None
    assert whole.rest is not None
    assert sum(region.net_m3 for region in divided.compartments) == pytest.approx(whole.rest.net_m3, rel=1e-8)
    assert divided.net_m3 == pytest.approx(whole.net_m3, rel=1e-8)


@few
@given(seed=seeds, rise_mm=st.floats(0.0, 200.0))
def test_the_volume_is_linear_in_the_gap(seed: int, rise_mm: float) -> None:
    case = scattered_case(seed)
    low = take_off(case)
    high = take_off(replace(case, plate_underside_elevation_mm=UNDERSIDE_MM + rise_mm))
    assert high.net_m3 - low.net_m3 == pytest.approx(low.bed_area_m2 * rise_mm / 1000.0, rel=1e-9, abs=1e-12)


@few
@given(seed=seeds)
def test_the_way_round_an_outline_does_not_matter(seed: int) -> None:
    case = scattered_case(seed)
    other = replace(
        case,
        plate_outline=case.plate_outline[::-1],
        block_outline=case.block_outline[::-1],
        compartments=tuple(replace(c, outline=c.outline[::-1]) for c in case.compartments),
        survey=case.survey[::-1],
    )
    assert take_off(other).net_m3 == pytest.approx(take_off(case).net_m3, rel=EXACT)


@few
@given(seed=seeds)
def test_depths_stay_between_the_survey_extremes(seed: int) -> None:
    """Nothing is extrapolated: no depth lies outside those at the surveyed points."""
    case = scattered_case(seed)
    heights = [z for _, _, z in case.survey]
    for region in take_off(case).regions:
        assert UNDERSIDE_MM - max(heights) - 1e-6 <= region.bed.min_depth_mm
        assert region.bed.min_depth_mm <= region.bed.mean_depth_mm <= region.bed.max_depth_mm
        assert region.bed.max_depth_mm <= UNDERSIDE_MM - min(heights) + 1e-6


def test_what_no_compartment_holds_is_the_rest() -> None:
    only_one = (Compartment(name="A", outline=rectangle(0, 0, 1200, 1500)),)
    takeoff = take_off(plate_case(compartments=only_one))
    assert takeoff.rest is not None
    assert takeoff.rest.bed.area_m2 == pytest.approx(1.8 * 1.5, rel=EXACT)
    assert takeoff.net_m3 == pytest.approx(take_off(plate_case()).net_m3, rel=EXACT)


def test_a_compartment_filled_to_its_deck_takes_that_much_more() -> None:
    deep = (Compartment(name="A", outline=rectangle(0, 0, 1200, 1500), fill_above_mm=100.0),)
    more = take_off(plate_case(compartments=deep)).net_m3 - take_off(plate_case()).net_m3
    assert more == pytest.approx(1.2 * 1.5 * 0.1, rel=EXACT)


def test_roughness_adds_half_its_amplitude_over_the_bed() -> None:
    more = take_off(plate_case(roughness_mm=13.0)).net_m3 - take_off(plate_case()).net_m3
    assert more == pytest.approx(3.15 * 1.65 * 0.0065, rel=EXACT)


def test_the_shoulder_rises_with_the_grout_on_it() -> None:
    shoulder = take_off(plate_case(shoulder_rise_mm=20.0)).shoulder
    assert shoulder is not None
    assert shoulder.net_m3 == pytest.approx((3.15 * 1.65 - 3.0 * 1.5) * 0.095, rel=EXACT)


def test_forms_against_the_plate_leave_no_shoulder() -> None:
    takeoff = take_off(plate_case(clearance_mm=0.0))
    assert takeoff.shoulder is None
    assert takeoff.form_perimeter_m == pytest.approx(9.0, rel=EXACT)


def test_pads_take_grout_away_and_pockets_take_it_up() -> None:
    pad = cylinder_volume_m3(60.0, 75.0)
    parts = (
        Part(name="jackscrew pads", volume_m3=pad, count=6, compartment="B"),
        Part(name="bolt pocket", volume_m3=0.01, role=PartRole.TAKES_GROUT, compartment="A"),
        Part(name="head box", volume_m3=0.02, role=PartRole.TAKES_GROUT),
    )
    takeoff = take_off(plate_case(parts=parts))
    plain = take_off(plate_case())
    assert pad == pytest.approx(math.pi * 0.03**2 * 0.075, rel=EXACT)
    assert takeoff.compartments[1].displaced_m3 == pytest.approx(6 * pad, rel=EXACT)
    assert takeoff.compartments[0].taken_up_m3 == 0.01
    assert takeoff.net_m3 - plain.net_m3 == pytest.approx(0.03 - 6 * pad, rel=1e-7)


def test_the_uncertainty_joins_survey_and_plan() -> None:
    """Points every 0.5 m: a mean triangle of a 0.5 m grid, 0.25 mm of depth by the table, over 3.15 × 1.5 m."""
    grid = surveyed(flat, [0.0, 500.0, 1000.0, 1500.0], [0.0, 500.0, 1000.0, 1500.0])
    takeoff = take_off(plate_case(survey=grid))
    assert takeoff.survey_spacing_m == pytest.approx(0.5, rel=1e-9)
    assert takeoff.sd_survey_m3 == pytest.approx(takeoff.bed_area_m2 * 0.00025, rel=1e-9)
    assert takeoff.sd_plan_m3 == pytest.approx(0.03 * takeoff.net_m3, rel=EXACT)
    assert takeoff.sd_m3 == pytest.approx(math.hypot(takeoff.sd_survey_m3, takeoff.sd_plan_m3), rel=EXACT)


@pytest.mark.parametrize(
    ("spacing_m", "sd_mm"), [(0.1, 0.05), (0.2, 0.1), (0.5, 0.25), (0.6, 0.3), (0.8, 0.65), (1.0, 1.0), (1.4, 1.7)]
)
def test_the_survey_error_by_hand(spacing_m: float, sd_mm: float) -> None:
    """Straight lines between the rows of the table; beyond 1 m its last slope, 1.75 mm to the metre, goes on."""
    assert survey_depth_sd_mm(spacing_m) == pytest.approx(sd_mm)


def test_the_sums_of_a_takeoff_by_hand() -> None:
    """Loose parts, and a chamfer of 20 mm along 9.6 m of forms, whose section is half a square."""
    parts = (
        Part(name="head box", volume_m3=0.002, count=2, role=PartRole.TAKES_GROUT),
        Part(name="drain", volume_m3=0.001),
    )
    takeoff = take_off(plate_case(parts=parts, chamfer_mm=20.0))
    assert takeoff.loose_parts_m3 == pytest.approx(0.003)
    assert takeoff.chamfer_m3 == pytest.approx(0.5 * 0.02**2 * 9.6)
    assert takeoff.net_m3 == pytest.approx(3.15 * 1.65 * 0.075 + 0.003 - 0.5 * 0.02**2 * 9.6)
    assert takeoff.form_perimeter_m == pytest.approx(9.6)
    assert {(round(x, 6), round(y, 6)) for x, y in takeoff.form_outline} == set(rectangle(-75, -75, 3150, 1650))
    assert len(takeoff.form_outline) == 4
    assert takeoff.bed_area_m2 == pytest.approx(3.15 * 1.65)
    assert [region.name for region in takeoff.regions] == ["A", "B", "shoulder"]
    assert takeoff.outside_survey_share == 0.0


def test_the_share_outside_the_survey_weighs_regions_by_area() -> None:
    """Surveyed from x = 0.6 m on, across all forms: 0.6 m of the plate and 75 mm of shoulder lie outside, of 3.15 m."""
    takeoff = take_off(plate_case(survey=surveyed(flat, [600.0, 1800.0, 3075.0], [-75.0, 750.0, 1575.0])))
    assert takeoff.outside_survey_share == pytest.approx(0.675 / 3.15)
    assert [region.bed.outside_survey_share for region in takeoff.compartments] == pytest.approx([0.5, 0.0], abs=1e-9)


def test_the_stated_survey_error_covers_simulated_concrete() -> None:
    """Outside check by simulation: bumps of 5 mm sd that fade over 0.25 m, 3 × 3 m, the true mean on a 60 mm grid.

    The stated sd must lie within a factor of two of the simulated one at 0.6 and 1 m: it stands for other
    concrete too.
    """
    for cells, spacing_m in ((5, 0.6), (3, 1.0)):
        errors = [_mean_depth_error_mm(seed, cells) for seed in range(50)]
        assert 0.5 < float(np.std(errors)) / survey_depth_sd_mm(spacing_m) < 2.0


def _mean_depth_error_mm(seed: int, cells: int) -> float:
    rng = np.random.default_rng(seed)
    waves = rng.normal(size=(100, 2)) / 0.25
    phases, size = rng.uniform(0, math.tau, 100), 5.0 * math.sqrt(2.0 / 100)

    def height(x_m: np.ndarray, y_m: np.ndarray) -> np.ndarray:
        return np.asarray(size * np.cos(x_m[..., None] * waves[:, 0] + y_m[..., None] * waves[:, 1] + phases).sum(-1))

    fine = np.arange(0.03, 3.0, 0.06)
    truth = height(*np.meshgrid(fine, fine)).mean()
    nodes = np.linspace(0.0, 3.0, cells + 1)
    survey = height(*np.meshgrid(nodes, nodes))
    weight = np.ones(cells + 1)
    weight[[0, -1]] = 0.5
    return float((survey * np.outer(weight, weight)).sum() / cells**2 - truth)


def test_it_tells_of_areas_beyond_the_survey_and_of_a_coarse_one() -> None:
    corners = surveyed(flat, [500.0, 2500.0], [250.0, 1250.0])
    takeoff = take_off(plate_case(survey=corners))
    codes = {(finding.code, finding.about) for finding in takeoff_notes(takeoff)}
    assert codes == {
        ("takeoff.outside_survey", "A"),
        ("takeoff.outside_survey", "B"),
        ("takeoff.outside_survey", "shoulder"),
        ("takeoff.survey_coarse", ""),
    }
    under_plate = 1.0 - 2.0 / 4.5
    covered = sum(r.bed.outside_survey_share * r.bed.area_m2 for r in takeoff.compartments) / 4.5
    assert covered == pytest.approx(under_plate, rel=EXACT)


def test_a_full_survey_needs_no_note() -> None:
    grid = surveyed(flat, [-75.0, 700.0, 1475.0, 2275.0, 3075.0], [-75.0, 475.0, 1025.0, 1575.0])
    assert takeoff_notes(take_off(plate_case(survey=grid))) == []


@pytest.mark.parametrize(("net_m3", "kits"), [(0.0566, 1), (0.0567, 2), (0.1698, 3), (0.001, 1)])
def test_kits_are_whole_and_an_exact_number_is_not_rounded_up(net_m3: float, kits: int) -> None:
    order = kits_to_order(net_m3, waste_ratio=0.0, kit_yield_l=56.6, kit_kg=100.0, spare_kits=0)
    assert order.kits == order.total_kits == kits


@given(net_m3=st.floats(0.001, 50.0), waste=st.floats(0.0, 1.0), spare=st.integers(0, 20))
def test_the_kits_hold_the_volume_and_one_kit_less_would_not(net_m3: float, waste: float, spare: int) -> None:
    order = kits_to_order(net_m3, waste_ratio=waste, kit_yield_l=56.6, kit_kg=100.0, spare_kits=spare)
    assert order.kits * 0.0566 >= order.with_waste_m3 - 1e-9
    assert (order.kits - 1) * 0.0566 < order.with_waste_m3
    assert (order.spare_kits, order.total_kits) == (spare, order.kits + spare)
