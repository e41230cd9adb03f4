"""Extremes of hourly curves over a span of hours, and the times from which a limit holds.

A curve is a straight line between its values at whole hours 0 to n. A span starts at a whole hour and may end between
two. A value that is not known (NaN) is worse than any other.
"""

import math

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from groutjobs.engineering.checks import Floats

Spells = tuple[Floats, Floats]
"""Beginnings and ends of spells, in hours, rising and without overlap."""
_TINY_H = 1e-9
_TINY = 1e-9


def starts_that_fit(n_hours: int, length_h: float) -> int:
    """Return how many whole hours from 0 on leave room for a span before the end of the curve.

    Parameters
    ----------
    n_hours : Hours of the curve. [h], 0 or more
    length_h : Length of the span. [h], above 0

    Returns
    -------
    Number of starts, 0 where the span is longer than the curve. [-]

    Source
    ------
    [GROUTJOBS] counting, exact.

    Examples
    --------
    >>> starts_that_fit(10, 2.5)
    8
    """
    return max(0, math.floor(n_hours - length_h + _TINY_H) + 1)


def smallest_within(values: Floats, length_h: float, n_starts: int) -> tuple[Floats, Floats]:
    """Return the smallest value of the curve from each start to start + length, and the hour at which it stands.

    Where a span runs over the end of the curve only its part before the end counts.

    Parameters
    ----------
    values : The curve at whole hours. [as the curve], shape (n_hours + 1,), NaN where not known
    length_h : Length of the span. [h], above 0
    n_starts : How many starts, from hour 0 on. [-], 1 to n_hours + 1

    Returns
    -------
    Smallest value [as the curve] and its hour [h], both shape (n_starts,). NaN where a value is not known.

    Source
    ------
    [GROUTJOBS] a straight line has its extremes at its ends, so whole hours and the end of the span are enough.
    """
    whole = math.floor(length_h + _TINY_H)
    part = max(0.0, length_h - whole)
    padded = np.concatenate([values, np.full(whole + 2, values[-1])])
    views = sliding_window_view(padded, whole + 1)[:n_starts]
    first = views.argmin(axis=1)
    at_hours = np.arange(n_starts) + first
    smallest: Floats = padded[at_hours]
    at_h: Floats = at_hours.astype(np.float64)
    if part > 0:
        last = np.arange(n_starts) + whole
        end = (1 - part) * padded[last] + part * padded[last + 1]
        lower = (end < smallest) | (np.isnan(end) & ~np.isnan(smallest))
        smallest, at_h = np.where(lower, end, smallest), np.where(lower, np.arange(n_starts) + length_h, at_h)
    return smallest, np.minimum(at_h, len(values) - 1)


def smallest_of_many(values: Floats, length_h: float, n_starts: int) -> Floats:
    """Return the smallest values of smallest_within for many curves at once.

    Parameters
    ----------
    values : The curves at whole hours. [as the curves], shape (..., n_hours + 1)
    length_h : Length of the span. [h], above 0
    n_starts : How many starts, from hour 0 on. [-], 1 to n_hours + 1

    Returns
    -------
    Smallest values. [as the curves], shape (..., n_starts); NaN where a value is not known

    Source
    ------
    [GROUTJOBS] as smallest_within, by doubling the span.
    """
    whole = math.floor(length_h + _TINY_H)
    part = max(0.0, length_h - whole)
    padded = np.concatenate([values, np.repeat(values[..., -1:], whole + 2, axis=-1)], axis=-1)
    smallest, reach = padded, 1
    while 2 * reach <= whole + 1:
        smallest = np.minimum(smallest[..., :-reach], smallest[..., reach:])
        reach *= 2
    rest = whole + 1 - reach
    smallest = np.minimum(smallest[..., :n_starts], smallest[..., rest : rest + n_starts])
    if part > 0:
        last = padded[..., whole : whole + n_starts + 1]
        smallest = np.minimum(smallest, last[..., :-1] + part * (last[..., 1:] - last[..., :-1]))
    return np.asarray(smallest)


def spells_at_or_above(values: Floats, limit: float) -> Spells:
    """Return the spells in which the curve is known and not under the limit, ends between hours included.

    Parameters
    ----------
    values : The curve at whole hours. [as the curve], shape (n_hours + 1,), NaN where not known
    limit : What it must not be under. [as the curve]

    Returns
    -------
    Beginnings and ends of the spells. [h], rising

    Source
    ------
    [GROUTJOBS] straight lines between hours, cut where they cross the limit.
    """
    over = values - limit
    over = np.where(np.abs(over) < _TINY, 0.0, over)
    good = over >= 0
    up = np.flatnonzero(~good[:-1] & good[1:])
    down = np.flatnonzero(good[:-1] & ~good[1:])
    begins = up.astype(np.float64) + np.nan_to_num(over[up] / (over[up] - over[up + 1]), nan=1.0)
    ends = down.astype(np.float64) + np.nan_to_num(over[down] / (over[down] - over[down + 1]), nan=0.0)
    if good[0]:
        begins = np.concatenate([[0.0], begins])
    if good[-1]:
        ends = np.concatenate([ends, [float(len(values) - 1)]])
    return begins, ends


def next_start_h(spells: Spells, length_h: float, n_starts: int, last_h: float) -> Floats:
    """Return, from each whole hour, the first time at which a span of this length fits into a spell.

    Parameters
    ----------
    spells : Beginnings and ends. [h], rising
    length_h : Length of the span. [h], above 0
    n_starts : How many whole hours, from 0 on. [-], 1 or more
    last_h : Later times do not count. [h]

    Returns
    -------
    The time, which may lie between hours; NaN where none fits. [h], shape (n_starts,)

    Source
    ------
    [GROUTJOBS] exact for the spells given.
    """
    begins, ends = spells
    latest = ends - length_h
    roomy = latest >= begins - _TINY_H
    begins, latest = begins[roomy], latest[roomy]
    hours = np.arange(n_starts, dtype=np.float64)
    if len(begins) == 0:
        return np.full(n_starts, np.nan)
    index = np.searchsorted(latest, hours - _TINY_H)
    found = np.maximum(hours, begins[np.minimum(index, len(begins) - 1)])
    return np.where((index < len(begins)) & (found <= last_h + _TINY_H), found, np.nan)
