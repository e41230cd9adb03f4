"""Working time of a crew: its shifts in local time, turned into minutes of a common clock that runs in UTC."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from groutjobs.engineering.checks import require_between
from groutjobs.errors import Unusable

Ints = npt.NDArray[np.int64]
Spells = tuple[tuple[int, int], ...]
"""Beginnings and ends in whole minutes of the common clock, rising, without overlap and without touching."""
EVERY_DAY = frozenset(range(7))
MINUTE = timedelta(minutes=1)
LONGEST_DAYS = 400


@dataclass(frozen=True, kw_only=True)
class CrewCalendar:
    """When a crew works: weekdays (Monday is 0), shifts in local time, days off.

    A shift whose last time is not after its first runs into the next day; it belongs to the day on which it begins.
    """

    timezone: str
    shifts: tuple[tuple[time, time], ...]
    weekdays: frozenset[int] = EVERY_DAY
    holidays: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if not self.shifts or not self.weekdays:
            raise Unusable("calendar", "it has no shift or no weekday; give at least one of each", source="GROUTJOBS")
        if not self.weekdays <= EVERY_DAY:
            raise Unusable("calendar", "weekdays run from 0, Monday, to 6, Sunday", source="GROUTJOBS")

    def working_spells(self, from_at: datetime, to_at: datetime) -> tuple[tuple[datetime, datetime], ...]:
        """The working time within the span, in UTC; shifts that meet or overlap are one spell."""
        from_at, to_at = _utc("start of the calendar", from_at), _utc("end of the calendar", to_at)
        require_between("span", (to_at - from_at) / timedelta(days=1), 0, LONGEST_DAYS, unit="days", source="GROUTJOBS")
        zone = ZoneInfo(self.timezone)
        day, last_day = from_at.astimezone(zone).date() - timedelta(days=1), to_at.astimezone(zone).date()
        found: list[tuple[datetime, datetime]] = []
        while day <= last_day:
            if day.weekday() in self.weekdays and day not in self.holidays:
                found.extend(self._shifts_of(day, zone))
            day += timedelta(days=1)
        inside = ((max(begins, from_at), min(ends, to_at)) for begins, ends in found)
        return tuple(_joined(sorted((begins, ends) for begins, ends in inside if begins < ends)))

    def _shifts_of(self, day: date, zone: ZoneInfo) -> Iterable[tuple[datetime, datetime]]:
        for first, last in self.shifts:
            last_day = day if last > first else day + timedelta(days=1)
            begins, ends = datetime.combine(day, first, zone), datetime.combine(last_day, last, zone)
            yield begins.astimezone(UTC), ends.astimezone(UTC)


def _joined(spells: Iterable[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    joined: list[tuple[datetime, datetime]] = []
    for begins, ends in spells:
        if joined and begins <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], ends))
        else:
            joined.append((begins, ends))
    return joined


def _utc(quantity: str, at: datetime) -> datetime:
    if at.tzinfo is None:
        raise Unusable(quantity, "its time zone is missing", source="GROUTJOBS")
    return at.astimezone(UTC)


def minutes_between(from_at: datetime, to_at: datetime) -> float:
    """Return the minutes from one moment to another, also across a change of the clock.

    Parameters
    ----------
    from_at, to_at : Two moments, each with its time zone.

    Returns
    -------
    Minutes, negative where the second comes first. [min]

    Source
    ------
    [GROUTJOBS] taken in UTC: two times of one zone would subtract by wall clock.
    """
    return (_utc("moment", to_at) - _utc("moment", from_at)) / MINUTE


def spells_min(calendar: CrewCalendar, from_at: datetime, to_at: datetime) -> Spells:
    """Return the working time within a span in whole minutes after its start.

    Parameters
    ----------
    calendar : When the crew works.
    from_at, to_at : The span.

    Returns
    -------
    Beginnings, rounded up, and ends, rounded down. [min]

    Source
    ------
    [GROUTJOBS] a part of a minute is no working time.
    """
    spells = calendar.working_spells(from_at, to_at)
    whole = ((-int(-minutes_between(from_at, a) // 1), int(minutes_between(from_at, b) // 1)) for a, b in spells)
    return tuple((begins, ends) for begins, ends in whole if begins < ends)


class WorkAxis:
    """Working minutes counted one after another, and the minutes of the common clock that belong to them.

    `done_by[m]` is how many working minutes lie before minute m, `begins[w]` the minute at which working minute w
    begins, `ends[w]` the minute at which w working minutes are done. A step of p minutes begun at working minute w runs
    on the common clock from begins[w] to ends[w + p]: nights and days off fall out.
    """

    def __init__(self, spells: Spells, horizon_min: int) -> None:
        self.spells = spells
        self.horizon_min = horizon_min
        self.begins = [minute for begins, ends in spells for minute in range(begins, ends)]
        self.ends = [0] + [minute + 1 for minute in self.begins]
        self.total_min = len(self.begins)
        self.done_by = _counted(spells, horizon_min)
        self.spell_work = tuple((self.done_by[begins], self.done_by[ends]) for begins, ends in spells)

    @cached_property
    def tables(self) -> tuple[Ints, Ints]:
        """`done_by` and `ends` as arrays; more work than there is ends behind the horizon."""
        return np.array(self.done_by, dtype=np.int64), np.array([*self.ends, self.horizon_min + 1], dtype=np.int64)

    def holds_unbroken(self, start_min: int, end_min: int) -> bool:
        """Whether every minute from start to end is working time."""
        if end_min > self.horizon_min:
            return False
        return self.done_by[end_min] - self.done_by[start_min] == end_min - start_min


def _counted(spells: Spells, horizon_min: int) -> list[int]:
    counts, done, minute = [], 0, 0
    for begins, ends in spells:
        counts += [done] * (begins - minute) + list(range(done, done + ends - begins))
        done, minute = done + ends - begins, ends
    return counts + [done] * (horizon_min + 1 - minute)


def axis_of_all(axes: Sequence[WorkAxis], horizon_min: int) -> WorkAxis:
    """Return the axis on which a minute counts where at least one of the axes counts it.

    Parameters
    ----------
    axes : The axes, one or more.
    horizon_min : Last minute of the common clock. [min], 1 or more

    Returns
    -------
    The common axis.

    Source
    ------
    [GROUTJOBS] the union of their spells, exact.
    """
    joined: list[tuple[int, int]] = []
    for begins, ends in sorted(spell for axis in axes for spell in axis.spells):
        if joined and begins <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], ends))
        else:
            joined.append((begins, ends))
    return WorkAxis(tuple(joined), horizon_min)
