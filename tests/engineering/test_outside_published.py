"""More published tables and worked examples; sources, tolerances and their reasons stand in fixtures/golden."""

import math
from typing import Any

import numpy as np
import psychrolib
import pytest
from shapely import Polygon

from groutjobs import units
from groutjobs.engineering import cure, psychrometrics, sun
from groutjobs.engineering.bolt_tables import threads, torque_at_30_ksi
from groutjobs.engineering.bolting import torque_nm
from groutjobs.engineering.cure import CureClock
from groutjobs.engineering.outlines import Point, area_m2
from groutjobs.engineering.sky import STEFAN_BOLTZMANN_W_M2K4, Exposure, convection_films_w_m2k
from groutjobs.engineering.survey import bed_over, survey_surface
from groutjobs.engineering.tap_grid import missed_void_mm
from tests.golden import golden_cases

MM2_PER_IN2 = 25.4**2
AREA_TABLES = ["stress_area_8un", "stress_area_large_unc", "stress_area_large_iso"]


@pytest.mark.parametrize("table", AREA_TABLES)
def test_stress_areas_of_the_rest_of_the_threads(table: str) -> None:
    (book,) = golden_cases("bolting", table)
    for name, area in book["rows"]:
        thread = threads()[name]
        found = thread.stress_area_mm2 / (MM2_PER_IN2 if thread.series == "UN" else 1.0)
        assert found == pytest.approx(area, rel=book["tolerance_ratio"]), name


def test_a_second_table_of_30_ksi_has_the_same_rows_but_for_one_that_the_note_tells_of() -> None:
    (book,) = golden_cases("bolting", "navy_30_ksi")
    for name, torque_ftlb in book["rows"]:
        row = torque_at_30_ksi(threads()[name])
        if name == book["disputed"]:
            assert f"{torque_ftlb:.0f} ft·lb" in row.note
        else:
            assert units.from_si(row.torque_nm, "nm", "ftlb") == pytest.approx(torque_ftlb, abs=book["tolerance_ftlb"])


def test_the_friction_of_each_row_of_30_ksi_gives_the_printed_torque_of_25_ksi() -> None:
    """It also tells which of 680 and 645 ft·lb is right for 1 3/8 in: 567 at 25 ksi is 680 at 30 ksi."""
    (book,) = golden_cases("bolting", "navy_25_ksi")
    for name, torque_ftlb in book["rows"]:
        thread, row = threads()[name], torque_at_30_ksi(threads()[name])
        friction = row.torque_nm / (thread.diameter_mm * row.load_kn)
        found = torque_nm(row.load_kn * 25.0 / 30.0, thread.diameter_mm, friction)
        assert units.from_si(found, "nm", "ftlb") == pytest.approx(torque_ftlb, abs=book["tolerance_ftlb"]), name


@pytest.mark.parametrize("case", golden_cases("psychrometrics", "steam_table"))
def test_saturation_pressure_of_a_whole_steam_table(case: dict[str, Any]) -> None:
    found = [psychrometrics.saturation_pressure_kpa(temp_c) for temp_c in case["temp_c"]]
    assert found == pytest.approx(case["expected_kpa"], rel=case["tolerance_ratio"])


@pytest.mark.parametrize("case", golden_cases("psychrometrics", "relative_humidity"))
def test_humidity_of_the_handbook_example(case: dict[str, Any]) -> None:
    found = psychrometrics.relative_humidity_from_dew_point(case["temp_c"], case["dew_point_c"])
    assert found == pytest.approx(case["expected"], abs=case["tolerance"])


