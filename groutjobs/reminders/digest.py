"""What stands in a mail: the digest of a morning, and the news of something accepted that moved. Plain text."""

import datetime as dt
import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.urls import reverse

from groutjobs.accounts.models import User
from groutjobs.equipment.models import Site
from groutjobs.findings import Level
from groutjobs.outages.models import OutageSchedule, ScheduledPour
from groutjobs.outages.moved import Moved, moved_since
from groutjobs.outages.queries import newest_searches, searches_by_id
from groutjobs.reminders.nearing import running, told_better
from groutjobs.reminders.queries import (
    MOST_POURS,
    DutyRow,
    accepted_steps,
    duty_rows,
    newest_search_ids,
    pours_with_duties,
    schedules_to_watch,
)
from groutjobs.reminders.watched import watched_parts
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import start_hour

AHEAD = dt.timedelta(hours=48)


@dataclass(frozen=True)
class Letter:
    """Subject and text of a mail."""

    subject: str
    body: str

    @property
    def about(self) -> str:
        return hashlib.sha256(self.body.encode()).hexdigest()


def digest(site: Site, person: User, now: dt.datetime) -> Letter | None:
    """What is due within 48 h, late, reached soon, and pour hours that turned bad; None where there is nothing."""
    pours = list(pours_with_duties(site, now)[:MOST_POURS])
    rows = duty_rows(pours, accepted_steps(site), now, person.unit_system)
    moves = running(site, now)
    better = told_better(moves)
    rows = [row for row in rows if (row.pour.plan_id, row.duty.code) not in better]
    zone = site.tz
    near = [row for row in rows if now <= row.duty.begins_at <= now + AHEAD]
    parts = {
        "Late": [_late_line(row, zone) for row in rows if row.is_late],
        "Due in the next 48 hours": [_due_line(row, zone, now) for row in _due(rows, now)],
        "The cure is expected to reach": [_line(row, zone) for row in near if row.standing.word == "comes by itself"],
        "Pour hours that turned bad since they were chosen": turned_bad(pours, person.unit_system, now),
        **watched_parts(site, rows, moves, now),
    }
    if not any(parts.values()):
        return None
    day = now.astimezone(zone)
    late = len(parts["Late"])
    subject = f"{site.name}, {day:%a %d %b}: what is due" + (f", {late} late" if late else "")
    return Letter(
        _one_line(subject), _text(site, [f"{site.name}, {day:%A %d %B %Y}. Times are those of {site.zone}."], parts)
    )


def _due(rows: Iterable[DutyRow], now: dt.datetime) -> list[DutyRow]:
    return [row for row in rows if row.standing.is_open and not row.is_late and row.duty.begins_at <= now + AHEAD]


def _line(row: DutyRow, zone: ZoneInfo) -> str:
    return f"{row.duty.begins_at.astimezone(zone):%a %d %b %H:%M}  {row.pour.plan.machine.tag}: {row.duty.label}"


def _due_line(row: DutyRow, zone: ZoneInfo, now: dt.datetime) -> str:
    """One that has begun says until when there is time."""
    if row.duty.begins_at > now:
        return _line(row, zone)
    until = row.duty.ends_at.astimezone(zone)
    return f"now, until {until:%a %d %b %H:%M}  {row.pour.plan.machine.tag}: {row.duty.label}"


def _late_line(row: DutyRow, zone: ZoneInfo) -> str:
    since = row.duty.late_from.astimezone(zone)
    return f"{row.pour.plan.machine.tag}: {row.duty.label} (late since {since:%a %d %b %H:%M})"


def turned_bad(pours: Iterable[ScheduledPour], system: str, now: dt.datetime) -> list[str]:
    """Chosen hours ahead that the newest search of their plan does not accept any more, in words."""
    ahead = [pour for pour in pours if pour.starts_at > now]
    newest = newest_search_ids(ahead)
    others = [newest[pour.plan_id] for pour in ahead if newest[pour.plan_id] != pour.pour_hours_id]
    searches = searches_by_id(others)
    return [
        words
        for pour in ahead
        if (search := searches.get(newest[pour.plan_id])) is not None
        if (words := _what_is_bad(pour, search, system))
    ]


def _what_is_bad(pour: ScheduledPour, search: PourHours, system: str) -> str:
    zone, tag = pour.plan.machine.site.tz, pour.plan.machine.tag
    at = f"{tag}, {pour.starts_at.astimezone(zone):%a %d %b %H:%M}"
    index = _index(search.result["hours"], pour.starts_at)
    if index is None:
        return f"{at}: the newer forecast does not reach it"
    hour = start_hour(search, index, system)
    blockers = [finding.message for finding in hour.findings if finding.level is Level.BLOCKER]
    return f"{at}: {' '.join(blockers)}" if blockers else ""


def _index(hours: Iterable[Mapping[str, Any]], at: dt.datetime) -> int | None:
    return next((index for index, hour in enumerate(hours) if dt.datetime.fromisoformat(hour["at"]) == at), None)


def news_of_moves(site: Site, person: User, now: dt.datetime) -> Iterator[Letter]:
    """One letter for each accepted schedule of an outage under way or ahead that newer searches see otherwise."""
    for schedule in schedules_to_watch(site, now):
        moved = moved_since(schedule, newest_searches(schedule.outage), person.unit_system)
        if moved:
            yield _moved_letter(site, schedule, moved)


def _moved_letter(site: Site, schedule: OutageSchedule, moved: Iterable[Moved]) -> Letter:
    told = {
        f"{one.tag}, pour {one.pour_at.astimezone(site.tz):%a %d %b %H:%M}"
        + ("" if one.stands else ": its hour does not stand any more"): one.words
        for one in moved
    }
    name = schedule.outage.name
    lead = [
        f"{site.name}: newer searches see schedule {schedule.number} of {name} otherwise than when it was accepted.",
        "Nothing was moved by the program. Times are those of " + f"{site.zone}.",
    ]
    return Letter(_one_line(f"{site.name}: the accepted schedule of {name} is shaken"), _text(site, lead, told))


def _text(site: Site, lead: list[str], parts: Mapping[str, list[str]]) -> str:
    lines = [*lead, ""]
    for title, rows in parts.items():
        if rows:
            lines += [title, *(f"- {row}" for row in rows), ""]
    lines += _why(site)
    return "\n".join(lines) + "\n"


def _why(site: Site) -> list[str]:
    """Why it came and where it is switched off; the caution that goes with every date."""
    page = reverse("reminders:own_reminders", args=[site.pk])
    where = f"{settings.SITE_ADDRESS}{page}" if settings.SITE_ADDRESS else "My settings, Reminders"
    shown_as = ["This is a demonstration: plant, people and dates are invented.", ""] if site.is_demo else []
    return [
        "Hours and dates are proposals from a model and a forecast. Measure before the release; local codes, the",
        "supplier's instruction and the plant's safety engineers decide.",
        "",
        *shown_as,
        f"You get this mail because you switched on reminders of {site.name} for yourself.",
        f"Switch them off here: {where}",
    ]


def _one_line(text: str) -> str:
    return " ".join(text.split())[:200]
