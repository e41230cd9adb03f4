"""Searches of one plan beside each other: what each measure brings, and what it asks for before the pour."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from groutjobs.windows.models import PourHours, Weight
from groutjobs.windows.odds import OddsShown, odds_shown
from groutjobs.windows.queries import milestones_at, moment_of
from groutjobs.windows.question import CoverKind


@dataclass(frozen=True)
class Measure:
    """One search as a row: what was asked, and what came of it. best is None where no hour is acceptable."""

    search: PourHours
    shift: str
    daylight: str
    cover: str
    cover_from: dt.datetime | None
    cover_to: dt.datetime | None
    held_c: float | None
    peak_heat_kw: float | None
    mean_heat_kw: float | None
    shift_hours: str
    store: dict[str, Any] | None
    hours_count: int
    first_at: dt.datetime | None
    best_at: dt.datetime | None
    best: int | None
    odds: OddsShown | None
    align_at: dt.datetime | None
    lead_h: float | None

    @property
    def title(self) -> str:
        """What was done, in words; as it is where nothing was."""
        done = [] if self.cover == CoverKind.NONE.label else [self.cover]
        done += [f"shift {self.shift_hours}"] if self.shift_hours else []
        done += ["material from another store"] if self.store else []
        return ", ".join(done) or "as it is"


def measures(searches: Iterable[PourHours]) -> list[Measure]:
    """The searches as rows, in their order."""
    return [_measure(search) for search in searches]


def _measure(search: PourHours) -> Measure:
    result = search.result
    asked, cover = result["inputs"], result["inputs"].get("cover") or {}
    run = next(iter(result["runs"]), None)
    ok = [hour["at"] for hour in result["hours"] if hour["ok"]]
    best_at = moment_of(run["best_at"]) if run else None
    cover_from = moment_of(cover.get("from_at"))
    return Measure(
        search=search,
        shift=str(Weight(asked["shift"]).label),
        daylight=str(Weight(asked["daylight"]).label),
        cover=str(CoverKind(cover.get("kind", CoverKind.NONE)).label),
        cover_from=cover_from,
        cover_to=moment_of(cover.get("to_at")),
        held_c=cover.get("held_c"),
        peak_heat_kw=cover.get("peak_heat_kw"),
        mean_heat_kw=cover.get("mean_heat_kw"),
        shift_hours=" to ".join(asked.get("shift_hours") or ()),
        store=asked.get("store"),
        hours_count=len(ok),
        first_at=moment_of(ok[0]) if ok else None,
        best_at=best_at,
        best=run["best"] if run else None,
        odds=odds_shown(result, run) if run else None,
        align_at=_align(search, run),
        lead_h=(best_at - cover_from) / dt.timedelta(hours=1) if best_at and cover_from else None,
    )


def _align(search: PourHours, run: dict[str, Any] | None) -> dt.datetime | None:
    if run is None:
        return None
    return next((row.at for row in milestones_at(search, run["best"]) if row.code == "align"), None)
