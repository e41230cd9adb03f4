"""Moist air: saturation pressure, dew point and evaporation from fresh grout.

Dew points are those over liquid water at every temperature, as weather services report them; the frost point below
0 °C is another quantity. Functions with a plural name work on arrays of hourly values; the others take one value.
"""

import math

import numpy as np

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between

_A = 17.625
_B_C = 243.04
_E0_KPA = 0.61094

LOWEST_C = -60.0
LOWEST_DEW_POINT_C = -100.0
HIGHEST_C = 80.0

_KG_M2_PER_LB_FT2 = 0.45359237 / 0.3048**2
_KM_H_PER_MPH = 1.609344
_KPA_PER_PSI = 6.894757293168
_ZERO_F_IN_C = -160 / 9
WIND_SHARE_AT_HALF_METRE = 0.66
"""Wind half a metre above the ground as a share of the wind at 10 m. PRACTICE, from memory: about two thirds."""


def saturation_pressure_kpa(temp_c: float) -> float:
    """Return the pressure of water vapour in saturated air, over liquid water.

    Parameters
    ----------
    temp_c : Temperature. [°C], -60 to 80; the source fits -40 to 50, we checked the rest to 1.5 %

    Returns
    -------
    Saturation pressure. [kPa]

    Raises
    ------
    OutOfRange : the temperature lies outside the limits above.

    Source
    ------
    [AE1996] Magnus form with its constants for water.

    Examples
    --------
    >>> round(saturation_pressure_kpa(20.0), 4)
    2.3334
    """
    require_between("temperature", temp_c, LOWEST_C, HIGHEST_C, unit="°C", source="AE1996")
    return _E0_KPA * math.exp(_A * temp_c / (temp_c + _B_C))


def saturation_pressures_kpa(temp_c: Floats) -> Floats:
    """Return saturation pressures over liquid water for arrays; see saturation_pressure_kpa.

    Parameters
    ----------
    temp_c : Temperature. [°C], any shape, -100 to 80; below -60 it serves dew points of very dry air only

    Returns
    -------
    Saturation pressure. [kPa], shape as temp_c

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [AE1996] Magnus form with its constants for water.

    Examples
    --------
    >>> saturation_pressures_kpa(np.array([0.0, 20.0])).round(4).tolist()
    [0.6109, 2.3334]
    """
    require_all_between("temperature", temp_c, LOWEST_DEW_POINT_C, HIGHEST_C, unit="°C", source="AE1996")
    return np.asarray(_E0_KPA * np.exp(_A * temp_c / (temp_c + _B_C)))


def dew_point_c(temp_c: float, relative_humidity: float) -> float:
    """Return the temperature at which the water in the air begins to settle on a surface.

    Parameters
    ----------
    temp_c : Air temperature. [°C], -60 to 80
    relative_humidity : Ratio to saturation over water. [-], above 0, to 1

    Returns
    -------
    Dew point over liquid water, also below 0 °C. [°C]

    Raises
    ------
    OutOfRange : an input lies outside the limits above; dry air (0) has no dew point.

    Source
    ------
    [AE1996] inverted. Errors of 0.5 K and 0.03 in the readings move it by 1 K near 20 °C, by 2 K in dry air.

    Examples
    --------
    >>> round(dew_point_c(20.0, 0.75), 2)
    15.43
    """
    require_between("air temperature", temp_c, LOWEST_C, HIGHEST_C, unit="°C", source="AE1996")
    require_above("relative humidity", relative_humidity, 0.0, source="AE1996")
    require_between("relative humidity", relative_humidity, 0.0, 1.0, source="AE1996")
    gamma = math.log(relative_humidity) + _A * temp_c / (_B_C + temp_c)
    return _B_C * gamma / (_A - gamma)


def dew_points_c(temp_c: Floats, relative_humidity: Floats) -> Floats:
    """Return dew points for arrays of hourly values; one value per hour, see dew_point_c.

    Parameters
    ----------
    temp_c : Air temperature. [°C], shape (..., n_hours), -60 to 80
    relative_humidity : Ratio to saturation over water. [-], shape as temp_c, above 0, to 1

    Returns
    -------
    Dew point over liquid water. [°C], shape as temp_c

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [AE1996] inverted.
    """
    require_all_between("air temperature", temp_c, LOWEST_C, HIGHEST_C, unit="°C", source="AE1996")
    smallest = math.nextafter(0.0, 1.0)
    require_all_between("relative humidity", relative_humidity, smallest, 1.0, source="AE1996")
    gamma = np.log(relative_humidity) + _A * temp_c / (_B_C + temp_c)
    return _B_C * gamma / (_A - gamma)


