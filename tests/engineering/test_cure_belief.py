"""The correction of a pour by its own samples, against closed forms, against plain sampling and against known truth."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from groutjobs.engineering import cure, cure_belief, cure_fit
from groutjobs.engineering.cure import EPOXY_CLOCK
from groutjobs.engineering.cure_belief import LOG_RATE_SD, MATCH_SD_RATIO, AgeMatch, CureBelief, StrengthSample
from groutjobs.errors import GroutJobsError, OutOfRange, Unusable
from tests.engineering.cures import (
    AT_H,
    DAYS_AND_NIGHTS_C,
    ONE_TEMPERATURE,
    PLAIN,
    THREE_TEMPERATURES,
    Truth,
    drawn_truth,
    scatter,
)

BEFORE = cure_belief.belief_before(cure_fit.fit_cure(PLAIN.rows(THREE_TEMPERATURES), EPOXY_CLOCK))
STEADY_C = np.full(len(AT_H), 23.0)


def samples_of(truth: Truth, *hours: int, random: np.random.Generator | None = None) -> list[StrengthSample]:
    ages_h = truth.ages_h(AT_H, DAYS_AND_NIGHTS_C)
    factors = np.ones(len(hours)) if random is None else scatter(random, len(hours))
    return [
        StrengthSample(float(hour), factor * truth.at(ages_h[hour]))
        for hour, factor in zip(hours, factors, strict=True)
    ]


def corrected(samples: list[StrengthSample], before: CureBelief = BEFORE) -> CureBelief:
    return cure_belief.corrected_belief(before, EPOXY_CLOCK, AT_H, DAYS_AND_NIGHTS_C, samples)


def test_before_any_sample_the_rate_is_that_of_the_data_sheet() -> None:
    assert BEFORE.rate_ratio == 1.0
    assert BEFORE.log_rate_sd == pytest.approx(LOG_RATE_SD)
    assert "nothing of this pour is measured" in BEFORE.basis


def test_before_any_sample_rate_and_fit_are_believed_apart() -> None:
    fit = cure_fit.fit_cure(PLAIN.rows(ONE_TEMPERATURE), EPOXY_CLOCK)
    found = cure_belief.belief_before(fit, 0.2)
    assert found.mean == (*fit.mean, 0.0)
    assert np.array(found.covariance)[:4, :4].tolist() == [list(row) for row in fit.covariance]
    assert np.array(found.covariance)[4] == pytest.approx([0.0, 0.0, 0.0, 0.0, 0.04])
    assert np.array(found.covariance)[:, 4] == pytest.approx([0.0, 0.0, 0.0, 0.0, 0.04])
    assert found.measured == ()


def test_an_age_match_at_the_reference_moves_the_rate_as_two_normal_numbers_combine() -> None:
    """Weighted mean of two independent values, the closed form for a normal belief and a normal measurement."""
    match = AgeMatch(at_h=48.0, equivalent_age_h=36.0)
    found = cure_belief.corrected_belief(BEFORE, EPOXY_CLOCK, AT_H, STEADY_C, matches=[match])
    trust = LOG_RATE_SD**2 / (LOG_RATE_SD**2 + MATCH_SD_RATIO**2)
    assert found.mean[4] == pytest.approx(trust * math.log(36 / 48), abs=1e-6)
    assert found.log_rate_sd == pytest.approx(LOG_RATE_SD * math.sqrt(1 - trust), rel=1e-4)
    assert found.mean[:4] == pytest.approx(BEFORE.mean[:4], abs=1e-5)


def test_in_the_cold_an_age_match_also_speaks_of_the_activation_energy() -> None:
    match = AgeMatch(at_h=100.0, equivalent_age_h=25.0)
    found = cure_belief.corrected_belief(BEFORE, EPOXY_CLOCK, AT_H, np.full(len(AT_H), 12.0), matches=[match])
    assert found.mean[3] > BEFORE.mean[3]
    assert found.rate_ratio < 1.0


def test_a_sample_just_as_expected_moves_nothing_and_narrows_the_rate() -> None:
    found = corrected(samples_of(PLAIN, 36))
    assert found.mean == pytest.approx(BEFORE.mean, abs=1e-4)
    assert found.log_rate_sd < 0.8 * BEFORE.log_rate_sd


@pytest.mark.parametrize("rate", [0.6, 0.8, 1.25, 1.5])
def test_a_slow_or_fast_pour_is_recognised(rate: float) -> None:
    found = corrected(samples_of(replace(PLAIN, rate=rate), 24, 36, 48))
    assert abs(math.log(found.rate_ratio / rate)) < 1.5 * found.log_rate_sd
    assert (found.rate_ratio < 1) == (rate < 1)
    assert f"{found.rate_ratio:.2f} times the rate" in found.basis
    assert "strength samples: 3, age matches: 0" in found.basis


def test_the_correction_agrees_with_weighted_samples_of_the_belief() -> None:
    """200 000 cures drawn beforehand, each weighted by how well it explains the samples: no search, no derivative.

    Held at 23 °C, where the age does not rest on the activation energy. The posterior is not quite normal: 0.2 of a
    spread for the means, 15 % for the spread.
    """
    samples = [StrengthSample(24.0, 38.0), StrengthSample(48.0, 66.0)]
    found = cure_belief.corrected_belief(BEFORE, EPOXY_CLOCK, AT_H, STEADY_C, samples)
    drawn = np.random.default_rng(5).multivariate_normal(BEFORE.mean, BEFORE.covariance, 200_000)
    log_weights = np.zeros(len(drawn))
    for sample in samples:
        te_h = sample.at_h * np.exp(drawn[:, 4])
        modelled = drawn[:, 0] - (np.exp(drawn[:, 1]) / te_h) ** np.exp(drawn[:, 2])
        log_weights += norm.logpdf(math.log(sample.strength_mpa), modelled, 0.07)
    weights = np.exp(log_weights - log_weights.max())
    means = np.average(drawn, axis=0, weights=weights)
    sds = np.sqrt(np.average((drawn - means) ** 2, axis=0, weights=weights))
    assert (np.array(found.mean) - means) / sds == pytest.approx(np.zeros(5), abs=0.2)
    assert np.sqrt(np.diag(np.array(found.covariance))) / sds == pytest.approx(np.ones(5), abs=0.15)


def test_the_rate_of_a_pour_is_found_within_its_stated_spread() -> None:
    """200 invented pours with two samples each: 80 % lie within 1.28 spreads; three spreads of the count are 8.5 %."""
    scores = []
    for seed in range(200):
        random = np.random.default_rng([seed, 2])
        truth = drawn_truth(random, LOG_RATE_SD)
        try:
            fit = cure_fit.fit_cure(truth.rows(THREE_TEMPERATURES, random), EPOXY_CLOCK)
            found = corrected(samples_of(truth, 30, 48, random=random), cure_belief.belief_before(fit))
        except GroutJobsError:
            continue
        scores.append((math.log(truth.rate) - found.mean[4]) / found.log_rate_sd)
    assert len(scores) > 190
    assert 0.715 < np.mean(np.abs(scores) < norm.ppf(0.9)) < 0.885
    assert abs(np.mean(scores)) < 0.25


def test_the_order_of_the_samples_does_not_matter() -> None:
    samples = samples_of(replace(PLAIN, rate=0.8), 24, 36, 60)
    assert corrected(samples[::-1]).mean == pytest.approx(corrected(samples).mean, abs=1e-5)


def test_a_time_between_two_readings_is_followed_on_the_straight_line() -> None:
    """The age at 24.5 h is that of a course which has a reading there."""
    grid = np.union1d(AT_H, [24.5])
    temps_c = np.interp(grid, AT_H, DAYS_AND_NIGHTS_C)
    samples = [StrengthSample(24.5, 30.0)]
    finer = cure_belief.corrected_belief(BEFORE, EPOXY_CLOCK, grid, temps_c, samples)
    assert corrected(samples).mean == pytest.approx(finer.mean, abs=1e-6)


@pytest.mark.parametrize(
    ("sample", "quantity"),
    [
        (StrengthSample(-1.0, 50.0), "time of a measurement"),
        (StrengthSample(300.0, 50.0), "time of a measurement"),
        (StrengthSample(math.nan, 50.0), "time of a measurement"),
        (StrengthSample(24.0, 0.0), "strength of a sample"),
        (StrengthSample(24.0, 251.0), "strength of a sample"),
    ],
)
def test_a_sample_outside_its_limits_is_refused(sample: StrengthSample, quantity: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        corrected([sample])
    assert refusal.value.quantity == quantity


@pytest.mark.parametrize("age_h", [0.0, -3.0, math.nan, 10_001.0])
def test_an_age_outside_its_limits_is_refused(age_h: float) -> None:
    with pytest.raises(OutOfRange) as refusal:
        cure_belief.corrected_belief(BEFORE, EPOXY_CLOCK, AT_H, STEADY_C, matches=[AgeMatch(24.0, age_h)])
    assert refusal.value.quantity == "age by comparison"


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"samples": []}, "no strength and no age"),
        ({"samples": [StrengthSample(0.0, 10.0)]}, "had not moved by 0 h"),
        ({"temp_c": np.full(len(AT_H), 9.0)}, "had not moved by 24 h"),
        ({"temp_c": np.full((2, len(AT_H)), 20.0)}, "one row"),
        ({"at_h": AT_H[::-1]}, "do not rise"),
        ({"samples": [StrengthSample(72.0, 12.0)]}, "wrong mix"),
        ({"samples": [StrengthSample(24.0, 90.0), StrengthSample(48.0, 40.0)]}, "wrong mix"),
    ],
)
def test_measurements_that_tell_nothing_or_contradict_are_refused(changed: dict[str, Any], words: str) -> None:
    given: dict[str, Any] = {"at_h": AT_H, "temp_c": DAYS_AND_NIGHTS_C, "samples": samples_of(PLAIN, 24), **changed}
    with pytest.raises(Unusable, match=words):
        cure_belief.corrected_belief(BEFORE, EPOXY_CLOCK, **given)


def test_a_missing_temperature_is_refused() -> None:
    temps_c = np.where(AT_H > 250, math.nan, 20.0)
    with pytest.raises(OutOfRange):
        cure_belief.corrected_belief(BEFORE, EPOXY_CLOCK, AT_H, temps_c, samples_of(PLAIN, 24))


@pytest.mark.parametrize("spread", [0.0, -0.1, 1.1, math.nan])
def test_a_spread_of_the_rate_outside_its_limits_is_refused(spread: float) -> None:
    fit = cure_fit.fit_cure(PLAIN.rows(ONE_TEMPERATURE), EPOXY_CLOCK)
    with pytest.raises(OutOfRange):
        cure_belief.belief_before(fit, spread)


def test_the_plain_pour_has_the_age_of_the_clock() -> None:
    """The rate of the invented truth is one, so its samples lie on the cure clock itself."""
    ages_h = cure.equivalent_age_h(AT_H, DAYS_AND_NIGHTS_C, EPOXY_CLOCK)
    assert samples_of(PLAIN, 48)[0].strength_mpa == pytest.approx(PLAIN.at(float(ages_h[48])))
