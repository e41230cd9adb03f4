"""Sunlight on level ground from the height of the sun and the cloud, where a forecast does not tell it."""

import numpy as np

from groutjobs.engineering.checks import Floats, require_all_between


def sunlight_from_cloud_w_m2(elevation_deg: Floats, cloud_ratio: Floats) -> Floats:
    """Return the sunlight on level ground under cloud, for arrays of instants.

    Parameters
    ----------
    elevation_deg : Height of the sun's centre above the horizon. [°], shape (n,), -90 to 90
    cloud_ratio : Share of the sky under cloud. [-], shape (n,), 0 to 1

    Returns
    -------
    Global horizontal sunlight. [W/m²], shape (n,), 0 while the sun is down; single hours may be 30 % off

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [HAURWITZ1945] clear sky, 1098 sin h exp(-0.059 / sin h); [KASTEN1980] 1 - 0.75 N^3.4 for cloud, from memory.

    Examples
    --------
    >>> sunlight_from_cloud_w_m2(np.array([-5.0, 30.0, 30.0]), np.array([0.0, 0.0, 1.0])).round(1).tolist()
    [0.0, 487.9, 122.0]
    """
    require_all_between("height of the sun", elevation_deg, -90.0, 90.0, unit="°", source="HAURWITZ1945")
    require_all_between("cloud cover", cloud_ratio, 0.0, 1.0, source="KASTEN1980")
    up = np.sin(np.radians(elevation_deg))
    clear = np.zeros_like(up)
    above = up > 0
    clear[above] = 1098 * up[above] * np.exp(-0.059 / up[above])
    return np.asarray(clear * (1 - 0.75 * np.power(cloud_ratio, 3.4)))
