"""From entries to the pour log: corrections are followed, then every fact finds its place. Pure; asks no table.

The entries are a set. Order of arrival and repetition change nothing, so two phones that were apart for days agree as
soon as both have sent everything.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from groutjobs import units
from groutjobs.planning.models import PlanPoint
from groutjobs.pours import judge, merge
from groutjobs.pours.bodies import BODIES, SOME, Slot, SlotKind, number_shown, title_of
from groutjobs.pours.calc import Basis, PlannedFill, batch_life
from groutjobs.pours.log import (
    Answer,
    Batch,
    Conflict,
    Fact,
    Fill,
    HoldPoint,
    Leak,
    Line,
    Portion,
    PourLog,
    Reading,
    Sample,
    Stoppage,
)
from groutjobs.pours.models import EntryKind

Names = Mapping[int, str]
BATCH_KINDS = frozenset(
    {EntryKind.LIQUIDS_STARTED, EntryKind.AGGREGATE_IN, EntryKind.WETTED_OUT, EntryKind.PLACED, EntryKind.DISCARDED}
)


def fold(
    basis: Basis, points: Iterable[PlanPoint], facts: Iterable[Fact], *, names: Names, system: str = units.METRIC
) -> PourLog:
    """The log that these entries make. `names` gives the name of each person by id; `system` is the reader's."""
    ordered = sorted({fact.id: fact for fact in facts}.values(), key=lambda fact: fact.order)
    struck = {fact.replaces_id for fact in ordered if fact.replaces_id}
    standing = [fact for fact in ordered if fact.id not in struck and fact.kind != EntryKind.STRUCK]
    lost, unclear = merge.settled(standing)
    effective = [fact for fact in standing if fact.id not in lost]
    by_kind = _by_kind(effective)
    points = list(points)
    steps = {f"point {point.pk}": f"{point.position}, {point.step}" for point in points}
    conflicts = (*merge.conflicts(effective, steps, basis.grout_kind), *unclear)
    hold_points = tuple(_hold_point(point, by_kind[EntryKind.POINT_ANSWER], names, conflicts) for point in points)
    batches = _batches(basis, [fact for fact in effective if fact.kind in BATCH_KINDS], system)
    declared = by_kind[EntryKind.DECLARED_COMPLETE][-1] if by_kind[EntryKind.DECLARED_COMPLETE] else None
    stops = sorted(by_kind[EntryKind.STOPPED] + by_kind[EntryKind.RESUMED], key=lambda fact: fact.order)
    log = PourLog(
        lines=_lines(ordered, lost, basis, hold_points, names, system),
        points=hold_points,
        batches=batches,
        fills=tuple(_fill(planned, batches, by_kind[EntryKind.COMPARTMENT_FULL]) for planned in basis.fills),
        readings=tuple(_reading(fact) for fact in by_kind[EntryKind.READING]),
        samples=tuple(_sample(fact) for fact in by_kind[EntryKind.SAMPLE]),
        leaks=_leaks(ordered, by_kind),
        stoppages=_stoppages(stops),
        grout_kind=basis.grout_kind,
        data_sheet=basis.data_sheet,
        kits_per_batch=basis.kits_per_batch,
        batch_l=basis.kits_per_batch * basis.kit_yield_l,
        kits_total=basis.kits_total,
        net_l=basis.net_l,
        net_sd_l=basis.net_sd_l,
        released_at=_released_at(hold_points),
        poured_at=min((portion.at for batch in batches for portion in batch.portions), default=None),
        declared_at=declared.happened_at if declared else None,
        declared_by=declared.author if declared else "",
        conflicts=conflicts,
        doubles=tuple(merge.doubles(effective, basis.grout_kind)),
    )
    return judge.judged(log, basis, effective, system=system)


def _by_kind(facts: Sequence[Fact]) -> defaultdict[str, list[Fact]]:
    by_kind: defaultdict[str, list[Fact]] = defaultdict(list)
    for fact in facts:
        by_kind[fact.kind].append(fact)
    return by_kind


def _released_at(points: Sequence[HoldPoint]) -> dt.datetime | None:
    """Since when all hold points before the pour have been closed without a break; None while one is open."""
    held = [point for point in points if point.holds_the_pour]
    if not all(point.is_closed for point in held):
        return None
    released_at = None
    for at in sorted({answer.at for point in held for answer in point.answers}, reverse=True):
        if not all(point.was_closed(at) for point in held):
            break
        released_at = at
    return released_at


