"""What must hold for any air, column, reaction and cure: order, mirror image, scale, growth, limits, closed balances.

Nothing here is a published number; each check is a law of the equations that needs no source.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs.engineering import cure, heat, kinetics, materials, preconditioning, psychrometrics, sky, strength
from groutjobs.engineering.cure import EPOXY_CLOCK
from groutjobs.engineering.cure_belief import AgeMatch, StrengthSample, belief_before, corrected_belief
from groutjobs.engineering.cure_fit import fit_cure
from groutjobs.engineering.kinetics import ILLUSTRATIVE_EPOXY, ILLUSTRATIVE_GLASS
from groutjobs.engineering.materials import WorkingLifePoint, working_life_min
from groutjobs.engineering.preconditioning import STORED, Brick, hours_in_store, stored_temperatures
from groutjobs.engineering.series import wall_face_ratio, wall_series
from groutjobs.engineering.sky import Exposure
from groutjobs.engineering.strength import StrengthCurve
from groutjobs.engineering.sun import sun_elevations_deg
from groutjobs.engineering.wet_cure import WetSpell, wet_cure
from groutjobs.errors import NotConverged
from tests.engineering import records
from tests.engineering.cures import PLAIN, THREE_TEMPERATURES

ROWS = PLAIN.rows(THREE_TEMPERATURES)
UNFROZEN = replace(ILLUSTRATIVE_EPOXY, glass=None)
temps = st.floats(-5.0, 45.0)
ratios = st.floats(0.05, 1.0)

# Moist air


@given(one=st.floats(-50.0, 80.0), other=st.floats(-50.0, 80.0))
def test_warmer_air_never_holds_less_water(one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    assert psychrometrics.saturation_pressure_kpa(cold) <= psychrometrics.saturation_pressure_kpa(warm)


@given(temp_c=temps, one=ratios, other=ratios)
def test_moister_air_never_has_a_lower_dew_point(temp_c: float, one: float, other: float) -> None:
    dry, moist = sorted((one, other))
    assert psychrometrics.dew_point_c(temp_c, dry) <= psychrometrics.dew_point_c(temp_c, moist)


@given(temps)
def test_saturated_air_is_at_its_dew_point(temp_c: float) -> None:
    assert psychrometrics.dew_point_c(temp_c, 1.0) == pytest.approx(temp_c, abs=1e-9)
    assert psychrometrics.relative_humidity_from_dew_point(temp_c, temp_c) == pytest.approx(1.0)


@given(
    grout_c=st.floats(20.0, 40.0), humidity=st.floats(0.0, 0.9), wind=st.floats(0.0, 60.0), more=st.floats(0.0, 60.0)
)
def test_more_wind_never_dries_warm_grout_more_slowly(
    grout_c: float, humidity: float, wind: float, more: float
) -> None:
    for rate in (psychrometrics.evaporation_rate_kg_m2_h, psychrometrics.evaporation_rate_menzel_kg_m2_h):
        assert rate(grout_c, 15.0, humidity, wind) <= rate(grout_c, 15.0, humidity, wind + more)


@given(st.lists(st.tuples(temps, ratios, st.floats(0.0, 60.0)), min_size=1, max_size=6))
def test_rates_of_an_array_are_those_of_its_values(hours: list[tuple[float, float, float]]) -> None:
    air_c, humidity, wind = (np.array(row) for row in zip(*hours, strict=True))
    found = psychrometrics.evaporation_rates_kg_m2_h(np.full(len(hours), 22.0), air_c, humidity, wind)
    alone = [psychrometrics.evaporation_rate_kg_m2_h(22.0, *hour) for hour in hours]
    assert found == pytest.approx(np.array(alone), rel=1e-12, abs=1e-12)


# Surface, sun and sky


@given(wind=st.floats(0.0, 100.0), more=st.floats(0.0, 100.0))
def test_more_wind_and_less_shelter_never_give_a_weaker_film(wind: float, more: float) -> None:
    winds = np.array([wind, wind + more])
    for exposure in Exposure:
        weak, strong = sky.convection_films_w_m2k(winds, exposure)
        assert weak <= strong
    indoors, sheltered, in_the_open = (sky.convection_films_w_m2k(winds, one)[0] for one in Exposure)
    assert indoors <= sheltered <= in_the_open


@given(gap=st.floats(5.0, 250.0), more=st.floats(0.0, 50.0), mean_c=temps, emissivity=ratios)
def test_a_higher_or_blanker_gap_never_conducts_better(
    gap: float, more: float, mean_c: float, emissivity: float
) -> None:
    plain = sky.gap_conductance_w_m2k(gap, mean_c, emissivity, 0.9)
    assert sky.gap_conductance_w_m2k(gap + more, mean_c, emissivity, 0.9) <= plain
    assert sky.gap_conductance_w_m2k(gap, mean_c, emissivity / 2.0, 0.9) <= plain


@given(gap=st.floats(5.0, 300.0), mean_c=temps, one=ratios, other=ratios)
def test_a_gap_conducts_the_same_with_its_faces_exchanged(gap: float, mean_c: float, one: float, other: float) -> None:
    there, back = (sky.gap_conductance_w_m2k(gap, mean_c, *pair) for pair in ((one, other), (other, one)))
    assert there == pytest.approx(back)


@given(day=st.integers(0, 365), hour=st.floats(0.0, 24.0), latitude=st.floats(-65.0, 65.0), step=st.floats(-90.0, 90.0))
def test_the_sun_stands_as_high_further_west_as_much_later(day: int, hour: float, latitude: float, step: float) -> None:
    """15° for an hour; within 0.25°, by which the sun moves in declination and in the equation of time in 6 h."""
    first_at = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(days=day)
    here = sun_elevations_deg(first_at, np.array([hour]), latitude, 0.0)[0]
    there = sun_elevations_deg(first_at, np.array([hour + step / 15.0]), latitude, -step)[0]
    assert there == pytest.approx(here, abs=0.25)


@settings(max_examples=15)
@given(starts=st.permutations([0.0, 1.0, 2.0]), grout_c=st.floats(5.0, 35.0))
def test_pours_in_any_order_give_the_same_temperatures_and_close_their_balance(
    starts: list[float], grout_c: float
) -> None:
    """A thousandth is the most that the balance of heat may miss."""
    before = heat.simulate(records.PLATED, records.AIR, records.SURROUNDINGS, records.ANNUAL_START)
    grout = materials.grout("epoxy")
    found = heat.simulate_pours(before, records.AIR, np.array(starts), 2, grout, grout_c=grout_c)
    plain = heat.simulate_pours(before, records.AIR, np.arange(3.0), 2, grout, grout_c=grout_c)
    assert found.energy_residual_ratio <= 1e-3
    assert found.grout_c is not None
    assert plain.grout_c is not None
    for place, start in enumerate(starts):
        assert found.grout_c[place] == pytest.approx(plain.grout_c[int(start)], abs=1e-9, nan_ok=True)


# Material in the store


@settings(max_examples=30)
@given(start_c=st.floats(-10.0, 40.0), store_c=st.floats(-10.0, 40.0), name=st.sampled_from(sorted(STORED)))
def test_warming_and_cooling_are_mirror_images(start_c: float, store_c: float, name: str) -> None:
    at_h = np.array([0.0, 1.0, 10.0, 100.0])
    there = stored_temperatures(STORED[name], start_c, store_c, at_h)
    back = stored_temperatures(STORED[name], store_c, start_c, at_h)
    assert there.core_c + back.core_c == pytest.approx(start_c + store_c, abs=1e-9)
    assert there.mean_c + back.mean_c == pytest.approx(start_c + store_c, abs=1e-9)


@settings(max_examples=30)
@given(factor=st.floats(0.4, 2.0), wanted_c=st.floats(6.0, 20.0))
def test_a_body_twice_as_large_under_half_the_film_takes_four_times_as_long(factor: float, wanted_c: float) -> None:
    """Same Biot number, so the hours go with the square of the size."""
    small = replace(STORED["bag"], shape=Brick(length_mm=600.0, width_mm=400.0, height_mm=120.0), film_w_m2k=6.0)
    shape = Brick(length_mm=600.0 * factor, width_mm=400.0 * factor, height_mm=120.0 * factor)
    large = replace(small, shape=shape, film_w_m2k=6.0 / factor)
    plain, scaled = (hours_in_store(one, 5.0, 21.0, wanted_c) for one in (small, large))
    assert scaled.core_h == pytest.approx(factor**2 * plain.core_h, rel=1e-4, abs=1e-3)
    assert scaled.mean_h == pytest.approx(factor**2 * plain.mean_h, rel=1e-4, abs=1e-3)


@given(biot=st.floats(0.01, 100.0), fourier=st.floats(0.01, 5.0))
def test_the_face_of_a_wall_is_ahead_of_its_middle(biot: float, fourier: float) -> None:
    series = wall_series(biot)
    assert wall_face_ratio(series, fourier) <= series.mean_ratio(fourier) <= series.middle_ratio(fourier)


def test_a_film_without_resistance_puts_the_face_at_the_air_at_once() -> None:
    assert wall_face_ratio(wall_series(1e6), 0.01) == pytest.approx(0.0, abs=1e-4)


@given(film=st.floats(0.5, 5.0), size_m=st.floats(0.0005, 0.002))
def test_a_lumped_body_is_slower_when_larger_and_faster_under_a_better_film(film: float, size_m: float) -> None:
    plain = preconditioning.lumped_time_constant_s(preconditioning.RESIN, size_m, film)
    larger = preconditioning.lumped_time_constant_s(preconditioning.RESIN, 2.0 * size_m, film)
    assert larger == pytest.approx(2.0 * plain)
    assert preconditioning.lumped_time_constant_s(preconditioning.RESIN, size_m, film / 2.0) == pytest.approx(
        2.0 * plain
    )


# Reaction


@given(one=st.floats(-20.0, 120.0), other=st.floats(-20.0, 120.0))
def test_warmer_resin_reacts_faster_and_goes_further_before_it_turns_to_glass(one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    slow, fast = (kinetics.rate_constants_per_h(ILLUSTRATIVE_EPOXY, temp_c) for temp_c in (cold, warm))
    assert slow[0] <= fast[0]
    assert slow[1] <= fast[1]
    assert kinetics.limiting_degree(ILLUSTRATIVE_GLASS, cold) <= kinetics.limiting_degree(ILLUSTRATIVE_GLASS, warm)


@given(factor=st.floats(0.1, 10.0), temp_c=temps, degree=st.floats(0.01, 0.95))
def test_a_reaction_so_many_times_as_fast_takes_so_many_times_less(factor: float, temp_c: float, degree: float) -> None:
    faster = replace(
        UNFROZEN,
        first_rate_per_h=factor * UNFROZEN.first_rate_per_h,
        second_rate_per_h=factor * UNFROZEN.second_rate_per_h,
    )
    plain = kinetics.closed_form_hours(UNFROZEN, temp_c, degree)
    assert kinetics.closed_form_hours(faster, temp_c, degree) == pytest.approx(plain / factor)
    assert kinetics.closed_form_hours(UNFROZEN, temp_c, 0.0) == 0.0


@given(temp_c=temps, one=st.floats(0.0, 0.99), other=st.floats(0.0, 0.99))
def test_more_cure_never_takes_less_time(temp_c: float, one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert kinetics.closed_form_hours(UNFROZEN, temp_c, less) <= kinetics.closed_form_hours(UNFROZEN, temp_c, more)


def test_temperatures_that_rise_too_far_in_one_step_are_refused_and_not_waited_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With fewer steps allowed than the program allows, so that the test is quick."""
    monkeypatch.setattr(kinetics, "MOST_STEPS", 200)
    with pytest.raises(NotConverged, match="closer together"):
        kinetics.degrees_of_cure(ILLUSTRATIVE_EPOXY, np.array([0.0, 12.0]), np.array([10.0, 240.0]), start_degree=0.0)


