"""Reads of pour hours that other stages use."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from groutjobs import units
from groutjobs.findings import Finding, Level
from groutjobs.planning.models import PourPlan
from groutjobs.windows.models import PourHours
from groutjobs.windows.odds import OddsShown, odds_shown


@dataclass(frozen=True)
class StartHour:
    """One start hour of a search, ready to be told to a reader."""

    index: int
    at: dt.datetime
    ok: bool
    warnings: int
    findings: list[Finding]
    holds_from: list[dt.datetime | None]
    milestones: list["MilestoneAt"]
    odds: OddsShown | None

    def reached_at(self, code: str) -> dt.datetime | None:
        """When a milestone of the cure is reached after this start; None where the forecast ends before."""
        return next((row.at for row in self.milestones if row.code == code), None)


@dataclass(frozen=True)
class MilestoneAt:
    """When a milestone of the cure is reached; None where the forecast ends before.

    By `early` and `late` one and nine weathers in ten about the forecast reach it; None where that is not counted.
    """

    code: str
    label: str
    source: str
    at: dt.datetime | None
    early: dt.datetime | None = None
    late: dt.datetime | None = None


def latest_pour_hours(plan: PourPlan) -> PourHours | None:
    """The newest search for this plan that is no trial: the one that everything else rests on."""
    return whole_searches_of(plan).filter(is_trial=False).first()


def whole_searches_of(plan: PourPlan) -> QuerySet[PourHours]:
    """Searches for the plan with all that their page shows, newest first."""
    rows = PourHours.objects.filter(plan=plan).select_related("plan__machine__site", "forecast", "made_by")
    return rows.defer("forecast__hours", "forecast__note", "plan__result")


def searches_of(plan: PourPlan) -> QuerySet[PourHours]:
    """Searches for the plan that are no trials, newest first, without results and hours."""
    rows = PourHours.objects.filter(plan=plan, is_trial=False).select_related("forecast", "made_by")
    return rows.defer("result", "forecast__hours", "forecast__note")


def start_hour(pour_hours: PourHours, index: int, system: str = units.METRIC) -> StartHour:
    """What the search says of one start hour, in the reader's units; IndexError where it has no such hour."""
    hour = pour_hours.hour(index)
    return StartHour(
        index=index,
        at=dt.datetime.fromisoformat(hour["at"]),
        ok=hour["ok"],
        warnings=hour["warnings"],
        findings=_findings(pour_hours, hour, system),
        holds_from=[moment_of(row["holds_from"]) for row in hour["findings"]],
        milestones=milestones_at(pour_hours, index),
        odds=odds_shown(pour_hours.result, hour),
    )


def milestones_at(pour_hours: PourHours, index: int) -> list[MilestoneAt]:
    """When each milestone of the cure is reached after a start at this hour."""
    rows = pour_hours.result["milestones"]
    return [
        MilestoneAt(
            row["code"],
            row["label"],
            row["source"],
            *(moment_of(row[name][index]) if name in row else None for name in ("at", "early", "late")),
        )
        for row in rows
    ]


def index_of(pour_hours: PourHours, starts_at: dt.datetime) -> int | None:
    """The index of a start hour; None where the search did not judge it."""
    index = round((starts_at - pour_hours.forecast.plan_starts_at) / dt.timedelta(hours=1))
    is_there = 0 <= index < len(pour_hours.result["hours"])
    return index if is_there and pour_hours.forecast.plan_starts_at + dt.timedelta(hours=index) == starts_at else None


def notes_of(pour_hours: PourHours, system: str = units.METRIC) -> list[Finding]:
    """What holds for the whole search."""
    rows: list[dict[str, Any]] = pour_hours.result["notes_us" if system == units.US else "notes"]
    return [Finding.from_json(row) for row in rows]


def _findings(pour_hours: PourHours, hour: dict[str, Any], system: str) -> list[Finding]:
    """The findings of an hour, with label, hint and source of their rules."""
    rules = {rule["code"]: rule for rule in pour_hours.result["rules"]}
    return [
        Finding(
            level=Level(row["level"]),
            code=row["code"],
            message=row["message_us" if system == units.US else "message"],
            source=rules[row["code"]]["source"],
            hint=rules[row["code"]]["hint"],
            about=rules[row["code"]]["label"],
            margin=row["margin"],
        )
        for row in hour["findings"]
    ]


def moment_of(text: str | None) -> dt.datetime | None:
    """A moment as results hold it; None where there is none."""
    return None if text is None else dt.datetime.fromisoformat(text)
