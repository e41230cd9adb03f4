"""Past the end of a forecast the typical year goes on: the joint, how it fades, and what dates rest on it."""

import datetime as dt
import math

import numpy as np
import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.engineering.psychrometrics import relative_humidity_from_dew_point
from groutjobs.engineering.sky import Exposure
from groutjobs.planning.models import PourPlan
from groutjobs.scheduling.forecast_error import CLIMATE_ERRORS, FORECAST_ERRORS, errors_past_the_end
from groutjobs.weather.models import Forecast
from groutjobs.windows.longer import longer
from tests.factories import make_forecast
from tests.weather.asking import signed_in
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db
HOURS = 120


@pytest.fixture
def plan() -> PourPlan:
    return planned()


@pytest.fixture
def forecast(plan: PourPlan) -> Forecast:
    """Five days of 20 °C."""
    hours = {"temp_c": [20.0] * HOURS, "dew_point_c": [8.0] * HOURS, "rain_probability": [0.3] * HOURS}
    return make_forecast(site=plan.machine.site, hour_count=HOURS, hours=hours)


def typical(forecast: Forecast, *, days: int = 20, temp_c: float = 12.0) -> Forecast:
    """A typical year of the site, read for days about the forecast, of one temperature."""
    count = days * 24
    return make_forecast(
        site=forecast.site,
        source="tmy3",
        starts_at=forecast.starts_at.replace(year=forecast.starts_at.year - 1),
        hour_count=count,
        hours={"temp_c": [temp_c] * count, "dew_point_c": [2.0] * count},
    )


def test_typical_hours_follow_the_last_one_and_the_difference_at_the_joint_fades(forecast: Forecast) -> None:
    """8 K warmer on the last day: 8 K times exp(-1/48) one hour later, times exp(-48/48) two days later."""
    typical(forecast)
    made = longer(forecast, forecast.site, Exposure.OPEN)
    assert (made.n_hours, made.typical_h) == (HOURS - 1, 240)
    after = made.forecast.values("temp_c")[HOURS:]
    assert after[0] == pytest.approx(12.0 + 8.0 * math.exp(-1 / 48))
    assert after[47] == pytest.approx(12.0 + 8.0 / math.e)
    assert made.forecast.values("temp_c")[:HOURS] == [20.0] * HOURS
    dew_point_c = made.forecast.values("dew_point_c")[HOURS + 47]
    assert dew_point_c == pytest.approx(2.0 + 6.0 / math.e)
    humidity = made.forecast.values("relative_humidity")[HOURS + 47]
    assert humidity == pytest.approx(relative_humidity_from_dew_point(after[47], dew_point_c))
    assert made.forecast.values("rain_probability")[HOURS:] == [0.0] * 240
    assert {len(rows) for rows in made.forecast.hours.values() if isinstance(rows, list)} == {HOURS + 240}


def test_only_days_that_were_read_go_on(forecast: Forecast) -> None:
    typical(forecast, days=7)
    assert longer(forecast, forecast.site, Exposure.OPEN).typical_h == 48


@pytest.mark.parametrize("exposure", list(Exposure))
def test_nothing_follows_without_a_typical_year_nor_in_a_hall(forecast: Forecast, exposure: Exposure) -> None:
    assert longer(forecast, forecast.site, exposure).typical_h == 0
    year = typical(forecast)
    assert (longer(forecast, forecast.site, exposure).typical_h > 0) == (exposure is not Exposure.INDOORS)
    assert longer(year, forecast.site, exposure).typical_h == 0


def test_a_late_start_has_its_dates_and_says_what_they_rest_on(plan: PourPlan, forecast: Forecast) -> None:
    short = searched(plan, forecast)
    typical(forecast, temp_c=20.0)
    found = searched(plan, forecast)
    align = [next(row for row in one.result["milestones"] if row["code"] == "align")["at"] for one in (short, found)]
    assert len(align[0]) == len(align[1]) == len(found.result["hours"])
    assert align[0][-1] is None
    assert align[1][-1] is not None
    assert dt.datetime.fromisoformat(align[1][-1]) > forecast.ends_at
    assert align[1][0] == align[0][0]  # reached within the forecast, so nothing changes
    assert len(found.result["series"]["at"]) == HOURS
    assert found.result["inputs"]["typical_hours_after"] == 240
    assert "typical_year_after" in {note["code"] for note in found.result["notes"]}
    assert found.result["odds"]["model"]["name"] == "forecast, then typical year"
    last = max(index for index, hour in enumerate(found.result["hours"]) if hour["ok"])
    page = signed_in(plan.machine.site, Role.CREW).get(
        reverse("windows:pour_hours", args=[plan.pk]), {"search": found.pk, "hour": last}
    )
    assert "past the forecast, by the typical year" in page.content.decode()


def test_a_cold_typical_week_after_the_forecast_makes_its_last_starts_late(plan: PourPlan, forecast: Forecast) -> None:
    """The same forecast before typical weeks of 20 and of 12 °C: its last start is stripped hours later."""
    typical(forecast, temp_c=20.0)
    mild = _stripped_at(plan, forecast)
    typical(forecast, temp_c=12.0, days=21)  # the one that reaches further is taken
    assert _stripped_at(plan, forecast) - mild > dt.timedelta(hours=3)


def _stripped_at(plan: PourPlan, forecast: Forecast) -> dt.datetime:
    rows = searched(plan, forecast).result["milestones"]
    return dt.datetime.fromisoformat(next(row["at"][-1] for row in rows if row["code"] == "strip"))


def test_errors_are_those_of_the_forecast_to_its_end_and_of_the_climate_after_it() -> None:
    model = errors_past_the_end(FORECAST_ERRORS, 132.0)
    spread = model.air_spread_k
    leads_h = np.array([24.0, 120.0, 132.0, 133.0, 300.0])
    usual = FORECAST_ERRORS.air_spread_k(leads_h)
    assert spread(leads_h)[:3] == pytest.approx(usual[:3])
    assert spread(leads_h)[3:] == pytest.approx([CLIMATE_ERRORS.air_sd_k[0]] * 2)
    assert model.time_constant_h == FORECAST_ERRORS.time_constant_h
