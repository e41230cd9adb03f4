"""Entries as values, for tests that need no table."""

import datetime as dt
import itertools
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from groutjobs.engineering.materials import WorkingLifePoint
from groutjobs.planning.models import PlanPoint
from groutjobs.pours.calc import Basis, PlannedFill, StoredLot
from groutjobs.pours.fold import fold
from groutjobs.pours.log import Fact, PourLog

START = dt.datetime(2026, 4, 30, 12, 0, tzinfo=dt.UTC)
LEAD, ENGINEER = 1, 2
NAMES = {LEAD: "Ines Vandermolen", ENGINEER: "Ada Quillfeather"}
_numbers = itertools.count(1)


def basis(**changes: Any) -> Basis:
    """Two compartments of 120 L each, kits of 56 L, working life 90 min at 23 °C and 45 min at 33 °C."""
    values: dict[str, Any] = {
        "grout_kind": "epoxy",
        "data_sheet": "Test epoxy rev 3",
        "fills": (PlannedFill("A", 120.0, 4.0), PlannedFill("B", 120.0, 4.0)),
        "net_l": 240.0,
        "net_sd_l": 8.0,
        "kits_total": 6,
        "kits_per_batch": 1,
        "kit_yield_l": 56.0,
        "working_life": (WorkingLifePoint(23.0, 90.0),),
        "planned_grout_c": 23.0,
        "placing_min_c": 10.0,
        "placing_max_c": 32.0,
        "lots": (StoredLot("L1", dt.date(2028, 1, 1)),),
        "zone": ZoneInfo("America/New_York"),
    }
    return Basis(**values | changes)


def points() -> list[PlanPoint]:
    """A hold point and a witness point before the pour, and a hold point after it."""
    rows = [(1, "Set plate, level", "H", True), (2, "Forms, wax, seal", "W", True), (3, "Sounding", "H", False)]
    return [
        PlanPoint(
            pk=pk, position=pk, step=step, checked="level", recorded="readings", acceptance="0.17 mm/m", code=code,
            witness_role="engineer", before_pour=before, source="PPH",
        )
        for pk, step, code, before in rows
    ]  # fmt: skip


def fact(kind: str, at_min: float = 0.0, *, author: int = LEAD, **body: Any) -> Fact:
    """An entry made when it happened, `at_min` minutes after the start. Names that begin with _ are columns."""
    columns = {name[1:]: body.pop(name) for name in [*body] if name.startswith("_")}
    at = START + dt.timedelta(minutes=at_min)
    values: dict[str, Any] = {
        "id": UUID(int=next(_numbers)),
        "kind": kind,
        "body": body,
        "happened_at": at,
        "entered_at": at,
        "received_at": at,
        "author_id": author,
        "author": NAMES[author],
    }
    return Fact(**values | columns)


def answer(at_min: float = 0.0, *, point_id: int = 1, **body: Any) -> Fact:
    values: dict[str, Any] = {"point_id": point_id, "answer": "accepted", "witness_id": ENGINEER}
    return fact("point_answer", at_min, **values | body)


def batch(number: int, at_min: float, compartment: str, volume_l: float = 56.0, *, grout_c: float = 23.0) -> list[Fact]:
    """One batch, mixed in 7 minutes and placed after 15."""
    return [
        fact("liquids_started", at_min, batch=number, kits=1, lot="L1"),
        fact("aggregate_in", at_min + 4, batch=number, bags=4),
        fact("wetted_out", at_min + 7, batch=number, grout_c=grout_c),
        fact("placed", at_min + 15, batch=number, compartment=compartment, volume_l=volume_l, left="none"),
    ]


def whole_pour() -> list[Fact]:
    """A pour without a flaw: released, four batches, both compartments full, one sample, declared complete."""
    return [
        answer(0),
        answer(1, point_id=2),
        *batch(1, 10, "A"),
        *batch(2, 30, "A"),
        fact("compartment_full", 46, compartment="A"),
        *batch(3, 50, "B"),
        *batch(4, 70, "B"),
        fact("compartment_full", 86, compartment="B"),
        fact("sample", 87, label="P-1", batch=4),
        fact("declared_complete", 90),
    ]


def log_from(facts: list[Fact], **changes: Any) -> PourLog:
    return fold(basis(**changes), points(), facts, names=NAMES)


def codes(log: PourLog) -> list[str]:
    return [finding.code for finding in log.findings]


def missing(log: PourLog) -> set[str]:
    return {finding.code for finding in log.missing_before_complete}
