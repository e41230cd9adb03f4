"""The reliability table: counted from recorded hours, and able to show odds that do not come true."""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

from groutjobs.benchmarks import PAST_DAYS, invented_weather, later
from groutjobs.benchmarks_calibration import (
    BANDS,
    MODEL,
    Band,
    Season,
    likely_forecast,
    recorded_year,
    reliability,
    table,
)
from groutjobs.engineering.checks import Floats
from groutjobs.errors import OutOfRange
from groutjobs.scheduling.conditions import HourlyWeather
from groutjobs.scheduling.forecast_error import NO_ERRORS, draw_weathers

SEASON = Season(np.full(24, 15.0), np.full(24, -10.0), 5.0, 5.0, 0.7)
FIRST, HOURS = PAST_DAYS * 24, 25


def likely(bands: list[Band]) -> tuple[float, float]:
    """Mean of the odds of 65 % and more, and the share of these starts that held."""
    seen = [band for band in bands if band.low >= 0.65 and band.count]
    count = sum(band.count for band in seen)
    given = sum(band.count * band.mean_odds for band in seen) / count
    return given, sum(band.count * band.held for band in seen) / count


def with_air(temp_c: float | Floats) -> HourlyWeather:
    """A day after the past days, dry enough that no dew point is cut off at the air."""
    weather = invented_weather(1)
    rows = {name: row[: FIRST + HOURS] for name, row in vars(weather).items() if isinstance(row, np.ndarray)}
    short = HourlyWeather(start_at=weather.start_at, timezone=weather.timezone, **rows)
    air_c = np.concatenate([np.full(FIRST, 15.0), np.broadcast_to(temp_c, HOURS)])
    return replace(short, temp_c=air_c, dew_point_c=np.full(FIRST + HOURS, -10.0))


def test_starts_of_good_odds_hold_as_often_as_told() -> None:
    given, held = likely(reliability(24))
    assert held == pytest.approx(given, abs=0.1)


def test_odds_of_a_spread_a_quarter_of_the_true_one_are_found_to_promise_too_much() -> None:
    told = replace(
        MODEL,
        air_sd_k=tuple(sd / 4 for sd in MODEL.air_sd_k),
        dew_point_sd_k=tuple(sd / 4 for sd in MODEL.dew_point_sd_k),
    )
    given, held = likely(reliability(24, told=told))
    assert held < given - 0.1


def test_the_truth_lies_about_the_forecast_as_the_error_says() -> None:
    """Truths are made from forecasts of the season, and forecasts are then made from these truths: what is between
    truth and forecast must have the spread of the error and know nothing of the forecast."""
    random, errors_k, forecasts_k = np.random.default_rng(1), [], []
    spell_k = math.sqrt(SEASON.air_sd_k**2 - MODEL.air_sd_k[0] ** 2)
    for seed in range(400):
        source = with_air(15.0 + spell_k * random.standard_normal())
        drawn = draw_weathers(later(source, FIRST), MODEL, lead_h=0.0, seed=seed, n_samples=1)
        truth = with_air(drawn.temp_c[0])
        forecast = likely_forecast(truth, SEASON, MODEL, seed=1000 + seed)
        errors_k.append(truth.temp_c[-1] - forecast.temp_c[-1])
        forecasts_k.append(forecast.temp_c[-1])
    assert np.std(errors_k) == pytest.approx(MODEL.air_sd_k[0], rel=0.12)
    assert abs(np.corrcoef(errors_k, forecasts_k)[0, 1]) < 0.15


def test_without_an_error_the_forecast_is_the_truth() -> None:
    truth = with_air(21.0)
    forecast = likely_forecast(truth, SEASON, NO_ERRORS, seed=1)
    assert forecast.temp_c == pytest.approx(truth.temp_c, abs=1e-6)
    assert forecast.relative_humidity == pytest.approx(truth.relative_humidity, abs=1e-6)


def test_a_forecast_that_knows_nothing_tells_what_is_usual() -> None:
    blind = replace(MODEL, air_sd_k=tuple(19.0 for _ in MODEL.air_sd_k), dew_point_sd_k=MODEL.dew_point_sd_k)
    forecast = likely_forecast(with_air(25.0), SEASON, blind, seed=1)
    assert forecast.temp_c[FIRST:] == pytest.approx(15.0, abs=2.5)
    assert forecast.temp_c[:FIRST] == pytest.approx(15.0)


def test_what_is_usual_is_read_from_the_year() -> None:
    year = recorded_year()
    winter, summer = (Season.about(year, dt.date(2025, month, 15)) for month in (1, 7))
    assert summer.air_c.mean() - winter.air_c.mean() > 15.0
    assert summer.air_sd_k < winter.air_sd_k
    assert summer.air_c.argmin() in (9, 10, 11)  # five hours behind UTC, before sunrise


def test_a_band_without_start_hours_says_so_and_the_table_has_a_line_for_each_band() -> None:
    bands = [Band(low, high, 0, math.nan, math.nan, math.nan) for low, high in BANDS]
    lines = list(table(bands))
    assert len(lines) == 1 + len(BANDS)
    assert "nan" in lines[1]


def test_the_year_is_one_of_recorded_hours_of_the_station() -> None:
    """NREL TMY3, station 723170: the warmest and coldest hours of the file, read from it."""
    temp_c = np.array([hour["temp_c"] for hour in recorded_year().hours.values()])
    assert len(temp_c) == 8760
    assert temp_c.min() < -8
    assert temp_c.max() > 33


@pytest.mark.parametrize("days", [0, 121])
def test_other_distances_between_forecasts_are_refused(days: int) -> None:
    with pytest.raises(OutOfRange, match="days between forecasts"):
        reliability(days)
