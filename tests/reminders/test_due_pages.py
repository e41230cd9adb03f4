"""What is due, on its own pages and on the Day sheet; who may say that a duty is in hand."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.outages.models import ScheduledPour
from groutjobs.reminders.actions import take_duty
from groutjobs.reminders.models import DutyInHand
from groutjobs.reminders.queries import site_duties
from groutjobs.turnover.models import ReportState, TurnoverReport
from tests.factories import make_person, make_pour
from tests.reminders.known import HOUR, START, make_accepted, make_chosen, make_outage, make_search
from tests.weather.asking import signed_in, stranger

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
NOW = START - 34 * HOUR


def words(site: Site) -> dict[str, str]:
    return {row.duty.code: row.standing.word for row in site_duties(site, NOW, "metric")}


def test_late_stands_first_then_by_latest_start(site: Site) -> None:
    make_chosen(site)
    rows = site_duties(site, NOW, "metric")
    late = [row.is_late for row in rows]
    assert late == sorted(late, reverse=True)
    assert words(site)["condition"] == "late"
    assert words(site)["shade"] == "soon"


def test_the_page_names_machine_word_time_and_source(site: Site) -> None:
    pour = make_chosen(site)
    text = signed_in(site, Role.CREW).get(reverse("reminders:plan_due", args=[pour.plan_id])).content.decode()
    for words_of_page in ("What is due for P-1", "late", "Sat 31 Oct 08:00", "[PRACTICE", "points before the pour"):
        assert words_of_page in text


def test_the_day_sheet_shows_the_next_seven_days(site: Site) -> None:
    make_chosen(site, tag="P-1")
    make_chosen(site, tag="P-9", starts_at=START + 400 * HOUR, milestones={})
    text = signed_in(site, Role.ENGINEER).get(reverse("board:day_sheet")).content.decode()
    due = text.split("What is due in the next 7 days")[1].split("Next pours")[0]
    assert "P-1" in due
    assert "P-9" not in due
    assert "In hand" in due


def test_an_auditor_sees_it_and_is_offered_nothing(site: Site) -> None:
    pour = make_chosen(site)
    client = signed_in(site, Role.AUDITOR)
    assert "In hand:" not in client.get(reverse("reminders:site_due", args=[site.pk])).content.decode()
    assert client.post(reverse("reminders:duty_say", args=[pour.pk]), {"code": "condition"}).status_code == 403


def test_a_crew_says_it_is_in_hand_and_takes_it_back(site: Site) -> None:
    pour = make_chosen(site)
    client, url = signed_in(site, Role.CREW), reverse("reminders:duty_say", args=[pour.pk])
    page = reverse("reminders:site_due", args=[site.pk])
    assert client.post(url, {"code": "condition", "next": page})["Location"] == page
    client.post(url, {"code": "condition"})
    assert DutyInHand.objects.count() == 1
    assert words(site)["condition"].startswith("in hand, Person")
    client.post(url, {"code": "condition", "back": "1"})
    assert words(site)["condition"] == "late"
    assert list(Event.objects.values_list("kind", flat=True)) == ["duty.in_hand", "duty.given_back"]


def test_it_sends_nobody_to_another_host(site: Site) -> None:
    pour = make_chosen(site)
    url = reverse("reminders:duty_say", args=[pour.pk])
    answer = signed_in(site, Role.CREW).post(url, {"code": "condition", "next": "https://elsewhere.example/"})
    assert answer["Location"] == reverse("reminders:plan_due", args=[pour.plan_id])


def test_an_unknown_duty_and_a_replaced_hour_are_refused(site: Site) -> None:
    pour = make_chosen(site)
    by = make_person(site=site, roles=(Role.CREW,))
    with pytest.raises(NotAllowed, match="no duty of this pour"):
        take_duty(scheduled_pour=pour, code="dance", by=by)
    ScheduledPour.objects.update(is_current=False)
    pour.refresh_from_db()
    with pytest.raises(NotAllowed, match="Another hour"):
        take_duty(scheduled_pour=pour, code="condition", by=by)
    answer = signed_in(site, Role.CREW).post(reverse("reminders:duty_say", args=[pour.pk]), {"code": "x"}, follow=True)
    assert "Another hour" in answer.content.decode()


def test_a_stranger_finds_nothing_and_a_wrong_method_is_refused(site: Site) -> None:
    pour = make_chosen(site, outage=make_outage(site))
    outage_id = pour.outage_id
    pages = {"site_due": site.pk, "outage_due": outage_id, "plan_due": pour.plan_id}
    for name, key in pages.items():
        url = reverse(f"reminders:{name}", args=[key])
        assert stranger().get(url).status_code == 404
        assert signed_in(site, Role.CREW).post(url).status_code == 405
        assert "What is due" in signed_in(site, Role.CREW).get(url).content.decode()


def test_the_fragment_is_the_section_alone(site: Site) -> None:
    pour = make_chosen(site, outage=make_outage(site))
    url = reverse("reminders:outage_due", args=[pour.outage_id])
    text = signed_in(site, Role.CREW).get(url, headers={"hx-request": "true"}).content.decode()
    assert text.strip().startswith('<section id="what-is-due">')
    assert "<html" not in text
    for name, key in (("outages:outage_detail", pour.outage_id),):
        assert f'hx-get="{url}"' in signed_in(site, Role.CREW).get(reverse(name, args=[key])).content.decode()


def test_steps_of_the_schedule_count_only_at_the_hour_that_it_pours(site: Site) -> None:
    pour = make_chosen(site, outage=make_outage(site))
    make_accepted(pour)
    assert "step_formwork" in words(site)
    ScheduledPour.objects.update(starts_at=START + HOUR)
    assert "step_formwork" not in words(site)


def test_the_record_ends_duties(site: Site) -> None:
    pour = make_chosen(site)
    make_search(pour.plan, made_at=NOW)
    assert words(site)["forecast_72h"] == "done, by a newer search"
    opened = make_pour(plan=pour.plan)
    assert words(site)["points"] == "soon"
    opened.state = "released"
    opened.save()
    assert words(site)["points"] == "done, by the pour log"
    opened.state = "poured"
    opened.save()
    assert words(site)["condition"] == "done, by the pour log"


def test_a_record_that_is_frozen_for_turnover_has_no_duties(site: Site) -> None:
    opened = make_pour(plan=make_chosen(site).plan)
    columns = {"pour": opened, "number": "T-1", "manifest_text": "{}", "frozen_by": opened.opened_by}
    report = TurnoverReport.objects.create(**columns)
    report.state, report.returned_because = ReportState.RETURNED, "a wrong lot number"
    report.save()
    assert words(site)
    TurnoverReport.objects.create(**columns, revision=2)
    assert words(site) == {}


def test_more_pours_ask_the_database_no_more_often(site: Site) -> None:
    client = signed_in(site, Role.ENGINEER)
    counts = []
    for number in range(1, 4):
        make_chosen(site, tag=f"P-{number}")
        make_pour(plan=ScheduledPour.objects.latest("pk").plan)
        found = []
        for url in (reverse("board:day_sheet"), reverse("reminders:site_due", args=[site.pk])):
            with CaptureQueriesContext(connection) as queries:
                assert client.get(url).status_code == 200
            found.append(len(queries))
        counts.append(found)
    assert counts[1] == counts[2]
    assert max(counts[2]) <= 20
