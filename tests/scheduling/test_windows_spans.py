"""Sliding extremes and the times from which a limit holds, against a plain search on a fine grid."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from groutjobs.engineering.checks import Floats
from groutjobs.scheduling.spans import next_start_h, smallest_within, spells_at_or_above, starts_that_fit

curves = st.lists(st.integers(-5, 5), min_size=4, max_size=30).map(lambda values: np.array(values, dtype=np.float64))
lengths_h = st.sampled_from([0.25, 0.5, 1.0, 1.75, 2.0, 3.4])


def brute_smallest(values: Floats, start_h: float, length_h: float) -> float:
    end_h = min(start_h + length_h, len(values) - 1)
    hours = [start_h, *np.arange(np.floor(start_h) + 1, end_h), end_h]
    return float(np.interp(hours, np.arange(len(values)), values).min())


@given(curves, lengths_h)
def test_smallest_value_equals_a_plain_search(values: Floats, length_h: float) -> None:
    n_starts = len(values)
    found, at_h = smallest_within(values, length_h, n_starts)
    expected = [brute_smallest(values, start, length_h) for start in range(n_starts)]
    assert found == pytest.approx(expected)
    assert np.interp(at_h, np.arange(len(values)), values) == pytest.approx(expected)
    assert ((at_h >= np.arange(n_starts)) & (at_h <= np.arange(n_starts) + length_h + 1e-9)).all()


@given(curves, lengths_h, st.sampled_from([-2.5, 0.0, 0.7, 2.0]))
def test_the_next_start_equals_a_plain_search(values: Floats, length_h: float, limit: float) -> None:
    last_h = len(values) - 1 - length_h
    n_starts = starts_that_fit(len(values) - 1, length_h)
    found = next_start_h(spells_at_or_above(values, limit), length_h, n_starts, last_h)
    fine_h = np.arange(0, last_h + 1e-9, 0.01)
    good = np.array([brute_smallest(values, float(hour), length_h) >= limit - 1e-9 for hour in fine_h])
    for start in range(n_starts):
        later = fine_h[(fine_h >= start - 1e-9) & good]
        if np.isnan(found[start]):
            assert len(later) <= 1
        else:
            assert brute_smallest(values, float(found[start]), length_h) >= limit - 1e-6
            assert len(later) == 0 or found[start] <= later[0] + 1e-6


@given(curves, lengths_h)
def test_a_start_that_keeps_the_limit_holds_from_itself(values: Floats, length_h: float) -> None:
    n_starts = starts_that_fit(len(values) - 1, length_h)
    smallest, _ = smallest_within(values, length_h, n_starts)
    found = next_start_h(spells_at_or_above(values, 0.0), length_h, n_starts, len(values) - 1 - length_h)
    keeps = smallest >= 0
    assert found[keeps] == pytest.approx(np.arange(n_starts)[keeps])
    assert ((found[~keeps] > np.arange(n_starts)[~keeps]) | np.isnan(found[~keeps])).all()


def test_a_value_that_is_not_known_spoils_every_span_that_touches_it() -> None:
    values = np.array([1.0, 1.0, 1.0, np.nan, 1.0, 1.0])
    smallest, at_h = smallest_within(values, 1.0, 5)
    assert np.isnan(smallest).tolist() == [False, False, True, True, False]
    assert at_h[2] == 3.0
    begins, ends = spells_at_or_above(values, 0.0)
    assert (begins.tolist(), ends.tolist()) == ([0.0, 4.0], [2.0, 5.0])


@pytest.mark.parametrize(
    ("n_hours", "length_h", "expected"), [(10, 3.0, 8), (10, 3.5, 7), (10, 10.0, 1), (10, 10.1, 0)]
)
def test_how_many_starts_fit(n_hours: int, length_h: float, expected: int) -> None:
    assert starts_that_fit(n_hours, length_h) == expected


def test_a_start_after_the_last_one_allowed_is_none() -> None:
    spells = (np.array([4.5]), np.array([np.inf]))
    assert next_start_h(spells, 1.0, 3, 5.0).tolist() == [4.5, 4.5, 4.5]
    assert np.isnan(next_start_h(spells, 1.0, 3, 4.0)).all()
