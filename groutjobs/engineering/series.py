"""Exact series of conduction in a plane wall and a long cylinder that are brought into air of another temperature."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import j0, j1, jn_zeros

from groutjobs.engineering.checks import Floats, require_between

Reals = npt.NDArray[np.floating[Any]]
N_TERMS = 80
"""Terms of each series: within 1e-6 from a Fourier number of 3e-4 on, seven minutes for a pallet."""


@dataclass(frozen=True)
class Series:
    """Roots and weights of one exact series; at the middle, and for the mean of the body."""

    roots: Floats
    middle: Floats
    mean: Floats

    def middle_ratio(self, fourier: float) -> float:
        """Share of the first difference that is left in the middle."""
        return _sum(self.middle, self.roots, fourier)

    def mean_ratio(self, fourier: float) -> float:
        """Share of the first difference that is left in the mean."""
        return _sum(self.mean, self.roots, fourier)


def _sum(weights: Floats, roots: Floats, fourier: float) -> float:
    require_between("Fourier number", fourier, 0.0, None, source="INCROPERA")
    return 1.0 if fourier == 0.0 else float(weights @ np.exp(-(roots**2) * fourier))


def wall_series(biot: float) -> Series:
    """Return the series of a plane wall with a film on both sides.

    Parameters
    ----------
    biot : Film times half the thickness over conductivity. [-], 1e-4 to 1e6

    Returns
    -------
    Roots and weights; its Fourier number is diffusivity times time over the square of half the thickness.

    Raises
    ------
    OutOfRange : the Biot number lies outside the limits above.

    Source
    ------
    [INCROPERA] 5.5, equations 5.39a to 5.39c: root · tan(root) = Biot.

    Examples
    --------
    >>> wall_series(0.313).roots[0].round(4).item()
    0.5319
    """
    require_between("Biot number", biot, 1e-4, 1e6, source="INCROPERA")
    low = np.arange(N_TERMS) * math.pi
    roots = _halved(lambda root: root * np.sin(root) - biot * np.cos(root), low, low + math.pi / 2)
    middle = 4 * np.sin(roots) / (2 * roots + np.sin(2 * roots))
    return Series(roots, middle, middle * np.sin(roots) / roots)


def cylinder_series(biot: float) -> Series:
    """Return the series of a long cylinder with a film around it.

    Parameters
    ----------
    biot : Film times radius over conductivity. [-], 1e-4 to 1e6

    Returns
    -------
    Roots and weights; its Fourier number is diffusivity times time over the square of the radius.

    Raises
    ------
    OutOfRange : the Biot number lies outside the limits above.

    Source
    ------
    [INCROPERA] 5.6, equations 5.47a to 5.47c: root · J1(root) = Biot · J0(root).

    Examples
    --------
    >>> cylinder_series(1.0).roots[0].round(4).item()
    1.2558
    """
    require_between("Biot number", biot, 1e-4, 1e6, source="INCROPERA")
    low = np.concatenate([[0.0], jn_zeros(1, N_TERMS - 1)])
    roots = _halved(lambda root: root * j1(root) - biot * j0(root), low, jn_zeros(0, N_TERMS))
    first = j1(roots)
    middle = 2 / roots * first / (j0(roots) ** 2 + first**2)
    return Series(roots, middle, middle * 2 * first / roots)


def wall_face_ratio(series: Series, fourier: float) -> float:
    """Return the share of the first difference that is left at the face of a plane wall.

    Parameters
    ----------
    series : Series of the wall, from wall_series.
    fourier : Diffusivity times time over the square of half the thickness. [-], 0 or more

    Returns
    -------
    Share. [-], 0 to 1

    Source
    ------
    [INCROPERA] equation 5.39a at the face.
    """
    return _sum(series.middle * np.cos(series.roots), series.roots, fourier)


def _halved(function: Callable[[Floats], Floats], low: Reals, high: Reals) -> Floats:
    """One root in each bracket, by halving; below the root the function is of the sign that it has at the low end."""
    sign = np.sign(function(low + (high - low) * 1e-9))
    for _ in range(60):
        middle = (low + high) / 2
        below = np.sign(function(middle)) == sign
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray((low + high) / 2)
