"""The pour log as values: what the entries of one pour say, once they are put in order and corrections are followed."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from groutjobs.findings import Finding, Level
from groutjobs.pours.bodies import NOT_ACCEPTED
from groutjobs.pours.models import PourState


@dataclass(frozen=True)
class Fact:
    """One entry without its table. Times are kept in UTC: Python subtracts local times by the wall clock."""

    id: UUID
    kind: str
    body: Mapping[str, Any]
    happened_at: dt.datetime
    entered_at: dt.datetime
    received_at: dt.datetime
    author_id: int
    author: str
    device: str = ""
    replaces_id: UUID | None = None
    reason: str = ""
    # how it came from a phone (sync/entering.py), empty for an entry made on a page of the server
    sent: Mapping[str, Any] = field(default_factory=dict)
    rev: int = 0
    missing_blobs: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("happened_at", "entered_at", "received_at"):
            object.__setattr__(self, name, getattr(self, name).astimezone(dt.UTC))

    @property
    def order(self) -> tuple[dt.datetime, dt.datetime, str]:
        return (self.happened_at, self.entered_at, str(self.id))

    @property
    def clock_grade(self) -> str:
        """How sure its times are: A, B or C; empty where the server's own clock told them."""
        return str(self.sent.get("grade", ""))

    @property
    def is_late(self) -> bool:
        """Whether it came after a report had frozen the record."""
        return bool(self.sent.get("late"))

    @property
    def late_min(self) -> float:
        """How long after the fact it was entered."""
        return (self.entered_at - self.happened_at).total_seconds() / 60


@dataclass(frozen=True)
class Line:
    """One entry as the log prints it. `struck_by` names the entries that took its place."""

    fact: Fact
    title: str
    details: tuple[tuple[str, str], ...]
    photos: tuple[int, ...]
    struck_by: tuple[UUID, ...]
    struck_reason: str

    @property
    def is_struck(self) -> bool:
        return bool(self.struck_by)


@dataclass(frozen=True)
class Answer:
    """One answer to a hold point."""

    entry_id: UUID
    at: dt.datetime
    answer: str
    measured: str
    remark: str
    answerer_id: int
    answerer: str
    witness_id: int | None
    witness: str
    photos: tuple[int, ...]

    @property
    def is_acceptable(self) -> bool:
        return self.answer != NOT_ACCEPTED

    @property
    def is_witnessed(self) -> bool:
        """Seen by a second person; the one who answered cannot witness himself."""
        return self.witness_id is not None and self.witness_id != self.answerer_id


@dataclass(frozen=True)
class HoldPoint:
    """One line of the inspection and test plan with its answers, oldest first. The latest counts."""

    id: int
    position: int
    step: str
    checked: str
    recorded: str
    acceptance: str
    code: str
    witness_role: str
    before_pour: bool
    source: str
    answers: tuple[Answer, ...]
    conflict_from: dt.datetime | None = None

    @property
    def holds_the_pour(self) -> bool:
        return self.code == "H" and self.before_pour

    @property
    def latest(self) -> Answer | None:
        return self.answers[-1] if self.answers else None

    @property
    def is_closed(self) -> bool:
        return self.conflict_from is None and self._closes(self.latest)

    def was_closed(self, at: dt.datetime) -> bool:
        """Whether the answers given up to that moment closed it."""
        if self.conflict_from is not None and at >= self.conflict_from:
            return False
        earlier = [answer for answer in self.answers if answer.at <= at]
        return self._closes(earlier[-1] if earlier else None)

    def _closes(self, answer: Answer | None) -> bool:
        return answer is not None and answer.is_acceptable and (self.code != "H" or answer.is_witnessed)

    @property
    def what_is_open(self) -> str:
        """What it still needs, in words; empty once it is closed."""
        if self.is_closed:
            return ""
        if self.conflict_from is not None:
            return "answered in two ways by people who did not see each other's answer"
        if self.latest is None:
            return "not answered"
        if not self.latest.is_acceptable:
            return "not accepted"
        if self.latest.witness_id is None:
            return "no witness named"
        return "the witness is the person who answered"


@dataclass(frozen=True)
class Portion:
    """Some of a batch in one compartment."""

    entry_id: UUID
    compartment: str
    volume_l: float
    filled_ratio: float | None
    at: dt.datetime


@dataclass(frozen=True)
class Batch:
    """One batch from the first liquids to the plate, or to waste. `ends_at` is when its working life is over."""

    number: int
    lot: str
    kits: int | None
    volume_l: float
    bags: int | None
    liquids_at: dt.datetime | None
    aggregate_at: dt.datetime | None
    wetted_at: dt.datetime | None
    grout_c: float | None
    portions: tuple[Portion, ...]
    discarded_at: dt.datetime | None
    discarded_why: str
    has_some_left: bool
    clock_from: dt.datetime
    working_life_min: float | None
    working_life_basis: str
    working_life_source: str

    @property
    def placed_l(self) -> float:
        return sum(portion.volume_l for portion in self.portions)

    @property
    def placed_at(self) -> dt.datetime | None:
        return self.portions[-1].at if self.portions else None

    @property
    def is_open(self) -> bool:
        """Mixed or being mixed, and neither placed to the end nor thrown away."""
        return self.discarded_at is None and (not self.portions or self.has_some_left)

    @property
    def ends_at(self) -> dt.datetime | None:
        if self.working_life_min is None:
            return None
        return self.clock_from + dt.timedelta(minutes=self.working_life_min)

    def left_min(self, at: dt.datetime) -> float | None:
        """Minutes of working life left; below zero once it is over, None where it is not known."""
        return (self.ends_at - at.astimezone(dt.UTC)).total_seconds() / 60 if self.ends_at else None

    @property
    def remaining_l(self) -> float:
        """What is not yet placed of the volume that its kits yield; none where more was placed."""
        return max(self.volume_l - self.placed_l, 0.0)


