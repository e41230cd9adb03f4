"""A score is taken over into the odds by an engineer, kept for good, and told beside the odds."""

import datetime as dt
from collections.abc import Iterator

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.scheduling.forecast_error import WEIGHT_OF_USUAL_H
from groutjobs.weather.models import LearnedSpread
from groutjobs.weather.queries import learned_spread
from groutjobs.weather.scoring import DayAhead
from groutjobs.weather.spread_actions import use_score
from groutjobs.windows.models import PourHours
from tests.factories import make_cure_readings, make_forecast, make_person, make_placed_pour, make_site
from tests.weather.asking import signed_in, stranger
from tests.windows.asked import planned, searched

pytestmark = pytest.mark.django_db
STARTS_AT = dt.datetime(2026, 5, 4, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def clock() -> Iterator[None]:
    with time_machine.travel(dt.datetime(2026, 5, 12, tzinfo=dt.UTC), tick=False):
        yield


def scored_site(hours: int = 120) -> Site:
    pour = make_placed_pour(placed_at=STARTS_AT)
    foundation = pour.plan.machine.foundation
    foundation.exposure = "open"
    foundation.save()
    make_cure_readings(pour=pour, temps=[(float(hour), 20.0) for hour in range(hours)], probe="air")
    site = pour.plan.machine.site
    make_forecast(site=site, source="us_nws", hour_count=168, starts_at=STARTS_AT, issued_at=STARTS_AT)
    return site


def use_url(site: Site) -> str:
    return reverse("board:forecast_score_use", args=[site.pk])


def days_of_seven(spread_k: float) -> list[DayAhead]:
    return [DayAhead(number, 480, 0.4, spread_k) for number in range(1, 8)]


def test_an_engineer_takes_the_score_over_and_the_page_says_so() -> None:
    site = scored_site()
    text = signed_in(site, Role.ENGINEER).post(use_url(site), follow=True).content.decode()
    kept = learned_spread(site)
    assert kept is not None
    assert (kept.pair_count, [day["bias_k"] for day in kept.days]) == (120, [2.0] * 5)
    assert "The odds use a score of 120 hours" in text
    assert f"the usual spread as {WEIGHT_OF_USUAL_H} hours" in text
    assert Event.objects.filter(kind="forecast_spread.learned", site_id=site.pk).count() == 1


def test_too_few_pairs_are_refused_in_words() -> None:
    site = scored_site(hours=40)
    text = signed_in(site, Role.ENGINEER).post(use_url(site), follow=True).content.decode()
    assert "rests on 40 pairs" in text
    assert learned_spread(site) is None
    with pytest.raises(NotAllowed):
        use_score(site=site, pair_count=200, days=[], by=make_person())


@pytest.mark.parametrize(("bias_k", "spread_k"), [(10.1, 1.0), (-10.1, 1.0), (0.0, 10.1)])
def test_a_probe_that_hung_elsewhere_does_not_reach_the_odds(bias_k: float, spread_k: float) -> None:
    with pytest.raises(NotAllowed, match="set its readings aside"):
        use_score(site=make_site(), pair_count=200, days=[DayAhead(1, 200, bias_k, spread_k)], by=make_person())
    assert not LearnedSpread.objects.exists()


def test_only_an_engineer_of_the_site_takes_it_over() -> None:
    site = scored_site()
    assert signed_in(site, Role.CREW_LEAD).post(use_url(site)).status_code == 403
    assert stranger().post(use_url(site)).status_code in (403, 404)
    assert not LearnedSpread.objects.exists()


def test_what_was_taken_over_cannot_be_changed() -> None:
    kept = use_score(site=make_site(), pair_count=400, days=days_of_seven(1.0), by=make_person())
    for change in (lambda: LearnedSpread.objects.filter(pk=kept.pk).update(pair_count=1), kept.delete):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


def found_with(spread_k: float | None, source: str = "us_nws") -> PourHours:
    plan = planned()
    site = plan.machine.site
    if spread_k is not None:
        use_score(site=site, pair_count=3360, days=days_of_seven(spread_k), by=plan.made_by)
    return searched(plan, make_forecast(site=site, source=source, hour_count=120))


def test_a_search_of_a_live_forecast_uses_it_and_keeps_what_it_used() -> None:
    good, poor, usual = (found_with(spread_k).result["odds"] for spread_k in (1.0, 3.5, None))
    assert good["first_sd_k"] < usual["first_sd_k"] < poor["first_sd_k"]
    assert good["model"]["name"] == "learned at the site"
    assert good["learned"]["pairs"] == 3360
    assert "learned" not in usual


def test_hours_that_no_service_brought_keep_the_usual_spread() -> None:
    odds = found_with(1.0, source="csv").result["odds"]
    assert (odds["model"]["name"], "learned" in odds) == ("forecast", False)


def test_the_page_names_pairs_and_mean_error_beside_the_odds() -> None:
    found = found_with(1.0)
    client = signed_in(found.plan.machine.site, Role.CREW)
    text = client.get(reverse("windows:pour_hours", args=[found.plan_id])).content.decode()
    assert "Spread learned from 3360 pairs of this site" in text
    assert "0.4 K on day 7" in text
