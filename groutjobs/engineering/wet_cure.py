"""Wet curing of cement grout: the hours that count, out of spells of wetting and the grout temperature.

Cement grout is kept wet for three days and at 10 °C or more for seven days before the machine is mounted. An hour
counts for the three days where the grout was wet and at 10 °C or more, and for the seven where it was warm enough.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groutjobs.engineering.checks import Floats, require_all_between, require_between
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level

START_WITHIN_H = 8.0
"""Wetting begins within four hours of the final set, which is some four hours after placing. GROUTJOBS."""
BREAK_H = 1.0
"""Grout that lay dry for longer has dried out at its edges. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class WetCureRule:
    """What is asked for: hours wet, hours warm, and the temperature from which an hour counts."""

    wet_h: float
    warm_h: float
    least_c: float
    source: str

    def __post_init__(self) -> None:
        require_between("hours to be kept wet", self.wet_h, 0.0, 1000.0, unit="h", source=self.source)
        require_between("hours to be kept warm", self.warm_h, 0.0, 2000.0, unit="h", source=self.source)
        require_between("least temperature", self.least_c, 0.0, 20.0, unit="°C", source=self.source)


WET_CURE_RULE = WetCureRule(wet_h=72.0, warm_h=168.0, least_c=10.0, source="BLOCH-MCM")


@dataclass(frozen=True)
class WetSpell:
    """From one hour to another after placing the grout was kept wet."""

    first_h: float
    last_h: float


@dataclass(frozen=True, kw_only=True)
class WetCure:
    """Hours counted, when both counts are full (None where the temperatures end before), and how it was kept wet.

    first_wet_h is None where it never was; longest_break_h is the longest dry time between two spells that lies before
    the wet count was full.
    """

    rule: WetCureRule
    wet_h: float
    warm_h: float
    wet_done_at_h: float | None
    warm_done_at_h: float | None
    first_wet_h: float | None
    longest_break_h: float


def wet_cure(spells: Sequence[WetSpell], at_h: Floats, temp_c: Floats, rule: WetCureRule = WET_CURE_RULE) -> WetCure:
    """Return how far the wet curing of cement grout has come.

    Parameters
    ----------
    spells : When the grout was kept wet, in any order, not overlapping. [h] after placing
    at_h : Time of each temperature after placing. [h], shape (n,), strictly rising
    temp_c : Grout temperature, straight lines between. [°C], shape (n,), -40 to 120
    rule : Hours and temperature asked for.

    Returns
    -------
    The count up to the last temperature.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, times do not rise, spells overlap or end before they begin.

    Source
    ------
    [BLOCH-MCM] appendix 3-B: wet for three days, at 10 °C (50 °F) or more for seven days.
    [GROUTJOBS] limits of the temperature.
    """
    at_h, temp_c = np.asarray(at_h, dtype=np.float64), np.asarray(temp_c, dtype=np.float64)
    if at_h.ndim != 1 or at_h.shape != temp_c.shape or len(at_h) < 2 or not (np.diff(at_h) > 0).all():
        raise Unusable("cure readings", "two or more rising times with one temperature each", source=rule.source)
    require_all_between("time of a temperature", at_h, None, None, unit="h", source="GROUTJOBS")
    require_all_between("grout temperature", temp_c, -40.0, 120.0, unit="°C", source="GROUTJOBS")
    ordered = _ordered(spells)
    edges, is_warm, is_wet = _pieces(ordered, at_h, temp_c, rule.least_c)
    lengths = np.diff(edges)
    wet_done_at_h = _full(edges, lengths * (is_warm & is_wet), rule.wet_h)
    return WetCure(
        rule=rule,
        wet_h=float(lengths[is_warm & is_wet].sum()),
        warm_h=float(lengths[is_warm].sum()),
        wet_done_at_h=wet_done_at_h,
        warm_done_at_h=_full(edges, lengths * is_warm, rule.warm_h),
        first_wet_h=ordered[0].first_h if ordered else None,
        longest_break_h=_longest_break_h(ordered, wet_done_at_h),
    )