def test_a_dew_point_below_zero_is_not_the_frost_point() -> None:
    """psychrolib turns to ice below 0 °C, we and weather services do not: the same air has these two numbers."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    (book,) = golden_cases("psychrometrics", "frost_point")
    for dew_c, frost_c in zip(book["dew_point_c"], book["frost_point_c"], strict=True):
        pressure_pa = psychrometrics.saturation_pressure_kpa(dew_c) * 1000
        found_c = psychrolib.GetTDewPointFromVapPres(20.0, pressure_pa)
        assert found_c == pytest.approx(frost_c, abs=book["tolerance_k"])
        assert found_c > dew_c + 0.4


def test_time_factors_of_the_whole_table() -> None:
    (book,) = golden_cases("cure", "time_factor")
    for temp_c, *factors in book["rows"]:
        for activation, factor in zip(book["activation_kj_mol"], factors, strict=True):
            assert 1 / cure.rate_ratio(free_clock(activation, book["reference_c"]), temp_c) == pytest.approx(
                factor, abs=book["tolerance"]
            )


def test_each_doubling_has_its_activation_energy() -> None:
    (book,) = golden_cases("cure", "doubling")
    for cool_c, warm_c, activation in book["rows"]:
        clock = free_clock(activation, 23.0)
        doubled = cure.rate_ratio(clock, warm_c) / cure.rate_ratio(clock, cool_c)
        assert doubled == pytest.approx(2.0, rel=book["tolerance_ratio"])


def free_clock(activation_kj_mol: float, reference_c: float) -> CureClock:
    return CureClock(
        activation_kj_mol=activation_kj_mol, reference_c=reference_c, minimum_c=None, hottest_c=None, source="ASTMC1074"
    )


@pytest.mark.parametrize("case", golden_cases("takeoff", "outline"))
@pytest.mark.parametrize("turned", [1, -1])
def test_areas_of_published_outlines_either_way_round(case: dict[str, Any], turned: int) -> None:
    corners = [(1000 * x, 1000 * y) for x, y in case["corners_m"]][::turned]
    assert area_m2("plate", corners) == pytest.approx(case["expected_m2"], abs=case["tolerance_m2"])


def test_a_pit_with_sloping_sides_holds_what_the_papyrus_says() -> None:
    (book,) = golden_cases("takeoff", "frustum")
    upper, lower, height_mm = (1000 * book[name] for name in ("upper_side_m", "lower_side_m", "height_m"))
    brim, floor = square(0.0, upper), square((upper - lower) / 2, lower)
    points = [(x, y, height_mm) for x, y in brim] + [(x, y, 0.0) for x, y in floor]
    bed = bed_over(survey_surface(points, Polygon(brim)), Polygon(brim), height_mm)
    assert bed.volume_m3 == pytest.approx(book["expected_m3"], abs=book["tolerance_m3"])


def square(first_mm: float, side_mm: float) -> list[Point]:
    last_mm = first_mm + side_mm
    return [(first_mm, first_mm), (last_mm, first_mm), (last_mm, last_mm), (first_mm, last_mm)]


def test_a_grid_misses_a_round_target_as_often_as_published() -> None:
    (book,) = golden_cases("sounding", "hot_spot")
    diameter_mm = missed_void_mm(1000.0, probability=book["missed"])
    assert diameter_mm / 2000.0 == pytest.approx(book["radius_over_spacing"], abs=book["tolerance"])


@pytest.mark.parametrize("case", golden_cases("sky", "elevation"))
def test_height_of_the_sun_in_published_examples(case: dict[str, Any]) -> None:
    place = (case["latitude_deg"], case["longitude_deg"])
    found = sun.sun_elevations_deg(case["at"], np.zeros(1), *place)[0]
    assert found == pytest.approx(case["expected_deg"], abs=case["tolerance_deg"])


def test_the_sun_stands_on_the_horizon_of_the_pole_at_each_equinox() -> None:
    (book,) = golden_cases("sky", "equinoxes")
    found = [sun.sun_elevations_deg(at, np.zeros(1), 90.0, 0.0)[0] for at in book["at"]]
    assert found == pytest.approx([book["expected_deg"]] * len(found), abs=book["tolerance_deg"])


@pytest.mark.parametrize("case", golden_cases("sky", "surface_resistance"))
def test_surface_resistance_of_the_standard(case: dict[str, Any]) -> None:
    """Radiation added as the standard does: 4 εσT³ with ε = 0.9. The wind of 10 m is the one at the surface / 0.66."""
    wind_km_h = np.array([case["wind_at_surface_m_s"] / 0.66 * 3.6])
    radiation = 4 * 0.9 * STEFAN_BOLTZMANN_W_M2K4 * math.pow(case["temp_c"] + 273.15, 3)
    film = float(convection_films_w_m2k(wind_km_h, Exposure(case["exposure"]))[0]) + radiation
    assert 1 / film == pytest.approx(case["expected_m2k_w"], abs=case["tolerance_m2k_w"])
