"""The reliability table: counted from recorded hours, and able to show odds that do not come true."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groutjobs.benchmarks_calibration import BANDS, MODEL, Band, recorded_year, reliability, table
from groutjobs.errors import OutOfRange

MONTH = 28


def surprise(bands: list[Band]) -> float:
    """How far what held is from what was given, over all start hours with odds."""
    seen = [band for band in bands if band.count]
    return sum(band.count * abs(band.held - band.mean_odds) for band in seen) / sum(band.count for band in seen)


def test_odds_of_the_right_spread_come_nearer_true_than_those_of_a_spread_far_too_small() -> None:
    right = reliability(MONTH)
    sure = replace(MODEL, air_sd_k=tuple(sd / 8 for sd in MODEL.air_sd_k), dew_point_sd_k=MODEL.dew_point_sd_k)
    too_sure = reliability(MONTH, told=sure)
    assert sum(band.count for band in right) > 150
    assert surprise(right) < surprise(too_sure)


def test_a_band_without_start_hours_says_so_and_the_table_has_a_line_for_each_band() -> None:
    bands = [Band(low, high, 0, math.nan, math.nan) for low, high in BANDS]
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
