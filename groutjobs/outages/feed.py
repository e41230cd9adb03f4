"""The accepted schedule of an outage as a calendar [RFC5545]: titles and times, nothing else of the record."""

import datetime as dt
from typing import Any

from icalendar import Calendar, Event

from groutjobs.outages.models import OutageSchedule

PRODUCT = "-//groutjobs//outage schedule//EN"
SHOWN_KINDS = frozenset({"work", "pour", "condition"})
REFRESH = dt.timedelta(hours=1)


def calendar_of(outage_name: str, zone: str, schedule: OutageSchedule | None) -> bytes:
    """One event for each step of crews and material; empty while no schedule is accepted.

    An event keeps its UID from one accepted schedule to the next, and its sequence is the number of the schedule, so
    that a calendar moves what it holds.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", outage_name)
    calendar.add("x-wr-timezone", zone)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for row in schedule.result["steps"] if schedule else []:
        if schedule and row["kind"] in SHOWN_KINDS:
            calendar.add_component(_event(row, schedule))
    return bytes(calendar.to_ical())


def _event(row: dict[str, Any], schedule: OutageSchedule) -> Event:
    event = Event()
    event.add("uid", f"outage-{schedule.outage_id}-{row['job']}-{row['step']}@groutjobs")
    event.add("sequence", schedule.number)
    event.add("dtstamp", schedule.accepted_at or schedule.asked_at)
    event.add("dtstart", dt.datetime.fromisoformat(row["starts_at"]).astimezone(dt.UTC))
    event.add("dtend", dt.datetime.fromisoformat(row["ends_at"]).astimezone(dt.UTC))
    crews = f" ({', '.join(row['crews'])})" if row["crews"] else ""
    event.add("summary", f"{row['job']}: {row['label']}{crews}")
    return event
