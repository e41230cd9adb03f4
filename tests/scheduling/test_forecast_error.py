"""Weathers drawn about a forecast: their spread, their memory, and what they may not do."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from groutjobs.engineering.psychrometrics import dew_points_c
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.scheduling.forecast_error import (
    CLIMATE_ERRORS,
    FORECAST_ERRORS,
    HALL_ERRORS,
    NO_ERRORS,
    ErrorModel,
    draw_weathers,
)
from groutjobs.sources import sources
from tests.scheduling.weather_for_tests import some_weather

N = 4000
HALF_WAY = some_weather(240, humidity=0.35, rain_probability=np.full(241, 0.3))


def test_one_seed_gives_one_set_and_another_another() -> None:
    first, again, other = (draw_weathers(HALF_WAY, FORECAST_ERRORS, lead_h=0.0, seed=seed) for seed in (7, 7, 8))
    assert first.n_samples == 500
    for name, values in vars(first).items():
        assert np.array_equal(values, getattr(again, name))
    assert not np.array_equal(first.temp_c, other.temp_c)


def test_the_spread_is_that_of_the_days_ahead() -> None:
    """Standard deviation of 4000 draws: its own error is 1/sqrt(2n), 1.1 %; four of these."""
    drawn = draw_weathers(HALF_WAY, FORECAST_ERRORS, lead_h=0.0, seed=1, n_samples=N)
    found_k = drawn.temp_c.std(axis=0)
    assert found_k[[0, 24, 120, 216]] == pytest.approx([1.7, 1.7, 3.1, 4.4], rel=0.045)
    later = draw_weathers(HALF_WAY, FORECAST_ERRORS, lead_h=120.0, seed=1, n_samples=N)
    assert later.temp_c.std(axis=0)[0] == pytest.approx(3.1, rel=0.045)
    assert drawn.temp_c.mean(axis=0) == pytest.approx(HALF_WAY.temp_c, abs=4 * 4.6 / math.sqrt(N))


def test_an_error_fades_by_e_in_its_time_constant_and_takes_the_dew_point_along() -> None:
    """Correlations of 4000 draws are known to 1/sqrt(n), 0.016; four of these."""
    drawn = draw_weathers(HALF_WAY, FORECAST_ERRORS, lead_h=0.0, seed=1, n_samples=N)
    warm, damp = drawn.temp_c - HALF_WAY.temp_c, drawn.dew_point_c - HALF_WAY.dew_point_c
    along = [np.corrcoef(warm[:, 100], warm[:, 100 + lag])[0, 1] for lag in (1, 6, 24)]
    assert along == pytest.approx([math.exp(-1 / 6), math.exp(-1), math.exp(-4)], abs=0.065)
    assert np.corrcoef(warm[:, 50], damp[:, 50])[0, 1] == pytest.approx(0.7, abs=0.065)


def test_the_dew_point_is_never_above_the_air() -> None:
    fog = some_weather(96, temp_c=8.0, humidity=0.98)
    drawn = draw_weathers(fog, FORECAST_ERRORS, lead_h=0.0, seed=2)
    assert (drawn.dew_point_c <= drawn.temp_c + 1e-12).all()
    assert (drawn.dew_point_c == drawn.temp_c).any()
    assert drawn.relative_humidity.max() <= 1.0 + 1e-9


def test_humidity_is_that_of_the_drawn_dew_point() -> None:
    """Alduchov and Eskridge's dew point of the drawn air and humidity gives the drawn dew point back."""
    drawn = draw_weathers(HALF_WAY, FORECAST_ERRORS, lead_h=0.0, seed=2, n_samples=50)
    humidity = np.minimum(drawn.relative_humidity, 1.0)
    assert dew_points_c(drawn.temp_c, humidity) == pytest.approx(drawn.dew_point_c, abs=1e-6)


def test_rain_comes_with_the_chance_of_the_forecast_and_in_spells() -> None:
    """A share of 4000 draws is known to 0.7 %; four of these. Together in two hours it rains as often as the bivariate
    normal says (scipy), more often than independent hours would."""
    drawn = draw_weathers(HALF_WAY, FORECAST_ERRORS, lead_h=0.0, seed=1, n_samples=N)
    wet = drawn.rain_probability
    assert set(np.unique(wet)) == {0.0, 1.0}
    assert wet.mean(axis=0)[[0, 100, 240]] == pytest.approx([0.3, 0.3, 0.3], abs=0.029)
    both = multivariate_normal([0, 0], [[1, math.exp(-1 / 6)], [math.exp(-1 / 6), 1]]).cdf([norm.ppf(0.3)] * 2)
    assert np.mean(wet[:, 60] * wet[:, 61]) == pytest.approx(both, abs=0.027)
    assert both > 2 * 0.3 * 0.3


def test_rain_that_is_certain_or_not_told_stays_so() -> None:
    rain = np.full(241, np.nan)
    rain[:2] = 0.0, 1.0
    drawn = draw_weathers(replace(HALF_WAY, rain_probability=rain), FORECAST_ERRORS, lead_h=0.0, seed=1, n_samples=99)
    assert (drawn.rain_probability[:, 0] == 0.0).all()
    assert (drawn.rain_probability[:, 1] == 1.0).all()
    assert np.isnan(drawn.rain_probability[:, 2:]).all()


def test_without_errors_every_weather_is_the_forecast() -> None:
    drawn = draw_weathers(HALF_WAY, NO_ERRORS, lead_h=50.0, seed=1, n_samples=3)
    assert np.array_equal(drawn.temp_c, np.stack([HALF_WAY.temp_c] * 3))
    assert np.array_equal(drawn.relative_humidity, np.stack([HALF_WAY.relative_humidity] * 3))
    assert np.array_equal(drawn.rain_probability, HALF_WAY.rain_probability)


def test_models_grow_with_the_days_and_name_a_known_source() -> None:
    assert list(FORECAST_ERRORS.air_sd_k) == sorted(FORECAST_ERRORS.air_sd_k)
    assert FORECAST_ERRORS.air_sd_k[-1] == CLIMATE_ERRORS.air_sd_k[0]  # two weeks ahead a forecast knows the season
    assert {model.source for model in (FORECAST_ERRORS, CLIMATE_ERRORS, HALL_ERRORS)} <= set(sources())


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"air_sd_k": (-1.0,)}, OutOfRange),
        ({"dew_point_sd_k": (math.nan,)}, OutOfRange),
        ({"time_constant_h": 0.0}, OutOfRange),
        ({"dew_point_correlation": 1.1}, OutOfRange),
        ({"air_sd_k": (1.0, 2.0)}, Unusable),
        ({"lead_days": (2.0, 1.0), "air_sd_k": (1.0, 1.0), "dew_point_sd_k": (1.0, 1.0)}, Unusable),
    ],
)
def test_an_impossible_model_is_refused(change: dict[str, object], error: type[Exception]) -> None:
    rows = vars(CLIMATE_ERRORS) | change
    with pytest.raises(error):
        ErrorModel(**rows)


@pytest.mark.parametrize(("name", "value"), [("seed", -1), ("n_samples", 0), ("lead_h", math.nan)])
def test_an_impossible_draw_is_refused(name: str, value: float) -> None:
    asked = {"lead_h": 0.0, "seed": 1, "n_samples": 5} | {name: value}
    with pytest.raises(OutOfRange):
        draw_weathers(HALF_WAY, FORECAST_ERRORS, **asked)  # type: ignore[arg-type]
