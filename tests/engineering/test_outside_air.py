"""Moist air against two libraries over the whole range of weather.

Below 0 °C psychrolib turns to vapour over ice, weather services and we do not. So it is compared where the dew point is
0 °C or more; below, the form that the weather services use is taken from pvlib, which stays over water.
"""

import numpy as np
import psychrolib
import pytest
from pvlib.atmosphere import rh_from_tdew, tdew_from_rh

from groutjobs.engineering import psychrometrics

WEATHER_SERVICES = (6.112, 17.62, 243.12)
"""Constants over water of the World Meteorological Organization, as pvlib's documentation has them."""
HUMIDITIES = np.linspace(0.02, 1.0, 50)
SEA_LEVEL_PA = 101325.0


@pytest.fixture(autouse=True)
def si_units() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


def test_dew_points_agree_from_zero_up() -> None:
    """Reference: psychrolib. Range: 0.5 to 50 °C by 0.5, humidity 0.02 to 1, dew point 0 °C or more: 3000 places.
    Tolerance: 0.07 K, what 0.4 % of vapour pressure [AE1996] are at 50 °C (0.08) and 0 °C (0.055)."""
    compared = 0
    for temp_c in np.arange(0.5, 50.1, 0.5):
        found = psychrometrics.dew_points_c(np.full_like(HUMIDITIES, temp_c), HUMIDITIES)
        expected = np.array([psychrolib.GetTDewPointFromRelHum(float(temp_c), float(rh)) for rh in HUMIDITIES])
        wet = expected >= 0.0
        compared += int(wet.sum())
        assert found[wet] == pytest.approx(expected[wet], abs=0.07)
        assert (found[~wet] < 0.07).all()
    assert compared > 3000


def test_dew_points_agree_in_frost() -> None:
    """Reference: pvlib. Range: -40 to 50 °C by 0.5, humidity 0.1 to 1: dew points down to -60 °C. Tolerance: 0.05
    K; two fits over water to the same tables, and 0.4 % of vapour pressure is 0.03 to 0.07 K."""
    temp_c, humidity = (part.ravel() for part in np.meshgrid(np.arange(-40.0, 50.1, 0.5), np.linspace(0.1, 1.0, 46)))
    found = psychrometrics.dew_points_c(temp_c, humidity)
    expected = tdew_from_rh(temp_c, 100 * humidity, coeff=WEATHER_SERVICES)
    assert found.min() < -50.0
    assert found == pytest.approx(expected, abs=0.05)


def test_humidity_from_the_dew_point_agrees_in_frost() -> None:
    """Reference: pvlib. Range: air -40 to 50 °C by 2, dew point 0 to 40 K below it, not under -60 °C. Tolerance:
    0.4 % of the humidity [AE1996], twice that because two pressures are divided."""
    for temp_c in np.arange(-40.0, 50.1, 2.0):
        dew_c = np.arange(max(-60.0, temp_c - 40.0), temp_c + 0.1, 1.0)
        found = [psychrometrics.relative_humidity_from_dew_point(float(temp_c), float(dew)) for dew in dew_c]
        expected = rh_from_tdew(temp_c, dew_c, coeff=WEATHER_SERVICES) / 100
        assert found == pytest.approx(expected, rel=0.008)


def test_water_in_the_air_agrees() -> None:
    """Reference: psychrolib. Range: 0.5 to 50 °C by 0.5, humidity 0.02 to 1, kilograms of water per kilogram of
    dry air. Tolerance: 0.5 %, because 0.4 % of the pressure [AE1996] grow with the share of vapour in hot wet
    air."""
    for temp_c in np.arange(0.5, 50.1, 0.5):
        full_pa = 1000 * psychrometrics.saturation_pressure_kpa(float(temp_c))
        for humidity in HUMIDITIES:
            found = psychrolib.GetHumRatioFromVapPres(float(humidity) * full_pa, SEA_LEVEL_PA)
            expected = psychrolib.GetHumRatioFromRelHum(float(temp_c), float(humidity), SEA_LEVEL_PA)
            assert found == pytest.approx(expected, rel=0.005)


def test_the_older_evaporation_formula_agrees_with_pressures_of_the_library() -> None:
    """Reference: psychrolib. Range: grout 5 to 45 °C, air 1 to 45 °C, humidity 0.1 to 0.9, wind 0 to 50 km/h.
    Tolerance: 0.4 % of the two vapour pressures [AE1996], times what the formula makes of them."""
    lb_ft2, psi_kpa, mph_km_h = 4.882427636, 6.894757293, 1.609344
    for grout_c in np.arange(5.0, 45.1, 5.0):
        for air_c in np.arange(1.0, 45.1, 4.0):
            for humidity in (0.1, 0.5, 0.9):
                for wind_km_h in (0.0, 15.0, 50.0):
                    at_grout = psychrolib.GetSatVapPres(float(grout_c)) / 1000
                    in_air = humidity * psychrolib.GetSatVapPres(float(air_c)) / 1000
                    per_kpa = 0.44 / psi_kpa * (0.253 + 0.096 * wind_km_h / mph_km_h) * lb_ft2
                    found = psychrometrics.evaporation_rate_menzel_kg_m2_h(
                        float(grout_c), float(air_c), humidity, wind_km_h
                    )
                    allowed = 0.004 * per_kpa * (at_grout + in_air)
                    assert found == pytest.approx(per_kpa * (at_grout - in_air), abs=allowed)
