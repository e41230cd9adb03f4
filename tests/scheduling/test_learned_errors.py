"""The spread of a site's forecasts: shrunk by hand, found again from known errors, the usual where little is known."""

import math

import numpy as np
import pytest

from groutjobs.errors import OutOfRange, Unusable
from groutjobs.scheduling.forecast_error import FORECAST_ERRORS, ScoredDay, draw_weathers, learned_errors
from groutjobs.weather.scoring import Pair, scores
from tests.scheduling.weather_for_tests import some_weather


def scored(*, number: int = 1, count: int = 120, bias_k: float = 0.0, spread_k: float = 1.0) -> ScoredDay:
    return ScoredDay(number=number, count=count, bias_k=bias_k, spread_k=spread_k)


def site_days(true_k: float, *, seed: int = 3, n_days: int = 60) -> list[ScoredDay]:
    """Sixty forecasts of seven days with independent errors of a known standard deviation, four hours of each day."""
    random = np.random.default_rng(seed)
    leads = [float(lead) for _ in range(n_days) for lead in range(3, 168, 6)]
    found = scores(Pair(lead, float(random.normal(0.0, true_k))) for lead in leads)
    return [scored(number=row.number, count=row.count, bias_k=row.bias_k, spread_k=row.spread_k) for row in found]


def test_as_many_hours_as_the_usual_weighs_are_half() -> None:
    """120 h of 1.0 K against 1.7 K: sqrt((1 + 2.89) / 2). 40 h on day 2 count a quarter; usual at 1.5 d is 1.8 K."""
    model = learned_errors([scored(), scored(number=2, count=40, spread_k=4.0)])
    assert model.lead_days[:4] == (0.5, 1.5, 2.5, 3.0)
    assert model.air_sd_k[0] == pytest.approx(math.sqrt((1.0 + 2.89) / 2))
    assert model.air_sd_k[1] == pytest.approx(math.sqrt(0.25 * 16 + 0.75 * 3.24))


def test_beyond_the_last_day_the_usual_holds() -> None:
    model = learned_errors([scored()])
    leads_h = np.array([36.0, 60.0, 120.0, 240.0, 400.0])
    assert model.air_spread_k(leads_h) == pytest.approx(FORECAST_ERRORS.air_spread_k(leads_h))


def test_a_mean_error_widens_the_spread() -> None:
    """3 K about a mean of 4 K: mean square 25."""
    model = learned_errors([scored(bias_k=4.0, spread_k=3.0)])
    assert model.air_sd_k[0] == pytest.approx(math.sqrt((25.0 + 2.89) / 2))


def test_the_dew_point_errs_in_the_same_ratio() -> None:
    model = learned_errors([scored()])
    assert model.dew_point_sd_k[0] / 1.9 == pytest.approx(model.air_sd_k[0] / 1.7)


@pytest.mark.parametrize("true_k", [1.0, 3.5])
def test_a_known_error_is_found_again(true_k: float) -> None:
    """240 hours of each day weigh two thirds: the model lies between the truth and what a third of the usual adds, and
    within four standard errors, 4/sqrt(480) = 18 %, of the mix worked out from the truth."""
    model = learned_errors(site_days(true_k))
    middles_h = np.array([12.0, 36.0, 60.0, 84.0, 108.0, 132.0, 156.0])
    mixed_k = np.sqrt(2 / 3 * true_k**2 + 1 / 3 * FORECAST_ERRORS.air_spread_k(middles_h) ** 2)
    assert model.air_spread_k(middles_h) == pytest.approx(mixed_k, rel=0.18)
    usual_off_k = np.abs(FORECAST_ERRORS.air_spread_k(middles_h) - true_k)
    assert np.abs(model.air_spread_k(middles_h) - true_k).mean() < usual_off_k.mean()


def test_a_better_forecast_makes_cold_less_likely() -> None:
    """12 °C told, 10 °C asked: with small errors cold hours are rarer. The same question has the same draws."""
    weather = some_weather(120, temp_c=12.0)
    good, poor, again = (
        draw_weathers(weather, learned_errors(site_days(true_k)), lead_h=0.0, seed=5) for true_k in (1.0, 3.5, 1.0)
    )
    assert (good.temp_c < 10.0).mean() < 0.6 * (poor.temp_c < 10.0).mean()
    assert np.array_equal(good.temp_c, again.temp_c)


def test_too_few_hours_leave_the_usual() -> None:
    assert learned_errors([]) is FORECAST_ERRORS
    assert learned_errors([scored(count=11)]) is FORECAST_ERRORS


@pytest.mark.parametrize(
    "change",
    [{"number": 0}, {"number": 15}, {"count": -1}, {"bias_k": 16.0}, {"spread_k": -0.1}, {"spread_k": math.nan}],
)
def test_an_impossible_score_is_refused(change: dict[str, float]) -> None:
    row = {"number": 1, "count": 120, "bias_k": 0.0, "spread_k": 1.0} | change
    with pytest.raises(OutOfRange):
        learned_errors([ScoredDay(**row)])  # type: ignore[arg-type]


def test_a_day_that_comes_twice_is_refused() -> None:
    with pytest.raises(Unusable):
        learned_errors([scored(), scored()])
