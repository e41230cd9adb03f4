"""A run of hourly weather as plain numbers, and the one way to check it.

Values stand for the instant of their hour. Sunlight is the mean about that instant, so that its sum over a day is kept.
"""

import datetime as dt
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from groutjobs import units
from groutjobs.errors import GroutJobsError
from groutjobs.limits import LIMITS
from groutjobs.wording import counted

HOUR = dt.timedelta(hours=1)
LONGEST_H = 24 * 90
SHOWN_PROBLEMS = 12

# quantity → its row in groutjobs/limits.py, in the order in which pages show them
LIMIT_OF = {
    "temp_c": "air_c",
    "dew_point_c": "dew_point_c",
    "relative_humidity": "air_humidity_ratio",
    "wind_km_h": "wind_km_h",
    "cloud_ratio": "share_ratio",
    "solar_w_m2": "solar_w_m2",
    "rain_probability": "share_ratio",
}
WORDS = {
    "temp_c": "air temperature",
    "dew_point_c": "dew point",
    "relative_humidity": "relative humidity",
    "wind_km_h": "wind",
    "cloud_ratio": "cloud",
    "solar_w_m2": "sunlight",
    "rain_probability": "chance of rain",
}
ALWAYS = ("temp_c", "wind_km_h", "cloud_ratio")


class HoursRefused(GroutJobsError):
    """Hours of weather that cannot be taken: one sentence for each problem, naming line, column, value and limit."""

    def __init__(self, sentences: Sequence[str], *, only_unusual: bool = False) -> None:
        self.sentences = list(sentences[:SHOWN_PROBLEMS])
        if len(sentences) > SHOWN_PROBLEMS:
            self.sentences.append(f"And {len(sentences) - SHOWN_PROBLEMS} more of this kind.")
        self.only_unusual = only_unusual
        super().__init__(*self.sentences)

    def __str__(self) -> str:
        return " ".join(self.sentences)


@dataclass(frozen=True)
class Series:
    """Hours from starts_at on, one list of equal length for each quantity of LIMIT_OF that the source gives.

    The first past_hours of them lie before the time that is planned for; they bring the foundation to its temperature.
    starts_at is kept in UTC: Python adds hours to a local time by the clock, wrong where the clocks change.
    """

    starts_at: dt.datetime
    hours: dict[str, list[float]]
    past_hours: int = 0
    source_name: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if len({len(values) for values in self.hours.values()}) != 1:
            raise HoursRefused(["The hours differ in length from quantity to quantity [GROUTJOBS]."])
        object.__setattr__(self, "starts_at", self.starts_at.astimezone(dt.UTC))

    @property
    def hour_count(self) -> int:
        return len(self.hours["temp_c"])

    def at(self, index: int) -> dt.datetime:
        return self.starts_at + index * HOUR

    def with_past(self, plan_starts_at: dt.datetime) -> "Series":
        """The same hours, those before plan_starts_at counted as past."""
        past = sum(1 for index in range(self.hour_count) if self.at(index) < plan_starts_at)
        return replace(self, past_hours=past)


def range_problem(quantity: str, typed: str, value: float, system: str = units.METRIC) -> str:
    """The sentence that refuses a value beyond its hard limits; empty where it may stay."""
    limit = LIMITS[LIMIT_OF[quantity]]
    if value < limit.low:
        return f"{typed} is below {limit.shown(limit.low, system)}, the lowest value taken [{limit.source}]"
    if value > limit.high:
        return f"{typed} is above {limit.shown(limit.high, system)}, the highest value taken [{limit.source}]"
    return ""


def unusual_problem(quantity: str, typed: str, value: float, system: str = units.METRIC) -> str:
    """The question about a value beyond the usual range; empty where it is usual."""
    limit = LIMITS[LIMIT_OF[quantity]]
    if limit.likely_low <= value <= limit.likely_high:
        return ""
    low, high = limit.shown(limit.likely_low, system), limit.shown(limit.likely_high, system)
    return f"{typed} is outside the usual {low} to {high} [{limit.source}]"


def length_problem(hour_count: int) -> str:
    """The sentence that refuses a run of hours that is too short or too long; empty where it may stay."""
    if 2 <= hour_count <= LONGEST_H:
        return ""
    return f"There are {counted(hour_count, 'hour')}; 2 to {LONGEST_H} are taken [GROUTJOBS]."


def first_moment(moments: Sequence[tuple[str, dt.datetime]]) -> dt.datetime:
    """The first of the moments, each with the words that find it in what was typed; refuses all that skip or repeat.

    Steps are taken in UTC: Python subtracts two times of one zone by their clocks, wrong where these change.
    """
    early_or_late = [
        f"{where} is not between 1990 and 2200 [GROUTJOBS]."
        for where, moment in moments
        if not 1990 <= moment.year <= 2200
    ]
    if early_or_late:
        raise HoursRefused(early_or_late)
    moments = [(where, moment.astimezone(dt.UTC)) for where, moment in moments]
    problems = [
        f"{where} comes {(after - before) / HOUR:g} h after the line before; each line stands 1 h after the one before "
        "[GROUTJOBS]."
        for (_, before), (where, after) in itertools.pairwise(moments)
        if after - before != HOUR
    ]
    if problems:
        raise HoursRefused(problems)
    return moments[0][1]
