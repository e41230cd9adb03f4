"""The range of each date on the Cure page: what it rests on, how it moves, and when there is none."""

import datetime as dt
import json
import math
from typing import Any

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.curing.calc.cure_findings import rate_findings
from groutjobs.curing.calc.rate import Rate
from groutjobs.curing.drawing import cure_picture
from groutjobs.curing.queries import cure_of
from groutjobs.engineering.cure_belief import CureBelief
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from tests.curing.asking import fresh_pour, signed_in, site_of
from tests.curing.test_cure_clock import codes, forecast, hours_of, milestone, pour_with, state_of, steady
from tests.factories import PLACED_AT, make_cure_readings

pytestmark = pytest.mark.django_db
CODES = ("strip", "jackscrews", "tension", "align", "full_cure")


def warmed(pour: Pour, peak_at_h: float, *, peak_k: float = 8.0, hours: int = 24, air: bool = True) -> None:
    """Readings of grout that warms itself and peaks at an hour after placing; the first batch was two hours before."""
    at_h = [hour / 2 for hour in range(-2, 2 * hours + 1)]
    span_h = peak_at_h + 1.0
    grout = [(at, 20.0 + peak_k * (at + 1) / span_h * math.exp(1 - (at + 1) / span_h)) for at in at_h]
    make_cure_readings(pour=pour, temps=grout)
    make_cure_readings(pour=pour, temps=[(at, 20.0) for at in at_h[:3]], probe="concrete")
    if air:
        make_cure_readings(pour=pour, temps=[(at, 20.0) for at in at_h], probe="air")


def rate_of(peak_at_h: float, **given: Any) -> dict[str, Any]:
    pour = pour_with()
    warmed(pour, peak_at_h, **given)
    rate: dict[str, Any] = state_of(pour, 24.0)["rate"]
    return rate


def test_every_milestone_has_its_early_middle_and_late_hour() -> None:
    pour = pour_with()
    steady(pour, 23.0, 20)
    state = state_of(pour, 20.0)
    for code in CODES:
        band = milestone(state, code)["band"]
        assert band["p10_h"] < band["p50_h"] < band["p90_h"]
        assert dt.datetime.fromisoformat(band["p90_at"]) > dt.datetime.fromisoformat(band["p10_at"])
    assert json.loads(json.dumps(state))["rate"] == state["rate"]


def test_before_the_grout_tells_anything_the_range_is_that_of_all_pours() -> None:
    """At the reference hours are needed age over rate, a log-normal number of spread 0.3: 512 cures tell it to 5 %."""
    pour = pour_with()
    steady(pour, 23.0, 2)
    state = state_of(pour, 2.0)
    band = milestone(state, "tension")["band"]
    assert state["rate"]["rests_on"] == ["data sheet"]
    assert (state["rate"]["ratio"], state["rate"]["low_ratio"]) == pytest.approx((1.0, math.exp(-1.2816 * 0.3)))
    assert band["p50_h"] == pytest.approx(48.0, rel=0.05)
    assert band["p90_h"] == pytest.approx(48.0 * math.exp(1.2816 * 0.3), rel=0.06)
    assert band["way"] == "held"


def test_grout_that_warms_early_cures_faster_than_grout_that_warms_late() -> None:
    early, late = rate_of(4.0), rate_of(12.0, peak_k=4.0)
    assert late["ratio"] < 1.0 < early["ratio"]
    for rate in (early, late):
        assert rate["rests_on"][1].startswith("grout temperature: ")
        assert rate["high_ratio"] / rate["low_ratio"] < 0.95 * math.exp(2 * 1.2816 * 0.3)


def test_a_slow_pour_is_later_and_says_so_where_the_clock_has_passed() -> None:
    pour = pour_with()
    warmed(pour, 20.0, peak_k=2.5, hours=34)
    reached_h = hours_of(milestone(state_of(pour, 34.0), "strip")["reached_at"])
    state = state_of(pour, reached_h + 0.1)
    assert milestone(state, "strip")["band"]["p50_h"] > reached_h + 0.1
    assert "cure.slower" in codes(state)


@pytest.mark.parametrize(("log_rate", "told"), [(-0.2, set()), (-0.3, {"cure.slow"}), (0.3, set())])
def test_a_pour_that_is_slower_in_nine_of_ten_likely_cures_is_a_warning(log_rate: float, told: set[str]) -> None:
    """With a spread of 0.2, nine in ten lie below 1 where the middle lies below exp(-1.2816 · 0.2) = exp(-0.256)."""
    covariance = np.diag([0.01, 0.01, 0.01, 1.0, 0.2**2])
    belief = CureBelief.after(np.array([4.6, 2.9, 0.0, 58.0, log_rate]), covariance, ("grout temperature: 9 readings",))
    assert {item.code for item in rate_findings(Rate(belief=belief), "", has_curve=True)} == told


