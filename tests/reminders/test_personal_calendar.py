"""A person's calendar: a secret address, ended at once; what is in it; the shape that RFC 5545 asks for."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.audit.models import Event as Recorded
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.outages.models import OutageCrew, ScheduledPour
from groutjobs.outages.schedule_actions import change_crew
from groutjobs.reminders.actions import end_calendar, make_calendar, take_duty
from groutjobs.reminders.feed import personal_calendar
from groutjobs.reminders.models import PersonalCalendar
from tests.factories import make_person, make_site
from tests.reminders.known import HOUR, START, make_accepted, make_chosen, make_crew, make_outage
from tests.weather.asking import signed_in, stranger

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
NOW = START - 90 * HOUR


@pytest.fixture
def pour(site: Site) -> ScheduledPour:
    chosen = make_chosen(site, outage=make_outage(site))
    make_accepted(chosen)
    return chosen


def events(person: User, site: Site) -> dict[str, Any]:
    """Events by UID without the part that names this program."""
    found = Calendar.from_ical(personal_calendar(person, site, NOW)).walk("VEVENT")
    return {str(event["uid"]).split("@")[0]: event for event in found}


def member(site: Site, crew: OutageCrew) -> User:
    person = make_person(site=site, roles=(Role.CREW,))
    crew.people.add(person)
    return person


def read(code: str) -> tuple[int, bytes]:
    answer = Client().get(reverse("reminders:calendar", args=[code]))
    return answer.status_code, answer.content


def test_an_engineer_gets_pours_duties_milestones_and_steps(site: Site, pour: ScheduledPour) -> None:
    found = events(make_person(site=site, roles=(Role.ENGINEER,)), site)
    assert {"condition", "pour", "cure_strip"} <= {uid.rsplit("-", 1)[-1] for uid in found}
    assert f"outage-{pour.outage_id}-P-1-formwork" in found
    condition = found[f"pour-{pour.plan_id}-condition"]
    assert condition.decoded("dtstart") == dt.datetime(2026, 10, 31, 12, tzinfo=dt.UTC)
    assert str(condition["summary"]).startswith("P-1: Bring the material into the store of 23.0 °C")


def test_who_is_in_a_crew_gets_its_steps_and_the_machines_it_works_on(site: Site, pour: ScheduledPour) -> None:
    assert pour.outage is not None
    make_chosen(site, tag="P-2", outage=pour.outage)
    found = events(member(site, make_crew(pour.outage, "Grout crew")), site)
    assert {uid for uid in found if uid.startswith("outage-")} == {f"outage-{pour.outage_id}-P-1-formwork"}
    assert {str(event["summary"])[:3] for event in found.values()} == {"P-1"}


def test_a_crew_that_has_no_step_has_an_empty_calendar(site: Site, pour: ScheduledPour) -> None:
    assert pour.outage is not None
    assert events(member(site, make_crew(pour.outage, "Night")), site) == {}


def test_the_same_name_in_another_outage_is_another_crew(site: Site, pour: ScheduledPour) -> None:
    other = make_outage(make_site())
    assert pour.outage is not None
    other.site, other.name = site, "Spring"
    other.save()
    assert events(member(site, make_crew(other, "Grout crew")), site) == {}


def test_others_get_pours_and_milestones_without_steps(site: Site, pour: ScheduledPour) -> None:
    found = events(make_person(site=site, roles=(Role.INSPECTOR,)), site)
    assert f"pour-{pour.plan_id}-pour" in found
    assert not any(uid.startswith("outage-") for uid in found)


def test_another_hour_moves_the_same_event_with_a_higher_sequence(site: Site, pour: ScheduledPour) -> None:
    engineer = make_person(site=site, roles=(Role.ENGINEER,))
    before = events(engineer, site)[f"pour-{pour.plan_id}-condition"]
    ScheduledPour.objects.filter(pk=pour.pk).update(is_current=False)
    ScheduledPour.objects.create(
        plan=pour.plan, pour_hours=pour.pour_hours, starts_at=START + HOUR, basis=pour.basis, chosen_by=pour.chosen_by
    )
    after = events(engineer, site)[f"pour-{pour.plan_id}-condition"]
    assert after.decoded("sequence") > before.decoded("sequence")
    assert after.decoded("dtstart") - before.decoded("dtstart") == HOUR


def test_a_duty_alarms_two_hours_before_and_no_more_once_it_is_in_hand(site: Site, pour: ScheduledPour) -> None:
    engineer = make_person(site=site, roles=(Role.ENGINEER,))
    uid = f"pour-{pour.plan_id}-condition"
    alarm = events(engineer, site)[uid].walk("VALARM")[0]
    assert (str(alarm["action"]), alarm.decoded("trigger")) == ("DISPLAY", dt.timedelta(hours=-2))
    take_duty(scheduled_pour=pour, code="condition", by=engineer)
    assert events(engineer, site)[uid].walk("VALARM") == []


def test_it_has_the_form_of_rfc_5545(site: Site, pour: ScheduledPour) -> None:
    """Lines of 75 octets at most and CRLF (3.1); VERSION and PRODID (3.6); UID, DTSTAMP (3.6.1), each UID once."""
    body = personal_calendar(make_person(site=site, roles=(Role.ENGINEER,)), site, NOW)
    assert body.endswith(b"END:VCALENDAR\r\n")
    assert all(len(line) <= 75 for line in body.split(b"\r\n"))
    calendar = Calendar.from_ical(body)
    assert {"VERSION", "PRODID"} <= set(calendar)
    found = calendar.walk("VEVENT")
    assert all({"UID", "DTSTAMP", "DTSTART", "SEQUENCE", "SUMMARY"} <= set(event) for event in found)
    uids = [str(event["uid"]) for event in found]
    assert len(uids) == len(set(uids)) > 10


def test_the_code_is_shown_once_and_only_its_hash_is_kept(site: Site, pour: ScheduledPour) -> None:
    client = signed_in(site, Role.ENGINEER)
    answer = client.post(reverse("reminders:calendar_make", args=[site.pk]))
    code = answer.content.decode().split(".ics")[0].split("/")[-1]
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert read(code)[0] == 200
    assert b"P-1" in read(code)[1]
    assert code not in client.get(reverse("reminders:own_reminders", args=[site.pk])).content.decode()
    assert code not in str([*PersonalCalendar.objects.values(), *Recorded.objects.values()])


@pytest.mark.parametrize("how", ["ended", "made again", "left the site", "not active"])
def test_it_ends_at_once(site: Site, how: str) -> None:
    person = make_person(site=site, roles=(Role.CREW,))
    _, code = make_calendar(site=site, by=person)
    assert read(code)[0] == 200
    if how == "ended":
        assert end_calendar(site=site, by=person)
        assert not end_calendar(site=site, by=person)
    elif how == "made again":
        make_calendar(site=site, by=person)
    elif how == "left the site":
        Membership.objects.filter(user=person).delete()
    else:
        User.objects.filter(pk=person.pk).update(is_active=False)
    assert read(code)[0] == 404


def test_a_wrong_code_a_stranger_and_a_wrong_method_are_refused(site: Site) -> None:
    assert read("no-such-code")[0] == 404
    for name in ("calendar_make", "calendar_end"):
        url = reverse(f"reminders:{name}", args=[site.pk])
        assert stranger().post(url).status_code == 404
        assert signed_in(site, Role.AUDITOR).get(url).status_code == 405
    assert Client().post(reverse("reminders:calendar", args=["x"])).status_code == 405


def test_an_engineer_puts_people_into_a_crew_on_its_page(site: Site) -> None:
    crew = make_crew(make_outage(site), "Grout crew")
    client, url = signed_in(site, Role.ENGINEER), reverse("outages:crew_change", args=[crew.pk])
    person, elsewhere = make_person(site=site, roles=(Role.CREW,)), make_person(roles=(Role.CREW,))
    typed = {
        "name": "Grout crew", "skills": ["grout"], "shift_starts": "06:00", "shift_ends": "18:00",
        "working_days": ["0", "1"], "people": [str(person.pk)],
    }  # fmt: skip
    assert person.name in client.get(url).content.decode()
    assert client.post(url, typed).status_code == 302
    assert list(crew.people.all()) == [person]
    assert '"people": {"new"' in Recorded.objects.latest("seq").body.replace('":', '": ').replace('":  ', '": ')
    answer = client.post(url, typed | {"people": [str(elsewhere.pk)]})
    assert answer.status_code == 422
    assert f"“{elsewhere.pk}” is nobody of this site [GROUTJOBS]" in str(answer.context["form"].errors["people"])
    assert person.name in client.get(reverse("outages:outage_work", args=[crew.outage_id])).content.decode()
    assert client.post(url, typed | {"people": []}).status_code == 302
    assert list(crew.people.all()) == []


def test_a_crew_takes_nobody_of_another_site(site: Site) -> None:
    crew = make_crew(make_outage(site), "Grout crew")
    elsewhere = make_person(roles=(Role.CREW,))
    with pytest.raises(NotAllowed, match="people of its site"):
        change_crew(crew=crew, by=elsewhere, name=crew.name, people=[elsewhere.pk])