def relative_humidity_from_dew_point(temp_c: float, dew_point_c: float) -> float:
    """Return the ratio of the vapour in the air to saturation.

    Parameters
    ----------
    temp_c : Air temperature. [°C], -60 to 80
    dew_point_c : Dew point over liquid water. [°C], -100 to temp_c

    Returns
    -------
    Relative humidity. [-], 0 to 1

    Raises
    ------
    OutOfRange : an input lies outside the limits above; a dew point above the air temperature is an error of reading.

    Source
    ------
    [AE1996] ratio of two saturation pressures.

    Examples
    --------
    >>> round(relative_humidity_from_dew_point(20.0, 15.43), 3)
    0.75
    """
    require_between("air temperature", temp_c, LOWEST_C, HIGHEST_C, unit="°C", source="AE1996")
    require_between("dew point", dew_point_c, LOWEST_DEW_POINT_C, temp_c, unit="°C", source="AE1996")
    return math.exp(_A * dew_point_c / (_B_C + dew_point_c) - _A * temp_c / (_B_C + temp_c))


def dew_point_spread_k(surface_temp_c: float, air_temp_c: float, relative_humidity: float) -> float:
    """Return how far a surface is warmer than the dew point of the air; below zero it is wet.

    Parameters
    ----------
    surface_temp_c : Temperature of the concrete or steel surface. [°C], -60 to 80
    air_temp_c : Air temperature. [°C], -60 to 80
    relative_humidity : Ratio to saturation over water. [-], above 0, to 1

    Returns
    -------
    Surface temperature less dew point. [K]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [AE1996] dew point; the use of the spread is [ISO8502-4].

    Examples
    --------
    >>> round(dew_point_spread_k(18.0, 20.0, 0.75), 2)
    2.57
    """
    require_between("surface temperature", surface_temp_c, LOWEST_C, HIGHEST_C, unit="°C", source="AE1996")
    return surface_temp_c - dew_point_c(air_temp_c, relative_humidity)


def evaporation_rate_kg_m2_h(
    grout_temp_c: float, air_temp_c: float, relative_humidity: float, wind_km_h: float
) -> float:
    """Return the rate at which water leaves a fresh grout surface; below zero water settles on it.

    Parameters
    ----------
    grout_temp_c : Temperature of the grout surface. [°C], -17.7 to 80
    air_temp_c : Dry-bulb air temperature. [°C], -17.7 to 80
    relative_humidity : Ratio to saturation. [-], 0 to 1
    wind_km_h : Wind speed half a metre above the surface. [km/h], 0 to 250

    Returns
    -------
    Mass of water lost. [kg/m²/h]; the truth may differ by 40 % [HOVER2020]

    Source
    ------
    [UNO1998] simplified formula, US form converted without rounding. Bleed water covers the surface.

    Examples
    --------
    >>> round(evaporation_rate_kg_m2_h(30.0, 30.0, 0.5, 15.0), 3)
    0.792
    """
    _require_evaporation_inputs(grout_temp_c, air_temp_c, relative_humidity, wind_km_h)
    grout_f, air_f = (1.8 * (temp_c - _ZERO_F_IN_C) for temp_c in (grout_temp_c, air_temp_c))
    vapour = math.pow(grout_f, 2.5) - relative_humidity * math.pow(air_f, 2.5)
    return vapour * (1 + 0.4 * wind_km_h / _KM_H_PER_MPH) * 1e-6 * _KG_M2_PER_LB_FT2