def _ordered(spells: Sequence[WetSpell]) -> list[WetSpell]:
    ordered = sorted(spells, key=lambda spell: spell.first_h)
    for spell in ordered:
        require_between("begin of wetting", spell.first_h, 0.0, None, unit="h", source="GROUTJOBS")
        require_between("end of wetting", spell.last_h, 0.0, None, unit="h", source="GROUTJOBS")
        if not spell.last_h > spell.first_h:
            raise Unusable("spell of wetting", "it ends before it begins", source="GROUTJOBS")
    if any(later.first_h < first.last_h for first, later in itertools.pairwise(ordered)):
        raise Unusable("spells of wetting", "two of them overlap", source="GROUTJOBS")
    return ordered


def _pieces(
    spells: Sequence[WetSpell], at_h: Floats, temp_c: Floats, least_c: float
) -> tuple[Floats, "np.ndarray[tuple[int], np.dtype[np.bool_]]", "np.ndarray[tuple[int], np.dtype[np.bool_]]"]:
    """Edges between which it is warm or not, and wet or not, throughout."""
    above = temp_c - least_c
    crossed = np.flatnonzero(above[:-1] * above[1:] < 0)
    share = above[crossed] / (above[crossed] - above[crossed + 1])
    crossings = at_h[crossed] + share * np.diff(at_h)[crossed]
    ends = np.array([edge for spell in spells for edge in (spell.first_h, spell.last_h)])
    edges = np.unique(np.concatenate([at_h, crossings, ends[(ends > at_h[0]) & (ends < at_h[-1])]]))
    middle = (edges[:-1] + edges[1:]) / 2
    is_warm = np.interp(middle, at_h, temp_c) >= least_c
    is_wet = np.zeros(len(middle), dtype=np.bool_)
    for spell in spells:
        is_wet |= (middle > spell.first_h) & (middle < spell.last_h)
    return edges, is_warm, is_wet


def _full(edges: Floats, counted_h: Floats, needed_h: float) -> float | None:
    """When a count is full."""
    sums = np.concatenate([[0.0], np.cumsum(counted_h)])
    if sums[-1] < needed_h - 1e-9:
        return None
    index = int(np.argmax(sums >= needed_h - 1e-9))
    return float(edges[0]) if index == 0 else float(edges[index] - (sums[index] - needed_h))


def _longest_break_h(spells: Sequence[WetSpell], until_h: float | None) -> float:
    pairs = itertools.pairwise(spells)
    breaks = [late.first_h - early.last_h for early, late in pairs if until_h is None or early.last_h < until_h]
    return max(breaks, default=0.0)


def wet_cure_findings(found: WetCure, now_h: float) -> list[Finding]:
    """Return what is to be said about how cement grout was kept wet.

    Parameters
    ----------
    found : The count so far.
    now_h : Time after placing. [h], 0 or more

    Returns
    -------
    Warnings where wetting began late, was interrupted, or has not begun though it should have.

    Raises
    ------
    OutOfRange : the time is negative or no number.

    Source
    ------
    [GROUTJOBS] begin within 8 h of placing, no dry time over 1 h.
    """
    hint = "Cover the grout and keep it wet; ask the supplier and the engineer whether the grout is to be tested."
    require_between("time after placing", now_h, 0.0, None, unit="h", source="GROUTJOBS")
    told = []
    if found.first_wet_h is None:
        if now_h > START_WITHIN_H:
            told.append(("wet_none", f"No wetting is recorded {now_h:.0f} h after placing."))
    elif found.first_wet_h > START_WITHIN_H:
        told.append(("wet_late", f"Wetting began {found.first_wet_h:.0f} h after placing, later than 8 h."))
    if found.longest_break_h > BREAK_H:
        told.append(("wet_break", f"The grout lay dry for {found.longest_break_h:.1f} h while it was to be kept wet."))
    return [
        Finding(level=Level.WARNING, code=code, message=words, source="GROUTJOBS", hint=hint) for code, words in told
    ]
