"""From what the foundation takes its temperature before the forecast, and that the page says so."""

import datetime as dt

import pytest

from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.weather.queries import typical_hours_before
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import notes_of
from tests.factories import make_forecast
from tests.windows.asked import planned, searched, spring

pytestmark = pytest.mark.django_db
APRIL = dt.datetime(2028, 4, 10, tzinfo=dt.UTC)


def in_april(plan: PourPlan, **columns: int) -> Forecast:
    issued_at = APRIL - dt.timedelta(hours=6)
    return make_forecast(site=plan.machine.site, starts_at=APRIL, issued_at=issued_at, hour_count=96, **columns)


def start_note(found: PourHours, system: str = "metric") -> tuple[str, str]:
    codes = {"few_past_hours", "start_of_the_foundation"}
    (note,) = [note for note in notes_of(found, system) if note.code in codes]
    return note.code, note.message


def test_a_typical_year_of_the_site_stands_before_the_repeated_first_day() -> None:
    plan = planned()
    spring(plan)
    found = searched(plan, in_april(plan))
    told = found.result["inputs"]["forecast"]
    assert (told["past_hours_added"], told["typical_hours_added"], told["start_error_k"]) == (240, 480, 1.5)
    code, message = start_note(found)
    assert code == "few_past_hours"
    assert "0 past hours" in message
    assert "first day 10 times" in message
    assert "480 hours of the typical year" in message
    assert "1.5 K" in message
    assert "2.7 °F difference" in start_note(found, "us")[1]


def test_without_a_typical_year_only_the_first_day_is_repeated() -> None:
    plan = planned()
    spring(planned())  # of another site
    found = searched(plan, in_april(plan))
    told = found.result["inputs"]["forecast"]
    assert (told["past_hours_added"], told["typical_hours_added"], told["start_error_k"]) == (240, 0, 1.6)
    assert "typical year" not in start_note(found)[1]


def test_a_typical_year_moves_the_concrete_less_than_it_is_off() -> None:
    plan = planned()
    forecast = in_april(plan)
    without = searched(plan, forecast).result["series"]["concrete_c"]
    spring(plan)
    within = searched(plan, forecast).result["series"]["concrete_c"]
    assert within != without
    assert within == pytest.approx(without, abs=1.6)


def test_known_past_is_a_note_and_not_a_warning() -> None:
    plan = planned()
    found = searched(plan, spring(plan))
    assert found.result["inputs"]["forecast"]["start_error_k"] == 0.35
    code, message = start_note(found)
    assert code == "start_of_the_foundation"
    assert "720 past hours" in message


def test_a_reading_takes_the_error_out_of_the_note() -> None:
    plan = planned()
    found = searched(plan, in_april(plan), measured_concrete_c=20.0, measured_at=APRIL + dt.timedelta(hours=2))
    assert "off by" not in start_note(found)[1]


def test_the_hours_are_those_of_the_same_dates_up_to_the_hour_before() -> None:
    plan = planned()
    typical = spring(plan)
    found = typical_hours_before(plan.machine.site, APRIL, 48)
    first = round((dt.datetime(2027, 4, 8, tzinfo=dt.UTC) - typical.starts_at) / dt.timedelta(hours=1))
    assert found["temp_c"] == typical.values("temp_c")[first : first + 48]
    assert set(found) >= {"temp_c", "dew_point_c", "wind_km_h", "solar_w_m2", "cloud_ratio"}


def test_hours_that_the_typical_year_does_not_hold_end_the_run() -> None:
    plan = planned()
    typical = spring(plan)
    early = typical.starts_at.replace(year=2030) + dt.timedelta(hours=30)
    assert len(typical_hours_before(plan.machine.site, early, 720)["temp_c"]) == 30
    assert typical_hours_before(plan.machine.site, dt.datetime(2028, 9, 1, tzinfo=dt.UTC), 720) == {}


def test_the_end_of_february_of_a_leap_year_takes_the_hours_of_the_28th() -> None:
    plan = planned()
    spring(plan, first_day=dt.date(2027, 3, 5), days=3)
    found = typical_hours_before(plan.machine.site, dt.datetime(2028, 3, 2, tzinfo=dt.UTC), 96)["temp_c"]
    assert len(found) == 96
    assert found[24:48] == found[48:72]
