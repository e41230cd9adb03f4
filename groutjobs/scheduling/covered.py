"""The weather that placing meets under a shade or in an enclosure, as forecast and as drawn."""

from dataclasses import replace

import numpy as np

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.protection import Covers, Enclosure, air_under
from groutjobs.engineering.psychrometrics import saturation_pressures_kpa
from groutjobs.engineering.sky import HourlyAir
from groutjobs.scheduling.conditions import HourlyWeather
from groutjobs.scheduling.forecast_error import DrawnWeather
from groutjobs.scheduling.hour_rows import Bools


def weather_under(covers: Covers, outside: HourlyWeather, first: int) -> HourlyWeather:
    """Return the weather as it is under the covers; in an enclosure no rain comes in.

    Parameters
    ----------
    covers : Shades and enclosures.
    outside : The weather outside.
    first : Its first hour on the axis of the covers. [h], 0 or more

    Source
    ------
    As air_under. [GROUTJOBS] an enclosure keeps rain out, a shade does not.
    """
    if not covers:
        return outside
    inside = air_under(covers, outside.for_heat(), first)
    return replace(
        outside,
        temp_c=inside.air_c,
        dew_point_c=np.minimum(inside.dew_point_c, inside.air_c),
        relative_humidity=_humidity(inside),
        wind_km_h=inside.wind_km_h,
        solar_w_m2=inside.solar_w_m2,
        rain_probability=np.where(_is_dry(covers, first, outside.n_hours), 0.0, outside.rain_probability),
    )


def drawn_under(covers: Covers, drawn: DrawnWeather, outside: HourlyWeather, first: int) -> DrawnWeather:
    """Return drawn weathers as they are under the covers.

    Parameters
    ----------
    covers : Shades and enclosures.
    drawn : Weathers drawn about the forecast outside.
    outside : That forecast; sun and cloud are taken from it.
    first : Its first hour on the axis of the covers. [h], 0 or more

    Source
    ------
    As weather_under.
    """
    if not covers:
        return drawn
    shape = drawn.temp_c.shape
    air = HourlyAir(
        air_c=drawn.temp_c,
        dew_point_c=np.minimum(drawn.dew_point_c, drawn.temp_c),
        wind_km_h=np.broadcast_to(drawn.wind_km_h, shape),
        solar_w_m2=np.broadcast_to(outside.solar_w_m2, shape),
        cloud_ratio=np.broadcast_to(outside.cloud_ratio, shape),
    )
    inside = air_under(covers, air, first)
    return replace(
        drawn,
        temp_c=inside.air_c,
        dew_point_c=np.minimum(inside.dew_point_c, inside.air_c),
        relative_humidity=_humidity(inside),
        wind_km_h=inside.wind_km_h[0],
        rain_probability=np.where(_is_dry(covers, first, outside.n_hours), 0.0, drawn.rain_probability),
    )


def _humidity(inside: HourlyAir) -> Floats:
    dew_point_c = np.minimum(inside.dew_point_c, inside.air_c)
    ratio = saturation_pressures_kpa(dew_point_c) / saturation_pressures_kpa(inside.air_c)
    return np.minimum(ratio, 1.0)


def _is_dry(covers: Covers, first: int, n_hours: int) -> Bools:
    hours, dry = first + np.arange(n_hours + 1), np.zeros(n_hours + 1, dtype=np.bool_)
    for cover in covers:
        if isinstance(cover, Enclosure):
            dry |= (hours >= cover.from_hour) & (hours <= cover.to_hour)
    return dry
