"""Pour hours as tables: ranked runs, hours by day, and limits."""

import datetime as dt
import itertools
from dataclasses import dataclass
from typing import Any

from groutjobs.windows.models import PourHours
from groutjobs.windows.odds import OddsShown, odds_shown, share_in_short, share_words
from groutjobs.windows.queries import MilestoneAt, milestones_at

MILESTONES_SHOWN = ("strip", "tension", "align")


@dataclass(frozen=True)
class Run:
    """One run of hours at which a pour may start; shortfall is the margin of a warning that is not kept."""

    rank: int
    starts_at: dt.datetime
    ends_at: dt.datetime
    best_at: dt.datetime
    best: int
    warnings: int
    odds: OddsShown | None
    closest: dict[str, Any]
    spare: float | None
    shortfall: float | None
    milestones: list[MilestoneAt]


@dataclass(frozen=True)
class HourLink:
    """One start hour in the table of days: its clock in site time, its standing and its odds in short and in words."""

    index: int
    at: dt.datetime
    clock: str
    standing: str
    is_shown: bool
    share: str
    odds: str


@dataclass(frozen=True)
class DayOfHours:
    on: dt.date
    hours: list[HourLink]


def best_index(pour_hours: PourHours) -> int:
    """The best hour of the best run; the first hour where none is acceptable."""
    runs = pour_hours.result["runs"]
    return int(runs[0]["best"]) if runs else 0


def run_table(pour_hours: PourHours) -> list[Run]:
    """Runs, best first."""
    return [_run(pour_hours, rank, row) for rank, row in enumerate(pour_hours.result["runs"], 1)]


def _run(pour_hours: PourHours, rank: int, row: dict[str, Any]) -> Run:
    margin = row["closest"]["margin"]
    return Run(
        rank=rank,
        starts_at=dt.datetime.fromisoformat(row["starts_at"]),
        ends_at=dt.datetime.fromisoformat(row["ends_at"]),
        best_at=dt.datetime.fromisoformat(row["best_at"]),
        best=row["best"],
        warnings=row["warnings"],
        odds=odds_shown(pour_hours.result, row),
        closest=row["closest"],
        spare=margin if margin is not None and margin >= 0 else None,
        shortfall=-margin if margin is not None and margin < 0 else None,
        milestones=[each for each in milestones_at(pour_hours, row["best"]) if each.code in MILESTONES_SHOWN],
    )


def days_of_hours(pour_hours: PourHours, shown: int) -> list[DayOfHours]:
    """Every start hour by day of the site's calendar."""
    zone = pour_hours.plan.machine.site.tz
    links = [_link(index, hour, zone, shown) for index, hour in enumerate(pour_hours.result["hours"])]
    return [DayOfHours(on, list(run)) for on, run in itertools.groupby(links, lambda link: link.at.date())]


def _link(index: int, hour: dict[str, Any], zone: dt.tzinfo, shown: int) -> HourLink:
    at = dt.datetime.fromisoformat(hour["at"]).astimezone(zone)
    standing = "stop" if not hour["ok"] else "ask" if hour["warnings"] else "good"
    odds = hour.get("odds")
    share, words = ("", "") if odds is None else (share_in_short(odds), share_words(odds))
    return HourLink(index, at, f"{at:%H}", standing, index == shown, share, words)


def limit_table(pour_hours: PourHours) -> list[dict[str, Any]]:
    """Limits of the search, each with the number of start hours that it stands in the way of."""
    counts: dict[str, int] = {}
    for hour in pour_hours.result["hours"]:
        for code in hour["codes"]:
            counts[code] = counts.get(code, 0) + 1
    return [limit | {"hours": counts.get(limit["code"], 0)} for limit in pour_hours.result["limits"]]
