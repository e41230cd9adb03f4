"""What is a person's at a site as a calendar [RFC5545]: titles and times, nothing else of the record."""

import datetime as dt
from collections.abc import Iterable, Iterator
from typing import Any

from icalendar import Alarm, Calendar, Event

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.equipment.models import Site
from groutjobs.outages.duties import DutyKind
from groutjobs.outages.models import OutageCrew
from groutjobs.reminders.nearing import Nearing, nearing, running, told_better
from groutjobs.reminders.queries import (
    DutyRow,
    Steps,
    accepted_steps,
    crews_of_person,
    duty_rows,
    pours_with_duties,
)

PRODUCT = "-//groutjobs//what is due//EN"
REFRESH = dt.timedelta(hours=1)
ALARM_BEFORE = dt.timedelta(hours=2)
NO_ALARM = frozenset({DutyKind.POUR, DutyKind.STEP, DutyKind.CURE})
MOST_POURS = 200
WHOLE_CURE = dt.timedelta(days=60)


def personal_calendar(person: User, site: Site, now: dt.datetime) -> bytes:
    """Chosen pours, duties, milestones and steps: those of the person's crews; without a crew an engineer's are all.

    Of a cure that runs the dates are those that its readings gave last, for what is not released yet; the dates that
    the search predicted are left out.
    """
    crews, steps = crews_of_person(person, site), accepted_steps(site)
    pours: Iterable[Any] = pours_with_duties(site, now)[:MOST_POURS]
    if crews:
        steps = _of_crews(steps, crews)
        pours = [pour for pour in pours if (pour.outage_id, pour.plan.machine.tag) in steps]
    elif not Membership.objects.filter(user=person, site=site, role=Role.ENGINEER).exists():
        steps = {}
    pours = list(pours)
    calendar, moves = _empty(site), running(site, now)
    better = told_better(moves)
    for row in duty_rows(pours, {}, now, person.unit_system):
        if (row.pour.plan_id, row.duty.code) not in better:
            calendar.add_component(_of_duty(row))
    mine = {pour.plan_id for pour in pours}
    for near in nearing(moves, now, WHOLE_CURE):
        if not crews or near.pour.plan_id in mine:
            calendar.add_component(_of_release(near, now))
    for event in _of_steps(steps):
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _empty(site: Site) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", f"Grouting at {site.name}")
    calendar.add("x-wr-timezone", site.zone)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    return calendar


def _of_crews(steps: Steps, crews: Iterable[OutageCrew]) -> Steps:
    """Of all steps those of these crews; a machine in which they have none drops out."""
    mine = {(crew.outage_id, crew.name) for crew in crews}
    kept = {key: [row for row in rows if _is_of(row, key[0], mine)] for key, rows in steps.items()}
    return {key: rows for key, rows in kept.items() if rows}


def _is_of(row: dict[str, Any], outage_id: int | None, mine: set[tuple[int, str]]) -> bool:
    return any((outage_id, name) in mine for name in row["crews"])


def _of_duty(row: DutyRow) -> Event:
    """UID by plan and duty, so that another hour moves it; the number of the choice only grows, and is the sequence."""
    duty, pour = row.duty, row.pour
    event = Event()
    event.add("uid", f"pour-{pour.plan_id}-{duty.code}@groutjobs")
    event.add("sequence", pour.pk)
    event.add("dtstamp", pour.chosen_at.astimezone(dt.UTC))
    event.add("dtstart", duty.begins_at.astimezone(dt.UTC))
    if duty.ends_at > duty.begins_at:
        event.add("dtend", duty.ends_at.astimezone(dt.UTC))
    summary = f"{pour.plan.machine.tag}: {duty.label}"
    event.add("summary", summary)
    if row.standing.is_open and duty.kind not in NO_ALARM:
        event.add_component(_alarm(summary))
    return event


def _of_release(near: Nearing, now: dt.datetime) -> Event:
    """At the likely date of the running cure; each time that it moves the sequence grows."""
    event = Event()
    event.add("uid", f"release-{near.pour.pk}-{near.code}@groutjobs")
    event.add("sequence", near.move.pk)
    event.add("dtstamp", near.move.at.astimezone(dt.UTC))
    event.add("dtstart", near.middle_at.astimezone(dt.UTC))
    event.add("summary", near.title(now))
    event.add("description", f"{near.dates}. Times are those of {near.pour.plan.machine.site.zone}.")
    if near.middle_at > now:
        event.add_component(_alarm(near.title(now)))
    return event


def _alarm(words: str) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", -ALARM_BEFORE)
    alarm.add("description", words)
    return alarm


def _of_steps(steps: Steps) -> Iterator[Event]:
    """Same UID as in the calendar of the outage, so that who reads both sees each step once."""
    for (outage_id, tag), rows in steps.items():
        for row in rows:
            if row["kind"] != "work":
                continue
            event = Event()
            event.add("uid", f"outage-{outage_id}-{tag}-{row['step']}@groutjobs")
            event.add("sequence", row["schedule"])
            event.add("dtstamp", (row["accepted_at"] or dt.datetime.fromisoformat(row["starts_at"])).astimezone(dt.UTC))
            event.add("dtstart", dt.datetime.fromisoformat(row["starts_at"]).astimezone(dt.UTC))
            event.add("dtend", dt.datetime.fromisoformat(row["ends_at"]).astimezone(dt.UTC))
            crews = f" ({', '.join(row['crews'])})" if row["crews"] else ""
            event.add("summary", f"{tag}: {row['label']}{crews}")
            yield event
