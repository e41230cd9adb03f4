"""Doubts about cure readings: spikes, stuck probes, a probe in the air, exchanged probes, a shifted clock.

Nothing is mended here. Each doubt says what it is about and from when to when, so that a person can look at the probe.
The rules and their numbers are our model: they are meant to miss a small fault rather than to call out a good record.
"""

import itertools
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from groutjobs.engineering.checks import Floats, require_all_between, require_between
from groutjobs.errors import Unusable

Places = npt.NDArray[np.intp]
NEIGHBOURS = 4
"""Readings on each side that a reading is compared with."""
SPIKE_K = 6.0
SPIKE_SPREADS = 6.0
"""A spike stands so far off the median of its neighbours, and so many of their spreads. GROUTJOBS."""
SPIKE_NEAR_H = 1.5
"""Neighbours further away say nothing of a spike. GROUTJOBS."""
NORMAL_OVER_MAD = 1.4826
"""Standard deviation over median absolute deviation of normal values."""
STUCK_H, STUCK_COUNT, OTHERS_MOVED_K = 6.0, 8, 2.0
"""A probe is stuck where it tells the same to 0.01 K for so long and so often while another moved. GROUTJOBS."""
IN_AIR_H, IN_AIR_K, AIR_SWING_K, IN_AIR_SHARE = 6.0, 1.0, 4.0, 0.9
"""A grout probe is in the air where it keeps within 1 K of air that swings by 4 K. GROUTJOBS."""
EXCHANGE_K, EXCHANGE_NEAR_H = 4.0, 1.0
"""Two probes are exchanged where both jump to within 1.5 K of the other's last reading, at least so far. GROUTJOBS."""
EXCHANGE_FIT_K = 1.5
SHIFTS_H = (-24.0, -1.0, 1.0, 24.0)
"""Shifts that a clock is tried for: an hour of summer time, and a day. GROUTJOBS."""
SHIFT_GAIN_RATIO, SHIFT_SPAN_H, SHIFT_LEAST_K = 0.6, 36.0, 1.0
"""A shift is told where it takes 40 % of the difference away over a day and a half or more. GROUTJOBS."""
STEP_SLACK_H = 0.05


class Doubt(StrEnum):
    """What is doubted."""

    SPIKE = "spike"
    STUCK = "stuck"
    IN_AIR = "in_air"
    EXCHANGED = "exchanged"
    CLOCK_STEP = "clock_step"
    CLOCK_SHIFT = "clock_shift"


@dataclass(frozen=True, kw_only=True)
class Doubted:
    """One doubt: from when to when after placing, over how many readings, and by how many hours a clock is off."""

    doubt: Doubt
    first_h: float
    last_h: float
    count: int
    shift_h: float = 0.0


def _checked(at_h: Floats, temp_c: Floats) -> tuple[Floats, Floats]:
    at_h, temp_c = np.asarray(at_h, dtype=np.float64), np.asarray(temp_c, dtype=np.float64)
    if at_h.ndim != 1 or at_h.shape != temp_c.shape:
        reason = f"{at_h.shape} times and {temp_c.shape} temperatures; one of each is needed"
        raise Unusable("cure readings", reason, source="GROUTJOBS")
    if not np.isfinite(at_h).all() or not (np.diff(at_h) > 0).all():
        raise Unusable("cure readings", "the times do not rise from each reading to the next", source="GROUTJOBS")
    require_all_between("temperature of a reading", temp_c, -60.0, 200.0, unit="°C", source="GROUTJOBS")
    return at_h, temp_c


