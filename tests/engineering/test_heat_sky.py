"""Sky temperature, films, air gap and the height of the sun against published values and a reference library."""

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd  # type: ignore[import-untyped]
import psychrolib
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering import sky, sun
from groutjobs.engineering.sky import Exposure, HourlyAir, Surface, SurfaceLoad
from groutjobs.errors import OutOfRange


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg"), [(36.1, -79.95), (55.32, -160.52), (-33.9, 151.2), (0.0, 0.0), (69.6, 18.9)]
)
def test_height_of_the_sun_agrees_with_the_reference_library(latitude_deg: float, longitude_deg: float) -> None:
    """pvlib's NREL SPA, true elevation without refraction; 0.02° is the claim of the short series."""
    first_at = datetime(2026, 1, 1, tzinfo=UTC)
    after_h = np.arange(0.0, 8760.0, 37.5)
    times = pd.DatetimeIndex([first_at + timedelta(hours=float(hour)) for hour in after_h])
    expected = pvlib.solarposition.get_solarposition(times, latitude_deg, longitude_deg)["elevation"].to_numpy()
    found = sun.sun_elevations_deg(first_at, after_h, latitude_deg, longitude_deg)
    assert np.abs(found - expected).max() < 0.02


@pytest.mark.parametrize(("latitude_deg", "longitude_deg"), [(91.0, 0.0), (0.0, 181.0), (math.nan, 0.0)])
def test_a_place_off_the_globe_is_refused(latitude_deg: float, longitude_deg: float) -> None:
    with pytest.raises(OutOfRange):
        sun.sun_elevations_deg(datetime(2026, 1, 1, tzinfo=UTC), np.array([0.0]), latitude_deg, longitude_deg)


@pytest.mark.parametrize(("air_c", "dew_c"), [(0.0, -5.0), (10.0, 5.0), (20.0, 10.0), (30.0, 20.0)])
def test_clear_sky_agrees_with_an_independent_formula(air_c: float, dew_c: float) -> None:
    """LI2017 also calibrates Brunt's form, 0.618 + 0.056 √(vapour pressure in hPa). 0.015 of emissivity between the
    two is 1.5 K of sky temperature. The vapour pressure comes from psychrolib."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    emissivity = 0.618 + 0.056 * math.sqrt(psychrolib.GetSatVapPres(dew_c) / 100)
    expected_c = (air_c + 273.15) * math.pow(emissivity, 0.25) - 273.15
    found_c = sky.sky_temps_c(np.array([air_c]), np.array([dew_c]), np.array([0.0]))[0]
    assert found_c == pytest.approx(expected_c, abs=1.5)


@given(st.floats(-30.0, 40.0), st.floats(0.0, 25.0), st.floats(0.0, 1.0))
def test_the_sky_is_colder_than_the_air_and_warms_with_cloud(air_c: float, depression_k: float, cloud: float) -> None:
    air, dew = np.full(2, air_c), np.full(2, air_c - depression_k)
    clear_c, clouded_c = sky.sky_temps_c(air, dew, np.array([0.0, cloud]))
    assert clear_c <= clouded_c + 1e-9 <= air_c + 2e-9


def test_films_are_those_of_the_standard() -> None:
    """ISO6946: 20 W/m²·K for convection at 4 m/s at the surface; 4 + 4 v. The 10 m wind is 4/0.66 m/s then."""
    wind_km_h = np.array([4.0 / 0.66 * 3.6])
    assert sky.convection_films_w_m2k(wind_km_h, Exposure.OPEN) == pytest.approx([20.0])
    assert sky.convection_films_w_m2k(wind_km_h, Exposure.INDOORS) == pytest.approx([2.5])
    assert 4 < sky.convection_films_w_m2k(wind_km_h, Exposure.SHELTERED)[0] < 20


@pytest.mark.parametrize(("gap_mm", "resistance"), [(25.0, (0.16, 0.19)), (50.0, (0.16, 0.21)), (300.0, (0.16, 0.23))])
def test_the_gap_lies_between_the_table_values_for_heat_up_and_down(
    gap_mm: float, resistance: tuple[float, float]
) -> None:
    """ISO6946 table for unventilated layers, from memory: 0.16 m²·K/W upward, 0.19 to 0.23 downward, mean 10 °C."""
    up, down = resistance
    assert up < 1 / sky.gap_conductance_w_m2k(gap_mm, 10.0, 0.9, 0.9) < down


@pytest.mark.parametrize("inputs", [(0.0, 10.0, 0.9, 0.9), (50.0, 99.0, 0.9, 0.9), (50.0, 10.0, 0.0, 0.9)])
def test_an_impossible_gap_is_refused(inputs: tuple[float, float, float, float]) -> None:
    with pytest.raises(OutOfRange):
        sky.gap_conductance_w_m2k(*inputs)


@pytest.mark.parametrize(("field", "value"), [("absorptance", 1.1), ("emissivity", 0.0), ("sun_share_ratio", -0.1)])
def test_an_impossible_surface_is_refused(field: str, value: float) -> None:
    numbers = {"absorptance": 0.6, "emissivity": 0.9, "sun_share_ratio": 1.0, field: value}
    with pytest.raises(OutOfRange):
        Surface(exposure=Exposure.OPEN, **numbers)


@pytest.mark.parametrize(
    ("exposure", "sky_share", "sun_share"), [("open", 1.0, 1.0), ("sheltered", 0.3, 0.0), ("indoors", 0.0, 0.0)]
)
def test_the_film_carries_the_fluxes_of_wind_sun_sky_and_surroundings(
    exposure: str, sky_share: float, sun_share: float
) -> None:
    """Stefan-Boltzmann written out: h (Ta - Ts) + aG + εσ (F Tsky⁴ + (1-F) Ta⁴ - Ts⁴), the film is exact at Ts."""
    air = HourlyAir(
        air_c=np.array([[12.0, 14.0]]),
        dew_point_c=np.array([[5.0, 6.0]]),
        wind_km_h=np.array([[9.0, 18.0]]),
        solar_w_m2=np.array([[0.0, 500.0]]),
        cloud_ratio=np.array([[0.0, 0.4]]),
    )
    surface = Surface(exposure=Exposure(exposure), absorptance=0.6, emissivity=0.9, sun_share_ratio=0.5)
    film, flow = SurfaceLoad(air, surface).film(1, np.array([25.0]))
    convection = sky.convection_films_w_m2k(np.array([18.0]), Exposure(exposure))[0]
    sky_k = sky.sky_temps_c(np.array([14.0]), np.array([6.0]), np.array([0.4]))[0] + 273.15
    radiated = sky_share * sky_k**4 + (1 - sky_share) * 287.15**4 - 298.15**4
    expected = convection * (14.0 - 25.0) + sun_share * 0.6 * 0.5 * 500.0 + 0.9 * 5.670374419e-8 * radiated
    assert flow[0] - film[0] * 25.0 == pytest.approx(expected)
