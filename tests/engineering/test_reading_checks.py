"""Doubts about readings: each fault is found where it was put, and a good record is left alone."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation, norm

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.reading_checks import (
    NORMAL_OVER_MAD,
    Doubt,
    clock_shift,
    clock_steps,
    exchanged_throughout,
    exchanges,
    in_air_spans,
    spikes,
    stuck_spans,
)
from groutjobs.errors import Unusable

AT_H = np.arange(0.0, 72.0, 0.5)
AIR_C = 15.0 + 6.0 * np.sin(2 * math.pi * AT_H / 24)
GROUT_C = 20.0 + 9.0 * AT_H / 5.5 * np.exp(1 - AT_H / 5.5) + 0.3 * np.sin(2 * math.pi * AT_H / 24)


def outside(hours: Floats) -> Floats:
    """Air of several days that no shift of an hour or a day maps onto itself."""
    return 15.0 + 6.0 * np.sin(2 * math.pi * hours / 24) + 0.04 * hours + 2.0 * np.sin(hours / 13.0)


def test_the_factor_of_the_spread_is_that_of_normal_values() -> None:
    # scipy knows it as the "normal" scale of the median absolute deviation; the quantile is that of a normal table.
    assert pytest.approx(1 / norm.ppf(0.75), abs=1e-4) == NORMAL_OVER_MAD
    values = np.random.default_rng(1).normal(size=200_000)
    assert median_abs_deviation(values, scale="normal") == pytest.approx(
        NORMAL_OVER_MAD * median_abs_deviation(values), rel=1e-4
    )


def test_a_good_record_raises_no_doubt() -> None:
    assert spikes(AT_H, GROUT_C).tolist() == []
    assert spikes(AT_H, AIR_C).tolist() == []
    assert stuck_spans(AT_H, GROUT_C, AT_H, AIR_C) == []
    assert in_air_spans(AT_H, GROUT_C, AT_H, AIR_C) == []
    assert exchanges(AT_H, GROUT_C, AIR_C) == []
    assert clock_steps(AT_H) == []
    assert clock_shift(AT_H, outside(AT_H), np.arange(-30.0, 110.0), outside(np.arange(-30.0, 110.0))) is None


@given(st.integers(5, 130), st.sampled_from([-20.0, 15.0, 30.0]))
def test_a_lone_spike_is_found_where_it_is(place: int, off_k: float) -> None:
    temp_c = GROUT_C.copy()
    temp_c[place] += off_k
    assert spikes(AT_H, temp_c).tolist() == [place]


def test_a_course_that_goes_on_at_the_new_height_is_no_spike() -> None:
    assert spikes(AT_H, np.where(AT_H < 30.0, GROUT_C, GROUT_C - 12.0)).tolist() == []


def test_a_stuck_probe_is_told_only_while_another_moves() -> None:
    temp_c = np.where((AT_H >= 30.0) & (AT_H < 45.0), 21.0, GROUT_C)
    found = stuck_spans(AT_H, temp_c, AT_H, AIR_C)
    assert [(span.doubt, span.first_h, span.last_h, span.count) for span in found] == [(Doubt.STUCK, 30.0, 44.5, 30)]
    assert stuck_spans(AT_H, temp_c, AT_H, np.full_like(AT_H, 15.0)) == []


def test_a_probe_that_hangs_in_the_air_is_found() -> None:
    temp_c = np.where(AT_H >= 40.0, AIR_C + 0.3, GROUT_C)
    (found,) = in_air_spans(AT_H, temp_c, AT_H, AIR_C)
    assert found.first_h == pytest.approx(40.0, abs=3.0)
    assert found.last_h == 71.5


def test_a_hall_that_hardly_swings_tells_nothing_of_a_probe() -> None:
    still_c = np.full_like(AT_H, 20.0) + 0.3 * np.sin(AT_H)
    assert in_air_spans(AT_H, still_c + 0.2, AT_H, still_c) == []


def test_exchanged_probes_are_found_from_jump_to_jump() -> None:
    swapped = (AT_H >= 4.0) & (AT_H < 11.0)
    one_c, other_c = np.where(swapped, AIR_C, GROUT_C), np.where(swapped, GROUT_C, AIR_C)
    (found,) = exchanges(AT_H, one_c, other_c)
    assert (found.first_h, found.last_h, found.count) == (4.0, 10.5, 14)


def test_probes_exchanged_from_the_first_reading_on_are_told_by_grout_and_forecast() -> None:
    day = AT_H < 24.0
    grout_c, air_c = GROUT_C[day] + 2.0, AIR_C[day]
    assert exchanged_throughout(air_c, grout_c, 22.0, air_c)
    assert not exchanged_throughout(grout_c, air_c, 22.0, air_c)


@pytest.mark.parametrize("shift_h", [1.0, 24.0])
def test_a_clock_set_on_leaves_a_hole_of_its_size(shift_h: float) -> None:
    (found,) = clock_steps(np.where(AT_H > 20.0, AT_H + shift_h, AT_H))
    assert (found.first_h, found.shift_h) == (20.0, shift_h)


def test_a_missed_reading_is_no_clock_step() -> None:
    assert clock_steps(np.delete(AT_H, 40)) == []


@pytest.mark.parametrize("shift_h", [-24.0, -1.0, 1.0, 24.0])
def test_a_shifted_clock_is_found_by_the_air(shift_h: float) -> None:
    random, known_h = np.random.default_rng(2), np.arange(-50.0, 130.0)
    read_c = outside(AT_H - shift_h) + random.normal(0, 0.3, len(AT_H))
    found = clock_shift(AT_H, read_c, known_h, outside(known_h))
    assert found is not None
    assert found.shift_h == shift_h


def test_times_that_fall_are_refused() -> None:
    with pytest.raises(Unusable, match="rise"):
        spikes(AT_H[::-1], GROUT_C)