def _hold_point(point: PlanPoint, answers: Sequence[Fact], names: Names, conflicts: Sequence[Conflict]) -> HoldPoint:
    sides = {side for conflict in conflicts if conflict.key == f"point {point.pk}" for side in conflict.sides}
    moments = sorted(fact.happened_at for fact in answers if fact.id in sides)
    return HoldPoint(
        id=point.pk,
        position=point.position,
        step=point.step,
        checked=point.checked,
        recorded=point.recorded,
        acceptance=point.acceptance,
        code=point.code,
        witness_role=point.witness_word,
        before_pour=point.before_pour,
        source=point.source,
        answers=tuple(_answer(fact, names) for fact in answers if fact.body["point_id"] == point.pk),
        conflict_from=moments[1] if len(moments) > 1 else None,
    )


def _answer(fact: Fact, names: Names) -> Answer:
    witness_id = fact.body.get("witness_id")
    return Answer(
        entry_id=fact.id,
        at=fact.happened_at,
        answer=fact.body["answer"],
        measured=fact.body.get("measured", ""),
        remark=fact.body.get("remark", ""),
        answerer_id=fact.author_id,
        answerer=fact.author,
        witness_id=witness_id,
        witness=names.get(witness_id, f"person {witness_id}") if witness_id else "",
        photos=_photos(fact),
    )


def _photos(fact: Fact) -> tuple[int, ...]:
    return tuple(fact.body.get("photos", ()))


def _batches(basis: Basis, facts: Sequence[Fact], system: str) -> tuple[Batch, ...]:
    by_number: defaultdict[int, list[Fact]] = defaultdict(list)
    for fact in facts:
        by_number[fact.body["batch"]].append(fact)
    return tuple(_batch(basis, number, by_number[number], system) for number in sorted(by_number))


def _batch(basis: Basis, number: int, facts: Sequence[Fact], system: str) -> Batch:
    """One batch from its entries in order. Of a step entered twice the first counts, and judge.py says so."""
    first: dict[str, Fact] = {}
    for fact in facts:
        first.setdefault(fact.kind, fact)
    placed = [fact for fact in facts if fact.kind == EntryKind.PLACED]
    liquids, kits = first.get(EntryKind.LIQUIDS_STARTED), _value(first, EntryKind.LIQUIDS_STARTED, "kits")
    life = batch_life(basis, _value(first, EntryKind.WETTED_OUT, "grout_c"), system=system)
    return Batch(
        number=number,
        lot=_value(first, EntryKind.LIQUIDS_STARTED, "lot") or "",
        kits=kits,
        volume_l=(kits or basis.kits_per_batch) * basis.kit_yield_l,
        bags=_value(first, EntryKind.AGGREGATE_IN, "bags"),
        liquids_at=_when(liquids),
        aggregate_at=_when(first.get(EntryKind.AGGREGATE_IN)),
        wetted_at=_when(first.get(EntryKind.WETTED_OUT)),
        grout_c=_value(first, EntryKind.WETTED_OUT, "grout_c"),
        portions=tuple(_portion(fact) for fact in placed),
        discarded_at=_when(first.get(EntryKind.DISCARDED)),
        discarded_why=_value(first, EntryKind.DISCARDED, "why") or "",
        has_some_left=bool(placed) and placed[-1].body["left"] == SOME,
        clock_from=liquids.happened_at if liquids else facts[0].happened_at,
        working_life_min=life.minutes,
        working_life_basis=life.basis,
        working_life_source=life.source,
    )


def _value(first: Mapping[str, Fact], kind: str, name: str) -> Any:
    return first[kind].body.get(name) if kind in first else None


def _when(fact: Fact | None) -> dt.datetime | None:
    return fact.happened_at if fact else None


def _portion(fact: Fact) -> Portion:
    body = fact.body
    return Portion(fact.id, body["compartment"], body["volume_l"], body.get("filled_ratio"), fact.happened_at)


def _fill(planned: PlannedFill, batches: Sequence[Batch], full: Sequence[Fact]) -> Fill:
    here = [(batch, portion) for batch in batches for portion in batch.portions if portion.compartment == planned.name]
    full_at = next((fact.happened_at for fact in full if fact.body["compartment"] == planned.name), None)
    levels = sorted((portion.at, portion.filled_ratio) for _, portion in here if portion.filled_ratio is not None)
    return Fill(
        name=planned.name,
        takeoff_l=planned.takeoff_l,
        sd_l=planned.sd_l,
        placed_l=sum(portion.volume_l for _, portion in here),
        full_at=full_at,
        filled_ratio=1.0 if full_at else levels[-1][1] if levels else None,
        batches=tuple(sorted({batch.number for batch, _ in here})),
    )


