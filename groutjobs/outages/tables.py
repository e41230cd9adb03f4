"""The pours of an outage as rows of a table."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from groutjobs.findings import Finding, Level
from groutjobs.outages.models import ScheduledPour

COLUMNS = ("strip", "tension", "align")


@dataclass(frozen=True)
class PourRow:
    """One scheduled pour: times against the date that it must meet, and what speaks against it.

    spare_h is the time between predicted and needed start of alignment, None where one of the two is not known.
    """

    pour: ScheduledPour
    placed_at: dt.datetime | None
    reached: list[dt.datetime | None]
    spare_h: float | None
    late_h: float | None
    findings: list[Finding]

    @property
    def state(self) -> str:
        if any(finding.level is Level.BLOCKER for finding in self.findings):
            return "blocker"
        return "warning" if self.findings else "accepted"


def pour_rows(pours: Sequence[ScheduledPour]) -> list[PourRow]:
    return [_row(pour) for pour in pours]


def _row(pour: ScheduledPour) -> PourRow:
    align_at, due_at = pour.reached_at("align"), pour.align_by_at
    gap_h = (due_at - align_at) / dt.timedelta(hours=1) if align_at and due_at else None
    return PourRow(
        pour=pour,
        placed_at=pour.reached_at("placed"),
        reached=[pour.reached_at(code) for code in COLUMNS],
        spare_h=gap_h if gap_h is not None and gap_h >= 0 else None,
        late_h=-gap_h if gap_h is not None and gap_h < 0 else None,
        findings=[Finding.from_json(finding) for finding in pour.findings],
    )
