"""The page of pour hours: who reads it, its parts, and how often it asks the database."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.planning.models import PourPlan
from groutjobs.windows.models import PourHours
from groutjobs.windows.tables import best_index, days_of_hours, limit_table, run_table
from tests.factories import make_forecast, make_plan
from tests.weather.asking import signed_in, stranger
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db


@pytest.fixture
def found() -> PourHours:
    return searched()


def address(plan: PourPlan, query: str = "") -> str:
    return reverse("windows:pour_hours", args=[plan.pk]) + query


@pytest.mark.parametrize("role", list(Role))
def test_every_role_reads_and_only_engineers_are_offered_to_choose(found: PourHours, role: Role) -> None:
    text = signed_in(found.plan.machine.site, role).get(address(found.plan)).content.decode()
    choose = reverse("outages:hour_choose", args=[found.pk, best_index(found)])
    assert "Best runs of hours" in text
    assert "<svg" in text
    assert (choose in text) == (role is Role.ENGINEER)


def test_a_stranger_finds_nothing_and_a_wrong_method_is_refused(found: PourHours) -> None:
    assert stranger().get(address(found.plan)).status_code == 404
    assert signed_in(found.plan.machine.site, Role.ENGINEER).post(address(found.plan)).status_code == 405


def test_an_hour_comes_alone_to_htmx_and_in_its_page_to_a_link(found: PourHours) -> None:
    client = signed_in(found.plan.machine.site, Role.CREW)
    url = address(found.plan, f"?search={found.pk}&hour=4")
    part = client.get(url, headers={"HX-Request": "true"}).content.decode()
    whole = client.get(url).content.decode()
    assert part.strip().startswith('<section id="hour-detail"')
    for text in (part, whole):
        assert "Start at 2026-05-04 00:00 UTC−04:00" in text
        assert "outside the working shift" in text


@pytest.mark.parametrize("query", ["?hour=9999", "?hour=-1", "?hour=x", "?search=0", "?search=x", "?hour=" + "9" * 99])
def test_an_hour_or_search_that_is_not_there_is_not_found(found: PourHours, query: str) -> None:
    assert signed_in(found.plan.machine.site, Role.CREW).get(address(found.plan, query)).status_code == 404


def test_a_search_of_another_plan_is_not_shown(found: PourHours) -> None:
    other = planned()
    client = signed_in(other.machine.site, Role.CREW)
    assert client.get(address(other, f"?search={found.pk}")).status_code == 404


def test_without_a_search_it_says_what_to_do() -> None:
    plan = make_plan()
    client = signed_in(plan.machine.site, Role.ENGINEER)
    assert "First the site needs weather" in client.get(address(plan)).content.decode()
    make_forecast(site=plan.machine.site)
    assert reverse("windows:search", args=[plan.pk]) in client.get(address(plan)).content.decode()


def test_where_no_hour_is_acceptable_it_says_so() -> None:
    plan = planned()
    cold = make_forecast(
        site=plan.machine.site, hour_count=72, hours={"temp_c": [3.0] * 72, "dew_point_c": [-4.0] * 72}
    )
    searched(plan, cold)
    text = signed_in(plan.machine.site, Role.ENGINEER).get(address(plan)).content.decode()
    assert "No hour is acceptable" in text


def test_tables_agree_with_the_result(found: PourHours) -> None:
    hours = found.result["hours"]
    assert sum(len(day.hours) for day in days_of_hours(found, 0)) == len(hours)
    shift = sum("shift" in hour["codes"] for hour in hours)
    assert shift == sum(link.standing == "stop" for day in days_of_hours(found, 0) for link in day.hours)
    assert [run.rank for run in run_table(found)] == list(range(1, len(found.result["runs"]) + 1))
    assert {limit["code"]: limit["hours"] for limit in limit_table(found)}["wind"] == 0


def test_hours_are_named_by_the_clock_of_the_site(found: PourHours) -> None:
    first = days_of_hours(found, 0)[0]
    assert (first.on.isoformat(), first.hours[0].clock) == ("2026-05-03", "20")  # 00:00 UTC


def test_more_searches_ask_no_more_often(found: PourHours) -> None:
    client = signed_in(found.plan.machine.site, Role.ENGINEER)
    client.get(address(found.plan))
    with CaptureQueriesContext(connection) as once:
        client.get(address(found.plan))
    for _ in range(5):
        PourHours.objects.create(
            plan=found.plan, forecast=found.forecast, material_c=22.0, result=found.result, made_by=found.made_by
        )
    with CaptureQueriesContext(connection) as more:
        client.get(address(found.plan))
    assert len(more) == len(once) <= 12