def test_the_air_ahead_widens_the_range_by_the_spread_of_its_forecast() -> None:
    widths = []
    for with_forecast in (False, True):
        pour = pour_with()
        steady(pour, 20.0, 4)
        if with_forecast:
            forecast(pour, 20.0, 400)
        band = milestone(state_of(pour, 4.0), "tension")["band"]
        assert band["way"] in (("air", "held") if with_forecast else ("held",))
        widths.append(band["p90_h"])
    assert widths[1] >= widths[0]


def test_where_the_forecast_ends_too_early_the_late_date_is_left_open() -> None:
    """The middle is near 48 h and the late date near 70 h; 56 h lie four spreads of 512 draws from either."""
    pour = pour_with()
    forecast(pour, 23.0, 56)
    state = state_of(pour, 1.0)
    band = milestone(state, "tension")["band"]
    assert band["p10_at"] is not None
    assert (band["p90_h"], band["p90_at"]) == (None, None)
    assert milestone(state, "full_cure")["band"] is None


@pytest.mark.parametrize(
    ("given", "words"),
    [({"air": False}, "the air of the first hours is not known"), ({"hours": 1}, "4 readings an hour apart")],
)
def test_it_says_why_grout_temperature_does_not_narrow_the_range(given: dict[str, Any], words: str) -> None:
    rate = rate_of(5.0, **given)
    assert words in rate["why_not"]
    assert rate["rests_on"] == ["data sheet"]


def test_a_forecast_of_those_hours_stands_in_for_readings_of_the_air() -> None:
    pour = pour_with()
    warmed(pour, 5.0, air=False)
    forecast(pour, 20.0, 100, starts_at=PLACED_AT - dt.timedelta(hours=5))
    assert state_of(pour, 24.0)["rate"]["why_not"] == ""


def test_grout_that_warms_as_no_rate_explains_is_a_finding_and_not_a_range() -> None:
    pour = pour_with()
    warmed(pour, 10.0, peak_k=40.0)
    state = state_of(pour, 24.0)
    assert "cure.unlike" in codes(state)
    assert state["rate"]["rests_on"] == ["data sheet"]
    assert "fits no rate" in state["rate"]["why_not"]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([[23.0, 24.0, 60.0]], "no strength curve"),
        ([[15.0, 24.0, 60.0], [23.0, 24.0, 62.0], [23.0, 48.0, 45.0]], "older and warmer grout is stronger"),
    ],
)
def test_rows_that_carry_no_fit_give_single_dates_and_a_note(rows: list[list[float]], words: str) -> None:
    pour = pour_with(strength=rows)
    steady(pour, 23.0, 10)
    state = state_of(pour, 10.0)
    assert state["rate"] is None
    assert milestone(state, "strip")["expected_at"] is not None
    assert milestone(state, "strip")["band"] is None
    messages = [item["message"] for item in state["findings"] if item["code"] in ("cure.no_range", "cure.no_strength")]
    assert any(words in message or "lower than" in message for message in messages)
    assert "cure.no_range" in codes(state)


def test_the_same_readings_give_the_same_range_at_every_look() -> None:
    pour = pour_with()
    warmed(pour, 5.0)
    first, again = state_of(pour, 24.0), state_of(pour, 26.0)
    assert first["rate"] == again["rate"]
    assert milestone(first, "full_cure")["band"]["p10_h"] == milestone(again, "full_cure")["band"]["p10_h"]


def test_the_page_tells_rate_range_and_what_they_rest_on() -> None:
    pour = fresh_pour(24.0)
    warmed(pour, 5.0)
    address = reverse("curing:cure_detail", args=[pour.pk])
    text = signed_in(site_of(pour), Role.CREW).get(address).content.decode()
    assert "times</b> the rate of its data sheet" in text
    assert "Late: 9 in 10 there by" in text
    assert "Rests on: data sheet; grout temperature: " in text
    assert "age of 8 in 10 likely cures" in text


def test_a_state_stored_before_there_were_ranges_is_still_drawn() -> None:
    pour = pour_with()
    steady(pour, 23.0, 20)
    state = state_of(pour, 20.0)
    old = {key: value for key, value in state.items() if key not in ("rate", "cement")}
    old["series"] = {key: value for key, value in state["series"].items() if key != "age_band"}
    old["milestones"] = [{k: v for k, v in item.items() if k != "band"} for item in state["milestones"]]
    assert "<svg" in cure_picture(old, zone="UTC")
    assert "8 in 10" in cure_picture(state, zone="UTC")
    assert "8 in 10" not in cure_picture(old, zone="UTC")


def test_the_state_takes_three_queries() -> None:
    pour = pour_with()
    warmed(pour, 5.0)
    row = pour_whole().get(pk=pour.pk)
    with CaptureQueriesContext(connection) as queries:
        cure_of(row)
    assert len(queries) == 3
