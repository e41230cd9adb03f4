"""One rule at every start hour: margin, deciding value and its hour, and the hour from which the rule holds."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from groutjobs.engineering.checks import Floats
from groutjobs.errors import Unusable
from groutjobs.findings import Level
from groutjobs.scheduling.conditions import (
    CureForecast,
    HourlyWeather,
    PlacementNeed,
    ShiftHours,
    TimeSpells,
    daylight_spells,
)
from groutjobs.scheduling.limits import PourLimit, Span
from groutjobs.scheduling.spans import next_start_h, smallest_within, spells_at_or_above

Bools = npt.NDArray[np.bool_]
_ROUND_OFF = 1e-9


@dataclass(frozen=True, kw_only=True)
class SpellRule:
    """Placement must lie inside one of the spells, such as a shift or daylight."""

    code: str
    label: str
    spells: TimeSpells
    level: Level
    source: str
    hint: str = ""


def shift_rule(shift: ShiftHours, weather: HourlyWeather) -> SpellRule:
    """Return the rule that placement lies within one working shift of the site.

    Parameters
    ----------
    shift : Working hours of the site.
    weather : The hours that are judged.

    Returns
    -------
    The rule, which stands in the way where it is broken.

    Source
    ------
    [GROUTJOBS] a crew that goes home leaves half a pour; editable for each search.
    """
    return SpellRule(
        code="shift",
        label="working shift",
        spells=shift.spells(weather.start_at, weather.at(weather.n_hours)),
        level=Level.BLOCKER,
        source="GROUTJOBS",
        hint="start when the shift starts, or ask for another shift",
    )


def daylight_rule(weather: HourlyWeather, latitude_deg: float, longitude_deg: float) -> SpellRule:
    """Return the rule that placement lies between sunrise and sunset, for a place without lights.

    Parameters
    ----------
    weather : The hours that are judged.
    latitude_deg : Latitude, north is positive. [deg], -90 to 90
    longitude_deg : Longitude, east is positive. [deg], -180 to 180

    Returns
    -------
    The rule, which asks for a decision where it is broken.

    Source
    ------
    [NOAA-SOLAR] sunrise and sunset; the rule itself is ours.
    """
    return SpellRule(
        code="daylight",
        label="daylight",
        spells=daylight_spells(weather.start_at, weather.at(weather.n_hours), latitude_deg, longitude_deg),
        level=Level.WARNING,
        source="NOAA-SOLAR",
        hint="bring lights",
    )


@dataclass(frozen=True, kw_only=True)
class HourRow:
    """One rule at every start. Arrays of shape (n_starts,).

    margin is in the unit of suffix, negative where the rule fails and NaN where that is not known; worst is the value
    that decides and worst_h its hour; holds_from_h is the first hour from the start on at which the rule holds, NaN
    where there is none. Rules of one group tell of one thing, and the heaviest speaks.
    """

    code: str
    label: str
    group: str
    suffix: str
    level: Level
    unknown_level: Level
    scale: float
    source: str
    hint: str
    unknown_hint: str
    text: str
    margin: Floats
    worst: Floats
    worst_h: Floats
    holds_from_h: Floats
    limit: float | None = None

    def fails(self) -> Bools:
        return np.asarray(~(self.margin >= 0))

    def blocks(self) -> Bools:
        """Where the rule stands in the way, or cannot be judged and that weighs as much."""
        if self.level is not Level.BLOCKER:
            return np.zeros(len(self.margin), dtype=np.bool_)
        return np.asarray(np.where(np.isnan(self.margin), self.unknown_level is Level.BLOCKER, self.fails()))


def limit_row(limit: PourLimit, curves: dict[str, Floats], need: PlacementNeed, n_starts: int) -> HourRow:
    """Return how a limit on a curve is kept after each start.

    Parameters
    ----------
    limit : The limit and how long it must be kept: through placement, or through protection as far as the curve goes.
    curves : The curves of hourly_quantities.
    need : How long placement and protection last.
    n_starts : Starts to judge, one an hour from the first hour on. [-], 1 or more

    Returns
    -------
    Margin, deciding value and its hour, and the hour from which the limit is kept, for each start.

    Raises
    ------
    Unusable : the curve that the limit names is not known for this pour.

    Source
    ------
    [GROUTJOBS] smallest margin along straight lines between hours.
    """
    if limit.quantity not in curves:
        raise Unusable(limit.label, f"{limit.quantity} is not known for this pour", source=limit.source)
    curve = curves[limit.quantity]
    sign = 1.0 if limit.is_minimum else -1.0
    whole = limit.span is Span.PROTECTION
    length_h = need.placement_h + (need.protection_h if whole else 0.0)
    smallest, worst_h = smallest_within(sign * curve, length_h, n_starts)
    begins, ends = spells_at_or_above(sign * curve, sign * limit.value)
    if whole:
        ends = np.where(ends >= len(curve) - 1, np.inf, ends)
    later_h = next_start_h((begins, ends), length_h, n_starts, len(curve) - 1 - need.placement_h)
    margin = _without_round_off(smallest - sign * limit.value)
    return HourRow(
        code=limit.code,
        label=limit.label,
        group=f"{limit.quantity} {limit.is_minimum}",
        suffix=limit.suffix,
        level=limit.level,
        unknown_level=limit.unknown_level,
        scale=limit.scale,
        source=limit.source,
        hint=limit.hint,
        unknown_hint=limit.unknown_hint,
        text="{label} {worst} at {when}, {margin} " + ("under" if limit.is_minimum else "over") + " the {limit} limit",
        margin=margin,
        worst=sign * smallest,
        worst_h=worst_h,
        holds_from_h=_where_it_holds(margin, later_h),
        limit=limit.value,
    )


def _without_round_off(margin: Floats) -> Floats:
    """A margin that differs from zero by the arithmetic alone is zero: 85 % keeps a limit of 85 %."""
    return np.where(np.abs(margin) < _ROUND_OFF, 0.0, margin)


def _where_it_holds(margin: Floats, later_h: Floats) -> Floats:
    return np.where(margin >= 0, np.arange(len(margin), dtype=np.float64), later_h)


def spell_row(rule: SpellRule, weather: HourlyWeather, need: PlacementNeed, n_starts: int) -> HourRow:
    """Return how placement after each start lies within spells such as shifts.

    Parameters
    ----------
    rule : The rule and its spells.
    weather : The hours that are judged.
    need : How long placement lasts.
    n_starts : Starts to judge, one an hour from the first hour on. [-], 1 or more

    Returns
    -------
    Hours to spare before the spell ends; negative by how far placement lies outside the nearest spell.

    Source
    ------
    [GROUTJOBS] counting, exact.
    """
    begins = np.array([weather.hour_of(spell[0]) for spell in rule.spells])
    ends = np.array([weather.hour_of(spell[1]) for spell in rule.spells])
    starts = np.arange(n_starts, dtype=np.float64)
    finish = starts + need.placement_h
    early, late = starts[:, None] - begins, ends - finish[:, None]
    margin = np.where(early >= 0, late, np.minimum(early, late)).max(axis=1, initial=-np.inf)
    margin = _without_round_off(margin)
    later_h = next_start_h((begins, ends), need.placement_h, n_starts, weather.n_hours - need.placement_h)
    return HourRow(
        code=rule.code,
        label=rule.label,
        group=rule.code,
        suffix="h",
        level=rule.level,
        unknown_level=rule.level,
        scale=1.0,
        source=rule.source,
        hint=rule.hint,
        unknown_hint="",
        text="placement to {when} is {margin} outside the {label}" if rule.spells else "there is no {label}",
        margin=margin,
        worst=finish,
        worst_h=finish,
        holds_from_h=_where_it_holds(margin, later_h),
    )


def cure_row(forecast: CureForecast, weather: HourlyWeather, n_starts: int) -> HourRow:
    """Return how a milestone of the cure keeps its date after each start.

    Parameters
    ----------
    forecast : When the milestone is reached after each start, and by when it must be.
    weather : The hours that are judged.
    n_starts : Starts to judge, one an hour from the first hour on. [-], 1 or more

    Returns
    -------
    Hours to spare before the date. Where the forecast ends before the milestone, that is late if the date has passed
    by then, by as much as the end shows; if the date lies beyond the forecast, it is not known.

    Raises
    ------
    Unusable : there is no date, or not one ripening for each start.

    Source
    ------
    [GROUTJOBS] counting, exact.
    """
    if forecast.due_at is None or not n_starts <= len(forecast.ready_h) <= weather.n_hours + 1:
        reason = f"{len(forecast.ready_h)} cure times for {n_starts} starts, or no date"
        raise Unusable(forecast.label, reason, source=forecast.source)
    due_h = weather.hour_of(forecast.due_at)
    ready_h = np.arange(n_starts) + forecast.ready_h[:n_starts]
    beyond_h = np.nextafter(weather.n_hours, np.inf) if due_h <= weather.n_hours else np.nan
    ready_h = np.where(np.isnan(ready_h), beyond_h, ready_h)
    margin = due_h - ready_h
    return HourRow(
        code=f"cure_{forecast.code}",
        label=forecast.label,
        group=f"cure_{forecast.code}",
        suffix="h",
        level=Level.BLOCKER,
        unknown_level=Level.WARNING,
        scale=6.0,
        source=forecast.source,
        hint="pour earlier, keep the grout warmer, or agree on a later date",
        unknown_hint="the forecast ends before it is reached; no date can be promised",
        text="{label}: not cured enough before {when}, {margin} after the date it is due",
        margin=margin,
        worst=ready_h,
        worst_h=ready_h,
        holds_from_h=_next_good_hour(margin),
    )


def forecast_end_row(ends_h: float, need: PlacementNeed, n_starts: int) -> HourRow:
    """Return how many hours of forecast are left when protection ends, for each start.

    Parameters
    ----------
    ends_h : Hours from the first start to the end of the forecast. [h], above 0
    need : How long placement and protection last.
    n_starts : Starts to judge, one an hour from the first hour on. [-], 1 or more

    Returns
    -------
    Hours left; below zero the end of the protection is not covered, which asks for a decision.

    Source
    ------
    [GROUTJOBS] counting, exact.
    """
    finish = np.arange(n_starts, dtype=np.float64) + need.placement_h + need.protection_h
    margin = ends_h - finish
    return HourRow(
        code="forecast_ends",
        label="forecast",
        group="forecast_ends",
        suffix="h",
        level=Level.WARNING,
        unknown_level=Level.WARNING,
        scale=6.0,
        source="GROUTJOBS",
        hint="look again when the forecast reaches further",
        unknown_hint="",
        text="protection ends at {when}, {margin} after the forecast does",
        margin=margin,
        worst=finish,
        worst_h=finish,
        holds_from_h=_next_good_hour(margin),
    )


def _next_good_hour(margin: Floats) -> Floats:
    hours = np.where(margin >= 0, np.arange(len(margin), dtype=np.float64), np.inf)
    later = np.minimum.accumulate(hours[::-1])[::-1]
    return np.where(np.isfinite(later), later, np.nan)
