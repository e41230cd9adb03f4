"""Choosing an hour: what is recorded, what is refused, and what speaks against a choice."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed
from groutjobs.outages.actions import add_outage, choose_hour
from groutjobs.outages.models import Outage, ScheduledPour
from groutjobs.outages.queries import scheduled_pour
from groutjobs.planning.models import PlanState
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import milestones_at, start_hour
from tests.factories import make_forecast, make_machine
from tests.weather.asking import HUGE, errors_in, signed_in, stranger, utc
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db
GOOD, NIGHT = 16, 28  # 12:00 and 00:00 in New York


@pytest.fixture
def found() -> PourHours:
    """Even weather of 22 °C for five days: every hour of the shift is acceptable."""
    return searched()


def chosen(found: PourHours, index: int = GOOD, **asked: Any) -> ScheduledPour:
    question: dict[str, Any] = {"plan": found.plan, "pour_hours": found, "by": found.made_by}
    return choose_hour(**question | {"starts_at": start_hour(found, index).at} | asked)


def outage(found: PourHours, starts_at: dt.datetime, ends_at: dt.datetime) -> Outage:
    return add_outage(
        site=found.plan.machine.site, name="Spring", starts_at=starts_at, ends_at=ends_at, by=found.made_by
    )


def codes(pour: ScheduledPour) -> list[str]:
    return [finding["code"] for finding in pour.findings]


def test_an_acceptable_hour_is_chosen_with_the_milestones_of_its_search(found: PourHours) -> None:
    pour = chosen(found)
    assert scheduled_pour(found.plan) == pour
    assert pour.findings == []
    assert pour.starts_at == utc(4, 16)
    assert {row.code: row.at for row in milestones_at(found, GOOD)}["align"] is not None
    for row in milestones_at(found, GOOD):
        reached = pour.reached_at(row.code)
        assert (reached is None) == (row.at is None)
    placed = pour.reached_at("placed")
    assert placed
    assert (placed - pour.starts_at).total_seconds() / 3600 == pytest.approx(
        found.result["inputs"]["placement_h"], abs=1e-3
    )
    assert Event.objects.filter(kind="scheduled_pour.chosen").count() == 1


def test_material_is_conditioned_two_days_before(found: PourHours) -> None:
    """48 h at 18 °C or more: Bloch and Geitner, appendix 3-D."""
    pour = chosen(found)
    assert pour.reached_at("prepared_from") == pour.starts_at - dt.timedelta(hours=48)
    assert pour.milestones["prepared_from"]["source"] == "BLOCH-MCM"


def test_hours_that_the_plan_gives_its_material_take_the_place_of_two_days() -> None:
    pour = chosen(searched(planned(material_c=9.0, conditioning_store_c=23.0, conditioning_h=60.0)))
    assert pour.reached_at("prepared_from") == pour.starts_at - dt.timedelta(hours=60)
    assert pour.milestones["prepared_from"]["source"] == "GROUTJOBS"


def test_another_choice_takes_the_place_of_the_first(found: PourHours) -> None:
    first = chosen(found)
    second = chosen(found, GOOD + 1)
    first.refresh_from_db()
    assert not first.is_current
    assert scheduled_pour(found.plan) == second
    assert ScheduledPour.objects.filter(plan=found.plan).count() == 2
    assert Event.objects.filter(kind="scheduled_pour.replaced", object_id=str(first.pk)).count() == 1


def test_an_hour_that_is_not_acceptable_needs_a_reason(found: PourHours) -> None:
    with pytest.raises(NotAllowed, match=r"not acceptable by the search.*working shift"):
        chosen(found, NIGHT)
    assert not ScheduledPour.objects.exists()
    pour = chosen(found, NIGHT, reason="night shift agreed with the plant manager")
    assert codes(pour) == ["hour_not_acceptable"]


def test_a_missed_date_of_alignment_needs_a_reason_and_says_by_how_much(found: PourHours) -> None:
    align_at = next(row.at for row in milestones_at(found, GOOD) if row.code == "align")
    assert align_at
    due = align_at - dt.timedelta(hours=10)
    with pytest.raises(NotAllowed, match="10 h after it is due"):
        chosen(found, align_by_at=due)
    pour = chosen(found, align_by_at=due, reason="agreed")
    assert codes(pour) == ["align_late"]
    assert pour.findings[0]["margin"] == pytest.approx(-10.0)
    assert codes(chosen(found, align_by_at=align_at + dt.timedelta(hours=1))) == []


def test_a_cure_beyond_the_forecast_is_not_promised(found: PourHours) -> None:
    pour = chosen(found, 90, align_by_at=utc(20, 12))  # 8 May 14:00: the forecast ends 30 h later
    assert codes(pour) == ["align_not_known"]
    assert pour.reached_at("align") is None


def test_an_outage_bounds_the_choice(found: PourHours) -> None:
    late = outage(found, utc(5, 0), utc(9, 0))
    with pytest.raises(NotAllowed, match="starts before Spring does"):
        chosen(found, outage=late)
    assert codes(chosen(found, 40, outage=late)) == []


def test_an_outage_that_ends_too_early_is_told(found: PourHours) -> None:
    short = outage(found, utc(4, 0), utc(4, 16))
    with pytest.raises(NotAllowed, match="Placing ends after Spring"):
        chosen(found, outage=short)
    Outage.objects.update(ends_at=utc(5, 16))
    short.refresh_from_db()
    assert codes(chosen(found, outage=short)) == ["align_after_outage"]


def test_two_pours_at_one_time_are_told(found: PourHours) -> None:
    chosen(found)
    plan = planned(machine=make_machine(site=found.plan.machine.site))
    other = searched(plan, found.forecast)
    pour = chosen(other)
    assert codes(pour) == ["overlap"]
    assert found.plan.machine.tag in pour.findings[0]["message"]
    assert codes(chosen(other, GOOD + 3)) == []


def test_it_refuses_what_does_not_belong_together(found: PourHours) -> None:
    with pytest.raises(NotAllowed, match="another plan"):
        chosen(found, plan=planned())
    with pytest.raises(NotAllowed, match="another site"):
        chosen(found, outage=outage(searched(), utc(4, 0), utc(9, 0)))
    with pytest.raises(NotAllowed, match="was not judged"):
        chosen(found, starts_at=utc(4, 16) + dt.timedelta(minutes=20))
    drafted = searched(planned(state=PlanState.DRAFTED))
    with pytest.raises(NotAllowed, match="approve a plan"):
        chosen(drafted)


# the page


def address(found: PourHours, index: int = GOOD) -> str:
    return reverse("outages:hour_choose", args=[found.pk, index])


def test_an_engineer_chooses_on_the_page(found: PourHours) -> None:
    spring = outage(found, utc(4, 0), utc(9, 0))
    client = signed_in(found.plan.machine.site, Role.ENGINEER)
    page = client.get(address(found))
    assert page.context["form"]["outage"].value() == spring.pk
    response = client.post(address(found), {"outage": spring.pk, "align_by_at": "2026-05-08T06:00", "reason": ""})
    assert response["Location"] == reverse("outages:outage_detail", args=[spring.pk])
    pour = ScheduledPour.objects.get()
    assert (pour.outage, pour.align_by_at) == (spring, utc(8, 10))
    assert "At present the pour is set" in client.get(address(found, GOOD + 1)).content.decode()


def test_without_an_outage_it_leads_back_to_the_pour_hours(found: PourHours) -> None:
    client = signed_in(found.plan.machine.site, Role.ENGINEER)
    response = client.post(address(found), {"outage": "", "align_by_at": "", "reason": ""})
    assert response["Location"] == reverse("windows:pour_hours", args=[found.plan_id])


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"outage": "999"}, ["Outage “999” is not in the list"]),
        ({"align_by_at": "soon"}, ["“soon”", "ISO8601"]),
        ({"align_by_at": HUGE}, ["10000000 characters"]),
        ({"reason": "r" * 201}, ["Reason", "201 characters", "200"]),
        ({"align_by_at": "2026-05-04T13:00"}, ["after it is due", "write the reason"]),
    ],
)
def test_a_wrong_entry_comes_back(found: PourHours, fields: dict[str, str], words: list[str]) -> None:
    client = signed_in(found.plan.machine.site, Role.ENGINEER)
    response = client.post(address(found), {"outage": "", "align_by_at": "", "reason": ""} | fields)
    assert response.status_code == 422
    assert [word for word in words if word not in errors_in(response)] == []
    (name, text) = next(iter(fields.items()))
    assert response.context["form"][name].value() == text


def test_only_engineers_choose(found: PourHours) -> None:
    client = signed_in(found.plan.machine.site, Role.CREW_LEAD, Role.ADMINISTRATOR)
    assert client.get(address(found)).status_code == 403
    assert client.post(address(found), {}).status_code == 403
    assert stranger().get(address(found)).status_code == 404
    engineer = signed_in(found.plan.machine.site, Role.ENGINEER)
    assert engineer.put(address(found)).status_code == 405
    assert engineer.get(address(found, 9999)).status_code == 404


def test_no_forecast_is_needed_to_see_that_nothing_is_chosen() -> None:
    plan = planned()
    make_forecast(site=plan.machine.site)
    assert scheduled_pour(plan) is None
