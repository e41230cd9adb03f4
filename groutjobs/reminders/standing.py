"""How a duty stands at a moment, in a word and the manner in which it is drawn. Plain values, no database."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from groutjobs.outages.duties import Duty, DutyKind

SOON = dt.timedelta(hours=24)


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What the record shows of a chosen pour: `looked_at` is when its hours were last searched, in a new forecast."""

    starts_at: dt.datetime
    is_released: bool = False
    is_begun: bool = False
    looked_at: dt.datetime | None = None
    in_hand: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Standing:
    """`is_open`: somebody still has to do it."""

    word: str
    manner: str
    is_open: bool


def standing(duty: Duty, facts: Facts, now: dt.datetime) -> Standing:
    """What the record shows first, then what somebody said, then the clock."""
    if (shown := _shown_by_record(duty, facts, now)) is not None:
        return shown
    if duty.code in facts.in_hand:
        return Standing(f"in hand, {facts.in_hand[duty.code]}", "good", is_open=False)
    return _by_the_clock(duty, now)


def _shown_by_record(duty: Duty, facts: Facts, now: dt.datetime) -> Standing | None:
    if duty.kind is DutyKind.CURE:
        return _of_cure(duty, facts, now)
    comes_after = duty.begins_at > facts.starts_at
    if facts.is_begun and not comes_after:
        return Standing("done, by the pour log", "good", is_open=False)
    if duty.code == "points" and facts.is_released:
        return Standing("done, by the pour log", "good", is_open=False)
    if duty.code.startswith("forecast_") and facts.looked_at is not None and facts.looked_at >= duty.begins_at:
        return Standing("done, by a newer search", "good", is_open=False)
    if duty.kind is not DutyKind.POUR and not comes_after and now >= facts.starts_at:
        return Standing("its hour has passed", "waiting", is_open=False)
    return None


def _of_cure(duty: Duty, facts: Facts, now: dt.datetime) -> Standing:
    """The cure comes by itself, but not before the pour."""
    if not facts.is_begun and now >= facts.starts_at:
        return Standing("waits for the pour", "waiting", is_open=False)
    if duty.begins_at <= now:
        return Standing("reached, as predicted", "good", is_open=False)
    return Standing("comes by itself", "waiting", is_open=False)


def _by_the_clock(duty: Duty, now: dt.datetime) -> Standing:
    if now >= duty.late_from:
        return Standing("late", "stop", is_open=True)
    if now >= duty.begins_at:
        return Standing("due now", "ask", is_open=True)
    if duty.begins_at - now <= SOON:
        return Standing("soon", "ask", is_open=True)
    return Standing("later", "waiting", is_open=True)
