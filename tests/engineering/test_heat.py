"""Foundation, plate and grout under weather: limits, balances and agreement with simpler calculations."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs.engineering import heat, materials
from groutjobs.engineering.heat import AnnualStart, Layers, MeasuredConcrete, ProfileStart, Surroundings, Underside
from groutjobs.engineering.sky import Exposure, HourlyAir
from groutjobs.errors import OutOfRange, Unusable

PLATED = Layers(concrete=materials.concrete(), concrete_mm=900.0, plate=materials.steel(), plate_mm=25.0, gap_mm=50.0)
BARE = Layers(concrete=materials.concrete(), concrete_mm=900.0)
OPEN = Surroundings(exposure=Exposure.OPEN, underside=Underside.GROUND, ground_c=11.0)
START = AnnualStart(annual_mean_c=11.0, annual_swing_k=20.0, days_after_warmest=60.0)
EVEN = AnnualStart(annual_mean_c=15.0, annual_swing_k=0.0, days_after_warmest=0.0)


def weather(days: int = 3, mean_c: float = 14.0, swing_k: float = 6.0, sun_w_m2: float = 600.0) -> HourlyAir:
    hours = np.arange(days * 24 + 1.0)
    wave = np.sin(2 * np.pi * (hours - 9) / 24)
    return HourlyAir(
        air_c=mean_c + swing_k * wave,
        dew_point_c=np.full(len(hours), mean_c - swing_k - 3),
        wind_km_h=np.full(len(hours), 10.0),
        solar_w_m2=np.maximum(0.0, sun_w_m2 * np.sin(2 * np.pi * (hours - 6) / 24)),
        cloud_ratio=np.full(len(hours), 0.3),
    )


def test_everything_at_one_temperature_stays_there() -> None:
    even = Surroundings(exposure=Exposure.INDOORS, underside=Underside.GROUND, ground_c=15.0)
    found = heat.simulate(PLATED, weather(10, 15.0, 0.0), even, EVEN)
    assert found.plate_c is not None
    for curve in (found.concrete_surface_c, found.concrete_core_c, found.plate_c):
        assert curve == pytest.approx(15.0, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(list(Exposure)),
    st.sampled_from(list(Underside)),
    st.floats(-20.0, 35.0),
    st.floats(0.0, 12.0),
    st.sampled_from([PLATED, BARE]),
)
def test_the_energy_balance_closes(
    exposure: Exposure, underside: Underside, mean_c: float, swing_k: float, layers: Layers
) -> None:
    around = Surroundings(exposure=exposure, underside=underside, ground_c=10.0)
    measured = (MeasuredConcrete(30, 12.0),)
    found = heat.simulate(layers, weather(3, mean_c, swing_k), around, START, measured=measured)
    assert found.energy_residual_ratio < 1e-3
    assert found.concrete_surface_c.shape == (73,)


def test_the_plate_lags_the_air_like_a_lumped_body() -> None:
    """A plate over a thick layer of nothing is a lumped body, INCROPERA 5.1: T = T∞ + (Ti - T∞) e^(-ht/ρcL).

    Indoors the film is 2.5 plus radiation, taken at the mean temperature; the gap lets some heat through, so the body
    is compared with h ± the gap on either side.
    """
    air = weather(1, 20.0, 0.0)
    layers = replace(PLATED, plate_mm=40.0, gap_mm=300.0)
    around = Surroundings(exposure=Exposure.INDOORS, underside=Underside.GROUND, ground_c=15.0)
    found = heat.simulate(layers, air, around, EVEN)
    assert found.plate_c is not None
    film = 2.5 + 0.9 * 5.67e-8 * 4 * 290.6**3
    gap = 1.25 + 0.9 / 1.1 * 5.67e-8 * 4 * 288.0**3
    inertia = 7832 * 434 * 0.04
    without_gap, with_gap = (
        15 + 5 * film / (film + more) * (1 - math.exp(-(film + more) * 6 * 3600 / inertia)) for more in (0.0, gap)
    )
    assert with_gap - 0.05 < found.plate_c[6] < without_gap + 0.05


def test_sun_warms_the_open_plate_by_what_trade_expects() -> None:
    """Common practice, no source: a plate in full sun and light wind is 15 to 25 K above the air."""
    air = weather(4, 20.0, 5.0, sun_w_m2=900.0)
    found = heat.simulate(PLATED, air, OPEN, START)
    assert found.plate_c is not None
    noon = 3 * 24 + 13
    assert 12.0 < found.plate_c[noon] - air.air_c[noon] < 27.0


def test_shelter_takes_the_sun_and_most_of_the_night_sky_away() -> None:
    sheltered = replace(OPEN, exposure=Exposure.SHELTERED)
    found = [heat.simulate(PLATED, weather(5), around, START).plate_c for around in (OPEN, sheltered)]
    open_c, sheltered_c = (curve[-25:] for curve in found if curve is not None)
    assert open_c.max() > sheltered_c.max() + 5
    assert open_c.min() < sheltered_c.min()


def test_shade_of_the_machine_counts_by_its_share() -> None:
    sunny, half, shaded = (
        heat.simulate(BARE, weather(2), replace(OPEN, sun_share_ratio=share), START).concrete_surface_c[37]
        for share in (1.0, 0.5, 0.0)
    )
    assert sunny > half > shaded
    assert half == pytest.approx((sunny + shaded) / 2, abs=0.5)


@given(st.floats(0.5, 10.0))
@settings(max_examples=15, deadline=None)
def test_warmer_air_never_cools_anything(warmer_k: float) -> None:
    air = weather(2)
    warmer = replace(air, air_c=air.air_c + warmer_k)
    cool, warm = (heat.simulate(PLATED, each, OPEN, START) for each in (air, warmer))
    assert (warm.cell_c >= cool.cell_c - 1e-9).all()


def test_the_surface_follows_a_bare_block_under_an_exact_daily_wave() -> None:
    """CARSLAW 2.6: a half space behind a film h answers the air's wave by 1/(1 + (1+i) k/(h d)).

    Indoors, no sun; radiation is linear to 1 % for ± 6 K. The step of 15 min costs up to 0.06 K of 6.
    """
    hall = Surroundings(exposure=Exposure.INDOORS, underside=Underside.GROUND, ground_c=15.0)
    layers = replace(BARE, concrete_mm=3000.0)
    found = heat.simulate(layers, weather(20, 15.0, 6.0), hall, EVEN)
    hours = np.arange(481)[-24:]
    wave = (found.concrete_surface_c[-24:] * np.exp(-2j * np.pi * hours / 24)).mean() * 2
    film = 2.5 + 0.9 * 5.67e-8 * 4 * 288.15**3
    concrete = materials.concrete()
    damping_m = math.sqrt(concrete.diffusivity_m2_s * 86400 / math.pi)
    exact = 6.0 / (1 + (1 + 1j) * concrete.conductivity_w_mk / (film * damping_m))
    assert abs(wave) == pytest.approx(abs(exact), abs=0.06)
    lag_h = -np.angle(wave / (6.0 * np.exp(-2j * np.pi * 9 / 24) * -1j)) * 24 / (2 * np.pi)
    assert lag_h == pytest.approx(-np.angle(exact) * 24 / (2 * np.pi), abs=0.15)


def test_thirty_days_forget_a_wrong_start() -> None:
    """Our own number: an eighth is left of a start that was wrong by 4 K down to 2 m into the ground."""
    wrong = replace(START, annual_mean_c=START.annual_mean_c + 4)
    right, off = (heat.simulate(PLATED, weather(30), OPEN, start) for start in (START, wrong))
    assert abs(right.concrete_surface_c[0] - off.concrete_surface_c[0]) > 3.0
    assert abs(right.concrete_surface_c[-1] - off.concrete_surface_c[-1]) < 4 / 7


def test_a_measurement_is_met_and_then_fades() -> None:
    plain = heat.simulate(PLATED, weather(10), OPEN, START)
    read_c = float(plain.concrete_surface_c[48]) + 3.0
    found = heat.simulate(PLATED, weather(10), OPEN, START, measured=(MeasuredConcrete(48, read_c),))
    offset = found.concrete_surface_c - plain.concrete_surface_c
    assert offset[:48] == pytest.approx(0.0, abs=1e-12)
    assert offset[48] == pytest.approx(3.0)
    assert (np.diff(offset[48:]) < 0).all()
    assert 0 < offset[-1] < 1.5


def test_a_batch_gives_what_each_case_gives() -> None:
    cases = [weather(2, mean_c) for mean_c in (5.0, 15.0, 25.0)]
    rows = {name: np.stack([getattr(air, name) for air in cases]) for name in cases[0].__dataclass_fields__}
    together = heat.simulate(BARE, HourlyAir(**rows), OPEN, START)
    alone = [heat.simulate(BARE, air, OPEN, START).concrete_surface_c for air in cases]
    assert together.concrete_surface_c == pytest.approx(np.stack(alone))


def test_the_annual_start_is_warm_below_after_summer() -> None:
    """CARSLAW 2.6: the yearly wave arrives late below, so in the cooling season the depth is warmer."""
    autumn = replace(START, days_after_warmest=100.0)
    found = heat.simulate(replace(BARE, concrete_mm=3000.0), weather(1), OPEN, autumn)
    assert found.cell_c[0, 0] < found.concrete_core_c[0]
    omega = 2 * math.pi / (365.25 * 86400)
    reach = 0.004 / math.sqrt(2 * materials.concrete().diffusivity_m2_s / omega)
    wave = math.exp(-reach) * math.cos(omega * 100 * 86400 - reach)
    assert found.cell_c[0, 0] == pytest.approx(11.0 + 10.0 * wave, abs=0.01)


def test_plate_and_concrete_surface_start_alike() -> None:
    found = heat.simulate(PLATED, weather(1), OPEN, START)
    assert found.plate_c is not None
    expected_c = 11.0 + 10.0 * math.cos(2 * math.pi * 60 / 365.25)
    assert found.plate_c[0] == pytest.approx(expected_c)
    assert found.concrete_surface_c[0] == pytest.approx(expected_c, abs=0.01)


def test_a_profile_carries_a_run_on_from_where_another_stopped() -> None:
    air = weather(4)
    whole = heat.simulate(BARE, air, OPEN, START)
    rest = heat.simulate(BARE, air.at(np.arange(48, 97)), OPEN, ProfileStart(cell_c=whole.cell_c[48]))
    assert rest.concrete_surface_c[1:] == pytest.approx(whole.concrete_surface_c[49:], abs=0.02)


def test_poured_grout_moves_from_its_own_temperature_to_the_plate_and_concrete() -> None:
    before = heat.simulate(PLATED, weather(6), OPEN, START)
    after = heat.simulate_pours(before, weather(6), np.array([24, 48, 130]), 36, materials.grout("epoxy"), grout_c=22.0)
    assert after.grout_c is not None
    assert after.grout_coldest_c is not None
    assert after.grout_c.shape == (3, 37)
    assert after.grout_c[:, 0] == pytest.approx(22.0)
    assert (after.grout_coldest_c <= after.grout_c + 1e-9)[~np.isnan(after.grout_c)].all()
    assert np.isnan(after.grout_c[2]).tolist() == [hour > 14 for hour in range(37)]
    assert after.concrete_core_c[0, 0] == pytest.approx(before.concrete_core_c[24])
    assert after.energy_residual_ratio < 1e-3


def test_pours_all_at_once_give_what_one_pour_gives() -> None:
    before = heat.simulate(PLATED, weather(6), OPEN, START)
    air, grout = weather(6), materials.grout("epoxy")
    many = heat.simulate_pours(before, air, np.arange(20, 60), 24, grout, grout_c=22.0)
    one = heat.simulate_pours(before, air, np.array([40]), 24, grout, grout_c=22.0)
    assert many.grout_c is not None
    assert one.grout_c is not None
    assert many.grout_c[20] == pytest.approx(one.grout_c[0])


def typical_year(first_hour: int, hours: int) -> HourlyAir:
    """NREL typical year TMY3, station 723170 Greensboro NC, as the package pvlib carries it."""
    path = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    rows = pvlib.iotools.read_tmy3(path, map_variables=True)[0].iloc[first_hour : first_hour + hours + 1]
    air_c, dew_c = (rows[name].to_numpy(dtype=float) for name in ("temp_air", "temp_dew"))
    return HourlyAir(
        air_c=air_c,
        dew_point_c=np.minimum(dew_c, air_c),
        wind_km_h=rows["wind_speed"].to_numpy(dtype=float) * 3.6,
        solar_w_m2=rows["ghi"].to_numpy(dtype=float),
        cloud_ratio=rows["TotCld (tenths)"].to_numpy(dtype=float) / 10,
    )


@pytest.mark.parametrize(("exposure", "plate_k"), [(Exposure.OPEN, 0.2), (Exposure.SHELTERED, 0.05)])
def test_steps_of_fifteen_minutes_are_fine_enough_for_a_typical_spring(exposure: Exposure, plate_k: float) -> None:
    """Against one-minute steps of the same model; the limits are those that the module states, rms."""
    around, air = replace(OPEN, exposure=exposure), typical_year(100 * 24, 240)
    usual, fine = (heat.simulate(PLATED, air, around, START, steps_per_hour=steps) for steps in (4, 60))
    assert usual.plate_c is not None
    assert fine.plate_c is not None
    assert math.sqrt(np.mean((usual.plate_c - fine.plate_c) ** 2)) < plate_k
    assert math.sqrt(np.mean((usual.concrete_surface_c - fine.concrete_surface_c) ** 2)) < plate_k / 2
    assert usual.energy_residual_ratio < 1e-3


@pytest.mark.parametrize(
    ("change", "quantity"),
    [
        ({"concrete_mm": 0.0}, "foundation depth"),
        ({"concrete_mm": math.nan}, "foundation depth"),
        ({"plate_mm": 1.0}, "plate thickness"),
        ({"plate_mm": None}, "plate thickness"),
        ({"gap_mm": None}, "gap under the plate"),
    ],
)
def test_impossible_layers_are_refused(change: dict[str, float | None], quantity: str) -> None:
    with pytest.raises((OutOfRange, Unusable)) as refusal:
        replace(PLATED, **change)  # type: ignore[arg-type]
    assert str(refusal.value).startswith(quantity)


@pytest.mark.parametrize(
    ("name", "value", "quantity"),
    [
        ("air_c", 99.0, "air temperature"),
        ("air_c", math.nan, "air temperature"),
        ("wind_km_h", -1.0, "wind"),
        ("solar_w_m2", 2000.0, "sunlight"),
        ("cloud_ratio", 8.0, "cloud cover"),
        ("dew_point_c", 30.0, "dew point"),
    ],
)
def test_impossible_weather_is_refused(name: str, value: float, quantity: str) -> None:
    air = weather(1)
    row = getattr(air, name).copy()
    row[5] = value
    with pytest.raises((OutOfRange, Unusable)) as refusal:
        replace(air, **{name: row})
    assert str(refusal.value).startswith(quantity)


def test_rows_of_different_length_and_readings_beyond_the_weather_are_refused() -> None:
    air = weather(1)
    with pytest.raises(Unusable):
        replace(air, wind_km_h=air.wind_km_h[:-1])
    with pytest.raises(OutOfRange) as refusal:
        heat.simulate(BARE, air, OPEN, START, measured=(MeasuredConcrete(25, 10.0),))
    assert refusal.value.quantity == "hour of the reading"
    with pytest.raises(OutOfRange):
        heat.simulate(BARE, air, OPEN, START, steps_per_hour=0)
    with pytest.raises(Unusable):
        heat.simulate(BARE, air, OPEN, ProfileStart(cell_c=np.zeros(3)))
    with pytest.raises(Unusable):
        heat.simulate_pours(
            heat.simulate(BARE, air, OPEN, START), air, np.array([1]), 5, materials.grout("epoxy"), grout_c=20.0
        )
