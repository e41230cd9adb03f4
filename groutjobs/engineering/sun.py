"""Height of the sun and the spells of daylight at a site."""

from datetime import UTC, datetime, timedelta

import numpy as np

from groutjobs.engineering.checks import Floats, require_all_between, require_between

RISE_DEG = -0.833
"""Height of the sun's centre when its upper edge touches the horizon, refraction included. NOAA-SOLAR."""
_EPOCH = datetime(2000, 1, 1, 12, tzinfo=UTC)


def sun_elevations_deg(first_at: datetime, after_h: Floats, latitude_deg: float, longitude_deg: float) -> Floats:
    """Return the height of the sun's centre above the horizon, without refraction, for an array of instants.

    Parameters
    ----------
    first_at : Instant from which the hours count, with a time zone.
    after_h : Hours after it. [h], shape (n,), any number
    latitude_deg : North is positive. [°], -90 to 90
    longitude_deg : East is positive. [°], -180 to 180

    Returns
    -------
    Elevation. [°], shape (n,), within 0.02° from 1950 to 2050

    Raises
    ------
    OutOfRange : a coordinate lies outside the limits above, or an hour is no number.

    Source
    ------
    [NOAA-SOLAR] low-precision series after Meeus, chapters 22 and 25.
    """
    require_between("latitude", latitude_deg, -90.0, 90.0, unit="°", source="NOAA-SOLAR")
    require_between("longitude", longitude_deg, -180.0, 180.0, unit="°", source="NOAA-SOLAR")
    require_all_between("hour", np.asarray(after_h, dtype=np.float64), None, None, unit="h", source="NOAA-SOLAR")
    days = (first_at - _EPOCH) / timedelta(days=1) + np.asarray(after_h, dtype=np.float64) / 24
    century = days / 36525
    mean_longitude = np.radians(280.46646 + 36000.76983 * century)
    anomaly = np.radians(357.52911 + 35999.05029 * century)
    centre = (1.914602 - 0.004817 * century) * np.sin(anomaly) + 0.019993 * np.sin(2 * anomaly)
    node = np.radians(125.04 - 1934.136 * century)
    longitude = mean_longitude + np.radians(centre - 0.00569 - 0.00478 * np.sin(node))
    obliquity = np.radians(23.43929 - 0.0130042 * century + 0.00256 * np.cos(node))
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    sidereal = np.radians(280.46061837 + 360.98564736629 * days + longitude_deg)
    latitude = np.radians(latitude_deg)
    sine: Floats = np.sin(latitude) * np.sin(declination)
    sine += np.cos(latitude) * np.cos(declination) * np.cos(sidereal - ascension)
    return np.asarray(np.degrees(np.arcsin(sine)))
