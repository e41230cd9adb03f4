"""The first page: what each job waits for, at the person's own site only."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.board.queries import machines_with_jobs, site_day, standing_of
from groutjobs.equipment.models import Machine
from groutjobs.planning.models import PlanState
from groutjobs.pours.models import Pour, PourState
from groutjobs.weather.models import Forecast
from tests.factories import make_machine, make_person, make_plan, make_site

pytestmark = pytest.mark.django_db
DAY_SHEET = reverse("board:day_sheet")


def word(machine: Machine) -> str:
    return standing_of(machines_with_jobs(machine.site, finished=True).get(pk=machine.pk)).word


def test_a_named_machine_waits_for_its_survey() -> None:
    assert word(make_machine(bare=True)) == "to be surveyed"


def test_a_surveyed_machine_waits_for_its_plan() -> None:
    assert word(make_machine()) == "surveyed"


def test_a_drafted_plan_waits_for_approval_and_an_approved_one_for_its_hour() -> None:
    plan = make_plan()
    assert word(plan.machine) == "plan drafted"
    plan.state = PlanState.APPROVED
    plan.save()
    assert word(plan.machine) == "plan approved"


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (PourState.PREPARED, "in preparation"),
        (PourState.RELEASED, "released to pour"),
        (PourState.POURED, "pouring"),
        (PourState.PLACED, "curing"),
        (PourState.SETTLED, "curing, pour record complete"),
    ],
)
def test_a_pour_stands_where_its_entries_brought_it(state: PourState, words: str) -> None:
    plan = make_plan(state=PlanState.APPROVED)
    Pour.objects.create(plan=plan, state=state, opened_by=plan.made_by)
    assert word(plan.machine) == words


def test_the_page_shows_the_jobs_of_the_site_and_who_is_waited_for(client: Client) -> None:
    machine = make_machine(bare=True, tag="P-77")
    client.force_login(make_person(site=machine.site, roles=(Role.AUDITOR,)))
    text = client.get(DAY_SHEET).content.decode()
    assert "P-77" in text
    assert "Enter foundation and plate" in text


def test_another_site_cannot_be_asked_for(client: Client) -> None:
    client.force_login(make_person(roles=(Role.ENGINEER,)))
    assert client.get(DAY_SHEET, {"site": make_site().pk}).status_code == 404


def test_a_person_without_a_site_is_told_what_to_do(client: Client) -> None:
    client.force_login(make_person())
    assert "Ask the administrator" in client.get(DAY_SHEET).content.decode()


def test_a_forecast_of_yesterday_is_called_old() -> None:
    site = make_site()
    now = timezone.now()
    Forecast.objects.create(
        site=site, source="csv", source_name="x", issued_at=now - dt.timedelta(hours=25), zone=site.zone,
        starts_at=now, hour_count=1, made_by=make_person(),
    )  # fmt: skip
    assert site_day(site, now).forecast_is_stale
    assert not site_day(site, now - dt.timedelta(hours=2)).forecast_is_stale


def test_the_bibliography_lists_every_key(client: Client) -> None:
    client.force_login(make_person())
    text = client.get(reverse("board:sources")).content.decode()
    assert 'id="ACI351.5"' in text
    assert 'id="BLOCH-MCM"' in text
