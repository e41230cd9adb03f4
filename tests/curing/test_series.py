"""Gaps, jumps, the cold bound of a gap, and thinning that keeps peaks."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.curing.series import (
    MOST_POINTS,
    Series,
    cold_in_gaps,
    gaps_in,
    held_back_to_start,
    jumps_in,
    series_of,
    thinned,
)

START = dt.datetime(2026, 4, 30, 13, 0, tzinfo=dt.UTC)


def series(*pairs: tuple[float, float]) -> Series:
    return Series(np.array([pair[0] for pair in pairs]), np.array([pair[1] for pair in pairs]))


def test_readings_become_hours_after_placing_across_a_clock_change() -> None:
    # New York leaves summer time in the night to 2026-11-01: 24 h later by the wall clock are 25 h.
    placed = dt.datetime.fromisoformat("2026-10-31T12:00-04:00")
    later = dt.datetime.fromisoformat("2026-11-01T12:00-05:00")
    assert list(series_of([(placed, 20.0), (later, 21.0)], placed).at_h) == [0.0, 25.0]


def test_readings_before_placing_are_none_of_this_grout() -> None:
    assert list(series((-3.0, 12.0), (0.0, 20.0), (1.0, 21.0)).from_start().at_h) == [0.0, 1.0]


def test_a_gap_is_longer_than_two_hours_and_may_lie_before_the_first_reading() -> None:
    found = gaps_in(series((3.0, 20.0), (5.0, 20.0), (7.1, 20.0), (8.0, 20.0)))
    assert [(gap.first_h, gap.last_h) for gap in found] == [(0.0, 3.0), (5.0, 7.1)]


def test_readings_two_hours_apart_leave_no_gap_whatever_the_minute_of_placing() -> None:
    placed_at = dt.datetime(2027, 4, 12, 13, 41, 7, tzinfo=dt.UTC)
    readings = [(dt.datetime(2027, 4, 12, 14, tzinfo=dt.UTC) + n * dt.timedelta(hours=2), 21.0) for n in range(252)]
    assert gaps_in(series_of(readings, placed_at)) == []


def test_the_first_reading_is_held_back_to_the_hour_of_placing() -> None:
    held = held_back_to_start(series((0.5, 24.0), (1.0, 25.0)))
    assert (held.at_h[0], held.temp_c[0]) == (0.0, 24.0)


def test_the_cold_course_takes_the_colder_end_of_a_gap_and_nothing_before_the_first_reading() -> None:
    cold = cold_in_gaps(series((4.0, 20.0), (5.0, 22.0), (10.0, 16.0)), standstill_c=7.0)
    assert np.interp([1.0, 3.9], cold.at_h, cold.temp_c) == pytest.approx([7.0, 7.0])
    assert np.interp([5.5, 9.5], cold.at_h, cold.temp_c) == pytest.approx([16.0, 16.0])
    assert np.interp(4.5, cold.at_h, cold.temp_c) == pytest.approx(21.0)


def test_without_gaps_the_cold_course_is_the_course() -> None:
    grout = series((0.0, 20.0), (2.0, 22.0), (4.0, 21.0))
    assert np.array_equal(cold_in_gaps(grout, 7.0).temp_c, grout.temp_c)


@given(st.lists(st.tuples(st.floats(0.05, 9.0), st.floats(-5.0, 60.0)), min_size=2, max_size=30))
def test_the_cold_course_is_never_warmer_than_the_course(steps: list[tuple[float, float]]) -> None:
    at_h = np.cumsum([step for step, _ in steps])
    grout = Series(at_h, np.array([temp for _, temp in steps]))
    best, cold = held_back_to_start(grout), cold_in_gaps(grout, -20.0)
    assert (np.diff(cold.at_h) > 0).all()
    hours = np.linspace(0.0, at_h[-1], 500)
    excess = np.interp(hours, cold.at_h, cold.temp_c) - np.interp(hours, best.at_h, best.temp_c)
    # the second in which the cold course leaves and joins the readings may cut a corner
    edges = np.min(np.abs(hours[:, None] - at_h[None, :]), axis=1) < 2 / 3600
    assert (excess[~edges] < 1e-6).all()


def test_a_probe_that_comes_out_of_the_grout_shows_as_a_jump() -> None:
    assert jumps_in(series((1.0, 25.0), (1.2, 9.0), (2.0, 9.5))) == [1.2]
    assert jumps_in(series((1.0, 25.0), (2.0, 9.0))) == []


@given(st.integers(0, 9_999), st.floats(-100.0, 100.0))
def test_thinning_keeps_a_single_peak_wherever_it_is(place: int, peak: float) -> None:
    temps = np.zeros(10_000)
    temps[place] = peak
    short = thinned(Series(np.arange(10_000.0), temps))
    assert len(short) <= MOST_POINTS
    assert peak in short.temp_c
    assert (np.diff(short.at_h) > 0).all()
    assert (short.at_h[0], short.at_h[-1]) == (0.0, 9_999.0)


def test_few_points_stay_as_they_are() -> None:
    few = series((0.0, 1.0), (1.0, 2.0))
    assert thinned(few) is few
