"""What is worth telling about a cure: no reading, gaps, jumps, cold and hot spells, old readings, an unlikely rate."""

import datetime as dt
from typing import Any

import numpy as np

from groutjobs import units
from groutjobs.curing.calc.rate import Rate
from groutjobs.curing.series import GAP_H, JUMP_K, Course, Floats, Gap, Series, gaps_in, jumps_in
from groutjobs.engineering.cure import CureClock
from groutjobs.findings import Finding, Level

UNSURE_ABOVE_MINIMUM_K = 5.0
STALE_H = 6.0
SHOWN_JUMPS = 3


def finding(level: str, code: str, message: str, source: str, *, hint: str = "") -> Finding:
    """A finding in one line."""
    return Finding(level=Level(level), code=f"cure.{code}", message=message, source=source, hint=hint)


def course_findings(
    grout: Series, course: Course, clock: CureClock, now_h: float, *, is_done: bool, system: str
) -> list[Finding]:
    """Findings on the readings since placing; `is_done` where the last milestone is behind."""
    if not course.measured:
        return [_unmeasured(course)]
    found = [_gap(gap) for gap in gaps_in(grout)]
    found += [_jump(hours, system) for hours in jumps_in(grout)[:SHOWN_JUMPS]]
    found += _cold(course, clock, system) + _hot(course, clock, system)
    if now_h - course.last_h > STALE_H and not is_done:
        words = f"The last grout reading is {now_h - course.last_h:.0f} h old; what follows it is not measured."
        found.append(finding("warning", "stale", words, "GROUTJOBS", hint="Take a grout reading."))
    return found


def epoxy_note() -> Finding:
    """The label that the cure arithmetic carries wherever it is shown for epoxy."""
    words = "Equivalent age was made for cement; for epoxy it is our model. The supplier's instruction comes first."
    return finding("note", "model", words, "GROUTJOBS")


def rate_findings(rate: Rate | None, error: str, *, has_curve: bool) -> list[Finding]:
    """Why the dates carry no range, or that the grout warmed later than it should or as no rate explains."""
    if rate is None:
        why = error if has_curve else "the data sheet has no strength curve"
        hint = "Type strength rows at three ages or more; rows at a second temperature narrow the range."
        return [finding("note", "no_range", f"The dates stand without a range: {why}.", "GROUTJOBS", hint=hint)]
    if rate.is_slow:
        words = "This pour very likely cures slower than its data sheet: the grout warmed itself late."
        hint = "Go by the late dates below, keep the grout warm, and ask the supplier; cubes show the strength."
        return [finding("warning", "slow", words, "GROUTJOBS", hint=hint)]
    if not rate.is_unlike:
        return []
    words = "The grout did not warm as any rate of cure of this product lets expect; the range leaves that out."
    hint = (
        "Look for a wrong mix, a probe outside the grout, sun on the plate or another grout depth. Until it is "
        "explained rest no step on these hours; show the strength by cubes."
    )
    return [finding("warning", "unlike", words, "GROUTJOBS", hint=hint)]


def behind_findings(milestones: list[dict[str, Any]], at: dt.datetime) -> list[Finding]:
    """A warning where the clock has passed a milestone that the pour itself, at its own rate, likely has not."""
    behind = [
        item["label"]
        for item in milestones
        if item["hours"]["reached"] is not None
        and item["band"] is not None
        and (item["band"]["p50_at"] is None or dt.datetime.fromisoformat(item["band"]["p50_at"]) > at)
    ]
    if not behind:
        return []
    words = f"At the rate of the data sheet the clock has passed “{behind[-1]}”, but this pour cures slower."
    hint = "Wait for the hour of 9 in 10, or show the strength by cubes cured beside the pour."
    return [finding("warning", "slower", words, "GROUTJOBS", hint=hint)]


def _unmeasured(course: Course) -> Finding:
    words = (
        "There is no grout reading, and no air temperature that covers the hours since placing: nothing can be said."
    )
    if len(course.best):
        words = "There is no grout reading. Dates below follow the air: mostly too late, at times 20 % too early."
    hint = "Put a probe into the grout or read its surface, and enter the reading."
    return finding("warning", "no_grout_reading", words, "GROUTJOBS", hint=hint)


def _gap(gap: Gap) -> Finding:
    words = f"No grout reading for {gap.length_h:.1f} h, from {gap.first_h:.1f} h to {gap.last_h:.1f} h after placing."
    hint = "The lower bound takes the colder end for the whole gap; before the first reading it counts nothing."
    if gap.first_h > 0.0:
        hint = f"Between readings more than {GAP_H:.0f} h apart the lower bound takes the colder of both."
    return finding("warning", "gap", words, "GROUTJOBS", hint=hint)


def _jump(hours: float, system: str) -> Finding:
    jump = units.shown(JUMP_K, "k", system)
    words = f"The grout reading {hours:.1f} h after placing jumps more than {jump} in a quarter of an hour."
    hint = "Look at the probe: it may have come out, or two were swapped. Wrong readings can be set aside below."
    return finding("warning", "jump", words, "GROUTJOBS", hint=hint)


def _cold(course: Course, clock: CureClock, system: str) -> list[Finding]:
    if clock.minimum_c is None:
        return []
    found = []
    cold_h = _hours_where(course.best, course.best.temp_c < clock.minimum_c)
    if cold_h > 0.0:
        low = units.shown(clock.minimum_c, "c", system)
        words = f"The grout was below {low} for about {cold_h:.1f} h; the clock stood still."
        hint = "Warm the grout, and ask the supplier what so cold a spell does to it."
        found.append(finding("warning", "cold", words, "data sheet", hint=hint))
    if clock.minimum_c <= course.best.temp_c[-1] < clock.minimum_c + UNSURE_ABOVE_MINIMUM_K:
        near = units.shown(UNSURE_ABOVE_MINIMUM_K, "k", system)
        words = f"The grout is within {near} of its minimum, where the clock is unreliable."
        hint = "Go by cubes cured beside the pour."
        found.append(finding("warning", "near_minimum", words, "GROUTJOBS", hint=hint))
    return found


def _hot(course: Course, clock: CureClock, system: str) -> list[Finding]:
    if clock.hottest_c is None:
        return []
    hot_h = _hours_where(course.best, course.best.temp_c > clock.hottest_c)
    if hot_h == 0.0:
        return []
    high = units.shown(clock.hottest_c, "c", system)
    words = f"The grout was above {high} for about {hot_h:.1f} h; the clock ran no faster than at {high}."
    return [finding("note", "hot", words, "GROUTJOBS")]


def _hours_where(series: Series, is_so: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> float:
    """Length of the intervals whose ends are so; an interval with one such end counts half."""
    apart_h: Floats = np.diff(series.at_h)
    return float((apart_h * (is_so[:-1].astype(float) + is_so[1:].astype(float)) / 2).sum())
