"""How forecasts came true: differences between forecast and measured air by the day ahead. Plain numbers in and out."""

import itertools
import statistics
from collections.abc import Iterable
from dataclasses import dataclass

LEAST_PAIRS = 100
LEAST_OF_A_DAY = 12
MOST_ERROR_K = 10.0
"""A mean error or a spread above this is no error of a forecast but a probe that hangs elsewhere. GROUTJOBS."""


@dataclass(frozen=True, order=True)
class Pair:
    """One hour: how far ahead it was forecast, and forecast less measured temperature."""

    lead_h: float
    error_k: float


@dataclass(frozen=True)
class DayAhead:
    """All pairs of one day ahead; the first day is number 1.

    `bias_k` is the mean of forecast less measured, above 0 where the forecast was too warm; `spread_k` the standard
    deviation about it.
    """

    number: int
    count: int
    bias_k: float
    spread_k: float


def scores(pairs: Iterable[Pair]) -> list[DayAhead]:
    """Bias and spread for each day ahead with enough pairs; empty below LEAST_PAIRS pairs in all [GROUTJOBS]."""
    ordered = sorted(pair for pair in pairs if pair.lead_h >= 0)
    if len(ordered) < LEAST_PAIRS:
        return []
    days = [(number, [pair.error_k for pair in run]) for number, run in itertools.groupby(ordered, _day_ahead)]
    return [
        DayAhead(number, len(errors), statistics.fmean(errors), statistics.stdev(errors))
        for number, errors in days
        if len(errors) >= LEAST_OF_A_DAY
    ]


def _day_ahead(pair: Pair) -> int:
    return int(pair.lead_h // 24) + 1
