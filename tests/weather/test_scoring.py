"""Bias and spread by the day ahead: by hand, and against numpy as the outside reference for mean and deviation."""

import numpy as np
import pytest

from groutjobs.weather.scoring import Pair, scores


def pairs(lead_h: float, *errors_k: float) -> list[Pair]:
    return [Pair(lead_h, error_k) for error_k in errors_k]


# By hand: errors of +1 and -1 K in equal number have mean 0 and a sample deviation of sqrt(120/119) K.
def test_bias_and_spread_by_hand() -> None:
    (day,) = scores(pairs(5.0, *[1.0, -1.0] * 60))
    assert (day.number, day.count, day.bias_k) == (1, 120, 0.0)
    assert day.spread_k == pytest.approx((120 / 119) ** 0.5)


def test_days_ahead_are_counted_from_the_issue_and_agree_with_numpy() -> None:
    made = np.random.default_rng(4)
    leads, errors = made.uniform(0, 72, 900), made.normal(0.7, 1.9, 900)
    found = scores(Pair(lead, error) for lead, error in zip(leads.tolist(), errors.tolist(), strict=True))
    assert [day.number for day in found] == [1, 2, 3]
    for day in found:
        own = errors[(leads >= 24 * (day.number - 1)) & (leads < 24 * day.number)]
        assert day.count == own.size
        assert day.bias_k == pytest.approx(own.mean())
        assert day.spread_k == pytest.approx(own.std(ddof=1))


def test_too_few_pairs_score_nothing() -> None:
    assert scores(pairs(1.0, *[0.5] * 99)) == []
    assert len(scores(pairs(1.0, *[0.5] * 100))) == 1


def test_a_day_with_few_pairs_and_hours_before_the_issue_are_left_out() -> None:
    found = scores([*pairs(1.0, *[0.5] * 100), *pairs(30.0, *[9.0] * 11), *pairs(-1.0, *[9.0] * 50)])
    assert [(day.number, day.bias_k) for day in found] == [(1, 0.5)]
