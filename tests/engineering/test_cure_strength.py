"""Milestones and the strength curve fitted to the rows of a data sheet."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from groutjobs.engineering import cure, strength
from groutjobs.engineering.cure import EPOXY_CLOCK
from groutjobs.engineering.strength import EPOXY_MILESTONES, Milestone, StrengthCurve, StrengthPoint
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.sources import sources

TRUE = StrengthCurve(ultimate_mpa=110.0, time_h=18.0, shape=0.9, scatter_ratio=0.0)


def rows_at(temp_c: float, *ages_h: float) -> list[StrengthPoint]:
    rate = cure.rate_ratio(EPOXY_CLOCK, temp_c)
    return [StrengthPoint(age_h, temp_c, strength.strength_mpa(TRUE, age_h * rate)) for age_h in ages_h]


def test_the_fit_finds_the_curve_that_made_the_rows() -> None:
    found = strength.fit_strength(rows_at(23.0, 16, 24, 48, 168) + rows_at(15.0, 24, 72), EPOXY_CLOCK)
    assert found.ultimate_mpa == pytest.approx(110.0, rel=1e-4)
    assert found.time_h == pytest.approx(18.0, rel=1e-4)
    assert found.shape == pytest.approx(0.9, rel=1e-4)
    assert found.scatter_ratio == pytest.approx(0.0, abs=1e-6)


def test_three_ages_fix_the_curve() -> None:
    found = strength.fit_strength(rows_at(23.0, 16, 48, 168), EPOXY_CLOCK)
    assert [found.ultimate_mpa, found.time_h, found.shape] == pytest.approx([110.0, 18.0, 0.9], rel=1e-4)


def test_the_fit_agrees_with_a_general_purpose_one() -> None:
    """scipy's curve_fit of the same relative differences on rows with scatter; both end in the same minimum."""
    noisy = [
        replace(row, strength_mpa=row.strength_mpa * factor)
        for row, factor in zip(rows_at(23.0, 12, 24, 48, 72, 168), [1.03, 0.96, 1.02, 0.98, 1.01], strict=True)
    ]
    ages_h, mpa = np.array([row.age_h for row in noisy]), np.array([row.strength_mpa for row in noisy])
    expected, _ = curve_fit(
        lambda age, su, tau, a: su * np.exp(-((tau / age) ** a)), ages_h, mpa, p0=(100, 20, 1), sigma=mpa
    )
    found = strength.fit_strength(noisy, EPOXY_CLOCK)
    assert [found.ultimate_mpa, found.time_h, found.shape] == pytest.approx(expected, rel=1e-3)


@given(st.floats(1.0, 109.0))
def test_age_and_strength_undo_each_other(needed_mpa: float) -> None:
    age_h = strength.equivalent_age_at_strength_h(TRUE, needed_mpa)
    assert strength.strength_mpa(TRUE, age_h) == pytest.approx(needed_mpa)


@given(st.floats(0.0, 1000.0), st.floats(0.001, 100.0))
def test_strength_never_falls_with_age(age_h: float, later_h: float) -> None:
    assert strength.strength_mpa(TRUE, age_h + later_h) >= strength.strength_mpa(TRUE, age_h)


def test_a_strength_beyond_the_curve_is_refused() -> None:
    with pytest.raises(OutOfRange) as refusal:
        strength.equivalent_age_at_strength_h(TRUE, 110.0)
    assert refusal.value.quantity == "strength asked for"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (rows_at(23.0, 24, 48), "three different ages"),
        (rows_at(23.0, 24, 24, 48), "three different ages"),
        ([*rows_at(23.0, 24, 48, 72), StrengthPoint(168.0, 23.0, 60.0)], "lower than at a smaller age"),
    ],
)
def test_rows_that_draw_no_curve_are_refused(rows: list[StrengthPoint], words: str) -> None:
    with pytest.raises(Unusable, match=words):
        strength.fit_strength(rows, EPOXY_CLOCK)


@pytest.mark.parametrize(
    "row",
    [
        StrengthPoint(0.0, 23.0, 50.0),
        StrengthPoint(24.0, 23.0, -1.0),
        StrengthPoint(24.0, 23.0, math.nan),
        StrengthPoint(24.0, 45.0, 50.0),
        StrengthPoint(24.0, 5.0, 50.0),
    ],
)
def test_a_row_outside_its_limits_is_refused(row: StrengthPoint) -> None:
    with pytest.raises(OutOfRange):
        strength.fit_strength([*rows_at(23.0, 24, 48, 72), row], EPOXY_CLOCK)


def test_at_the_reference_the_milestones_come_at_their_hours() -> None:
    at_h = np.arange(0.0, 200.0)
    found = strength.milestone_hours(EPOXY_MILESTONES, at_h, np.full((1, 200), 23.0), EPOXY_CLOCK)
    hours = {code: float(value[0]) for code, value in found.items()}
    assert hours == pytest.approx({"strip": 24, "jackscrews": 36, "tension": 48, "align": 48, "full_cure": 168})


def test_in_the_cold_they_come_later_and_below_the_minimum_not_at_all() -> None:
    at_h = np.arange(0.0, 200.0)
    temp_c = np.vstack([np.full(200, 15.0), np.full(200, 9.0)])
    strip_h = strength.milestone_hours(EPOXY_MILESTONES, at_h, temp_c, EPOXY_CLOCK)["strip"]
    assert strip_h[0] == pytest.approx(24 / cure.rate_ratio(EPOXY_CLOCK, 15.0))
    assert math.isnan(strip_h[1])


def test_cement_waits_seven_days_however_warm_it_is() -> None:
    """BLOCH-MCM p. 135: seven days at 10 °C or more before the machine is mounted."""
    at_h = np.arange(0.0, 400.0)
    found = strength.milestone_hours(strength.CEMENT_MILESTONES, at_h, np.full((1, 400), 30.0), cure.CEMENT_CLOCK)
    assert found["tension"][0] == pytest.approx(168.0)


def test_a_share_of_strength_is_taken_from_the_curve() -> None:
    half = Milestone(code="half", label="half strength", source="GROUTJOBS", needed_strength_ratio=0.5)
    age_h = strength.milestone_age_h(half, TRUE)
    at_full_h = strength.strength_mpa(TRUE, strength.FULL_CURE_H)
    assert strength.strength_mpa(TRUE, age_h) == pytest.approx(at_full_h / 2)
    with pytest.raises(Unusable, match="strength rows"):
        strength.milestone_age_h(half)


def test_a_milestone_needs_exactly_one_condition() -> None:
    with pytest.raises(Unusable):
        Milestone(code="x", label="x", source="GROUTJOBS")
    with pytest.raises(Unusable):
        Milestone(code="x", label="x", source="GROUTJOBS", needed_equivalent_age_h=1.0, needed_strength_ratio=0.5)
    with pytest.raises(OutOfRange):
        Milestone(code="x", label="x", source="GROUTJOBS", needed_strength_ratio=1.5)


def test_every_milestone_names_a_known_source() -> None:
    used = {milestone.source for milestone in EPOXY_MILESTONES + strength.CEMENT_MILESTONES}
    assert used <= set(sources())
