"""From what a service tells to a run of hours: what every service must hold to, whatever its format."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from groutjobs import units
from groutjobs.limits import LIMITS
from groutjobs.weather.series import (
    HOUR,
    LIMIT_OF,
    LONGEST_H,
    WORDS,
    HoursRefused,
    Series,
    range_problem,
    unusual_problem,
)
from groutjobs.wording import counted

LEAST_AHEAD_H = 24
SATURATED_K = 0.25
"""A dew point above the temperature by no more than the services' rounding: the air is saturated. [K]"""


@dataclass(frozen=True)
class Told:
    """What a service told: when it issued the hours, the hours from starts_at on, and remarks for people."""

    issued_at: dt.datetime
    starts_at: dt.datetime
    hours: Mapping[str, Sequence[float]]
    source_name: str
    remarks: tuple[str, ...] = ()

    def series(self) -> Series:
        """The hours once every value lies within its limits and enough of them lie ahead; HoursRefused otherwise."""
        hours = {quantity: list(values) for quantity, values in self.hours.items()}
        count = len(hours["temp_c"])
        if count > LONGEST_H:
            raise HoursRefused(
                [f"The service gives {counted(count, 'hour')}; up to {LONGEST_H} are taken [GROUTJOBS]."]
            )
        self._check(hours)
        remarks = [*self.remarks, *_saturated(hours), *self._unusual(hours)]
        series = Series(self.starts_at, hours, source_name=self.source_name, note="\n".join(remarks))
        series = series.with_past(self.issued_at)
        if series.hour_count - series.past_hours < LEAST_AHEAD_H:
            raise HoursRefused(
                [
                    f"The service gives {counted(series.hour_count - series.past_hours, 'hour')} after its time "
                    f"of issue, {utc_words(self.issued_at)}; at least {LEAST_AHEAD_H} are needed [GROUTJOBS]."
                ]
            )
        return series

    def _check(self, hours: Mapping[str, Sequence[float]]) -> None:
        problems = [
            f"At {utc_words(self.starts_at + index * HOUR)}, {problem}."
            for quantity, values in hours.items()
            for index, value in enumerate(values)
            if (problem := range_problem(quantity, _typed(quantity, value), value))
        ]
        if problems:
            raise HoursRefused(problems)

    def _unusual(self, hours: Mapping[str, Sequence[float]]) -> list[str]:
        found = [
            f"{problem}, at {utc_words(self.starts_at + index * HOUR)}"
            for quantity, values in hours.items()
            for index, value in enumerate(values)
            if (problem := unusual_problem(quantity, _typed(quantity, value), value))
        ]
        return [f"Unusual in {len(found)} places; the first: {found[0]}."] if found else []


def _typed(quantity: str, value: float) -> str:
    return f"{WORDS[quantity]} {units.shown(value, LIMITS[LIMIT_OF[quantity]].suffix)}"


def _saturated(hours: dict[str, list[float]]) -> list[str]:
    """Bring a dew point that rounding put above the temperature down to it, and say so; refuse one well above."""
    if "dew_point_c" not in hours:
        return []
    over = [dew - temp for dew, temp in zip(hours["dew_point_c"], hours["temp_c"], strict=True)]
    worst = max(over)
    if worst > SATURATED_K:
        raise HoursRefused(
            [f"In hour {over.index(worst) + 1} the dew point stands {worst:.1f} K above the temperature [GROUTJOBS]."]
        )
    count = sum(1 for each in over if each > 0)
    if not count:
        return []
    hours["dew_point_c"] = [
        temp if dew > temp else dew for dew, temp in zip(hours["dew_point_c"], hours["temp_c"], strict=True)
    ]
    return [
        f"In {counted(count, 'hour')} the dew point stood up to {worst:.2f} K above the temperature: "
        "taken as saturated air."
    ]


def utc_words(moment: dt.datetime) -> str:
    return f"{moment.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC"


def chance_or_none(chance: Sequence[float], hour_count: int) -> tuple[Sequence[float] | None, tuple[str, ...]]:
    """The chance of rain where it is told for most hours from the first on, else None and a remark."""
    if 4 * len(chance) >= 3 * hour_count:
        return chance, ()
    said = f"for the first {len(chance)} of {hour_count} hours only" if chance else "not at all"
    return None, (f"The service tells the chance of rain {said}; it is left out.",)
