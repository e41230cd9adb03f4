"""Odds on the page and in the stored answer: the same forecast gives the same ones, told in plain words."""

import copy
import datetime as dt
import xml.etree.ElementTree as ET

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.windows.drawing import pour_hours_picture
from groutjobs.windows.models import PourHours
from groutjobs.windows.odds import odds_shown, share_in_short, share_words
from tests.factories import make_forecast
from tests.weather.asking import signed_in
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db


def page(found: PourHours, hour: int) -> str:
    url = reverse("windows:pour_hours", args=[found.plan_id]) + f"?search={found.pk}&hour={hour}"
    return signed_in(found.plan.machine.site, Role.CREW).get(url).content.decode()


def cool_search() -> PourHours:
    """Air and surfaces a few kelvin over the least of the data sheet: neither hopeless nor certain."""
    plan = planned()
    cool = {"temp_c": [13.0] * 96, "dew_point_c": [2.0] * 96}
    return searched(plan, make_forecast(site=plan.machine.site, hour_count=96, hours=cool), shift="ignored")


def test_the_same_forecast_gives_the_same_odds_again() -> None:
    first = cool_search()
    again = searched(first.plan, first.forecast, shift="ignored")
    assert first.result["odds"] == again.result["odds"]
    assert first.result["hours"] == again.result["hours"]
    other = searched(
        first.plan,
        make_forecast(
            site=first.plan.machine.site, hour_count=96, hours=first.forecast.hours, source_name="another service"
        ),
        shift="ignored",
    )
    assert other.result["odds"]["seed"] != first.result["odds"]["seed"]


def test_a_forecast_is_drawn_about_with_a_spread_that_grows() -> None:
    odds = cool_search().result["odds"]
    assert odds["model"]["name"] == "forecast"
    assert 1.7 <= odds["first_sd_k"] < odds["last_sd_k"] < 5.0


def test_hours_of_a_hall_typed_by_hand_err_less() -> None:
    plan = planned()
    plan.machine.foundation.exposure = "indoors"
    plan.machine.foundation.save()
    hall = make_forecast(site=plan.machine.site, hour_count=72, source="hand")
    assert searched(plan, hall).result["odds"]["model"]["name"] == "hall"


def test_the_page_tells_odds_error_and_the_weakest_rule() -> None:
    found = cool_search()
    index, hour = next((i, hour) for i, hour in enumerate(found.result["hours"]) if 0.1 < hour["odds"] < 0.9)
    text = " ".join(page(found, index).split())
    assert f"Odds: <b>{hour['odds']:.0%} ± {max(hour['odds_error'], 0.01):.0%}</b> that nothing comes to stand" in text
    labels = {rule["code"]: rule["label"] for rule in found.result["rules"]}
    weakest = hour["odds_by_rule"][0]
    assert f"Held least often: {labels[weakest['code']]} at least 10.0 °C <b>{weakest['odds']:.0%}</b>" in text
    assert "500 weathers were drawn about the forecast" in text
    assert f"odds {hour['odds']:.0%}" in text  # of the link of the hour


def test_a_rule_that_is_not_told_is_named() -> None:
    plan = planned()
    forecast = make_forecast(site=plan.machine.site, hour_count=72)
    del forecast.hours["rain_probability"]
    forecast.save()
    found = searched(plan, forecast)
    assert "Not counted, because the forecast does not tell: rain probability." in " ".join(page(found, 12).split())


def test_an_answer_of_an_older_engine_is_shown_without_odds() -> None:
    found = searched()
    result = copy.deepcopy(found.result)
    del result["odds"]
    for row in (*result["hours"], *result["runs"]):
        for name in ("odds", "odds_error", "odds_by_rule", "odds_left_out"):
            del row[name]
    PourHours.objects.filter(pk=found.pk).update(result=result)
    text = page(found, 4)
    assert "Best runs of hours" in text
    assert "Odds" not in text
    assert "odds that nothing" not in pour_hours_picture(result, "America/New_York")


def test_the_picture_has_a_column_for_each_run_of_odds() -> None:
    found = cool_search()
    root = ET.fromstring(pour_hours_picture(found.result, "America/New_York"))  # noqa: S314
    columns = [float(e.attrib["height"]) for e in root.iter() if e.attrib.get("fill") == "#8fb79c"]
    shares = [hour["odds"] for hour in found.result["hours"]]
    assert columns
    assert max(columns) == pytest.approx(46.0 * max(shares), abs=0.01)
    assert len(columns) <= sum(share > 0 for share in shares)


@pytest.mark.parametrize(
    ("odds", "words", "short"),
    [(1.0, "over 99%", ">99%"), (0.996, "over 99%", ">99%"), (0.826, "83%", "83%"), (0.002, "under 1%", "")],
)
def test_counted_shares_are_never_told_as_certain(odds: float, words: str, short: str) -> None:
    assert (share_words(odds), share_in_short(odds)) == (words, short)


def test_a_share_near_the_ends_has_no_error_in_print() -> None:
    found = searched()
    hour = found.result["hours"][4] | {"odds": 1.0, "odds_error": 0.0, "odds_by_rule": [], "odds_left_out": []}
    shown = odds_shown(found.result, hour)
    assert shown is not None
    assert (shown.share, shown.error) == ("over 99%", "")


def test_each_date_of_an_acceptable_hour_stands_with_its_early_and_its_late_one() -> None:
    """P10 before the date on the forecast, P90 after it, by hours for air that may err by two kelvin."""
    plan = planned()
    found = searched(plan, make_forecast(site=plan.machine.site, hour_count=240))
    row = next(row for row in found.result["milestones"] if row["code"] == "align")
    index = next(index for index, hour in enumerate(found.result["hours"]) if hour["ok"])
    early, at, late = (dt.datetime.fromisoformat(row[name][index]) for name in ("early", "at", "late"))
    assert dt.timedelta(hours=0.5) < at - early < dt.timedelta(hours=24)
    assert dt.timedelta(hours=0.5) < late - at < dt.timedelta(hours=24)
    assert all(row["early"][other] is None for other, hour in enumerate(found.result["hours"]) if not hour["ok"])
    assert "P90" in page(found, index)
