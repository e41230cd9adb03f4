"""Strength of a cube or cylinder from the load that broke it."""

import math

from groutjobs.engineering.checks import require_above, require_between


def compressive_strength_mpa(load_kn: float, area_mm2: float) -> float:
    """Return the compressive strength of a specimen: the greatest load over the loaded area.

    Parameters
    ----------
    load_kn : Greatest load that it carried. [kN], above 0, up to 10000
    area_mm2 : Loaded area before the test. [mm²], above 0, up to 1000000

    Returns
    -------
    Compressive strength. [MPa]

    Raises
    ------
    OutOfRange : load or area lies outside its limits.

    Source
    ------
    [ASTMC579] method B, greatest load over loaded area; the definition, without corrections for shape. [GROUTJOBS]
    upper limits.

    Examples
    --------
    >>> compressive_strength_mpa(200.0, 2500.0)
    80.0
    """
    require_above("greatest load", load_kn, 0.0, unit="kN", source="ASTMC579")
    require_between("greatest load", load_kn, 0.0, 10_000.0, unit="kN", source="GROUTJOBS")
    require_above("loaded area", area_mm2, 0.0, unit="mm²", source="ASTMC579")
    require_between("loaded area", area_mm2, 0.0, 1_000_000.0, unit="mm²", source="GROUTJOBS")
    return load_kn * 1000.0 / area_mm2


def cylinder_area_mm2(diameter_mm: float) -> float:
    """Return the loaded area of a cylinder.

    Parameters
    ----------
    diameter_mm : Mean diameter. [mm], above 0, up to 1000

    Returns
    -------
    Area of the end face. [mm²]

    Raises
    ------
    OutOfRange : the diameter lies outside its limits.

    Source
    ------
    [GROUTJOBS] geometry of the circle.

    Examples
    --------
    >>> round(cylinder_area_mm2(100.0), 1)
    7854.0
    """
    require_above("diameter", diameter_mm, 0.0, unit="mm", source="GROUTJOBS")
    require_between("diameter", diameter_mm, 0.0, 1000.0, unit="mm", source="GROUTJOBS")
    return math.pi * diameter_mm * diameter_mm / 4.0