def _reading(fact: Fact) -> Reading:
    body = fact.body
    return Reading(
        fact.id,
        fact.happened_at,
        body["what"],
        body["temp_c"],
        body.get("humidity_ratio"),
        body.get("instrument", ""),
        fact.author,
    )


def _sample(fact: Fact) -> Sample:
    body = fact.body
    return Sample(
        fact.id, fact.happened_at, body["label"], body["batch"], body.get("kept", ""), fact.author, _photos(fact)
    )


def _leaks(ordered: Sequence[Fact], by_kind: Mapping[str, Sequence[Fact]]) -> tuple[Leak, ...]:
    """Leaks with their closings. A closing names any version of the leak; all versions share their first id."""
    replaced = {fact.id: fact.replaces_id for fact in ordered if fact.replaces_id}

    def first_version(entry_id: UUID) -> UUID:
        seen = {entry_id}
        while (older := replaced.get(entry_id)) and older not in seen:
            entry_id = older
            seen.add(older)
        return entry_id

    closings: dict[UUID, Fact] = {}
    for fact in by_kind[EntryKind.LEAK_CLOSED]:
        closings.setdefault(first_version(UUID(fact.body["leak"])), fact)
    leaks = []
    for fact in by_kind[EntryKind.LEAK]:
        key = first_version(fact.id)
        closing = closings.get(key)
        leaks.append(
            Leak(
                entry_id=fact.id,
                key=key,
                at=fact.happened_at,
                compartment=fact.body["compartment"],
                where=fact.body["where"],
                closed_at=_when(closing),
                how=closing.body["how"] if closing else "",
                photos=_photos(fact) + (_photos(closing) if closing else ()),
            )
        )
    return tuple(leaks)


def _stoppages(facts: Sequence[Fact]) -> tuple[Stoppage, ...]:
    stops: list[Stoppage] = []
    for fact in facts:
        is_stopped = bool(stops) and stops[-1].resumed_at is None
        if fact.kind == EntryKind.STOPPED and not is_stopped:
            stops.append(Stoppage(fact.happened_at, fact.body["why"], None))
        elif fact.kind == EntryKind.RESUMED and is_stopped:
            stops[-1] = Stoppage(stops[-1].at, stops[-1].why, fact.happened_at)
    return tuple(stops)


def _lines(
    ordered: Sequence[Fact],
    lost: Mapping[UUID, Fact],
    basis: Basis,
    points: Sequence[HoldPoint],
    names: Names,
    system: str,
) -> tuple[Line, ...]:
    replaced_by: defaultdict[UUID, list[Fact]] = defaultdict(list)
    for fact in ordered:
        if fact.replaces_id:
            replaced_by[fact.replaces_id].append(fact)
        if fact.id in lost:
            replaced_by[fact.id].append(lost[fact.id])
    steps = {point.id: f"{point.position}. {point.step}" for point in points}
    wheres = {str(fact.id): _meant(fact, basis) for fact in ordered}
    return tuple(
        Line(
            fact=fact,
            title=title_of(fact.kind, basis.grout_kind),
            details=tuple(
                (slot.label, _detail(slot, fact.body[slot.name], steps, wheres, names, system))
                for slot in BODIES[fact.kind]
                if slot.name in fact.body
            ),
            photos=_photos(fact),
            struck_by=tuple(newer.id for newer in replaced_by[fact.id]),
            struck_reason="; ".join(newer.reason for newer in replaced_by[fact.id]),
        )
        for fact in ordered
    )


def _meant(fact: Fact, basis: Basis) -> str:
    """How another entry speaks of this one."""
    if fact.kind == EntryKind.LEAK:
        return str(fact.body["where"])
    return f"{title_of(fact.kind, basis.grout_kind)}, {fact.author}, {fact.happened_at.astimezone(basis.zone):%H:%M}"


def _detail(
    slot: Slot, value: Any, steps: Mapping[int, str], wheres: Mapping[str, str], names: Names, system: str
) -> str:
    if slot.kind is SlotKind.NUMBER:
        return number_shown(slot, value, system)
    if slot.kind is SlotKind.CHOICE:
        return dict(slot.choices)[value]
    if slot.kind is SlotKind.POINT:
        return steps.get(value, f"point {value}")
    if slot.kind is SlotKind.PERSON:
        return names.get(value, f"person {value}")
    if slot.kind is SlotKind.ENTRIES:
        return "; ".join(wheres.get(one, f"entry {one}") for one in value)
    if slot.kind is SlotKind.ENTRY:
        return wheres.get(value, f"entry {value}")
    return str(value)
