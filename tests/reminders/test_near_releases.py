"""Milestones of a running cure that nobody released: in the calendar, in the mail of the morning, on the due list."""

import datetime as dt
from typing import Any

import pytest
from django.core import mail
from django.urls import reverse
from icalendar import Calendar

from groutjobs.accounts.models import Role, User
from groutjobs.curing.release_models import MilestoneRelease, ReleaseWithdrawal
from groutjobs.curing.watch_models import MilestoneMove
from groutjobs.equipment.models import Site
from groutjobs.outages.models import ScheduledPour
from groutjobs.pours.models import Pour
from groutjobs.reminders.actions import choose_mail
from groutjobs.reminders.feed import personal_calendar
from groutjobs.reminders.mailing import run_round
from tests.factories import make_person, make_placed_pour, make_site
from tests.reminders.known import HOUR, START, make_accepted, make_chosen, make_crew, make_outage
from tests.weather.asking import signed_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
# Tuesday 3 November 2026, 06:30 EST, half an hour after the shift of the site starts.
NOW = dt.datetime(2026, 11, 3, 11, 30, tzinfo=dt.UTC)
STRIP_AT = dt.datetime(2026, 11, 4, 3, 0, tzinfo=dt.UTC)  # 22:00 EST on the third
HEADING = "Milestones that wait for the release of an engineer"


def item(code: str, label: str, middle_at: dt.datetime | None, spread_h: float = 6.0) -> dict[str, Any]:
    """A milestone as curing/outlooks.py keeps it."""
    dates = {
        "p10_at": middle_at and (middle_at - spread_h * HOUR).isoformat(),
        "p50_at": middle_at and middle_at.isoformat(),
        "p90_at": middle_at and (middle_at + spread_h * HOUR).isoformat(),
    }
    return {"code": code, "label": label, "state": "expected", "middle_at": dates["p50_at"], **dates}


def moved(pour: Pour, *items: dict[str, Any], at: dt.datetime = NOW - HOUR) -> MilestoneMove:
    return MilestoneMove.objects.create(
        pour=pour, at=at, why="a grout reading by hand", basis="grout", engine_version="1", milestones=list(items)
    )


def curing(chosen: ScheduledPour) -> Pour:
    """The chosen pour, placed an hour and a half after its start, with its strip and full cure worked out."""
    pour = make_placed_pour(plan=chosen.plan, placed_at=START + 1.5 * HOUR)
    moved(
        pour, item("strip", "strip the formwork", STRIP_AT), item("full_cure", "full cure", STRIP_AT + 30 * HOUR),
        item("align", "start the alignment", STRIP_AT + 9 * 24 * HOUR), item("tension", "tension the bolts", None),
    )  # fmt: skip
    return pour


def released(pour: Pour, code: str = "strip") -> MilestoneRelease:
    by = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    return MilestoneRelease.objects.create(
        pour=pour, milestone=code, label=code, sentence="released", evidence_text="{}", evidence_sha256="0" * 64,
        released_by=by, printed_name=by.name,
    )  # fmt: skip


def events(person: User, site: Site) -> dict[str, Any]:
    found = Calendar.from_ical(personal_calendar(person, site, NOW)).walk("VEVENT")
    return {str(event["uid"]).split("@")[0]: event for event in found}


def engineer(site: Site) -> User:
    person = make_person(site=site, roles=(Role.ENGINEER,))
    choose_mail(site=site, by_mail=True, by=person)
    return person


def morning_mail() -> str:
    run_round(NOW)
    return str(mail.outbox[-1].body)


def test_the_calendar_has_the_likely_date_of_the_readings_in_place_of_the_predicted_one(site: Site) -> None:
    pour = curing(make_chosen(site))
    found = events(engineer(site), site)
    event = found[f"release-{pour.pk}-strip"]
    assert str(event["summary"]) == "P-1: release of “strip the formwork” is near"
    assert event.decoded("dtstart") == STRIP_AT
    assert str(event["description"]) == (
        "likely Tue 03 Nov 22:00 (P50), P10 Tue 03 Nov 16:00, P90 Wed 04 Nov 04:00. Times are those of "
        "America/New_York."
    )
    assert event.walk("VALARM")
    assert f"pour-{pour.plan_id}-cure_strip" not in found
    assert {uid for uid in found if uid.startswith("release")} == {
        f"release-{pour.pk}-strip", f"release-{pour.pk}-align",
    }  # fmt: skip


