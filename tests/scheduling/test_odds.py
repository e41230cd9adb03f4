"""Odds: certain without errors, monotone in limits, the same for the same draws, and open about what is left out."""

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.sky import Exposure
from groutjobs.errors import Unusable
from groutjobs.scheduling.conditions import HourlyWeather, Predicted
from groutjobs.scheduling.drawn import Drawn
from groutjobs.scheduling.forecast_error import FORECAST_ERRORS, NO_ERRORS, DrawnWeather, draw_weathers
from groutjobs.scheduling.limits import default_limits
from groutjobs.scheduling.odds import Odds
from groutjobs.scheduling.spans import smallest_of_many, smallest_within
from groutjobs.scheduling.windows import PourHours, find_pour_hours
from tests.scheduling.drawn_for_tests import Place
from tests.scheduling.weather_for_tests import some_need, some_weather

LIMITS = default_limits("epoxy", Exposure.OPEN)


@cache
def open_place() -> Place:
    return Place()


@cache
def open_drawn() -> Drawn:
    return open_place().drawn(open_place().draw(n_samples=60))


def told(place: Place, drawn: Drawn, answer: PourHours | None = None) -> Odds:
    odds = (answer or place.answer).with_odds(drawn).odds
    assert odds is not None
    return odds


@pytest.mark.parametrize("due_h", [60.0, 150.0, 238.0])
def test_without_errors_odds_are_the_answer_of_the_forecast(due_h: float) -> None:
    place = replace(open_place(), due_h=due_h)
    odds = told(place, place.drawn(place.draw(NO_ERRORS, n_samples=2)))
    assert odds.all_hold.tolist() == place.answer.acceptable.astype(float).tolist()
    assert 0 < place.answer.acceptable.sum() < place.answer.n_starts
    assert (odds.standard_error == 0).all()


def test_the_same_draws_give_the_same_odds_in_any_order() -> None:
    place = open_place()
    air = place.draw(n_samples=60)
    order = np.random.default_rng(5).permutation(60)
    turned = DrawnWeather(
        **{
            field.name: rows[order] if (rows := getattr(air, field.name)).ndim == 2 else rows
            for field in fields(DrawnWeather)
        }
    )
    first, again, other = (told(place, place.drawn(each)) for each in (air, place.draw(n_samples=60), turned))
    assert np.array_equal(first.all_hold, again.all_hold)
    assert first.all_hold == pytest.approx(other.all_hold, abs=1 / 60 + 1e-9)  # one weather may stand on an edge
    assert np.mean(first.all_hold != other.all_hold) < 0.02


def test_all_rules_together_hold_no_more_often_than_any_alone() -> None:
    odds = told(open_place(), open_drawn())
    assert {"plate_cold", "plate_dew_point", "rain_likely", "cure_align"} <= set(odds.by_rule)
    assert "wind" not in odds.by_rule  # only asks for a decision
    assert (odds.all_hold <= np.min(list(odds.by_rule.values()), axis=0) + 1e-12).all()
    assert ((odds.all_hold > 0.1) & (odds.all_hold < 0.9)).any()


def test_deciding_rules_are_those_that_hold_least_often() -> None:
    odds = told(open_place(), open_drawn())
    for hour in (0, 30, 90, 120):
        found = odds.deciding(hour)
        shares = [share for _, share in found]
        assert shares == sorted(shares)
        assert len(found) <= 3
        if found:
            assert shares[0] == min(float(row[hour]) for row in odds.by_rule.values())


@given(st.floats(0.0, 8.0), st.sampled_from(["plate_cold", "concrete_dew_point", "air_hot"]))
def test_a_stricter_limit_never_raises_the_odds(stricter_k: float, code: str) -> None:
    place = open_place()
    drawn = open_drawn()
    limits = [
        replace(limit, value=limit.value + (stricter_k if limit.is_minimum else -stricter_k))
        if limit.code == code
        else limit
        for limit in place.answer.limits
    ]
    usual = told(place, drawn)
    strict = told(place, drawn, replace(place.answer, limits=tuple(limits)))
    assert (strict.all_hold <= usual.all_hold).all()
    assert (strict.by_rule[code] <= usual.by_rule[code]).all()


def test_more_time_to_the_alignment_never_lowers_the_odds() -> None:
    place, later = open_place(), replace(open_place(), due_h=160.0)
    air = place.draw(n_samples=60)
    early, late = (told(each, each.drawn(air)).by_rule["cure_align"] for each in (place, later))
    assert (late >= early).all()
    assert (late > early).any()


