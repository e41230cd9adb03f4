"""Series of cure readings as plain numbers: hours after placing, gaps, jumps, the bridge over a gap, and thinning."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
HOUR = dt.timedelta(hours=1)
GAP_H = 2.0
"""Readings further apart than this leave a gap: two-hourly readings cost 3 % of the age [GROUTJOBS]."""
JUMP_K = 12.0
JUMP_H = 0.25
"""A change of more than 12 K in a quarter of an hour is no grout, but a probe that moved [GROUTJOBS]."""
MOST_POINTS = 2000
SECOND_H = 1.0 / 3600.0


def _none() -> Floats:
    return np.zeros(0)


@dataclass(frozen=True)
class Series:
    """Temperatures of one probe: hours after placing, strictly rising, and °C, both of shape (n,)."""

    at_h: Floats = field(default_factory=_none)
    temp_c: Floats = field(default_factory=_none)

    def __len__(self) -> int:
        return len(self.at_h)

    def from_start(self) -> "Series":
        """The part since the grout was placed; a reading before that is none of this grout."""
        return self.between(0.0, np.inf)

    def between(self, first_h: float, last_h: float) -> "Series":
        inside = (self.at_h >= first_h) & (self.at_h <= last_h)
        return Series(self.at_h[inside], self.temp_c[inside])

    def then(self, at_h: Sequence[float] | Floats, temp_c: Sequence[float] | Floats) -> "Series":
        """These readings with later ones added."""
        return Series(np.concatenate([self.at_h, at_h]), np.concatenate([self.temp_c, temp_c]))


@dataclass(frozen=True)
class Gap:
    """A span without a reading. [h] after placing"""

    first_h: float
    last_h: float

    @property
    def length_h(self) -> float:
        return self.last_h - self.first_h


@dataclass(frozen=True, kw_only=True)
class Course:
    """Grout temperature since placing as the readings tell it, and as cold as their gaps allow.

    Without a grout reading both follow the air, or are empty, and `measured` is False.
    """

    best: Series
    cold: Series
    last_h: float
    measured: bool


def series_of(readings: Iterable[tuple[dt.datetime, float]], started_at: dt.datetime) -> Series:
    """Readings in the order of time as hours after the start."""
    rows = [((at - started_at) / HOUR, temp_c) for at, temp_c in readings]
    return Series(np.array([row[0] for row in rows], dtype=float), np.array([row[1] for row in rows], dtype=float))


def gaps_in(grout: Series) -> list[Gap]:
    """Spans longer than GAP_H between two readings, and from placing to the first one."""
    at_h = np.concatenate([[0.0], grout.at_h])
    return [Gap(float(at_h[index]), float(at_h[index + 1])) for index in _gap_ends(at_h)]


def _gap_ends(at_h: Floats) -> npt.NDArray[np.intp]:
    """Where gaps begin; a second is forgiven, for hours worked out from two clock times are not exact."""
    return np.flatnonzero(np.diff(at_h) > GAP_H + SECOND_H)


def jumps_in(grout: Series) -> list[float]:
    """Hours at which the temperature changed faster than grout can."""
    apart_h = np.diff(grout.at_h)
    change_k = np.abs(np.diff(grout.temp_c))
    found = (change_k > JUMP_K) & (apart_h <= JUMP_H)
    return [float(at) for at in grout.at_h[1:][found]]


def held_back_to_start(grout: Series) -> Series:
    """The readings with the first one held back to the hour of placing."""
    if grout.at_h[0] <= 0:
        return grout
    return Series(np.concatenate([[0.0], grout.at_h]), np.concatenate([grout.temp_c[:1], grout.temp_c]))


def cold_in_gaps(grout: Series, standstill_c: float) -> Series:
    """The coldest course that the readings allow: in each gap the temperature of its colder end.

    Before the first reading nothing is known, so the grout is taken as too cold to cure there.
    """
    series = held_back_to_start(grout)
    ends = _gap_ends(series.at_h)
    at_h, temp_c = list(series.at_h), list(series.temp_c)
    for index in ends[::-1]:
        first_h, last_h = series.at_h[index], series.at_h[index + 1]
        unknown = index == 0 and grout.at_h[0] > GAP_H
        cold_c = standstill_c if unknown else min(series.temp_c[index], series.temp_c[index + 1])
        at_h[index + 1 : index + 1] = [first_h + SECOND_H, last_h - SECOND_H]
        temp_c[index + 1 : index + 1] = [cold_c, cold_c]
    return Series(np.array(at_h), np.array(temp_c))


def thinned(series: Series, most: int = MOST_POINTS) -> Series:
    """At most so many points, with the lowest and the highest of each stretch kept, so that no peak is lost."""
    if len(series) <= most:
        return series
    keep = {0, len(series) - 1}
    for stretch in np.array_split(np.arange(len(series)), (most - 2) // 2):
        values = series.temp_c[stretch]
        keep.update((int(stretch[values.argmin()]), int(stretch[values.argmax()])))
    order = sorted(keep)
    return Series(series.at_h[order], series.temp_c[order])


def as_json(series: Series, *, name: str = "temp_c") -> dict[str, list[float]]:
    """A thinned series with three decimals of an hour and two of a value, as stored and drawn."""
    short = thinned(series)
    return {
        "at_h": [round(float(value), 3) for value in short.at_h],
        name: [round(float(value), 2) for value in short.temp_c],
    }
