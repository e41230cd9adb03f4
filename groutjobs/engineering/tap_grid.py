"""What a grid of taps can miss: the odds that a round void lies under none of them."""

import math

from scipy.optimize import brentq

from groutjobs.engineering.checks import require_above, require_between


def hit_probability(diameter_mm: float, spacing_mm: float) -> float:
    """Return the probability that a round void lies under at least one tap of a square grid.

    Parameters
    ----------
    diameter_mm : Diameter of the void. [mm], above 0
    spacing_mm : Spacing of the grid. [mm], above 0

    Returns
    -------
    Probability: πd²/4s² up to d = s, less the overlap of the circles beyond, 1 from d = s√2. [-]

    Raises
    ------
    OutOfRange : a length is not above 0.

    Source
    ------
    [GROUTJOBS] share of the grid square within half a diameter of a tap.

    Examples
    --------
    >>> round(hit_probability(100, 150), 2)
    0.35
    """
    require_above("diameter of the void", diameter_mm, 0.0, unit="mm", source="GROUTJOBS")
    require_above("spacing of the taps", spacing_mm, 0.0, unit="mm", source="GROUTJOBS")
    d = diameter_mm / spacing_mm
    if d >= math.sqrt(2.0):
        return 1.0
    circle = math.pi / 4.0 * d * d
    if d <= 1.0:
        return circle
    lens = 0.5 * d * d * math.acos(1.0 / d) - 0.5 * math.sqrt(d * d - 1.0)
    return circle - 2.0 * lens


def missed_void_mm(spacing_mm: float, *, probability: float) -> float:
    """Return the diameter of the round void that a square grid misses with a given probability.

    Parameters
    ----------
    spacing_mm : Spacing of the grid. [mm], above 0
    probability : Probability that no tap falls on it. [-], 0.001 to 0.999

    Returns
    -------
    Diameter; smaller voids are missed more often. [mm]

    Raises
    ------
    OutOfRange : an input lies outside the limits above.

    Source
    ------
    [GROUTJOBS] inverse of hit_probability.
    """
    require_above("spacing of the taps", spacing_mm, 0.0, unit="mm", source="GROUTJOBS")
    require_between("probability", probability, 0.001, 0.999, source="GROUTJOBS")
    share = brentq(lambda d: hit_probability(d, 1.0) - (1.0 - probability), 1e-6, math.sqrt(2.0))
    return float(share) * spacing_mm
