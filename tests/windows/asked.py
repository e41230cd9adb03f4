"""Plans with computed results, and searches, for tests of pour hours and of what follows from them."""

import datetime as dt
from typing import Any

from groutjobs.equipment.models import Machine
from groutjobs.equipment.queries import machine_whole
from groutjobs.planning.calc import compute
from groutjobs.planning.models import PlanState, PourPlan
from groutjobs.planning.queries import plan_whole
from groutjobs.weather.actions import add_forecast
from groutjobs.weather.models import Forecast
from groutjobs.weather.years import series_on_days
from groutjobs.windows.actions import search_pour_hours
from groutjobs.windows.models import PourHours
from tests.factories import make_forecast, make_machine, make_plan
from tests.weather.typical import greensboro


def planned(*, machine: Machine | None = None, state: str = PlanState.APPROVED, **columns: Any) -> PourPlan:
    """A plan with the result that the engineering gives for it."""
    plan = make_plan(machine=machine or make_machine(), **columns)
    plan.result = compute(plan, machine_whole().get(pk=plan.machine_id))
    plan.state = state
    plan.save()
    return plan_whole().get(pk=plan.pk)


def spring(plan: PourPlan, *, first_day: dt.date = dt.date(2027, 4, 5), days: int = 14) -> Forecast:
    """Two weeks of the typical year of Greensboro, with thirty days before them."""
    series = series_on_days(greensboro(), first_day, days, 30, plan.machine.site.tz)
    issued_at = dt.datetime(2027, 3, 1, tzinfo=dt.UTC)
    return add_forecast(site=plan.machine.site, source="tmy3", series=series, issued_at=issued_at, by=plan.made_by)


def searched(plan: PourPlan | None = None, forecast: Forecast | None = None, **asked: Any) -> PourHours:
    plan = plan or planned()
    forecast = forecast or make_forecast(site=plan.machine.site, hour_count=120)
    question: dict[str, Any] = {"plan": plan, "forecast": forecast, "material_c": 22.0, "by": plan.made_by}
    return search_pour_hours(**question | asked)


def codes_by_hour(found: PourHours) -> list[set[str]]:
    return [set(hour["codes"]) for hour in found.result["hours"]]
