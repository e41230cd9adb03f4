"""The calendar of an outage: its address is secret, personal, ended at once, and tells times alone."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from groutjobs.accounts.models import Membership, Role
from groutjobs.outages.feed import calendar_of
from groutjobs.outages.feed_actions import make_calendar_link, revoke_calendar_links
from groutjobs.outages.models import CalendarLink, Outage, OutageSchedule, ScheduleState
from tests.factories import make_person, make_site
from tests.weather.asking import signed_in, stranger, utc

pytestmark = pytest.mark.django_db
STEPS: list[dict[str, object]] = [
    {"job": "P-1", "step": "chip", "label": "chip the concrete", "kind": "work", "crews": ["Day"],
     "starts_at": "2026-05-05T11:00:00+00:00", "ends_at": "2026-05-05T19:00:00+00:00"},
    {"job": "P-1", "step": "cure", "label": "cure", "kind": "cure", "crews": [],
     "starts_at": "2026-05-06T11:00:00+00:00", "ends_at": "2026-05-08T11:00:00+00:00"},
]  # fmt: skip


@pytest.fixture
def outage() -> Outage:
    return Outage.objects.create(site=make_site(), name="Spring, north", starts_at=utc(4, 0), ends_at=utc(14, 0))


def accepted(outage: Outage, number: int = 1, steps: list[dict[str, object]] | None = None) -> OutageSchedule:
    OutageSchedule.objects.filter(outage=outage).update(state=ScheduleState.REPLACED)
    engineer = make_person(site=outage.site, roles=(Role.ENGINEER,))
    return OutageSchedule.objects.create(
        outage=outage, number=number, state=ScheduleState.ACCEPTED, result={"steps": steps or STEPS},
        asked_by=engineer, accepted_by=engineer, accepted_at=utc(2, 0),
    )  # fmt: skip


def read(code: str) -> tuple[int, bytes]:
    answer = Client().get(reverse("outages:calendar", args=[code]))
    return answer.status_code, answer.content


def test_a_calendar_reader_gets_the_steps_of_crews_and_no_more(outage: Outage) -> None:
    accepted(outage)
    _, code = make_calendar_link(outage=outage, by=make_person(site=outage.site, roles=(Role.CREW,)))
    status, body = read(code)
    assert status == 200
    events = Calendar.from_ical(body).walk("VEVENT")
    assert [str(event["summary"]) for event in events] == ["P-1: chip the concrete (Day)"]
    assert events[0].decoded("dtstart") == dt.datetime(2026, 5, 5, 11, tzinfo=dt.UTC)
    assert all(len(line) <= 75 for line in body.split(b"\r\n"))
    assert body.endswith(b"END:VCALENDAR\r\n")


def test_an_event_keeps_its_uid_when_another_schedule_moves_it(outage: Outage) -> None:
    first = accepted(outage)
    moved = [STEPS[0] | {"starts_at": "2026-05-06T11:00:00+00:00", "ends_at": "2026-05-06T19:00:00+00:00"}]
    second = accepted(outage, 2, moved)
    one, two = (
        Calendar.from_ical(calendar_of("x", "UTC", each)).walk("VEVENT")[0] for each in (first, second)
    )  # fmt: skip
    assert one["uid"] == two["uid"]
    assert one.decoded("sequence") < two.decoded("sequence")
    assert one.decoded("dtstart") < two.decoded("dtstart")


def test_without_an_accepted_schedule_it_is_empty(outage: Outage) -> None:
    _, code = make_calendar_link(outage=outage, by=make_person(site=outage.site, roles=(Role.CREW,)))
    status, body = read(code)
    assert status == 200
    assert Calendar.from_ical(body).walk("VEVENT") == []


def test_the_code_is_shown_once_and_only_its_hash_is_kept(outage: Outage) -> None:
    client = signed_in(outage.site, Role.CREW)
    url = reverse("outages:calendar_address", args=[outage.pk])
    made = client.post(url).content.decode()
    code = made.split(".ics")[0].split("/")[-1]
    assert read(code)[0] == 200
    assert code not in client.get(url).content.decode()
    assert code not in str(list(CalendarLink.objects.values()))


@pytest.mark.parametrize("how", ["revoked", "made again", "left the site", "not active"])
def test_it_ends_at_once(outage: Outage, how: str) -> None:
    person = make_person(site=outage.site, roles=(Role.CREW,))
    _, code = make_calendar_link(outage=outage, by=person)
    assert read(code)[0] == 200
    if how == "revoked":
        assert revoke_calendar_links(outage=outage, by=person) == 1
        assert revoke_calendar_links(outage=outage, by=person) == 0
    elif how == "made again":
        make_calendar_link(outage=outage, by=person)
    elif how == "left the site":
        Membership.objects.filter(user=person).delete()
    else:
        person.is_active = False
        person.save()
    assert read(code)[0] == 404


def test_a_wrong_code_a_stranger_and_a_wrong_method_are_refused(outage: Outage) -> None:
    assert read("no-such-code")[0] == 404
    client = signed_in(outage.site, Role.AUDITOR)
    for name in ("calendar_address", "calendar_revoke"):
        url = reverse(f"outages:{name}", args=[outage.pk])
        assert stranger().post(url).status_code == 404
        assert client.delete(url).status_code == 405
    assert client.post(reverse("outages:calendar_revoke", args=[outage.pk])).status_code == 302