# Cure clock and strength


@given(one=temps, other=temps)
def test_warmer_grout_never_cures_more_slowly(one: float, other: float) -> None:
    cold, warm = sorted((one, other))
    assert cure.rate_ratio(EPOXY_CLOCK, cold) <= cure.rate_ratio(EPOXY_CLOCK, warm)
    slow, fast = (cure.freiesleben_hansen_pedersen_rate(temp_c) for temp_c in (cold, warm))
    assert slow <= fast


@given(readings=st.lists(temps, min_size=2, max_size=12), factor=st.floats(0.1, 10.0), later_h=st.floats(-50.0, 50.0))
def test_the_age_scales_with_time_and_does_not_depend_on_its_origin(
    readings: list[float], factor: float, later_h: float
) -> None:
    at_h, temp_c = np.arange(float(len(readings))), np.array(readings)
    plain = cure.equivalent_age_h(at_h, temp_c, EPOXY_CLOCK)
    assert cure.equivalent_age_h(factor * at_h, temp_c, EPOXY_CLOCK) == pytest.approx(factor * plain)
    assert cure.equivalent_age_h(at_h + later_h, temp_c, EPOXY_CLOCK) == pytest.approx(plain)


@given(st.lists(temps, min_size=2, max_size=12))
def test_the_same_temperatures_backwards_give_the_same_age_in_the_end(readings: list[float]) -> None:
    at_h, temp_c = np.arange(float(len(readings))), np.array(readings)
    there, back = (cure.equivalent_age_h(at_h, row, EPOXY_CLOCK)[-1] for row in (temp_c, temp_c[::-1]))
    assert back == pytest.approx(there, rel=1e-9, abs=1e-9)
    there, back = (cure.nurse_saul_maturity_c_h(at_h, row, 0.0)[-1] for row in (temp_c, temp_c[::-1]))
    assert back == pytest.approx(there, rel=1e-9, abs=1e-9)


