"""The form of a search: who may ask, what comes back for wrong entries, and how limits are edited."""

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.weather.queries import LIVE_TO_PICK, forecasts_to_pick
from groutjobs.windows.forms import SearchForm
from groutjobs.windows.models import PourHours
from tests.factories import make_forecast, make_plan
from tests.weather.asking import HUGE, errors_in, signed_in, stranger
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan() -> PourPlan:
    plan = planned()
    make_forecast(site=plan.machine.site, hour_count=72)
    return plan


def address(plan: PourPlan) -> str:
    return reverse("windows:search", args=[plan.pk])


def typed(plan: PourPlan, **changes: str) -> dict[str, Any]:
    """What the browser sends when nothing but `changes` is touched."""
    form = SearchForm(plan=plan, earlier=None)
    data: dict[str, Any] = {}
    for bound in form:
        value = bound.value()
        if isinstance(value, list):
            data[bound.html_name], data[f"{bound.html_name}_unit"] = value[0], value[1]
        else:
            data[bound.html_name] = getattr(value, "pk", value) or ""
    return data | changes


def test_an_engineer_searches_with_what_the_form_proposes(plan: PourPlan) -> None:
    response = signed_in(plan.machine.site, Role.ENGINEER).post(address(plan), typed(plan))
    assert response["Location"] == reverse("windows:pour_hours", args=[plan.pk])
    found = PourHours.objects.get(plan=plan)
    assert (found.material_c, found.result["inputs"]["protection_h"]) == (22.0, 48.0)
    assert found.result["inputs"]["shift"] == "must"


def test_times_and_temperatures_are_kept_as_typed(plan: PourPlan) -> None:
    changes = {
        "material_c": "73", "material_c_unit": "degF", "measured_concrete_c": "60,5",
        "measured_concrete_c_unit": "degF", "measured_at": "2026-05-04T08:10", "align_by_at": "2026-05-06T06:00",
    }  # fmt: skip
    signed_in(plan.machine.site, Role.ENGINEER).post(address(plan), typed(plan, **changes))
    found = PourHours.objects.get(plan=plan)
    assert found.material_c == pytest.approx((73 - 32) / 1.8)
    assert found.measured_concrete_c == pytest.approx((60.5 - 32) / 1.8)
    assert found.as_entered["material_c"] == {"text": "73", "unit": "degF"}
    assert found.align_by_at == dt.datetime(2026, 5, 6, 10, tzinfo=dt.UTC)


def test_an_edited_limit_needs_a_new_source(plan: PourPlan) -> None:
    client = signed_in(plan.machine.site, Role.ENGINEER)
    refused = client.post(address(plan), typed(plan, limit_wind="20"))
    assert refused.status_code == 422
    assert "wind 20 differs from the value in [GROUTJOBS]" in errors_in(refused)
    changes = {"limit_wind": "20", "source_wind": "owner's specification 12-34"}
    assert client.post(address(plan), typed(plan, **changes)).status_code == 302
    kept = next(limit for limit in PourHours.objects.get(plan=plan).result["limits"] if limit["code"] == "wind")
    assert (kept["value"], kept["source"]) == (20.0, "owner's specification 12-34")


def test_the_next_search_begins_with_the_values_of_the_last(plan: PourPlan) -> None:
    searched(
        plan, plan.machine.site.forecasts.get(), limits={"wind": (20.0, "owner")}, protection_h=24.0, shift="ignored"
    )
    form = signed_in(plan.machine.site, Role.ENGINEER).get(address(plan)).context["form"]
    assert form["limit_wind"].value()[0] == "20"
    assert form["source_wind"].value() == "owner"
    assert form["protection_h"].value()[0] == "24"
    assert form["shift"].value() == "ignored"


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("forecast", "", ["Forecast is not chosen"]),
        ("forecast", "999999", ["“999999” is not in the list"]),
        ("material_c", "", ["Material at the mixer is empty", "BLOCH-MCM"]),
        ("material_c", "warm", ["“warm” is not a number"]),
        ("material_c", "71.6", ["71.6 °C is above 60.0 °C", "BLOCH-MCM"]),
        ("material_c", "-30", ["below −20.0 °C"]),
        ("material_c", "NaN", ["“NaN” is not a number"]),
        ("material_c", HUGE, ["10000000 characters"]),
        ("measured_concrete_c", "15", ["belong together"]),
        ("measured_at", "noon", ["Measured at", "“noon”", "ISO8601"]),
        ("align_by_at", "9999-01-01T00:00", ["not between 1990 and 2200"]),
        ("protection_h", "900", ["900 h is above 720.0 h", "BLOCH-MCM"]),
        ("shift", "never", ["“never”", "must hold"]),
        ("limit_air_cold", "", ["air, at least is empty"]),
        ("limit_air_cold", "200", ["200 °C is above 80.0 °C", "GROUTJOBS"]),
        ("limit_humidity", "-5", ["below 0%"]),
        ("source_air_cold", "", ["Source of air, at least is empty"]),
        ("source_air_cold", "x" * 81, ["81 characters", "80"]),
    ],
)
def test_a_wrong_entry_comes_back_with_what_was_typed(plan: PourPlan, field: str, text: str, words: list[str]) -> None:
    response = signed_in(plan.machine.site, Role.ENGINEER).post(address(plan), typed(plan, **{field: text}))
    assert response.status_code == 422
    assert [word for word in words if word not in errors_in(response)] == []
    value = response.context["form"][field].value()
    assert (value[0] if isinstance(value, list) else value) == text
    assert not PourHours.objects.exists()


def test_what_the_engineering_refuses_stands_on_the_form(plan: PourPlan) -> None:
    changes = {"measured_concrete_c": "15", "measured_at": "2026-06-04T08:00"}
    response = signed_in(plan.machine.site, Role.ENGINEER).post(address(plan), typed(plan, **changes))
    assert response.status_code == 422
    assert "hour of the concrete measurement in the forecast" in errors_in(response)


def test_a_forecast_of_another_site_is_not_offered(plan: PourPlan) -> None:
    other = make_forecast(hour_count=72)
    response = signed_in(plan.machine.site, Role.ENGINEER).post(address(plan), typed(plan, forecast=str(other.pk)))
    assert "is not in the list" in errors_in(response)


def test_old_live_forecasts_are_not_offered_but_files_are(plan: PourPlan) -> None:
    site, first_at = plan.machine.site, dt.datetime(2026, 5, 5, tzinfo=dt.UTC)
    live = [
        make_forecast(site=site, hour_count=72, source="us_nws", issued_at=first_at + dt.timedelta(hours=3 * step))
        for step in range(LIVE_TO_PICK + 2)
    ]
    offered = set(forecasts_to_pick(site))
    assert offered.isdisjoint(live[:2])
    assert offered.issuperset(live[2:])
    assert set(Forecast.objects.filter(site=site, source="hand")) <= offered


def test_only_engineers_search(plan: PourPlan) -> None:
    client = signed_in(plan.machine.site, Role.ADMINISTRATOR, Role.CREW_LEAD, Role.INSPECTOR)
    assert client.get(address(plan)).status_code == 403
    assert client.post(address(plan), typed(plan)).status_code == 403
    assert stranger().get(address(plan)).status_code == 404
    assert signed_in(plan.machine.site, Role.ENGINEER).put(address(plan)).status_code == 405


def test_a_plan_that_is_not_computed_leads_back_to_the_plan() -> None:
    plan = make_plan()
    response = signed_in(plan.machine.site, Role.ENGINEER).get(address(plan))
    assert response["Location"] == reverse("planning:plan_detail", args=[plan.pk])
