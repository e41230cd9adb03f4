"""What all results of inspections share: findings in both unit systems, the verdict they suggest, engine, sources."""

import datetime as dt
from typing import Any

from groutjobs import units
from groutjobs.curing.models import Verdict
from groutjobs.engineering import ENGINE_VERSION
from groutjobs.findings import Finding, Level

FindingsBySystem = dict[str, list[Finding]]


def judged(found: FindingsBySystem, sources: list[str]) -> dict[str, Any]:
    """The head of a result. A blocker suggests that the work is not accepted; the person decides."""
    blocked = any(item.level is Level.BLOCKER for item in found[units.METRIC])
    cited = {item.source for item in found[units.METRIC]} | set(sources)
    return {
        "engine_version": ENGINE_VERSION,
        "sources": sorted(cited),
        "findings": [item.as_json() for item in found[units.METRIC]],
        "findings_us": [item.as_json() for item in found[units.US]],
        "suggested": Verdict.REFUSED if blocked else Verdict.ACCEPTED,
    }


def with_more(result: dict[str, Any], more: list[Finding]) -> dict[str, Any]:
    """The result with findings that hold no quantity, such as a calibration overdue."""
    added = [item.as_json() for item in more]
    blocked = any(item.level is Level.BLOCKER for item in more)
    return result | {
        "findings": [*result["findings"], *added],
        "findings_us": [*result["findings_us"], *added],
        "suggested": Verdict.REFUSED if blocked else result["suggested"],
    }


def calibration_findings(instrument: str, due_on: dt.date, made_on: dt.date) -> list[Finding]:
    """A warning where the instrument was past its calibration date on the day of the inspection."""
    if due_on >= made_on:
        return []
    words = f"{instrument}: calibration was due on {due_on}, {(made_on - due_on).days} days before the inspection."
    hint = "Calibrate the instrument; if it was out, inspect again."
    return [Finding(level=Level.WARNING, code="inspection.calibration", message=words, hint=hint, source="PRACTICE")]


def too_early_findings(milestone: dict[str, Any] | None, made_at: dt.datetime) -> list[Finding]:
    """A warning where bolts were tensioned before the cure clock reached the milestone for it."""
    reached = None if milestone is None else milestone["reached_surely_at"]
    if reached is not None and dt.datetime.fromisoformat(reached) <= made_at:
        return []
    words = "The cure clock had not surely reached the milestone for tensioning the bolts."
    hint = "Show the strength another way, such as cubes, or wait; the supplier's figure comes first."
    return [Finding(level=Level.WARNING, code="bolts.too_early", message=words, hint=hint, source="GROUTJOBS")]
