"""A schedule as its page tells it: jobs against their dates, steps day by day, schedules beside each other."""

import datetime as dt
import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from groutjobs.outages.models import STATES_TO_ACCEPT, OutageSchedule, ScheduleState
from groutjobs.windows.odds import share_words
from groutjobs.windows.queries import moment_of

WHAT_IF_WORDS = {
    "mixers": "{} more mixers",
    "alignment_tools": "{} more sets of alignment tools",
    "mechanical": "{} more crews for mechanical work",
    "concrete": "{} more crews for concrete preparation",
    "grout": "{} more crews for formwork and grout",
    "later_h": "the outage ends {} h later",
}
STATES_WITH_SCHEDULE = STATES_TO_ACCEPT | {ScheduleState.ACCEPTED, ScheduleState.REPLACED}


@dataclass(frozen=True)
class JobRow:
    """One machine in the schedule."""

    tag: str
    pour_at: dt.datetime | None
    align_at: dt.datetime | None
    done_at: dt.datetime
    due_at: dt.datetime | None
    late_h: float
    spare_h: float | None
    odds: str
    why: list[str]


@dataclass(frozen=True)
class StepRow:
    """One step of one machine on one day of the list."""

    tag: str
    label: str
    starts_at: dt.datetime
    ends_at: dt.datetime
    crews: str
    is_held: bool
    ends_same_day: bool


@dataclass(frozen=True)
class DayOfSteps:
    day: dt.date
    steps: list[StepRow]


@dataclass(frozen=True)
class ScheduleRow:
    """One schedule of the outage beside the others; None where it was not found or is not computed yet."""

    schedule: OutageSchedule
    what_if: list[str]
    late_h: float | None
    bound_h: float | None
    is_proven: bool
    greedy_late_h: float | None
    risk: float | None
    finish_at: dt.datetime | None

    @property
    def verdict(self) -> str:
        """What is known of how good it is, in words."""
        if self.late_h is None or self.bound_h is None:
            return ""
        if self.is_proven:
            return "proven: no schedule is better"
        if self.late_h <= self.bound_h + 0.005:
            return "no schedule is less late"
        return f"no proof that less than {self.late_h:.0f} h is possible; under {self.bound_h:.0f} h nobody can come"


def job_rows(schedule: OutageSchedule) -> list[JobRow]:
    """Late ones first, then by their dates."""
    rows = [_job(row) for row in schedule.result.get("jobs", [])]
    return sorted(rows, key=lambda row: (-row.late_h, row.due_at or row.done_at, row.tag))


def _job(row: dict[str, Any]) -> JobRow:
    done_at, due_at = dt.datetime.fromisoformat(row["done_at"]), moment_of(row["due_at"])
    spare_h = (due_at - done_at) / dt.timedelta(hours=1) if due_at else None
    return JobRow(
        tag=row["tag"],
        pour_at=moment_of(row["pour_at"]),
        align_at=moment_of(row["align_at"]),
        done_at=done_at,
        due_at=due_at,
        late_h=row["late_h"],
        spare_h=spare_h if spare_h is not None and spare_h >= 0 else None,
        odds="not counted" if row["odds"] is None else share_words(row["odds"]),
        why=row["why"],
    )


def days_of_steps(schedule: OutageSchedule, zone: str) -> list[DayOfSteps]:
    """Steps by the day on which they begin, in site time."""
    tz = ZoneInfo(zone)
    rows = sorted(
        (_step(row, tz) for row in schedule.result.get("steps", [])), key=lambda row: (row.starts_at, row.tag)
    )
    grouped = itertools.groupby(rows, key=lambda row: row.starts_at.astimezone(tz).date())
    return [DayOfSteps(day, list(steps)) for day, steps in grouped]


def _step(row: dict[str, Any], tz: ZoneInfo) -> StepRow:
    starts_at, ends_at = dt.datetime.fromisoformat(row["starts_at"]), dt.datetime.fromisoformat(row["ends_at"])
    return StepRow(
        tag=row["job"],
        label=row["label"],
        starts_at=starts_at,
        ends_at=ends_at,
        ends_same_day=starts_at.astimezone(tz).date() == ends_at.astimezone(tz).date(),
        crews=", ".join(row["crews"]),
        is_held=row["locked"],
    )


def schedule_row(schedule: OutageSchedule, told: Mapping[str, Any]) -> ScheduleRow:
    """`told` is the result of the schedule, or of it what queries.schedules_listed() brings."""
    score, simple = told.get("score") or {}, told.get("greedy") or {}
    return ScheduleRow(
        schedule=schedule,
        what_if=[WHAT_IF_WORDS[name].format(count) for name, count in schedule.what_if.items() if count],
        late_h=score.get("late_h"),
        bound_h=told.get("late_bound_h"),
        is_proven=bool(told.get("proven")),
        greedy_late_h=simple.get("late_h"),
        risk=score.get("risk"),
        finish_at=moment_of(score.get("finish_at")),
    )
