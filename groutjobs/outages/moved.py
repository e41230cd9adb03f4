"""What moved since a schedule was accepted: its pour hours seen by newer searches, and why, in words."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from groutjobs.findings import Level
from groutjobs.outages.models import OutageSchedule
from groutjobs.windows.models import PourHours
from groutjobs.windows.odds import share_words
from groutjobs.windows.queries import StartHour, start_hour

HOUR = dt.timedelta(hours=1)
LEAST_SHIFT_H = 1.0
LEAST_ODDS = 0.1
"""Smaller changes are told by the search itself; they are no reason to look at a schedule again [GROUTJOBS]."""


@dataclass(frozen=True)
class Moved:
    """One machine: the search that sees it otherwise, and how. `stands`: its hour is still acceptable."""

    tag: str
    search: PourHours
    pour_at: dt.datetime
    stands: bool
    words: list[str]


def moved_since(schedule: OutageSchedule, newest: Mapping[int, PourHours], system: str) -> list[Moved]:
    """Machines whose newest search, by plan, is not the one of the schedule and sees their hour otherwise."""
    jobs = schedule.result["inputs"]["jobs"]
    found = []
    for row in schedule.result["jobs"]:
        job = jobs[row["tag"]]
        search = newest.get(job["plan"])
        if search is None or search.pk == job["pour_hours"]:
            continue
        moved = _moved(row, search, system)
        if moved.words:
            found.append(moved)
    return found


def _moved(row: dict[str, Any], search: PourHours, system: str) -> Moved:
    pour_at = dt.datetime.fromisoformat(row["pour_at"])
    index = next((index for index, hour in enumerate(search.result["hours"]) if hour["at"] == row["pour_at"]), None)
    tag = row["tag"]
    if index is None:
        words = ["The newer forecast does not reach its pour hour; search again when one does."]
        return Moved(tag, search, pour_at, stands=False, words=words)
    hour = start_hour(search, index, system)
    words = [*_blocked(hour), *_odds(row, search.hour(index)), *_alignment(row, hour)]
    return Moved(tag, search, pour_at, stands=hour.ok, words=words)


def _blocked(hour: StartHour) -> list[str]:
    """Each rule that stands in the way now; none stood there when the schedule took the hour."""
    return [
        f"Its hour is not acceptable any more, {finding.about}: {finding.message}"
        for finding in hour.findings
        if finding.level is Level.BLOCKER
    ]


def _odds(row: dict[str, Any], hour: dict[str, Any]) -> list[str]:
    odds = hour.get("odds")
    if odds is None or row["odds"] is None or abs(odds - row["odds"]) < LEAST_ODDS:
        return []
    return [f"Odds that all limits hold went from {share_words(row['odds'])} to {share_words(odds)}."]


def _alignment(row: dict[str, Any], hour: StartHour) -> list[str]:
    align_at = hour.reached_at("align")
    if align_at is None:
        return ["The newer forecast ends before alignment can start."]
    shift_h = (align_at - dt.datetime.fromisoformat(row["align_at"])) / HOUR
    if abs(shift_h) < LEAST_SHIFT_H:
        return []
    side = "later" if shift_h > 0 else "earlier"
    cause = "the grout is expected to be colder" if shift_h > 0 else "the grout is expected to be warmer"
    words = f"Alignment can start {abs(shift_h):.0f} h {side}: {cause}."
    if row["due_at"] and shift_h > (spare_h := _spare_h(row)):
        words += f" The schedule had {spare_h:.0f} h to spare for this machine."
    return [words]


def _spare_h(row: dict[str, Any]) -> float:
    spare = dt.datetime.fromisoformat(row["due_at"]) - dt.datetime.fromisoformat(row["done_at"])
    return max(0.0, spare / HOUR)