@given(readings=st.lists(st.floats(12.0, 45.0), min_size=3, max_size=12), one=ratios, other=ratios)
def test_a_riper_pour_is_never_waited_for_less(readings: list[float], one: float, other: float) -> None:
    at_h, temp_c = np.arange(float(len(readings))), np.array(readings)
    reached_h = cure.equivalent_age_h(at_h, temp_c, EPOXY_CLOCK)[-1]
    early, late = (
        cure.hours_until(share * reached_h * 0.999, at_h, temp_c, EPOXY_CLOCK) for share in sorted((one, other))
    )
    assert early is not None
    assert late is not None
    assert early <= late
    assert cure.hours_until(0.0, at_h, temp_c, EPOXY_CLOCK) == 0.0


def test_at_the_reference_temperature_age_is_time_and_at_the_datum_nothing_ripens() -> None:
    at_h = np.array([0.0, 5.0, 30.0])
    even = np.full(3, EPOXY_CLOCK.reference_c)
    assert cure.equivalent_age_h(at_h, even, EPOXY_CLOCK) == pytest.approx(at_h)
    assert cure.nurse_saul_maturity_c_h(at_h, np.full(3, -5.0), -5.0) == pytest.approx(np.zeros(3))


@given(st.permutations(range(3)))
def test_periods_in_any_order_make_the_same_concrete_age(order: list[int]) -> None:
    days, temp_c = [7.0, 3.0, 14.0], [5.0, 20.0, 12.0]
    found = cure.en1992_equivalent_age_d([days[at] for at in order], [temp_c[at] for at in order])
    assert found == pytest.approx(cure.en1992_equivalent_age_d(days, temp_c))