def evaporation_rates_kg_m2_h(
    grout_temp_c: Floats, air_temp_c: Floats, relative_humidity: Floats, wind_km_h: Floats
) -> Floats:
    """Return evaporation rates for arrays of hourly values; see evaporation_rate_kg_m2_h.

    Parameters
    ----------
    grout_temp_c : Temperature of the grout surface. [°C], shape (n_hours,), -60 to 80; NaN where missing
    air_temp_c : Dry-bulb air temperature. [°C], shape (n_hours,), -60 to 80; NaN where missing
    relative_humidity : Ratio to saturation. [-], shape (n_hours,), 0 to 1; NaN where missing
    wind_km_h : Wind speed half a metre above the surface. [km/h], shape (n_hours,), 0 to 250; NaN where missing

    Returns
    -------
    Mass of water lost. [kg/m²/h], shape (n_hours,); NaN where a value is missing or the form ends, at -17.8 °C

    Raises
    ------
    OutOfRange : a value that is not missing lies outside the limits above.

    Source
    ------
    [UNO1998] simplified formula, US form converted without rounding.
    """
    _require_hourly_evaporation_inputs(grout_temp_c, air_temp_c, relative_humidity, wind_km_h)
    grout_f, air_f = (
        np.where(temp_c > _ZERO_F_IN_C, 1.8 * (temp_c - _ZERO_F_IN_C), np.nan) for temp_c in (grout_temp_c, air_temp_c)
    )
    vapour = grout_f**2.5 - relative_humidity * air_f**2.5
    return np.asarray(vapour * (1 + 0.4 * wind_km_h / _KM_H_PER_MPH) * 1e-6 * _KG_M2_PER_LB_FT2)


def evaporation_rate_menzel_kg_m2_h(
    grout_temp_c: float, air_temp_c: float, relative_humidity: float, wind_km_h: float
) -> float:
    """Return the evaporation rate by the older formula, as a second opinion: the two differ by up to half.

    Parameters
    ----------
    grout_temp_c : Temperature of the grout surface. [°C], -17.7 to 80
    air_temp_c : Dry-bulb air temperature. [°C], -17.7 to 80
    relative_humidity : Ratio to saturation. [-], 0 to 1
    wind_km_h : Wind speed half a metre above the surface. [km/h], 0 to 250

    Returns
    -------
    Mass of water lost. [kg/m²/h]

    Source
    ------
    [MENZEL1954] 0.44 (e0 - ea)(0.253 + 0.096 V) in lb/ft²/h, psi, mph, converted without rounding.
    [UNO1998] the limits, as in evaporation_rate_kg_m2_h.

    Examples
    --------
    >>> round(evaporation_rate_menzel_kg_m2_h(30.0, 30.0, 0.5, 15.0), 3)
    0.758
    """
    _require_evaporation_inputs(grout_temp_c, air_temp_c, relative_humidity, wind_km_h)
    deficit_kpa = saturation_pressure_kpa(grout_temp_c) - relative_humidity * saturation_pressure_kpa(air_temp_c)
    wind_mph = wind_km_h / _KM_H_PER_MPH
    return 0.44 * deficit_kpa / _KPA_PER_PSI * (0.253 + 0.096 * wind_mph) * _KG_M2_PER_LB_FT2


def _require_hourly_evaporation_inputs(
    grout_temp_c: Floats, air_temp_c: Floats, relative_humidity: Floats, wind_km_h: Floats
) -> None:
    for quantity, values, low, high, unit in (
        ("grout temperature", grout_temp_c, LOWEST_C, HIGHEST_C, "°C"),
        ("air temperature", air_temp_c, LOWEST_C, HIGHEST_C, "°C"),
        ("relative humidity", relative_humidity, 0.0, 1.0, ""),
        ("wind", wind_km_h, 0.0, 250.0, "km/h"),
    ):
        require_all_between(quantity, values[~np.isnan(values)], low, high, unit=unit, source="UNO1998")


def _require_evaporation_inputs(
    grout_temp_c: float, air_temp_c: float, relative_humidity: float, wind_km_h: float
) -> None:
    require_between("grout temperature", grout_temp_c, -17.7, HIGHEST_C, unit="°C", source="UNO1998")
    require_between("air temperature", air_temp_c, -17.7, HIGHEST_C, unit="°C", source="UNO1998")
    require_between("relative humidity", relative_humidity, 0.0, 1.0, source="UNO1998")
    require_between("wind", wind_km_h, 0.0, 250.0, unit="km/h", source="UNO1998")