def spikes(at_h: Floats, temp_c: Floats) -> Places:
    """Return which readings stand alone, far from the median of their neighbours on both sides.

    Parameters
    ----------
    at_h : Time of each reading. [h], shape (n,), strictly rising
    temp_c : Temperature. [°C], shape (n,), -60 to 200

    Returns
    -------
    Indices of the readings, rising. [-], shape (n_spikes,); one or two in a row. A course that goes on at the new
    height is no spike.

    Raises
    ------
    OutOfRange, Unusable : a temperature lies outside its limits, times do not rise, or the shapes differ.

    Source
    ------
    [GROUTJOBS] our model: 6 K and 6 spreads off the median of four neighbours on each side; the spread is 1.4826
    times their median absolute deviation.
    """
    at_h, temp_c = _checked(at_h, temp_c)
    if not len(at_h):
        return np.zeros(0, dtype=np.intp)
    width = 2 * NEIGHBOURS + 1
    range_k = maximum_filter1d(temp_c, width) - minimum_filter1d(temp_c, width)
    found = []
    for place in np.flatnonzero(range_k > SPIKE_K).tolist():
        sides = [_near(at_h, place, step) for step in (-1, 1)]
        if any(len(side) < 2 for side in sides):
            continue
        middle = float(np.median(temp_c[np.concatenate(sides)]))
        spread = NORMAL_OVER_MAD * float(np.median(np.abs(temp_c[np.concatenate(sides)] - middle)))
        off_k = float(temp_c[place] - middle)
        alone = all(abs(float(np.median(temp_c[side])) - middle) < abs(off_k) / 2 for side in sides)
        if abs(off_k) > max(SPIKE_K, SPIKE_SPREADS * spread) and alone:
            found.append(place)
    return np.array(found, dtype=np.intp)


def _near(at_h: Floats, place: int, step: int) -> Places:
    """Up to NEIGHBOURS readings on one side, each close in time to the one before it."""
    picked: list[int] = []
    last = place
    while len(picked) < NEIGHBOURS and 0 <= last + step < len(at_h):
        if abs(at_h[last + step] - at_h[last]) > SPIKE_NEAR_H:
            break
        last += step
        picked.append(last)
    return np.array(picked, dtype=np.intp)


def stuck_spans(at_h: Floats, temp_c: Floats, other_at_h: Floats, other_c: Floats) -> list[Doubted]:
    """Return where a probe tells the same value on and on while another probe of the pour moves.

    Parameters
    ----------
    at_h : Time of each reading of the probe. [h], shape (n,), strictly rising
    temp_c : Its temperature. [°C], shape (n,), -60 to 200
    other_at_h : Time of each reading of the other probe. [h], shape (m,), strictly rising
    other_c : Temperature of the other probe. [°C], shape (m,), -60 to 200

    Returns
    -------
    Spans of six hours and eight readings or more that are the same to 0.01 K, in which the other moved by 2 K.

    Raises
    ------
    OutOfRange, Unusable : a temperature lies outside its limits, times do not rise, or the shapes differ.

    Source
    ------
    [GROUTJOBS] our model.
    """
    at_h, temp_c = _checked(at_h, temp_c)
    other_at_h, other_c = _checked(other_at_h, other_c)
    if not len(at_h):
        return []
    edges = np.concatenate([[0], np.flatnonzero(np.abs(np.diff(temp_c)) > 0.01) + 1, [len(at_h)]])
    spans = []
    for first, after in itertools.pairwise(edges):
        begins_h, ends_h = float(at_h[first]), float(at_h[after - 1])
        if after - first < STUCK_COUNT or ends_h - begins_h < STUCK_H:
            continue
        beside_c = other_c[(other_at_h >= begins_h) & (other_at_h <= ends_h)]
        if len(beside_c) > 1 and float(np.ptp(beside_c)) >= OTHERS_MOVED_K:
            spans.append(Doubted(doubt=Doubt.STUCK, first_h=begins_h, last_h=ends_h, count=int(after - first)))
    return spans


def in_air_spans(at_h: Floats, grout_c: Floats, air_at_h: Floats, air_c: Floats) -> list[Doubted]:
    """Return where a grout probe follows the air, as one does that hangs beside the grout.

    Parameters
    ----------
    at_h : Time of each grout reading. [h], shape (n,), strictly rising
    grout_c : Grout temperature. [°C], shape (n,), -60 to 200
    air_at_h : Time of each air reading. [h], shape (m,), strictly rising
    air_c : Air temperature. [°C], shape (m,), -60 to 200

    Returns
    -------
    Spans of six hours or more in which 9 of 10 readings keep within 1 K of air that swings by 4 K or more.

    Raises
    ------
    OutOfRange, Unusable : a temperature lies outside its limits, times do not rise, or the shapes differ.

    Source
    ------
    [GROUTJOBS] our model: grout between plate and foundation follows the air late and damped.
    """
    at_h, grout_c = _checked(at_h, grout_c)
    air_at_h, air_c = _checked(air_at_h, air_c)
    if len(at_h) < 2 or len(air_at_h) < 2:
        return []
    beside_c = np.interp(at_h, air_at_h, air_c)
    nearest_h = np.min(np.abs(at_h[:, None] - air_at_h[_closest(at_h, air_at_h)]), axis=1)
    near = (np.abs(grout_c - beside_c) <= IN_AIR_K) & (nearest_h <= SPIKE_NEAR_H)
    spans: list[Doubted] = []
    first = 0
    while first < len(at_h):
        last = _end_of_run(near, first)
        long_enough = at_h[last] - at_h[first] >= IN_AIR_H
        if near[first] and long_enough and float(np.ptp(beside_c[first : last + 1])) >= AIR_SWING_K:
            hours = float(at_h[first]), float(at_h[last])
            spans.append(Doubted(doubt=Doubt.IN_AIR, first_h=hours[0], last_h=hours[1], count=last - first + 1))
        first = last + 1
    return spans