@settings(max_examples=20)
@given(st.permutations(range(len(ROWS))))
def test_strength_rows_in_any_order_give_the_same_curve(order: list[int]) -> None:
    found = strength.fit_strength([ROWS[index] for index in order], EPOXY_CLOCK)
    plain = strength.fit_strength(ROWS, EPOXY_CLOCK)
    assert found.ultimate_mpa == pytest.approx(plain.ultimate_mpa, rel=1e-6)
    assert found.time_h == pytest.approx(plain.time_h, rel=1e-6)


@given(factor=st.floats(0.2, 5.0), age_h=st.floats(1.0, 500.0), shape=st.floats(0.3, 3.0))
def test_strength_scales_with_the_ultimate_one_and_age_with_the_time_of_the_curve(
    factor: float, age_h: float, shape: float
) -> None:
    curve = StrengthCurve(ultimate_mpa=50.0, time_h=20.0, shape=shape, scatter_ratio=0.0)
    plain = strength.strength_mpa(curve, age_h)
    stronger = replace(curve, ultimate_mpa=50.0 * factor)
    slower = replace(curve, time_h=20.0 * factor)
    assert strength.strength_mpa(stronger, age_h) == pytest.approx(factor * plain)
    assert strength.strength_mpa(slower, factor * age_h) == pytest.approx(plain)