def as_drawn(weather: HourlyWeather, air: DrawnWeather, surface_c: float = 22.0) -> Drawn:
    """Surfaces that the errors leave alone."""
    still = np.full((air.n_samples, weather.n_hours + 1), surface_c)
    return Drawn(air=air, predicted=Predicted(concrete_c=still, plate_c=still), in_time={})


def searched(weather: HourlyWeather) -> PourHours:
    still: Floats = np.full(weather.n_hours + 1, 22.0)
    return find_pour_hours(weather, Predicted(concrete_c=still, plate_c=still), some_need(), LIMITS)


def test_the_odds_of_one_limit_are_those_of_the_normal_distribution() -> None:
    """Air 10.0 + 1.7 K on a forecast that errs by 1.7 K: one standard deviation above the limit. At the single hour
    of a short placement the odds are 84.1 % (normal distribution); 20 000 draws know them to 0.26 %, four of these."""
    weather = some_weather(temp_c=11.7, humidity=0.3)
    air = draw_weathers(weather, FORECAST_ERRORS, lead_h=0.0, seed=4, n_samples=20_000)
    answer = find_pour_hours(
        weather,
        Predicted(concrete_c=np.full(49, 22.0), plate_c=np.full(49, 22.0)),
        some_need(placement_h=0.001),
        LIMITS,
    )
    odds = answer.with_odds(as_drawn(weather, air)).odds
    assert odds is not None
    assert odds.by_rule["air_cold"][5] == pytest.approx(0.8413, abs=0.011)
    assert odds.standard_error[5] == pytest.approx(np.sqrt(0.8413 * 0.1587 / 20_000), rel=0.05)


def test_it_stays_dry_as_often_as_the_forecast_says() -> None:
    """One hour with 30 % chance of rain; the span of a start that ends before it is dry in every weather."""
    rain: Floats = np.zeros(49)
    rain[20] = 0.3
    weather = some_weather(rain_probability=rain)
    air = draw_weathers(weather, replace(NO_ERRORS, draws_rain=True), lead_h=0.0, seed=4, n_samples=4000)
    odds = searched(weather).with_odds(as_drawn(weather, air)).odds
    assert odds is not None
    assert odds.by_rule["rain_likely"][[10, 20, 21]] == pytest.approx([1.0, 0.7, 1.0], abs=0.03)


def test_rain_that_is_not_told_is_left_out_and_said_so() -> None:
    weather = some_weather(rain_probability=np.full(49, np.nan))
    air = draw_weathers(weather, NO_ERRORS, lead_h=0.0, seed=1, n_samples=3)
    odds = searched(weather).with_odds(as_drawn(weather, air)).odds
    assert odds is not None
    assert odds.left_out_at(0) == ["rain_likely"]
    assert odds.all_hold[0] == 1.0


def test_what_weighs_as_a_blocker_when_it_is_not_known_counts_against_the_start() -> None:
    """Concrete hotter than the hottest row of the data sheet: the working life there is not known."""
    weather = some_weather()
    air = draw_weathers(weather, NO_ERRORS, lead_h=0.0, seed=1, n_samples=3)
    odds = searched(weather).with_odds(as_drawn(weather, air, surface_c=37.0)).odds
    assert odds is not None
    assert odds.by_rule["working_life_too_short"][0] == 0.0
    assert odds.left_out == {}


def test_a_date_that_the_draws_do_not_tell_of_is_refused() -> None:
    place = open_place()
    drawn = place.drawn(place.draw(n_samples=5))
    with pytest.raises(Unusable, match="do not tell where its date is met"):
        place.answer.with_odds(replace(drawn, in_time={}))


def test_runs_are_ranked_by_odds_in_steps_then_by_time() -> None:
    place = open_place()
    answer = place.answer.with_odds(place.drawn(place.draw(n_samples=200)))
    runs = answer.pour_windows()
    ranks = [(-round((run.odds or 0.0) / 0.05), run.first_hour) for run in runs]
    assert len(set(ranks)) > 2
    assert ranks == sorted(ranks)
    assert answer.odds is not None
    for run in runs:
        inside = answer.odds.all_hold[run.first_hour : run.last_hour + 1]
        assert inside.max() - (run.odds or 0.0) <= 0.05


curves = st.lists(st.integers(-5, 5), min_size=4, max_size=30).map(lambda values: np.array(values, dtype=np.float64))


@given(curves, st.sampled_from([0.25, 1.0, 1.75, 2.0, 3.4, 9.0, 50.5]))
def test_smallest_of_many_equals_that_of_each(values: Floats, length_h: float) -> None:
    many = np.stack([values, -values, values[::-1]])
    expected = np.stack([smallest_within(row, length_h, len(values))[0] for row in many])
    assert smallest_of_many(many, length_h, len(values)) == pytest.approx(expected)
