"""Milestones of running cures that come near and that no engineer released, from what was worked out last."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Subquery

from groutjobs.curing.release_models import MilestoneRelease
from groutjobs.curing.watch_models import MilestoneMove
from groutjobs.equipment.models import Site
from groutjobs.pours.models import Pour, PourState
from groutjobs.reminders.queries import AHEAD, LOOKED_BACK, MOST_POURS, REPORT_STANDS
from groutjobs.turnover.models import TurnoverReport

CURING = (PourState.PLACED, PourState.SETTLED)
NOT_RELEASED = frozenset({"full_cure"})
"""What nobody releases: it is told, and nothing waits for it."""


@dataclass(frozen=True, kw_only=True)
class Nearing:
    """One milestone of a running cure: the date in the middle, those of one and of nine in ten, and since when."""

    pour: Pour
    move: MilestoneMove
    code: str
    label: str
    middle_at: dt.datetime
    p10_at: dt.datetime | None
    p90_at: dt.datetime | None

    def title(self, now: dt.datetime) -> str:
        stands = "is near" if self.middle_at > now else "waits"
        return f"{self.pour.plan.machine.tag}: release of “{self.label}” {stands}"

    @property
    def dates(self) -> str:
        """The dates in words, on the clock of the site."""
        zone = self.pour.plan.machine.site.tz
        said = [f"likely {self.middle_at.astimezone(zone):%a %d %b %H:%M} (P50)"]
        if self.p10_at and self.p90_at:
            said += [f"P10 {self.p10_at.astimezone(zone):%a %d %b %H:%M}"]
            said += [f"P90 {self.p90_at.astimezone(zone):%a %d %b %H:%M}"]
        return ", ".join(said)


def running(site: Site, now: dt.datetime) -> list[MilestoneMove]:
    """The milestones as they were worked out last, of the pours of a site that are not turned over; one query."""
    newest = MilestoneMove.objects.filter(pour=OuterRef("pour")).order_by("-at", "-pk").values("pk")[:1]
    reported = TurnoverReport.objects.filter(pour=OuterRef("pour"), state__in=REPORT_STANDS)
    rows = MilestoneMove.objects.filter(
        ~Exists(reported), pk=Subquery(newest), pour__plan__machine__site=site, pour__state__in=CURING
    )
    return list(rows.select_related("pour__plan__machine__site").order_by("-at")[:MOST_POURS])


def told_better(moves: Iterable[MilestoneMove]) -> set[tuple[int, str]]:
    """Plan and code of the duties of a cure that readings date better than the search that predicted them."""
    return {
        (move.pour.plan_id, f"cure_{item['code']}")
        for move in moves
        for item in move.milestones
        if item["code"] not in NOT_RELEASED and item.get("middle_at")
    }


def nearing(moves: Iterable[MilestoneMove], now: dt.datetime, ahead: dt.timedelta = AHEAD) -> list[Nearing]:
    """Those not released that are likely up to so far ahead, the earliest first; one query more."""
    by_pour = {move.pour_id: move for move in moves}
    given = MilestoneRelease.objects.filter(pour__in=by_pour, withdrawal=None)
    released = set(given.values_list("pour_id", "milestone"))
    found = [
        row
        for move in by_pour.values()
        for item in move.milestones
        if (move.pour_id, item["code"]) not in released and item["code"] not in NOT_RELEASED
        if (row := _nearing(move, item)) is not None and now - LOOKED_BACK <= row.middle_at <= now + ahead
    ]
    return sorted(found, key=lambda row: (row.middle_at, row.pour.plan.machine.tag))


def _nearing(move: MilestoneMove, item: dict[str, Any]) -> Nearing | None:
    middle_at, p10_at, p90_at = (_moment(item.get(name)) for name in ("middle_at", "p10_at", "p90_at"))
    if middle_at is None:
        return None
    return Nearing(
        pour=move.pour,
        move=move,
        code=item["code"],
        label=item["label"],
        middle_at=middle_at,
        p10_at=p10_at,
        p90_at=p90_at,
    )


def _moment(text: str | None) -> dt.datetime | None:
    return dt.datetime.fromisoformat(text) if text else None