SAMPLES = [StrengthSample(at_h, PLAIN.at(at_h)) for at_h in (10.0, 20.0, 30.0)]
MATCHES = [AgeMatch(12.0, 12.0), AgeMatch(24.0, 23.0)]


@settings(max_examples=15)
@given(samples=st.permutations(SAMPLES), matches=st.permutations(MATCHES))
def test_measurements_in_any_order_lead_to_the_same_belief(
    samples: list[StrengthSample], matches: list[AgeMatch]
) -> None:
    before = belief_before(fit_cure(ROWS, EPOXY_CLOCK))
    at_h, temp_c = np.arange(41.0), np.full(41, 23.0)
    found = corrected_belief(before, EPOXY_CLOCK, at_h, temp_c, samples, matches)
    plain = corrected_belief(before, EPOXY_CLOCK, at_h, temp_c, SAMPLES, MATCHES)
    assert found.mean == pytest.approx(plain.mean, abs=1e-6)
    assert np.array(found.covariance) == pytest.approx(np.array(plain.covariance), rel=1e-3, abs=1e-6)


LIFE = [WorkingLifePoint(10.0, 150.0), WorkingLifePoint(23.0, 90.0), WorkingLifePoint(32.0, 45.0)]


@given(rows=st.permutations(LIFE), temp_c=st.floats(10.0, 32.0))
def test_rows_of_working_life_in_any_order_say_the_same(rows: list[WorkingLifePoint], temp_c: float) -> None:
    assert working_life_min(rows, temp_c) == working_life_min(LIFE, temp_c)


@given(life=st.floats(20.0, 200.0), off_k=st.floats(0.0, 15.0))
def test_one_row_halves_as_much_above_as_it_doubles_below(life: float, off_k: float) -> None:
    row = [WorkingLifePoint(20.0, life)]
    warm, cold = (working_life_min(row, 20.0 + sign * off_k).working_life_min for sign in (1.0, -1.0))
    assert warm * cold == pytest.approx(life * life)


SPELLS = [WetSpell(1.0, 10.0), WetSpell(12.0, 30.0), WetSpell(31.0, 60.0)]


@given(order=st.permutations(SPELLS), left_out=st.integers(0, 2), temp_c=st.floats(5.0, 30.0))
def test_spells_of_wetting_count_in_any_order_and_never_for_less_than_nothing(
    order: list[WetSpell], left_out: int, temp_c: float
) -> None:
    at_h, even = np.array([0.0, 100.0]), np.full(2, temp_c)
    whole = wet_cure(SPELLS, at_h, even)
    assert wet_cure(order, at_h, even) == whole
    fewer = wet_cure([spell for spell in SPELLS if spell != SPELLS[left_out]], at_h, even)
    assert fewer.wet_h <= whole.wet_h
    assert whole.wet_h == pytest.approx(56.0 if temp_c >= 10.0 else 0.0)