@dataclass(frozen=True)
class Fill:
    """One compartment: what it takes by takeoff, with its share of the shoulder, and what went in."""

    name: str
    takeoff_l: float
    sd_l: float
    placed_l: float
    full_at: dt.datetime | None
    filled_ratio: float | None
    batches: tuple[int, ...]

    @property
    def placed_ratio(self) -> float:
        return self.placed_l / self.takeoff_l

    @property
    def missing_l(self) -> float:
        """Takeoff less what was placed; below zero where more went in."""
        return self.takeoff_l - self.placed_l


@dataclass(frozen=True)
class Reading:
    entry_id: UUID
    at: dt.datetime
    what: str
    temp_c: float
    humidity_ratio: float | None
    instrument: str
    author: str


@dataclass(frozen=True)
class Sample:
    entry_id: UUID
    at: dt.datetime
    label: str
    batch: int
    kept: str
    author: str
    photos: tuple[int, ...]


@dataclass(frozen=True)
class Leak:
    """One leak. `entry_id` is the entry that holds today; its first version keeps the key that closings refer to."""

    entry_id: UUID
    key: UUID
    at: dt.datetime
    compartment: str
    where: str
    closed_at: dt.datetime | None
    how: str
    photos: tuple[int, ...]

    @property
    def is_open(self) -> bool:
        return self.closed_at is None


@dataclass(frozen=True)
class Stoppage:
    at: dt.datetime
    why: str
    resumed_at: dt.datetime | None


@dataclass(frozen=True)
class Conflict:
    """A single value that was entered unequally by people who did not know of each other. `shown` counts till then."""

    key: str
    what: str
    shown: UUID
    sides: tuple[UUID, ...]


@dataclass(frozen=True)
class Double:
    """Two entries that look like one. Both stay until a person strikes one out."""

    what: str
    entries: tuple[UUID, UUID]


@dataclass(frozen=True)
class PourLog:
    """Everything that the entries of one pour say. Made by fold.fold; the order of arrival does not matter."""

    lines: tuple[Line, ...]
    points: tuple[HoldPoint, ...]
    batches: tuple[Batch, ...]
    fills: tuple[Fill, ...]
    readings: tuple[Reading, ...]
    samples: tuple[Sample, ...]
    leaks: tuple[Leak, ...]
    stoppages: tuple[Stoppage, ...]
    grout_kind: str
    data_sheet: str
    kits_per_batch: int
    batch_l: float
    kits_total: int
    net_l: float
    net_sd_l: float
    released_at: dt.datetime | None
    poured_at: dt.datetime | None
    declared_at: dt.datetime | None
    declared_by: str
    # what judge.py adds
    state: PourState = PourState.PREPARED
    placed_at: dt.datetime | None = None
    findings: tuple[Finding, ...] = ()
    missing_before_release: tuple[Finding, ...] = ()
    missing_before_complete: tuple[Finding, ...] = ()
    # what merge.py adds
    conflicts: tuple[Conflict, ...] = ()
    doubles: tuple[Double, ...] = ()

    @property
    def missing_blobs(self) -> tuple[str, ...]:
        """Pictures that entries name and that have not come, or that cannot be read."""
        return tuple(dict.fromkeys(blob for line in self.lines for blob in line.fact.missing_blobs))

    @property
    def is_released(self) -> bool:
        return self.released_at is not None

    @property
    def is_live(self) -> bool:
        """Whether more entries are expected soon."""
        return self.state in {PourState.PREPARED, PourState.RELEASED, PourState.POURED}

    @property
    def placed_l(self) -> float:
        return sum(fill.placed_l for fill in self.fills)

    @property
    def kits_used(self) -> int:
        return sum(batch.kits or 0 for batch in self.batches)

    @property
    def kits_left(self) -> int:
        """Kits of the plan not yet mixed; below zero where more were used."""
        return self.kits_total - self.kits_used

    @property
    def open_batches(self) -> tuple[Batch, ...]:
        return tuple(batch for batch in self.batches if batch.is_open)

    @property
    def open_leaks(self) -> tuple[Leak, ...]:
        return tuple(leak for leak in self.leaks if leak.is_open)

    @property
    def open_stoppage(self) -> Stoppage | None:
        return next((stop for stop in self.stoppages if stop.resumed_at is None), None)

    @property
    def open_fills(self) -> tuple[Fill, ...]:
        return tuple(fill for fill in self.fills if fill.full_at is None)

    @property
    def fill_in_hand(self) -> Fill:
        """Where grout goes next: the first compartment that lacks volume, else the first that was not seen full."""
        lacking = (fill for fill in self.open_fills if fill.missing_l > fill.sd_l)
        return next(lacking, (self.open_fills or self.fills)[0])

    @property
    def next_batch(self) -> int:
        return max((batch.number for batch in self.batches), default=0) + 1

    @property
    def what_stands_in_the_way(self) -> tuple[Finding, ...]:
        """Blockers that keep the record from being complete."""
        return tuple(item for item in self.missing_before_complete if item.level is Level.BLOCKER)

    @property
    def deviations(self) -> tuple[Line, ...]:
        """Entries that were corrected or struck out, for the report."""
        return tuple(line for line in self.lines if line.is_struck)

    def batch(self, number: int) -> Batch | None:
        return next((batch for batch in self.batches if batch.number == number), None)

    def point(self, point_id: int) -> HoldPoint | None:
        return next((point for point in self.points if point.id == point_id), None)
