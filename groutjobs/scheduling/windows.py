"""Search for the hours at which a pour may start: for every hour what stands in the way, by how much, and until when.

hours = find_pour_hours(weather, predicted, need, limits, spell_rules=(shift_rule(shift, weather),), cure=…)
hours.findings(7, "us"), hours.codes_in_the_way(7), hours.pour_windows()
hours = hours.with_odds(drawn)
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
import numpy.typing as npt

from groutjobs import units
from groutjobs.engineering.checks import Floats, require_between
from groutjobs.errors import Unusable
from groutjobs.findings import Finding, Level
from groutjobs.scheduling.conditions import CureForecast, HourlyWeather, PlacementNeed, Predicted, hourly_quantities
from groutjobs.scheduling.drawn import Drawn
from groutjobs.scheduling.hour_rows import (
    Bools,
    HourRow,
    SpellRule,
    cure_row,
    forecast_end_row,
    limit_row,
    spell_row,
)
from groutjobs.scheduling.limits import PourLimit, working_life_limits
from groutjobs.scheduling.odds import Odds, odds_of
from groutjobs.scheduling.spans import starts_that_fit

_SPEAKS_BY_BLOCKING, _SPEAKS_BY_LEVEL = 4.0, 2.0


@dataclass(frozen=True, kw_only=True)
class PourWindow:
    """A run of hours at each of which a pour may start; end_at is the last of these starts.

    best_at is the start with the best odds, in steps of 5 %, among them with the fewest warnings, and then with the
    widest margins. milestones holds when each is reached after it, None where the forecast ends before. binding_code
    names the rule with the least margin there. odds is None where no weathers were drawn.
    """

    start_at: datetime
    end_at: datetime
    best_at: datetime
    first_hour: int
    last_hour: int
    best_hour: int
    warnings: int
    odds: float | None
    binding_code: str
    milestones: dict[str, datetime | None]


def find_pour_hours(
    weather: HourlyWeather,
    predicted: Predicted,
    need: PlacementNeed,
    limits: Sequence[PourLimit],
    *,
    spell_rules: Sequence[SpellRule] = (),
    cure: Sequence[CureForecast] = (),
    forecast_h: int | None = None,
) -> "PourHours":
    """Return the judgement of every whole hour of the forecast at which the placement still fits before its end.

    Parameters
    ----------
    weather : Forecast of the air, hour by hour.
    predicted : Temperatures of concrete and plate at the same hours.
    need : Duration, working life and temperature of what is placed.
    limits : Limits to keep; those of the batch's working life are added by themselves.
    spell_rules : Shifts and daylight.
    cure : When each milestone is reached after each start.
    forecast_h : Where the forecast ends and hours of another kind follow, the last ones where not given. [h], 1 to
        weather.n_hours

    Returns
    -------
    Margins, findings and runs of hours.

    Raises
    ------
    OutOfRange, Unusable : input that cannot be used, such as a weather shorter than the placement.

    Source
    ------
    [GROUTJOBS] each limit with its own source, kept along straight lines between hours.
    """
    ends_h = weather.n_hours if forecast_h is None else forecast_h
    require_between("end of the forecast", ends_h, 1, weather.n_hours, unit="h", source="GROUTJOBS")
    n_starts = starts_that_fit(ends_h, need.placement_h)
    if n_starts == 0:
        reason = f"{ends_h:g} h are shorter than the placement of {need.placement_h:g} h"
        raise Unusable("hourly weather", reason, source="GROUTJOBS")
    curves = hourly_quantities(weather, predicted, need)
    limits = (*limits, *working_life_limits(need))
    rows = [limit_row(limit, curves, need, n_starts) for limit in limits]
    rows += [spell_row(rule, weather, need, n_starts) for rule in spell_rules]
    rows += [cure_row(forecast, weather, n_starts) for forecast in cure if forecast.due_at is not None]
    rows.append(forecast_end_row(ends_h, need, n_starts))
    last_h = max(0.0, ends_h - need.placement_h)
    rows = [replace(row, holds_from_h=_up_to(row.holds_from_h, last_h)) for row in rows]
    return PourHours(weather, need, limits, tuple(rows), tuple(cure), n_starts)


def _up_to(holds_from_h: Floats, last_h: float) -> Floats:
    """Not known where a rule holds only after the last start of the forecast."""
    return np.where(holds_from_h <= last_h, holds_from_h, np.nan)


@dataclass(frozen=True)
class PourHours:
    """The answer of the search. Row i of each array is rows[i]; column j is the start j hours after the weather's."""

    weather: HourlyWeather
    need: PlacementNeed
    limits: tuple[PourLimit, ...]
    rows: tuple[HourRow, ...]
    cure: tuple[CureForecast, ...]
    n_starts: int
    odds: Odds | None = None

    def with_odds(self, drawn: Drawn) -> "PourHours":
        """The same answer with the odds of each start, counted in many weathers."""
        return replace(self, odds=odds_of(self.rows, self.limits, self.need, drawn))

    @cached_property
    def margins(self) -> Floats:
        """Margin of each rule in its own unit, NaN where not known. shape (n_rows, n_starts)"""
        return np.stack([row.margin for row in self.rows])

    @cached_property
    def holds_from_h(self) -> Floats:
        """First hour, from each start on, at which each rule holds; NaN where it does not. shape (n_rows, n_starts)"""
        return np.stack([row.holds_from_h for row in self.rows])

    @cached_property
    def blocks(self) -> Bools:
        """Where a rule forbids a start. shape (n_rows, n_starts)"""
        return np.stack([row.blocks() for row in self.rows])

    @cached_property
    def fails(self) -> Bools:
        """Where a rule fails or cannot be judged, and speaks for its group. shape (n_rows, n_starts)"""
        fails = np.stack([row.fails() for row in self.rows])
        heavy = np.array([[row.level is Level.BLOCKER] for row in self.rows])
        order = np.linspace(0, 1, len(self.rows))[:, None]
        weight = np.where(fails, 1 + self.blocks * _SPEAKS_BY_BLOCKING + heavy * _SPEAKS_BY_LEVEL + order, 0.0)
        groups = np.array([row.group for row in self.rows])
        heaviest = np.stack([weight[groups == group].max(axis=0) for group in groups])
        return np.asarray(fails & (weight == heaviest))

    @cached_property
    def acceptable(self) -> Bools:
        """Where nothing forbids a start. shape (n_starts,)"""
        return np.asarray(~self.blocks.any(axis=0))

    @cached_property
    def within_spells(self) -> Bools:
        """Where no shift or daylight forbids a start, whatever the weather. shape (n_starts,)"""
        limited = {limit.code for limit in self.limits} | {f"cure_{forecast.code}" for forecast in self.cure}
        forbids = [row.blocks() for row in self.rows if row.code not in limited]
        return np.asarray(~np.any(forbids, axis=0))

    @cached_property
    def warnings(self) -> npt.NDArray[np.int_]:
        """How many rules warn at each start. shape (n_starts,)"""
        return np.asarray((self.fails & ~self.blocks).sum(axis=0))

    @cached_property
    def comfort(self) -> Floats:
        """Margins as multiples of what counts as comfortable; what is not known counts as none. shape as margins"""
        scaled = np.stack([row.margin / row.scale for row in self.rows])
        return np.nan_to_num(scaled, nan=-1.0, posinf=1e6, neginf=-1e6)

    @cached_property
    def binding(self) -> list[str]:
        """Code of the rule that decides at each start: the worst blocker, else the worst warning, else the nearest."""
        weight = np.where(self.blocks, -2e7, 0.0) + np.where(self.fails, -1e7, 0.0)
        return [self.rows[index].code for index in (self.comfort + weight).argmin(axis=0)]

    def starts_at(self) -> list[datetime]:
        return [self.weather.at(hour) for hour in range(self.n_starts)]

    def holds_from_at(self, code: str) -> list[datetime | None]:
        """For each start the moment from which the rule holds; None where it does not within the forecast."""
        row = next(row for row in self.rows if row.code == code)
        return [None if np.isnan(hour) else self.weather.at(float(hour)) for hour in row.holds_from_h]

    def codes_in_the_way(self, hour: int) -> list[str]:
        """Codes of the rules that fail at a start, blockers first."""
        return [row.code for row in self._failing(hour)]

    def findings(self, hour: int, system: str = units.METRIC) -> list[Finding]:
        """What stands in the way of a start, blockers first, in the units of the reader."""
        return [self._finding(row, hour, system) for row in self._failing(hour)]

    def _failing(self, hour: int) -> list[HourRow]:
        failing = np.flatnonzero(self.fails[:, hour])
        blockers_first = failing[np.argsort(~self.blocks[failing, hour], kind="stable")]
        return [self.rows[index] for index in blockers_first]

    def _finding(self, row: HourRow, hour: int, system: str) -> Finding:
        margin = float(row.margin[hour])
        known = not np.isnan(margin)
        return Finding(
            level=Level.BLOCKER if row.blocks()[hour] else Level.WARNING,
            code=row.code,
            message=self._message(row, hour, system) if known else self._unknown(row, hour),
            source=row.source,
            hint=row.hint,
            about=row.label,
            margin=margin if np.isfinite(margin) else None,
        )

    def _message(self, row: HourRow, hour: int, system: str) -> str:
        told = row.text.format(
            label=row.label,
            worst=_shown(float(row.worst[hour]), row.suffix, system),
            when=self._clock(float(row.worst_h[hour]), hour),
            margin=_gap_shown(-float(row.margin[hour]), row.suffix, system),
            limit=_shown(row.limit, row.suffix, system),
        )
        holds_h = float(row.holds_from_h[hour])
        if np.isnan(holds_h):
            return f"{told}; does not hold in the rest of this forecast"
        return f"{told}; holds from {self._clock(holds_h, hour)}"

    def _unknown(self, row: HourRow, hour: int) -> str:
        worst_h = float(row.worst_h[hour])
        when = "" if np.isnan(worst_h) else f" at {self._clock(worst_h, hour)}"
        return f"{row.label}: not known{when}; {row.unknown_hint}"

    def _clock(self, at_h: float, hour: int) -> str:
        """Local time to the next full minute, with the day where it is not the day of the start."""
        start = self.weather.at(hour)
        at = self.weather.at(at_h) + timedelta(seconds=59)
        return f"{at:%H:%M}" if at.date() == start.date() else f"{at:%a %d %b %H:%M}"

    def pour_windows(self) -> list[PourWindow]:
        """Runs of acceptable starts: those with the best odds first, in steps of 5 %, then the earliest.

        Without odds those with the fewest warnings come first.
        """
        edges = np.flatnonzero(np.diff(np.concatenate([[False], self.acceptable, [False]]).astype(np.int8)))
        found = [self._window(int(first), int(after) - 1) for first, after in edges.reshape(-1, 2)]
        if self.odds is None:
            return sorted(found, key=lambda window: (window.warnings, window.first_hour))
        rank = self.odds.rank
        return sorted(found, key=lambda window: (-rank[window.best_hour], window.first_hour))

    def _window(self, first: int, last: int) -> PourWindow:
        span = slice(first, last + 1)
        likely = np.zeros(last + 1 - first) if self.odds is None else -self.odds.rank[span]
        best = first + int(np.lexsort((-self.comfort.min(axis=0)[span], self.warnings[span], likely))[0])
        return PourWindow(
            start_at=self.weather.at(first),
            end_at=self.weather.at(last),
            best_at=self.weather.at(best),
            first_hour=first,
            last_hour=last,
            best_hour=best,
            warnings=int(self.warnings[best]),
            odds=None if self.odds is None else float(self.odds.all_hold[best]),
            binding_code=self.binding[best],
            milestones={forecast.code: self._ready_at(forecast, best) for forecast in self.cure},
        )

    def _ready_at(self, forecast: CureForecast, hour: int) -> datetime | None:
        ready_h = float(forecast.ready_h[hour])
        return None if np.isnan(ready_h) else self.weather.at(hour + ready_h)


def _shown(value: float | None, suffix: str, system: str, decimals: int | None = None) -> str:
    """A difference of temperatures is printed in kelvin or degrees, without the word difference."""
    return units.shown(value, suffix, system, decimals=decimals).removesuffix(" difference")


def _gap_shown(gap: float, suffix: str, system: str) -> str:
    """The size of a shortfall. A gap that the usual decimals would print as zero gets more of them."""
    suffix = "k" if suffix == "c" else suffix
    texts = (_shown(gap, suffix, system, places) for places in (None, 2, 4))
    return next((text for text in texts if re.search("[1-9]", text)), _shown(gap, suffix, system))
