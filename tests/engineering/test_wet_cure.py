"""Hours of wet curing that count, against counts by hand and minute by minute."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs.engineering.checks import Floats
from groutjobs.engineering.wet_cure import WET_CURE_RULE, WetCure, WetCureRule, WetSpell, wet_cure, wet_cure_findings
from groutjobs.errors import OutOfRange, Unusable

AT_H = np.arange(0.0, 201.0)
WARM_C = np.full(len(AT_H), 18.0)


def counted(*spells: tuple[float, float], temp_c: Floats = WARM_C) -> WetCure:
    return wet_cure([WetSpell(*spell) for spell in spells], AT_H, temp_c)


def codes(found: WetCure, now_h: float = 100.0) -> set[str]:
    return {item.code for item in wet_cure_findings(found, now_h)}


def test_three_days_wet_and_seven_days_warm() -> None:
    """BLOCH-MCM appendix 3-B: wet for three days, at 10 °C (50 °F) or more for seven days."""
    found = counted((0.0, 90.0))
    assert (found.rule.wet_h, found.rule.warm_h, found.rule.least_c) == (72.0, 168.0, 10.0)
    assert (found.wet_done_at_h, found.warm_done_at_h) == (72.0, 168.0)
    assert codes(found) == set()


def test_a_count_is_full_in_the_middle_of_an_hour_or_at_once_where_nothing_is_asked() -> None:
    """By hand: wet from 2.25 h on and half an hour asked for, so full at 2.75 h."""
    rule = WetCureRule(wet_h=0.5, warm_h=0.0, least_c=10.0, source="GROUTJOBS")
    found = wet_cure([WetSpell(2.25, 9.0)], AT_H, WARM_C, rule)
    assert (found.wet_done_at_h, found.warm_done_at_h) == (2.75, 0.0)
    assert (found.wet_h, found.warm_h, found.first_wet_h) == (6.75, 200.0, 2.25)


def test_a_count_that_is_just_full_at_the_end_is_full() -> None:
    found = wet_cure([WetSpell(0.0, 72.0)], AT_H[:73], WARM_C[:73])
    assert (found.wet_done_at_h, found.warm_done_at_h) == (72.0, None)


def test_two_temperatures_are_enough() -> None:
    found = wet_cure([WetSpell(0.0, 100.0)], np.array([0.0, 100.0]), np.full(2, 18.0))
    assert (found.wet_done_at_h, found.wet_h, found.warm_done_at_h) == (72.0, 100.0, None)


def test_dry_hours_are_made_up_for_later() -> None:
    """By hand: 40 h, then dry for 6 h, then 32 h more: full at 78 h."""
    found = counted((0.0, 40.0), (46.0, 100.0))
    assert found.wet_done_at_h == pytest.approx(78.0)
    assert found.longest_break_h == pytest.approx(6.0)
    assert codes(found) == {"wet_break"}


def test_cold_hours_count_for_neither() -> None:
    """By hand: a fall from 18 to 2 °C and back in 16 h each way crosses 10 °C half-way, so 16 h do not count."""
    temps_c = np.interp(AT_H, [0.0, 20.0, 36.0, 52.0, 200.0], [18.0, 18.0, 2.0, 18.0, 18.0])
    found = counted((0.0, 200.0), temp_c=temps_c)
    assert found.wet_done_at_h == pytest.approx(72.0 + 16.0)
    assert found.warm_done_at_h == pytest.approx(168.0 + 16.0)


def test_below_ten_degrees_nothing_is_ever_full() -> None:
    found = counted((0.0, 200.0), temp_c=np.full(len(AT_H), 9.9))
    assert (found.wet_h, found.warm_h, found.wet_done_at_h, found.warm_done_at_h) == (0.0, 0.0, None, None)


def test_it_tells_of_a_late_start_and_of_none() -> None:
    assert codes(counted((9.0, 90.0))) == {"wet_late"}
    assert codes(counted((8.0, 90.0))) == set()
    assert codes(counted(), now_h=7.0) == set()
    assert codes(counted(), now_h=9.0) == {"wet_none"}


def test_a_break_after_the_count_is_full_is_no_fault() -> None:
    assert codes(counted((0.0, 73.0), (80.0, 90.0))) == set()
    assert codes(counted((0.0, 40.0), (41.0, 90.0))) == set()


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.0, 190.0), min_size=4, max_size=4, unique=True), st.integers(0, 10_000))
def test_the_count_is_that_of_minutes(ends: list[float], seed: int) -> None:
    """Minute by minute, each counted by its middle: a minute of error for each edge and each crossing of 10 °C."""
    first, second, third, fourth = sorted(ends)
    temps_c = np.interp(AT_H, np.linspace(0, 200, 15), np.random.default_rng(seed).uniform(2, 20, 15))
    found = counted((first, second), (third, fourth), temp_c=temps_c)
    minutes_h = (np.arange(200 * 60) + 0.5) / 60
    is_wet = ((minutes_h > first) & (minutes_h < second)) | ((minutes_h > third) & (minutes_h < fourth))
    is_warm = np.interp(minutes_h, AT_H, temps_c) >= 10.0
    assert found.wet_h == pytest.approx((is_wet & is_warm).sum() / 60, abs=20 / 60)
    assert found.warm_h == pytest.approx(is_warm.sum() / 60, abs=20 / 60)


@pytest.mark.parametrize(
    ("spells", "changed", "kind", "words"),
    [
        ([WetSpell(5.0, 5.0)], {}, Unusable, "ends before it begins"),
        ([WetSpell(0.0, 10.0), WetSpell(9.0, 20.0)], {}, Unusable, "overlap"),
        ([WetSpell(-1.0, 10.0)], {}, OutOfRange, "begin of wetting"),
        ([WetSpell(math.nan, 10.0)], {}, OutOfRange, "begin of wetting"),
        ([], {"temp_c": np.full(len(AT_H), math.nan)}, OutOfRange, "grout temperature"),
        ([], {"temp_c": np.full(len(AT_H), 121.0)}, OutOfRange, "grout temperature"),
        ([], {"at_h": AT_H[::-1]}, Unusable, "rising times"),
        ([], {"at_h": AT_H[:1], "temp_c": WARM_C[:1]}, Unusable, "rising times"),
    ],
)
def test_what_cannot_be_counted_is_refused(
    spells: list[WetSpell], changed: dict[str, Any], kind: type[Exception], words: str
) -> None:
    with pytest.raises(kind, match=words):
        wet_cure(spells, **{"at_h": AT_H, "temp_c": WARM_C, **changed})


@pytest.mark.parametrize(
    ("wet_h", "warm_h", "least_c"), [(-1.0, 168.0, 10.0), (72.0, 2001.0, 10.0), (72.0, 168.0, 21.0)]
)
def test_a_rule_outside_its_limits_is_refused(wet_h: float, warm_h: float, least_c: float) -> None:
    with pytest.raises(OutOfRange):
        WetCureRule(wet_h=wet_h, warm_h=warm_h, least_c=least_c, source=WET_CURE_RULE.source)
