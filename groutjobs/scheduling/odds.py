"""How likely it is that every limit holds after a start, counted in many equally likely weathers.

A weather counts for a start when all rules that stand in the way hold in it: limits from the start through their span,
shift and daylight as they are, and each milestone of the cure by its date. Rules that only ask for a decision do not
count. What cannot be judged counts as on the forecast: against the start where that weighs as a blocker, otherwise it
is left out, and the odds say so.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groutjobs.engineering.checks import Floats
from groutjobs.errors import Unusable
from groutjobs.findings import Level
from groutjobs.scheduling.conditions import PlacementNeed, curve_makers
from groutjobs.scheduling.drawn import Drawn
from groutjobs.scheduling.hour_rows import Bools, HourRow
from groutjobs.scheduling.limits import PourLimit, Span
from groutjobs.scheduling.spans import smallest_of_many

_ROUND_OFF = 1e-9
STEP = 0.05
"""Odds nearer than this are told as different but rank as one; about two standard errors of 500 weathers. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class Odds:
    """Share of the weathers in which a start goes well. Arrays of shape (n_starts,).

    by_rule has the odds of each rule alone, in the order of the rules; left_out marks, for each rule that was not
    counted somewhere, the starts at which it could not be judged.
    """

    n_samples: int
    all_hold: Floats
    by_rule: dict[str, Floats]
    left_out: dict[str, Bools]

    @property
    def standard_error(self) -> Floats:
        """How far the share may be off because the weathers are few. shape (n_starts,)"""
        return np.asarray(np.sqrt(self.all_hold * (1 - self.all_hold) / self.n_samples))

    @property
    def rank(self) -> Floats:
        """Odds in steps of 5 %, so that chance alone ranks no start before another. shape (n_starts,)"""
        return np.round(self.all_hold / STEP)

    def deciding(self, hour: int, below: float = 0.995, most: int = 3) -> list[tuple[str, float]]:
        """Codes and odds of the rules that hold least often at a start, worst first."""
        found = [(code, float(odds[hour])) for code, odds in self.by_rule.items() if odds[hour] < below]
        return sorted(found, key=lambda pair: pair[1])[:most]

    def left_out_at(self, hour: int) -> list[str]:
        """Codes of the rules that were not counted at a start."""
        return [code for code, where in self.left_out.items() if where[hour]]


def odds_of(rows: Sequence[HourRow], limits: Sequence[PourLimit], need: PlacementNeed, drawn: Drawn) -> Odds:
    """Return the odds of every start.

    Parameters
    ----------
    rows : The rules as they stand on the forecast, one of each.
    limits : The limits among them.
    need : What the pour needs.
    drawn : The weathers.

    Raises
    ------
    Unusable : a milestone has a date and the weathers do not say where it is met.

    Source
    ------
    [GROUTJOBS] counted shares of equally likely weathers.
    """
    curves = _Curves(drawn, need, len(rows[0].margin))
    by_code = {limit.code: limit for limit in limits}
    holds = np.ones((drawn.n_samples, curves.n_starts), dtype=np.bool_)
    by_rule, left_out = {}, {}
    for row in rows:
        if row.level is not Level.BLOCKER:
            continue
        row_holds = curves.kept(by_code[row.code]) if row.code in by_code else _as_told(row, drawn)
        unknown = np.isnan(row.margin) & (row.unknown_level is not Level.BLOCKER)
        row_holds = row_holds[:, : curves.n_starts] | unknown
        if unknown.any():
            left_out[row.code] = unknown
        by_rule[row.code] = row_holds.mean(axis=0)
        holds &= row_holds
    return Odds(n_samples=drawn.n_samples, all_hold=holds.mean(axis=0), by_rule=by_rule, left_out=left_out)


def _as_told(row: HourRow, drawn: Drawn) -> Bools:
    """A rule without a limit: a date of the cure by the weathers, a shift or daylight as on the forecast."""
    milestone = row.code.removeprefix("cure_")
    if milestone == row.code:
        return np.broadcast_to(~row.fails(), (drawn.n_samples, len(row.margin)))
    if milestone not in drawn.in_time:
        raise Unusable(row.label, "the drawn weathers do not tell where its date is met", source="GROUTJOBS")
    return drawn.in_time[milestone]


class _Curves:
    """Curves and their smallest values within a span, each computed once."""

    def __init__(self, drawn: Drawn, need: PlacementNeed, n_starts: int) -> None:
        self.n_starts = n_starts
        self._makers = curve_makers(drawn.air, drawn.predicted, need)
        self._need, self._n_samples = need, drawn.n_samples
        self._curves: dict[str, Floats] = {}
        self._smallest: dict[tuple[str, bool, Span], Floats] = {}

    def kept(self, limit: PourLimit) -> Bools:
        """Where a limit is kept through its span; not where that is not known. shape (n_samples, n_starts)"""
        key = (limit.quantity, limit.is_minimum, limit.span)
        sign = 1.0 if limit.is_minimum else -1.0
        if limit.quantity not in self._curves:
            self._curves[limit.quantity] = self._makers[limit.quantity]()
        if key not in self._smallest:
            whole = limit.span is Span.PROTECTION
            length_h = self._need.placement_h + (self._need.protection_h if whole else 0.0)
            self._smallest[key] = smallest_of_many(sign * self._curves[limit.quantity], length_h, self.n_starts)
        kept = self._smallest[key] >= sign * limit.value - _ROUND_OFF
        return np.broadcast_to(kept, (self._n_samples, self.n_starts))
