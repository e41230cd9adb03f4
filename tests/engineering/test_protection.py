"""Shade and enclosures over a foundation: exact solutions, limit cases, balances, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import erfcx

from groutjobs.engineering import heat, materials, protection
from groutjobs.engineering.heat import Layers, MeasuredConcrete, Surroundings, Underside
from groutjobs.engineering.protection import Enclosure, Shade, air_under
from groutjobs.engineering.sky import Exposure, HourlyAir
from groutjobs.errors import OutOfRange, Unusable
from tests.engineering.test_heat import BARE, EVEN, OPEN, PLATED, START, weather

HALL = Surroundings(exposure=Exposure.INDOORS, underside=Underside.GROUND, ground_c=15.0)
COLD = weather(6, 2.0, 4.0, 300.0)
COVERS: list[tuple[Shade | Enclosure, ...]] = [
    (Shade(from_hour=10, to_hour=40, sun_left_ratio=0.3, sky_left_ratio=0.5, wind_left_ratio=0.7),),
    (Enclosure(from_hour=20, to_hour=60, air_c=25.0, film_w_m2k=8.0, walls_w_m2k=1.2),),
    (
        Enclosure(from_hour=0, to_hour=24, air_c=None),
        Enclosure(from_hour=24, to_hour=48, air_c=30.0),
        Shade(from_hour=48, to_hour=500, sun_left_ratio=0.0),
    ),
]


@pytest.mark.parametrize("film_w_m2k", [2.5, 10.0, 25.0])
def test_an_enclosure_warms_a_half_space_as_convection_at_its_surface_does(film_w_m2k: float) -> None:
    """INCROPERA equation 5.60 at x = 0 (CARSLAW 2.7): (T-Ti)/(T∞-Ti) = 1 - e^(h²αt/k²) erfc(h√(αt)/k); scipy's erfcx.

    Concrete that radiates next to nothing, 6 m deep. Steps of a quarter of an hour are 2 % of the step off in the first
    hour with the strongest film, and 0.3 % from the sixth hour on.
    """
    dull = replace(materials.concrete(), emissivity=1e-9)
    enclosure = Enclosure(from_hour=24, to_hour=192, air_c=35.0, film_w_m2k=film_w_m2k)
    block = Layers(concrete=dull, concrete_mm=6000.0)
    found = heat.simulate(block, weather(8, 15.0, 0.0), HALL.under(enclosure), EVEN)
    after_s = np.arange(1, 169) * 3600.0
    exact = 1 - erfcx(film_w_m2k * np.sqrt(dull.diffusivity_m2_s * after_s) / dull.conductivity_w_mk)
    ratio = (found.concrete_surface_c - 15.0) / 20.0
    assert ratio[:25] == pytest.approx(0.0, abs=1e-12)
    assert ratio[25:30] == pytest.approx(exact[:5], abs=0.02)
    assert ratio[30:] == pytest.approx(exact[5:], abs=0.003)
    assert found.energy_residual_ratio < 1e-3


def test_shade_that_leaves_no_sun_is_night() -> None:
    around = OPEN.under(Shade(from_hour=0, to_hour=500, sun_left_ratio=0.0))
    dark = replace(weather(5), solar_w_m2=np.zeros(121))
    shaded, night = heat.simulate(PLATED, weather(5), around, START), heat.simulate(PLATED, dark, OPEN, START)
    assert shaded.cell_c == pytest.approx(night.cell_c, abs=1e-12)


def test_shade_over_everything_is_as_indoors_but_for_the_wind() -> None:
    around = OPEN.under(Shade(from_hour=0, to_hour=500, sun_left_ratio=0.0, sky_left_ratio=0.0, wind_left_ratio=0.0))
    shaded = heat.simulate(BARE, weather(3), around, START).concrete_surface_c
    tent = Enclosure(from_hour=0, to_hour=500, air_c=None, film_w_m2k=4.0)
    assert shaded == pytest.approx(heat.simulate(BARE, weather(3), OPEN.under(tent), START).concrete_surface_c)


def test_an_enclosure_as_outside_with_the_same_film_changes_nothing() -> None:
    """Indoors the film is 2.5 and there is neither sun nor sky, so an unheated tent there is no tent."""
    tent = Enclosure(from_hour=24, to_hour=72, air_c=None, film_w_m2k=2.5)
    without, within = (heat.simulate(PLATED, weather(5), around, START) for around in (HALL, HALL.under(tent)))
    assert within.cell_c == pytest.approx(without.cell_c, abs=1e-12)


def test_an_enclosure_that_is_gone_is_forgotten() -> None:
    tent = Enclosure(from_hour=24, to_hour=30, air_c=25.0)
    without, within = (heat.simulate(PLATED, weather(20), around, START) for around in (OPEN, OPEN.under(tent)))
    warmer_k = within.concrete_surface_c - without.concrete_surface_c
    assert (warmer_k[:25] == 0.0).all()
    assert warmer_k[30] > 1.0
    assert 0.0 < warmer_k[-1] < 0.05


@pytest.mark.parametrize("covers", COVERS)
@pytest.mark.parametrize("layers", [PLATED, BARE])
@pytest.mark.parametrize("underside", list(Underside))
def test_the_energy_balance_closes_under_covers(
    covers: tuple[Shade | Enclosure, ...], layers: Layers, underside: Underside
) -> None:
    around = replace(OPEN, underside=underside, covers=covers)
    measured = (MeasuredConcrete(30, 12.0), MeasuredConcrete(50, 16.0))
    found = heat.simulate(layers, COLD, around, START, measured=measured)
    assert found.energy_residual_ratio < 1e-3
    assert found.heat_in_w_m2.shape == (144,)


@settings(max_examples=15, deadline=None)
@given(st.floats(5.0, 30.0), st.floats(0.5, 15.0), st.floats(0.7, 20.0))
def test_a_warmer_enclosure_never_cools_anything(air_c: float, warmer_k: float, film_w_m2k: float) -> None:
    tents = [
        Enclosure(from_hour=20, to_hour=90, air_c=each, film_w_m2k=film_w_m2k) for each in (air_c, air_c + warmer_k)
    ]
    cool, warm = (heat.simulate(PLATED, COLD, OPEN.under(tent), START) for tent in tents)
    assert (warm.cell_c >= cool.cell_c - 1e-9).all()
    assert warm.concrete_surface_c[90] > cool.concrete_surface_c[90]


def test_a_single_sheet_leaves_the_plate_cooler_than_an_insulated_one() -> None:
    sheets = (protection.SINGLE_SKIN_W_M2K, protection.DOUBLE_SKIN_W_M2K, 0.5)
    tents = [Enclosure(from_hour=20, to_hour=120, air_c=22.0, walls_w_m2k=walls) for walls in sheets]
    single, double, insulated = (
        heat.simulate(PLATED, COLD, OPEN.under(tent), START).concrete_surface_c[120] for tent in tents
    )
    assert single < double < insulated < 22.0


def test_the_walls_lie_between_inside_and_outside_by_the_standard_resistances() -> None:
    """ISO6946 by hand: a single sheet at 20 °C inside and 0 °C outside is at 20 - 20 · 0.13/0.17 = 4.7 °C."""
    tent = Enclosure(from_hour=0, to_hour=2, air_c=20.0)
    air = replace(weather(1), air_c=np.zeros(25), dew_point_c=np.full(25, -5.0))
    before, after = protection.covers_before_and_after((tent,), np.arange(25), air)
    assert before.around_c[:4] == pytest.approx([4.706, 4.706, 4.706, 0.0], abs=1e-3)
    assert after.around_c[:4] == pytest.approx([4.706, 4.706, 0.0, 0.0], abs=1e-3)


def test_a_heater_rests_and_a_cooler_works_when_it_is_warmer_outside() -> None:
    outside = np.array([10.0, 30.0])
    heated = Enclosure(from_hour=0, to_hour=1, air_c=20.0)
    assert heated.inside_c(outside).tolist() == [20.0, 30.0]
    assert replace(heated, is_cooled=True).inside_c(outside).tolist() == [20.0, 20.0]
    assert replace(heated, air_c=None).inside_c(outside).tolist() == [10.0, 30.0]


def test_the_dew_point_inside_is_that_of_outside_so_the_spread_grows_with_the_steel() -> None:
    tent = Enclosure(from_hour=24, to_hour=100, air_c=25.0)
    inside = air_under((tent,), COLD)
    assert (inside.dew_point_c == COLD.dew_point_c).all()
    assert inside.air_c[24] == COLD.air_c[24]
    assert inside.air_c[25:101].tolist() == [25.0] * 76
    assert (inside.wind_km_h[25:101] == 0.0).all()
    assert (inside.solar_w_m2[25:101] == 0.0).all()
    assert inside.air_c[101:].tolist() == COLD.air_c[101:].tolist()


def test_a_cooler_takes_out_the_water_that_would_condense() -> None:
    humid = replace(weather(1, 32.0, 2.0), dew_point_c=np.full(25, 26.0))
    tent = Enclosure(from_hour=0, to_hour=24, air_c=20.0, is_cooled=True)
    assert air_under((tent,), humid).dew_point_c == pytest.approx(20.0)


def test_covers_stay_on_the_axis_of_the_weather_for_every_pour() -> None:
    """Each pour, run alone under weather cut to begin with it, with the hours of the enclosure counted from there.

    To 1e-5 K where the enclosure begins with the pour: radiation is then linear about another temperature of the plate.
    """
    tent, grout, starts = Enclosure(from_hour=50, to_hour=80, air_c=25.0), materials.grout("epoxy"), (30, 50, 60, 79)
    before = heat.simulate(PLATED, COLD, OPEN.under(tent), START)
    many = heat.simulate_pours(before, COLD, np.array(starts), 60, grout, grout_c=20.0)
    poured = replace(PLATED, gap_mm=None, grout=grout, grout_mm=PLATED.gap_mm)
    for row, start in enumerate(starts):
        moved = replace(tent, from_hour=max(0, 50 - start), to_hour=80 - start)
        air = COLD.at(np.arange(start, start + 61))
        profile = heat.ProfileStart(cell_c=many.cell_c[row, 0])
        alone = heat.simulate(poured, air, OPEN.under(moved), profile)
        assert many.cell_c[row] == pytest.approx(alone.cell_c, abs=1e-5)
    assert many.energy_residual_ratio < 1e-3


def test_a_run_carried_on_under_the_same_covers_is_the_same_run() -> None:
    """To 0.05 K: at its first hour the radiation is linear about another temperature of the surface."""
    around = OPEN.under(Enclosure(from_hour=20, to_hour=60, air_c=20.0))
    whole = heat.simulate(PLATED, COLD, around, START)
    carried = heat.simulate_onward(whole, COLD, np.array([10, 40, 100]), 30, around)
    for row, start in enumerate((10, 40, 100)):
        expected = whole.concrete_surface_c[start : start + 31]
        assert carried.concrete_surface_c[row] == pytest.approx(expected, abs=0.05)
    assert carried.energy_residual_ratio < 1e-3


def test_several_readings_are_met_each_also_under_covers() -> None:
    around = replace(OPEN, covers=COVERS[2])
    readings = (MeasuredConcrete(12, 9.0), MeasuredConcrete(30, 14.0), MeasuredConcrete(31, 13.5))
    found = heat.simulate(PLATED, COLD, around, START, measured=readings)
    for reading in readings:
        assert found.concrete_surface_c[reading.hour] == pytest.approx(reading.concrete_c, abs=1e-9)
    plain = heat.simulate(PLATED, COLD, around, START)
    assert found.concrete_surface_c[:12] == pytest.approx(plain.concrete_surface_c[:12], abs=1e-12)
    late_k = found.concrete_surface_c[31:] - plain.concrete_surface_c[31:]
    assert abs(late_k[-1]) < abs(late_k[0]) / 2
    assert found.energy_residual_ratio < 1e-3


def test_a_reading_that_agrees_with_the_model_changes_nothing() -> None:
    around = replace(OPEN, covers=COVERS[1])
    plain = heat.simulate(BARE, COLD, around, START)
    agreed = tuple(MeasuredConcrete(hour, float(plain.concrete_surface_c[hour])) for hour in (5, 20, 21, 60, 61, 100))
    found = heat.simulate(BARE, COLD, around, START, measured=agreed)
    assert found.cell_c == pytest.approx(plain.cell_c, abs=1e-9)


def test_two_readings_in_one_hour_are_refused() -> None:
    with pytest.raises(Unusable, match="two readings of the concrete at hour 5"):
        heat.simulate(BARE, COLD, OPEN, START, measured=(MeasuredConcrete(5, 10.0), MeasuredConcrete(5, 12.0)))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (Shade(from_hour=0, to_hour=30, sun_left_ratio=0.5), Shade(from_hour=29, to_hour=40, sun_left_ratio=0.5)),
        (Enclosure(from_hour=10, to_hour=50, air_c=20.0), Shade(from_hour=20, to_hour=30, sun_left_ratio=0.5)),
        (Enclosure(from_hour=10, to_hour=50, air_c=20.0), Enclosure(from_hour=10, to_hour=50, air_c=20.0)),
    ],
)
def test_covers_that_overlap_are_refused(first: Shade | Enclosure, second: Shade | Enclosure) -> None:
    for covers in ((first, second), (second, first)):
        with pytest.raises(Unusable, match="two overlap"):
            replace(OPEN, covers=covers)


@pytest.mark.parametrize(
    ("change", "quantity"),
    [
        ({"from_hour": -1}, "first hour of the enclosure"),
        ({"to_hour": 10}, "last hour of the enclosure"),
        ({"air_c": 60.0}, "air in the enclosure"),
        ({"air_c": float("nan")}, "air in the enclosure"),
        ({"film_w_m2k": 0.5}, "film in the enclosure"),
        ({"walls_w_m2k": 8.0}, "heat through the walls"),
    ],
)
def test_an_impossible_enclosure_is_refused(change: dict[str, float], quantity: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        replace(Enclosure(from_hour=10, to_hour=20, air_c=20.0), **change)  # type: ignore[arg-type]
    assert refusal.value.quantity == quantity


def test_an_impossible_shade_and_a_cooler_without_a_temperature_are_refused() -> None:
    with pytest.raises(OutOfRange) as refusal:
        Shade(from_hour=0, to_hour=10, sun_left_ratio=1.2)
    assert refusal.value.quantity == "sun left by the shade"
    with pytest.raises(Unusable):
        Enclosure(from_hour=0, to_hour=10, air_c=None, is_cooled=True)


def test_a_batch_of_weathers_goes_under_the_same_covers() -> None:
    cases = [weather(4, mean_c) for mean_c in (2.0, 12.0)]
    rows = {name: np.stack([getattr(air, name) for air in cases]) for name in cases[0].__dataclass_fields__}
    around = replace(OPEN, covers=COVERS[1])
    together = heat.simulate(BARE, HourlyAir(**rows), around, START)
    alone = [heat.simulate(BARE, air, around, START).concrete_surface_c for air in cases]
    assert together.concrete_surface_c == pytest.approx(np.stack(alone), abs=1e-9)
