"""Foundation block beside its machine: mass, free length of its bolts, and the space for grout under a plate."""

from collections.abc import Sequence
from statistics import fmean

from groutjobs.engineering.checks import require_above, require_between
from groutjobs.engineering.survey import ELEVATION_LIMIT_MM
from groutjobs.errors import Unusable


def block_mass_kg(length_mm: float, width_mm: float, height_mm: float, density_kg_m3: float) -> float:
    """Return the mass of a rectangular block, length × width × height × density.

    Parameters
    ----------
    length_mm, width_mm, height_mm : Size of the block. [mm], above 0
    density_kg_m3 : Density of the concrete with its bars. [kg/m³], above 0

    Returns
    -------
    Mass of the block. [kg]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [SI] volume times density. Pockets, sleeves and chamfers are left in.

    Examples
    --------
    >>> round(block_mass_kg(3000.0, 1500.0, 1000.0, 2400.0))
    10800
    """
    sizes = {"length of the block": length_mm, "width of the block": width_mm, "height of the block": height_mm}
    for quantity, size_mm in sizes.items():
        require_above(quantity, size_mm, 0.0, unit="mm", source="SI")
    require_above("density of the concrete", density_kg_m3, 0.0, unit="kg/m³", source="SI")
    return length_mm * width_mm * height_mm / 1e9 * density_kg_m3


def mass_ratio(block_kg: float, machine_kg: float) -> float:
    """Return how many times the block weighs what the machine weighs.

    Parameters
    ----------
    block_kg : Mass of the block. [kg], above 0
    machine_kg : Mass of machine, driver and plate. [kg], above 0

    Returns
    -------
    Mass of the block over that of the machine. [-]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [ACI351.3] mass of the block against the mass of the machine: 3 or more, 5 or more under reciprocating machines.

    Examples
    --------
    >>> mass_ratio(10800.0, 3000.0)
    3.6
    """
    require_above("mass of the block", block_kg, 0.0, unit="kg", source="ACI351.3")
    require_above("mass of the machine", machine_kg, 0.0, unit="kg", source="ACI351.3")
    return block_kg / machine_kg


def free_length_diameters(free_length_mm: float, diameter_mm: float) -> float:
    """Return the free length of an anchor bolt in diameters of its thread.

    Parameters
    ----------
    free_length_mm : Length that can stretch, from the nut to where the bolt is held. [mm], 0 or more
    diameter_mm : Nominal diameter of the thread. [mm], above 0

    Returns
    -------
    Free length over diameter. [-]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [API686] 12 diameters or more, so that the bolt keeps its tension when the joint settles.

    Examples
    --------
    >>> free_length_diameters(288.0, 24.0)
    12.0
    """
    require_between("free length", free_length_mm, 0.0, None, unit="mm", source="API686")
    require_above("diameter of the thread", diameter_mm, 0.0, unit="mm", source="API686")
    return free_length_mm / diameter_mm


def grout_space_mm(underside_elevation_mm: float, concrete_elevations_mm: Sequence[float]) -> float:
    """Return the mean space between the surveyed concrete and the underside of a plate.

    Parameters
    ----------
    underside_elevation_mm : Elevation of the underside. [mm], -1000000 to 1000000
    concrete_elevations_mm : Elevations of the surveyed points on the same datum. [mm], -1000000 to 1000000; one or more

    Returns
    -------
    Underside less the mean of the points; below zero the plate would lie in the concrete. [mm]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.
    Unusable : no point is surveyed.

    Source
    ------
    [GROUTJOBS] every point weighs the same; the takeoff weighs them by the area that they stand for.

    Examples
    --------
    >>> grout_space_mm(1050.0, [1000.0, 1004.0, 996.0])
    50.0
    """
    if not concrete_elevations_mm:
        raise Unusable("survey", "no point of the concrete is surveyed", source="GROUTJOBS")
    for elevation_mm in (underside_elevation_mm, *concrete_elevations_mm):
        require_between(
            "elevation", elevation_mm, -ELEVATION_LIMIT_MM, ELEVATION_LIMIT_MM, unit="mm", source="GROUTJOBS"
        )
    return underside_elevation_mm - fmean(concrete_elevations_mm)