def _closest(at_h: Floats, air_at_h: Floats) -> Places:
    """The two air readings about each hour, shape (n, 2)."""
    after = np.clip(np.searchsorted(air_at_h, at_h), 1, len(air_at_h) - 1)
    return np.stack([after - 1, after], axis=1)


def _end_of_run(near: npt.NDArray[np.bool_], first: int) -> int:
    """Last reading of a run in which at most one in ten is not near; the first itself where none is."""
    last, misses = first, 0
    if not near[first]:
        return first
    for place in range(first + 1, len(near)):
        misses += not near[place]
        if misses > (1 - IN_AIR_SHARE) * (place - first + 1) + 0.5:
            break
        if near[place]:
            last = place
    return last


def exchanges(at_h: Floats, one_c: Floats, other_c: Floats) -> list[Doubted]:
    """Return where two probes take each other's place from one reading to the next.

    Parameters
    ----------
    at_h : Times at which both were read. [h], shape (n,), strictly rising
    one_c : Temperature of the one probe. [°C], shape (n,), -60 to 200
    other_c : Temperature of the other. [°C], shape (n,), -60 to 200

    Returns
    -------
    Spans from such a jump to the one back, or to the last reading.

    Raises
    ------
    OutOfRange, Unusable : a temperature lies outside its limits, times do not rise, or the shapes differ.

    Source
    ------
    [GROUTJOBS] our model: both jump by 4 K or more within an hour, to within 1.5 K of where the other was.
    """
    at_h, one_c = _checked(at_h, one_c)
    _, other_c = _checked(at_h, other_c)
    apart_k = one_c - other_c
    jumps = (
        (np.diff(at_h) <= EXCHANGE_NEAR_H + STEP_SLACK_H)
        & (np.abs(np.diff(one_c)) >= EXCHANGE_K)
        & (np.abs(np.diff(other_c)) >= EXCHANGE_K)
        & (np.abs(one_c[1:] - other_c[:-1]) <= EXCHANGE_FIT_K)
        & (np.abs(other_c[1:] - one_c[:-1]) <= EXCHANGE_FIT_K)
        & (apart_k[1:] * apart_k[:-1] < 0)
    )
    places = [int(place) + 1 for place in np.flatnonzero(jumps)]
    spans = []
    for begin, end in zip(places[::2], [*places[1::2], len(at_h)], strict=False):
        span = float(at_h[begin]), float(at_h[end - 1])
        spans.append(Doubted(doubt=Doubt.EXCHANGED, first_h=span[0], last_h=span[1], count=end - begin))
    return spans


