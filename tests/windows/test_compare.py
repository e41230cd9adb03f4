"""Measures tried side by side: each alone, nothing rests on a trial until it is taken."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.errors import NotAllowed
from groutjobs.outages.actions import choose_hour
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.windows.actions import take_measure
from groutjobs.windows.compared import measures
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import latest_pour_hours
from tests.factories import make_forecast
from tests.weather.asking import errors_in, signed_in
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db
HOURS = 144


@pytest.fixture
def plan() -> PourPlan:
    """A machine in the open; its material lies in a store of 12 °C."""
    return planned(material_c=12.0)


@pytest.fixture
def cold(plan: PourPlan) -> Forecast:
    rows = {"temp_c": [6.0] * HOURS, "dew_point_c": [-4.0] * HOURS}
    return make_forecast(site=plan.machine.site, hour_count=HOURS, hours=rows)


@pytest.fixture
def engineer(plan: PourPlan) -> Client:
    return signed_in(plan.machine.site, Role.ENGINEER)


def given(forecast: Forecast, *tried: str, **other: Any) -> dict[str, Any]:
    zone = forecast.site.tz
    return {
        "forecast": forecast.pk,
        "tried": tried,
        "cover_from": f"{forecast.starts_at.astimezone(zone):%Y-%m-%dT%H:%M}",
        "cover_to": f"{forecast.ends_at.astimezone(zone):%Y-%m-%dT%H:%M}",
        "cover_held_c": "25",
        "cover_held_c_unit": "degC",
        "shift_starts": "14:00",
        "shift_ends": "22:00",
        "material_c": "24",
        "material_c_unit": "degC",
        "store_c": "28",
        "store_c_unit": "degC",
    } | other


def compare(client: Client, plan: PourPlan, values: dict[str, Any]) -> Any:
    return client.post(reverse("windows:compare", args=[plan.pk]), values)


def test_all_measures_are_tried_alone_beside_the_work_as_it_is(
    plan: PourPlan, cold: Forecast, engineer: Client
) -> None:
    answer = compare(engineer, plan, given(cold, "shade", "enclosure", "heated", "shift", "store"))
    assert answer.status_code == 302, errors_in(answer)
    rows = measures(PourHours.objects.order_by("pk"))
    assert [row.title for row in rows] == [
        "as it is",
        "shade",
        "enclosure, not heated",
        "heated enclosure",
        "shift 14:00 to 22:00",
        "material from another store",
    ]
    assert all(row.search.is_trial for row in rows)
    assert {row.search.material_c for row in rows[:-1]} == {plan.planned_grout_c}
    assert rows[-1].search.material_c == 24.0
    assert rows[3].hours_count > rows[0].hours_count == 0
    assert rows[3].odds
    shown = engineer.get(answer.url).content.decode()
    assert shown.index("As it is") < shown.index("Heated enclosure")
    assert shown.count("Take this measure") == 5


def test_another_shift_moves_the_acceptable_hours(plan: PourPlan, engineer: Client) -> None:
    mild = make_forecast(
        site=plan.machine.site, hour_count=HOURS, hours={"temp_c": [21.0] * HOURS, "dew_point_c": [8.0] * HOURS}
    )
    compare(engineer, plan, given(mild, "shift"))
    usual, late = PourHours.objects.order_by("pk")
    by_hour = [
        {
            dt.datetime.fromisoformat(hour["at"]).astimezone(mild.site.tz).hour
            for hour in one.result["hours"]
            if hour["ok"]
        }
        for one in (usual, late)
    ]
    assert by_hour[1]
    assert all(14 <= hour < 22 for hour in by_hour[1])
    assert min(by_hour[0]) < 12


def test_a_store_tells_how_long_the_material_stands_in_it(plan: PourPlan, cold: Forecast, engineer: Client) -> None:
    """Opened, from 12 to 24 °C in 28 °C: a fourth of the difference is left, so longer than the 8 h of TF's 2 to 16 °C
    in 21 °C, of which a fourth is left too: the same time, by the same logarithm."""
    compare(engineer, plan, given(cold, "store"))
    store = PourHours.objects.order_by("pk").last().result["inputs"]["store"]  # type: ignore[union-attr]
    assert (store["start_c"], store["wanted_c"], store["store_c"]) == (12.0, 24.0, 28.0)
    assert 6.0 < store["opened_h"] < store["as_it_stands_h"]


def test_nothing_rests_on_a_trial_until_it_is_taken(plan: PourPlan, cold: Forecast, engineer: Client) -> None:
    first = searched(plan, cold)
    compare(engineer, plan, given(cold, "heated"))
    assert latest_pour_hours(plan) == first
    trial = PourHours.objects.filter(is_trial=True).latest("pk")
    index = next(index for index, hour in enumerate(trial.result["hours"]) if hour["ok"])
    starts_at = dt.datetime.fromisoformat(trial.result["hours"][index]["at"])
    with pytest.raises(NotAllowed, match="only tries a measure"):
        choose_hour(plan=plan, pour_hours=trial, starts_at=starts_at, by=plan.made_by)
    page = engineer.get(reverse("windows:pour_hours", args=[plan.pk]), {"search": trial.pk}).content.decode()
    assert "Nothing rests on this search" in page
    assert "Choose this hour" not in page
    answer = engineer.post(reverse("windows:measure_take", args=[trial.pk]))
    assert answer.status_code == 302
    taken = latest_pour_hours(plan)
    assert taken
    assert taken != trial
    assert taken.result["hours"] == trial.result["hours"]
    assert taken.result["inputs"] == trial.result["inputs"]
    assert choose_hour(plan=plan, pour_hours=taken, starts_at=starts_at, by=plan.made_by).pour_hours == taken
    with pytest.raises(NotAllowed, match="no trial"):
        take_measure(trial=taken, by=plan.made_by)


def test_one_measure_that_is_refused_leaves_no_trial_at_all(plan: PourPlan, cold: Forecast, engineer: Client) -> None:
    """A store of 18 °C cannot warm material to 24 °C."""
    answer = compare(engineer, plan, given(cold, "shade", "store", store_c="18"))
    assert answer.status_code == 422
    assert "conditioning store 18" in errors_in(answer)
    assert not PourHours.objects.exists()


def test_the_work_as_it_is_is_not_tried_again_where_the_plan_rests_on_it(
    plan: PourPlan, cold: Forecast, engineer: Client
) -> None:
    first = searched(plan, cold)
    compare(engineer, plan, given(cold, "shade"))
    assert [(row.title, row.search.is_trial) for row in measures(PourHours.objects.order_by("pk"))] == [
        ("as it is", False),
        ("shade", True),
    ]
    other = make_forecast(site=plan.machine.site, hour_count=HOURS)
    compare(engineer, plan, given(other, "shade"))
    trials = PourHours.objects.filter(forecast=other)
    assert [row.title for row in measures(trials.order_by("pk"))] == ["as it is", "shade"]
    assert latest_pour_hours(plan) == first


@pytest.mark.parametrize(
    ("tried", "other", "words"),
    [
        ((), {}, "none is ticked"),
        (("tarpaulin",), {}, "is none of"),
        (("heated",), {"cover_held_c": ""}, "“heated enclosure” needs it"),
        (("shade",), {"cover_from": ""}, "“shade” needs it"),
        (("shade",), {"cover_to": "2020-01-01T00:00"}, "not after its beginning"),
        (("shift",), {"shift_ends": "14:00"}, "ends when it starts"),
        (("store",), {"store_c": ""}, "“warmer or cooler material” needs it"),
    ],
)
def test_what_is_missing_is_said_by_its_field(
    plan: PourPlan, cold: Forecast, engineer: Client, tried: tuple[str, ...], other: dict[str, str], words: str
) -> None:
    answer = compare(engineer, plan, given(cold, *tried, **other))
    assert answer.status_code == 422
    assert words in errors_in(answer)
    assert not PourHours.objects.exists()
