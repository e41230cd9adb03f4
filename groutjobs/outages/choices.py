"""What choosing an hour means: the times of the work that follow, and what speaks against them."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from groutjobs import units
from groutjobs.findings import Finding, Level
from groutjobs.outages.duties import Duty, basis, duties, late_findings
from groutjobs.outages.models import Outage, ScheduledPour
from groutjobs.planning.models import GroutKind
from groutjobs.windows.models import PourHours
from groutjobs.windows.queries import StartHour, start_hour
from groutjobs.windows.result import iso

PREPARATION = {
    GroutKind.EPOXY: (48.0, "condition the material, pallet opened", "BLOCH-MCM"),
    GroutKind.CEMENT: (24.0, "wet the concrete", "ACI351.4"),
}
"""Hours before the pour by which the last long preparation has begun: warming material, or saturating concrete."""


@dataclass(frozen=True, kw_only=True)
class Choice:
    """An hour of a search, chosen for its plan."""

    pour_hours: PourHours
    index: int
    outage: Outage | None
    align_by_at: dt.datetime | None

    @cached_property
    def hour(self) -> StartHour:
        return start_hour(self.pour_hours, self.index)

    @property
    def placed_at(self) -> dt.datetime:
        return self.hour.at + dt.timedelta(hours=self.pour_hours.result["inputs"]["placement_h"])

    def milestones(self) -> dict[str, dict[str, Any]]:
        """Times of the work by code, as ScheduledPour.milestones holds them."""
        before_h, words, source = preparation(self.pour_hours.plan.result)
        begins_at = self.hour.at - dt.timedelta(hours=before_h)
        work = {
            "prepared_from": _milestone(words, begins_at, source),
            "placed": _milestone("placing ends", self.placed_at, "GROUTJOBS"),
        }
        return work | {row.code: _milestone(row.label, row.at, row.source) for row in self.hour.milestones}

    def align_at(self) -> dt.datetime | None:
        return self.hour.reached_at("align")

    def basis(self) -> dict[str, Any]:
        """What its duties are counted from, as ScheduledPour keeps it."""
        return basis(self.pour_hours.plan.result, self.pour_hours.result)

    def duties(self, system: str = units.METRIC) -> list[Duty]:
        """What must be done by when, without the hold points and the steps of crews, which are not of this choice."""
        return duties(starts_at=self.hour.at, counted_from=self.basis(), milestones=self.milestones(), system=system)

    def findings(self, others: Iterable[ScheduledPour], now: dt.datetime) -> list[Finding]:
        """What speaks against this choice; others are the pours chosen for other plans of the site."""
        late = late_findings(self.duties(), self.hour.at, now)
        return [*self._of_hour(), *self._of_deadline(), *self._of_outage(), *self._of_others(others), *late]

    def _of_hour(self) -> list[Finding]:
        if self.hour.ok:
            return []
        names = ", ".join(finding.about for finding in self.hour.findings if finding.level is Level.BLOCKER)
        message = f"The hour is not acceptable by the search it was chosen from: {names}."
        hint = "Choose an acceptable hour, or write on whose authority it is taken."
        return [_finding(Level.BLOCKER, "hour_not_acceptable", message, hint)]

    def _of_deadline(self) -> list[Finding]:
        align_at = self.align_at()
        if self.align_by_at is None:
            return []
        due = _clock(self.align_by_at, self.pour_hours)
        if align_at is None:
            message = f"The forecast ends before the grout is cured enough to align; {due} cannot be promised."
            return [_finding(Level.WARNING, "align_not_known", message, "Search again with a longer forecast.")]
        late_h = (align_at - self.align_by_at) / dt.timedelta(hours=1)
        if late_h <= 0:
            return []
        message = f"Alignment can start {_clock(align_at, self.pour_hours)}, {late_h:.0f} h after it is due ({due})."
        hint = "Pour earlier, keep the grout warmer, or agree on a later date."
        return [_finding(Level.BLOCKER, "align_late", message, hint, margin=-late_h)]

    def _of_outage(self) -> list[Finding]:
        if self.outage is None:
            return []
        findings, start = [], self.hour.at
        if start < self.outage.starts_at:
            message = f"The pour starts before {self.outage} does ({_clock(self.outage.starts_at, self.pour_hours)})."
            findings.append(_finding(Level.BLOCKER, "before_outage", message, "Choose a later hour."))
        if self.placed_at > self.outage.ends_at:
            message = f"Placing ends after {self.outage} ({_clock(self.outage.ends_at, self.pour_hours)})."
            findings.append(_finding(Level.BLOCKER, "after_outage", message, "Choose an earlier hour."))
        elif (align_at := self.align_at()) is not None and align_at > self.outage.ends_at:
            message = f"Alignment can start {_clock(align_at, self.pour_hours)}, after the end of {self.outage}."
            findings.append(
                _finding(Level.WARNING, "align_after_outage", message, "Pour earlier or keep the grout warmer.")
            )
        return findings

    def _of_others(self, others: Iterable[ScheduledPour]) -> list[Finding]:
        overlapping = [
            other.plan.machine.tag
            for other in others
            if other.starts_at < self.placed_at and self.hour.at < (other.reached_at("placed") or other.starts_at)
        ]
        if not overlapping:
            return []
        message = f"Placing overlaps with that of {', '.join(overlapping)}."
        return [_finding(Level.WARNING, "overlap", message, "Make sure that crew and mixers are enough for both.")]


def preparation(result: dict[str, Any]) -> tuple[float, str, str]:
    """Hours, words and source; hours that the plan gives its epoxy in a store take the place of the general ones."""
    kind = GroutKind(result["inputs"]["data_sheet"]["kind"])
    before_h, words, source = PREPARATION[kind]
    planned_h = (result.get("conditioning") or {}).get("planned_h", before_h)
    if kind is not GroutKind.EPOXY or planned_h == before_h:
        return before_h, words, source
    return planned_h, words, "GROUTJOBS"


def _milestone(label: str, at: dt.datetime | None, source: str) -> dict[str, Any]:
    return {"label": label, "at": iso(at) if at else None, "source": source}


def _finding(level: Level, code: str, message: str, hint: str, margin: float | None = None) -> Finding:
    return Finding(level=level, code=code, message=message, hint=hint, source="GROUTJOBS", margin=margin)


def _clock(moment: dt.datetime, pour_hours: PourHours) -> str:
    return f"{moment.astimezone(pour_hours.plan.machine.site.tz):%a %d %b %H:%M}"