def exchanged_throughout(grout_c: Floats, air_c: Floats, placed_c: float, outside_c: Floats) -> bool:
    """Return whether grout and air probe of a pour look exchanged from the first reading on.

    Parameters
    ----------
    grout_c : What is filed as grout in the first day after placing. [°C], shape (n,), -60 to 200
    air_c : What is filed as air at the same times. [°C], shape (n,), -60 to 200
    placed_c : Temperature of the grout as placed. [°C], 0 to 60
    outside_c : The air as a forecast had it at these times. [°C], shape (n,), -60 to 200

    Returns
    -------
    Whether each is nearer to what the other should be, by 2 K or more, in the first reading and over the day.

    Raises
    ------
    OutOfRange, Unusable : a temperature lies outside its limits, or the shapes differ.

    Source
    ------
    [GROUTJOBS] our model: the first grout reading is near the grout as placed, the air near its forecast.
    """
    require_between("grout temperature as placed", placed_c, 0.0, 60.0, unit="°C", source="GROUTJOBS")
    times = np.arange(len(grout_c), dtype=np.float64)
    _, grout_c = _checked(times, grout_c)
    _, air_c = _checked(times, air_c)
    _, outside_c = _checked(times, outside_c)
    if len(grout_c) < NEIGHBOURS:
        return False
    first = abs(float(grout_c[0]) - placed_c) - abs(float(air_c[0]) - placed_c)
    day = float(np.mean(np.abs(air_c - outside_c)) - np.mean(np.abs(grout_c - outside_c)))
    return first >= OTHERS_MOVED_K and day >= OTHERS_MOVED_K


def clock_steps(at_h: Floats) -> list[Doubted]:
    """Return where an even logger leaves out an hour, or doubles its pace for one, as a clock set on or back does.

    Parameters
    ----------
    at_h : Time of each reading. [h], shape (n,), strictly rising

    Returns
    -------
    Steps that are an hour or a day longer than the even one, to three minutes. One reading missed by a logger that
    reads every hour looks the same, so the step of an hour is told only where readings come more often.

    Raises
    ------
    Unusable : the times do not rise.

    Source
    ------
    [GROUTJOBS] our model.
    """
    at_h, _ = _checked(at_h, np.zeros(len(at_h)))
    if len(at_h) < 2 * NEIGHBOURS:
        return []
    steps_h = np.diff(at_h)
    even_h = float(np.median(steps_h))
    regular = float(np.mean(np.abs(steps_h - even_h) <= STEP_SLACK_H)) >= IN_AIR_SHARE
    if not regular or even_h > 0.5 + STEP_SLACK_H:
        return []
    return [
        Doubted(
            doubt=Doubt.CLOCK_STEP,
            first_h=float(at_h[place]),
            last_h=float(at_h[place + 1]),
            count=1,
            shift_h=shift_h,
        )
        for place, step_h in enumerate(steps_h)
        for shift_h in (1.0, 24.0)
        if abs(step_h - even_h - shift_h) <= STEP_SLACK_H
    ]


def clock_shift(at_h: Floats, air_c: Floats, known_at_h: Floats, known_c: Floats) -> Doubted | None:
    """Return by how many hours the clock of an air record is off, where another record of the air tells so.

    Parameters
    ----------
    at_h : Time of each air reading. [h], shape (n,), strictly rising
    air_c : Air temperature. [°C], shape (n,), -60 to 200
    known_at_h : Times of the other record. [h], shape (m,), strictly rising
    known_c : The air as that record has it. [°C], shape (m,), -60 to 200

    Returns
    -------
    The shift that fits best of an hour and a day on and back, or None. Positive where the readings say a later time
    than it was.

    Raises
    ------
    OutOfRange, Unusable : a temperature lies outside its limits, times do not rise, or the shapes differ.

    Source
    ------
    [GROUTJOBS] our model: without its mean, the difference over 36 h or more falls below 60 % of what it was and was
    1 K or more.
    """
    at_h, air_c = _checked(at_h, air_c)
    known_at_h, known_c = _checked(known_at_h, known_c)
    if len(known_at_h) < 2:
        return None
    reach = max(SHIFTS_H)
    inside = (at_h >= known_at_h[0] + reach) & (at_h <= known_at_h[-1] - reach)
    if inside.sum() < STUCK_COUNT or at_h[inside][-1] - at_h[inside][0] < SHIFT_SPAN_H:
        return None

    def differs_k(shift_h: float) -> float:
        apart_k = air_c[inside] - np.interp(at_h[inside] - shift_h, known_at_h, known_c)
        return float(np.std(apart_k))

    plain_k = differs_k(0.0)
    best_h = min(SHIFTS_H, key=differs_k)
    if plain_k < SHIFT_LEAST_K or differs_k(best_h) > SHIFT_GAIN_RATIO * plain_k:
        return None
    first_h, last_h = float(at_h[inside][0]), float(at_h[inside][-1])
    return Doubted(doubt=Doubt.CLOCK_SHIFT, first_h=first_h, last_h=last_h, count=int(inside.sum()), shift_h=best_h)
