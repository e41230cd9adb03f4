"""A search on two spring weeks of a real typical year (NREL TMY3, Greensboro, North Carolina; ships with pvlib)."""

import datetime as dt

import pytest

from groutjobs.findings import Level
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import index_of, milestones_at, start_hour
from tests.weather.typical import cell
from tests.windows.asked import planned, searched, spring

pytestmark = pytest.mark.django_db


@pytest.fixture
def found() -> PourHours:
    plan = planned()
    return searched(plan, spring(plan), align_by_at=dt.datetime(2027, 4, 15, 6, tzinfo=plan.machine.site.tz))


def test_spring_has_acceptable_and_refused_hours(found: PourHours) -> None:
    hours = found.result["hours"]
    assert 5 < sum(hour["ok"] for hour in hours) < len(hours) / 2
    assert len(hours) == 14 * 24 - 2  # the last whole hours at which 70 min of placing still end inside the forecast


def test_each_refused_hour_says_why_by_how_much_and_by_which_source(found: PourHours) -> None:
    refused = [index for index, hour in enumerate(found.result["hours"]) if not hour["ok"]]
    for index in refused:
        blockers = [finding for finding in start_hour(found, index).findings if finding.level is Level.BLOCKER]
        assert blockers
        assert all(finding.source for finding in blockers)
        assert all(finding.margin is not None and finding.margin < 0 for finding in blockers)


def test_each_acceptable_hour_has_no_blocker(found: PourHours) -> None:
    good = [index for index, hour in enumerate(found.result["hours"]) if hour["ok"]]
    assert all(finding.level is not Level.BLOCKER for i in good for finding in start_hour(found, i).findings)


def test_the_air_margin_is_that_of_the_file(found: PourHours) -> None:
    """6 April 02:00 to 03:10 summer time is 01:00 to 02:10 standard time; the data sheet's least is 10 °C."""
    index = index_of(found, dt.datetime(2027, 4, 6, 6, tzinfo=dt.UTC))
    assert index is not None
    hours = [cell("04/06", clock, "Dry-bulb (C)") for clock in ("01:00", "02:00", "03:00")]
    coldest = min(*hours[:2], hours[1] + (hours[2] - hours[1]) / 6)
    air = next(row for row in found.result["hours"][index]["findings"] if row["code"] == "air_cold")
    assert coldest < 10.0
    assert air["margin"] == pytest.approx(coldest - 10.0, abs=0.001)


def test_a_limit_holds_from_the_time_that_it_names(found: PourHours) -> None:
    """Air that is too cold at one start is warm enough at the whole hour named for it, and not at the hour before."""
    hours = found.result["hours"]
    named = {row["holds_from"] for hour in hours for row in hour["findings"] if row["code"] == "air_cold"}
    indexes = [index_of(found, dt.datetime.fromisoformat(text)) for text in named if text]
    whole = [index for index in indexes if index is not None]
    assert len(whole) > 2
    assert all("air_cold" not in hours[index]["codes"] for index in whole)
    assert all("air_cold" in hours[index - 1]["codes"] for index in whole)


def test_concrete_swings_less_and_later_than_air(found: PourHours) -> None:
    series = found.result["series"]
    swing = {name: max(series[name]) - min(series[name]) for name in ("air_c", "concrete_c")}
    assert 0.3 * swing["air_c"] < swing["concrete_c"] < swing["air_c"]
    assert max(series["plate_c"]) > max(series["air_c"]) + 5.0  # bare steel in the sun


def test_runs_are_the_acceptable_hours_best_odds_first_then_the_earliest(found: PourHours) -> None:
    """Odds count in steps of 5 %, about two standard errors."""
    runs, hours = found.result["runs"], found.result["hours"]
    assert sum(run["last"] - run["first"] + 1 for run in runs) == sum(hour["ok"] for hour in hours)
    ranks = [(-round(run["odds"] / 0.05), run["first"]) for run in runs]
    assert ranks == sorted(ranks)
    assert all(run["odds"] == hours[run["best"]]["odds"] for run in runs)


def test_a_typical_year_is_drawn_about_with_the_spread_of_the_climate(found: PourHours) -> None:
    odds = found.result["odds"]
    assert (odds["samples"], odds["model"]["name"], odds["model"]["source"]) == (500, "typical year", "GROUTJOBS")
    assert odds["first_sd_k"] == odds["last_sd_k"] == 5.0
    shares = [hour["odds"] for hour in found.result["hours"]]
    assert all(0 <= share <= 1 for share in shares)
    assert 0.2 < max(shares) < 0.99  # five kelvin about a typical day leave nothing certain


def test_each_hour_names_the_rules_that_hold_least_often(found: PourHours) -> None:
    for hour in found.result["hours"]:
        shares = [row["odds"] for row in hour["odds_by_rule"]]
        assert shares == sorted(shares)
        assert not shares or hour["odds"] <= shares[0]
        assert hour["odds_error"] == pytest.approx((hour["odds"] * (1 - hour["odds"]) / 500) ** 0.5, abs=1e-4)
    late = index_of(found, dt.datetime(2027, 4, 14, 14, tzinfo=dt.UTC))
    assert late is not None
    assert {"code": "cure_align", "odds": 0.0} in found.result["hours"][late]["odds_by_rule"]


def test_a_late_start_misses_the_date_of_alignment(found: PourHours) -> None:
    late = index_of(found, dt.datetime(2027, 4, 14, 14, tzinfo=dt.UTC))
    early = index_of(found, dt.datetime(2027, 4, 8, 16, tzinfo=dt.UTC))
    assert late is not None
    assert early is not None
    assert "cure_align" in found.result["hours"][late]["codes"]
    assert "cure_align" not in found.result["hours"][early]["codes"]


def test_milestones_come_in_order_and_not_before_the_cure_at_23_degrees(found: PourHours) -> None:
    """Spring in the open never beats the data sheet's hours at 23 °C: 24 h to strip, 48 h to align."""
    at = {row.code: row.at for row in milestones_at(found, 84)}
    start = start_hour(found, 84).at
    assert at["strip"]
    assert at["jackscrews"]
    assert at["align"]
    assert at["strip"] < at["jackscrews"] < at["align"] == at["tension"]
    assert at["align"] - start > dt.timedelta(hours=48)


def test_the_reader_of_us_units_gets_the_same_findings(found: PourHours) -> None:
    metric, us = start_hour(found, 8), start_hour(found, 8, "us")
    assert [finding.code for finding in metric.findings] == [finding.code for finding in us.findings]
    assert "°F" in us.findings[0].message
    assert "°C" in metric.findings[0].message