def test_before_any_reading_the_predicted_date_stays(site: Site) -> None:
    chosen = make_chosen(site)
    make_placed_pour(plan=chosen.plan, placed_at=START + 1.5 * HOUR)
    assert f"pour-{chosen.plan_id}-cure_strip" in events(engineer(site), site)


def test_new_readings_move_the_entry_and_a_release_takes_it_away_until_it_is_withdrawn(site: Site) -> None:
    pour, person = curing(make_chosen(site)), engineer(site)
    uid = f"release-{pour.pk}-strip"
    before = events(person, site)[uid]
    moved(pour, item("strip", "strip the formwork", STRIP_AT + 2 * HOUR), at=NOW)
    after = events(person, site)[uid]
    assert after.decoded("dtstart") - before.decoded("dtstart") == 2 * HOUR
    assert after.decoded("sequence") > before.decoded("sequence")
    release = released(pour)
    assert uid not in events(person, site)
    ReleaseWithdrawal.objects.create(release=release, reason="a probe was off", withdrawn_by=release.released_by)
    assert uid in events(person, site)


def test_who_is_in_a_crew_gets_those_of_its_machines(site: Site) -> None:
    chosen = make_chosen(site, outage=make_outage(site))
    make_accepted(chosen)
    assert chosen.outage is not None
    mine, other = curing(chosen), curing(make_chosen(site, tag="P-2", outage=chosen.outage))
    crew = make_crew(chosen.outage, "Grout crew")
    person = make_person(site=site, roles=(Role.CREW,))
    crew.people.add(person)
    found = events(person, site)
    assert f"release-{mine.pk}-strip" in found
    assert f"release-{other.pk}-strip" not in found


def test_the_mail_of_the_morning_tells_it_within_48_hours_with_p10_and_p90(site: Site) -> None:
    curing(make_chosen(site))
    engineer(site)
    text = morning_mail()
    assert (
        f"{HEADING}\n- P-1: release of “strip the formwork” is near: likely Tue 03 Nov 22:00 (P50), "
        "P10 Tue 03 Nov 16:00, P90 Wed 04 Nov 04:00"
    ) in text
    assert "Cured enough to strip" not in text  # the predicted date of the search is not told beside it
    assert "start the alignment" not in text  # nine days ahead


def test_one_whose_date_has_passed_waits_and_a_released_one_is_told_no_more(site: Site) -> None:
    pour = make_placed_pour(plan=make_chosen(site).plan, placed_at=START + 1.5 * HOUR)
    moved(pour, item("strip", "strip the formwork", NOW - 3 * HOUR))
    engineer(site)
    assert "P-1: release of “strip the formwork” waits: likely" in morning_mail()
    released(pour)
    person = make_person(site=site, roles=(Role.CREW_LEAD,))
    choose_mail(site=site, by_mail=True, by=person)
    run_round(NOW)
    assert HEADING not in "".join(str(letter.body) for letter in mail.outbox if person.email in letter.to)


def test_another_site_is_not_told(site: Site) -> None:
    curing(make_chosen(make_site(), tag="P-9"))
    assert not any(uid.startswith("release") for uid in events(engineer(site), site))


def test_the_due_list_of_site_and_plan_names_it_and_leads_to_the_releases(site: Site) -> None:
    pour, other = curing(make_chosen(site)), make_chosen(site, tag="P-2")
    client = signed_in(site, Role.AUDITOR)
    page = client.get(reverse("reminders:site_due", args=[site.pk])).content.decode()
    assert "P-1: release of “strip the formwork” is near" in page
    assert reverse("curing:release_list", args=[pour.pk]) in page
    for plan_id, is_there in ((pour.plan_id, True), (other.plan_id, False)):
        page = client.get(reverse("reminders:plan_due", args=[plan_id])).content.decode()
        assert ("strip the formwork” is near" in page) is is_there


def test_the_queries_do_not_grow_with_the_cures(site: Site, django_assert_num_queries: Any) -> None:
    person = engineer(site)
    curing(make_chosen(site))
    with django_assert_num_queries(7) as counted:
        personal_calendar(person, site, NOW)
    for number in range(2, 5):
        curing(make_chosen(site, tag=f"P-{number}"))
    with django_assert_num_queries(len(counted)):
        personal_calendar(person, site, NOW)
