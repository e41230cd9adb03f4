"""What a forecast does not tell but follows from what it tells: dew point, humidity, sunlight."""

from typing import Any

import numpy as np

from groutjobs.engineering.psychrometrics import dew_point_c, relative_humidity_from_dew_point
from groutjobs.engineering.sun import sun_elevations_deg
from groutjobs.engineering.sunlight import sunlight_from_cloud_w_m2
from groutjobs.equipment.models import Site
from groutjobs.weather.series import LIMIT_OF, Series


def hours_to_store(series: Series, site: Site) -> dict[str, Any]:
    """The hours as Forecast.hours holds them; "computed" names the quantities that were not in the source.

    OutOfRange where humidity and temperature contradict each other.
    """
    hours = {quantity: list(values) for quantity, values in series.hours.items()}
    temps = hours["temp_c"]
    if "dew_point_c" not in hours or "relative_humidity" not in hours:
        given = "relative_humidity" if "relative_humidity" in hours else "dew_point_c"
        pairs = [moisture(temp, given, value) for temp, value in zip(temps, hours[given], strict=True)]
        hours["dew_point_c"], hours["relative_humidity"] = (list(values) for values in zip(*pairs, strict=True))
    if "solar_w_m2" not in hours:
        hours["solar_w_m2"] = _sunlight_w_m2(series, site)
    computed = [quantity for quantity in LIMIT_OF if quantity in hours and quantity not in series.hours]
    ordered = {quantity: [round(value, 4) for value in hours[quantity]] for quantity in LIMIT_OF if quantity in hours}
    return {**ordered, "past_hours": series.past_hours, "computed": computed}


def moisture(temp_c: float, given: str, value: float) -> tuple[float, float]:
    """Dew point and relative humidity that belong together, from whichever of the two is given."""
    if given == "relative_humidity":
        return round(dew_point_c(temp_c, value), 2), value
    return value, round(relative_humidity_from_dew_point(temp_c, value), 4)


def _sunlight_w_m2(series: Series, site: Site) -> list[float]:
    after_h = np.arange(series.hour_count, dtype=np.float64)
    elevations = sun_elevations_deg(series.starts_at, after_h, site.latitude_deg, site.longitude_deg)
    sunlight = sunlight_from_cloud_w_m2(elevations, np.array(series.hours["cloud_ratio"]))
    return [round(float(value), 1) for value in sunlight]
