"""Entries of people who did not see each other: what differs, what looks entered twice, and what a decision settles.

Pure; asks no table. One entry knows another when its phone had it: named in `deps`, received before the state that the
phone had seen (`base_rev`), or made earlier on the same phone. An entry made on a page of the server knows all that had
been received. Two that do not know each other and differ in a value that can only be one are a conflict.
"""

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any
from uuid import UUID

from groutjobs.pours.bodies import FROM_PAPER, title_of
from groutjobs.pours.log import Conflict, Double, Fact
from groutjobs.pours.models import EntryKind

SAME_MOMENT_S = 120.0
"""Entries of one thing within this time may be one entry made twice [GROUTJOBS]."""
SAME_TEMP_K = 0.5
SAME_VOLUME_RATIO = 0.05
ONCE_IN_A_BATCH = (EntryKind.LIQUIDS_STARTED, EntryKind.AGGREGATE_IN, EntryKind.WETTED_OUT, EntryKind.DISCARDED)
BESIDE_THE_VALUE = frozenset({"remark", "measured", "photos", "blobs", "as_entered", "instrument", FROM_PAPER})


def knows(later: Fact, earlier: Fact) -> bool:
    """Whether the person who made the one entry could have seen the other."""
    sent = later.sent
    if not sent:
        return earlier.received_at <= later.received_at
    if str(earlier.id) in sent.get("deps", ()):
        return True
    of_one_phone = earlier.sent.get("device_id") == sent.get("device_id")
    if of_one_phone and earlier.sent.get("device_seq", 0) < sent.get("device_seq", 0):
        return True
    return 0 < earlier.rev <= int(sent.get("base_rev", 0))


def apart(one: Fact, other: Fact) -> bool:
    """Whether neither knew of the other."""
    return not knows(one, other) and not knows(other, one)


def settled(facts: Sequence[Fact]) -> tuple[dict[UUID, Fact], list[Conflict]]:
    """Entries that a decision set aside, with that decision; and decisions that contradict each other.

    Of two decisions about one thing the one that knew the other counts; where neither did, the first, until a third
    one settles it.
    """
    applied: list[Fact] = []
    unclear: list[list[Fact]] = []
    for fact in (fact for fact in facts if fact.kind == EntryKind.RESOLVED):
        rivals = [one for one in applied if about(one) & about(fact) and one.body["keeps"] != fact.body["keeps"]]
        if all(knows(fact, one) for one in rivals):
            applied = [one for one in applied if one not in rivals] + [fact]
        elif any(apart(fact, one) for one in rivals):
            unclear.append([*rivals, fact])
    lost = {UUID(entry): fact for fact in applied for entry in fact.body["over"]}
    return lost, [_two_decisions(sides) for sides in unclear if not _overruled(sides, applied)]


def _two_decisions(sides: Sequence[Fact]) -> Conflict:
    return _conflict("decision " + min(about(sides[0])), "Two decisions about one thing", sides, sides[0])


def about(decision: Fact) -> set[str]:
    """The entries that a decision speaks of."""
    return {decision.body["keeps"], *decision.body["over"]}


def _overruled(sides: Sequence[Fact], applied: Iterable[Fact]) -> bool:
    return any(one not in sides and all(knows(one, side) for side in sides) for one in applied)


def conflicts(facts: Sequence[Fact], names: Mapping[str, str], grout_kind: str) -> list[Conflict]:
    """Single values that stand unequal side by side. `facts` are those that count, in order; `names` says points."""
    found = []
    for (key, what), group in sorted(_single_values(facts, names, grout_kind).items()):
        sides = [
            one
            for one in group
            if any(_differ(one, other) and apart(one, other) for other in group if other is not one)
        ]
        latest = [one for one in sides if not any(knows(other, one) for other in group if other is not one)]
        if len(latest) > 1:
            found.append(_conflict(key, what, latest, latest[0]))
    return found


def _conflict(key: str, what: str, sides: Sequence[Fact], shown: Fact) -> Conflict:
    return Conflict(key=key, what=what, shown=shown.id, sides=tuple(one.id for one in sides))


def _single_values(
    facts: Iterable[Fact], names: Mapping[str, str], grout_kind: str
) -> dict[tuple[str, str], list[Fact]]:
    groups: defaultdict[tuple[str, str], list[Fact]] = defaultdict(list)
    for fact in facts:
        title = title_of(fact.kind, grout_kind)
        if fact.kind == EntryKind.POINT_ANSWER:
            key = f"point {fact.body['point_id']}"
            groups[key, f"Hold point {names.get(key, key)}"].append(fact)
        elif fact.kind == EntryKind.COMPARTMENT_FULL:
            groups[f"full {fact.body['compartment']}", f"{title} {fact.body['compartment']}"].append(fact)
        elif fact.kind in ONCE_IN_A_BATCH:
            groups[f"{fact.kind} {fact.body['batch']}", f"{title}, batch {fact.body['batch']}"].append(fact)
        elif fact.replaces_id:
            groups[f"correction {fact.replaces_id}", f"Correction of {title}"].append(fact)
    return groups


def _differ(one: Fact, other: Fact) -> bool:
    if one.kind == EntryKind.POINT_ANSWER:
        return bool(one.body["answer"] != other.body["answer"])
    if _value(one) != _value(other):
        return True
    return not one.replaces_id and _seconds_between(one, other) > SAME_MOMENT_S


def _value(fact: Fact) -> dict[str, Any]:
    return {name: value for name, value in fact.body.items() if name not in BESIDE_THE_VALUE}


def _seconds_between(one: Fact, other: Fact) -> float:
    return abs((one.happened_at - other.happened_at).total_seconds())


def doubles(facts: Sequence[Fact], grout_kind: str) -> list[Double]:
    """Neighbours in time that say nearly the same of one thing; flagged, never dropped."""
    groups: defaultdict[tuple[Any, ...], list[Fact]] = defaultdict(list)
    for fact in facts:
        key = _thing(fact)
        if key:
            groups[fact.kind, *key].append(fact)
    return sorted(_near(groups.values(), grout_kind), key=lambda double: (double.what, double.entries))


def _thing(fact: Fact) -> tuple[Any, ...]:
    names = {
        EntryKind.READING: ("what",),
        EntryKind.PLACED: ("batch", "compartment"),
        EntryKind.LEAK: ("compartment",),
        EntryKind.SAMPLE: ("batch", "label"),
        EntryKind.NOTE: ("text",),
    }
    return tuple(fact.body[name] for name in names.get(EntryKind(fact.kind), ()))


def _near(groups: Iterable[Sequence[Fact]], grout_kind: str) -> Iterator[Double]:
    for group in groups:
        for one, other in itertools.pairwise(group):
            if _seconds_between(one, other) <= SAME_MOMENT_S and _is_near(one, other):
                yield Double(what=title_of(one.kind, grout_kind), entries=(one.id, other.id))


def _is_near(one: Fact, other: Fact) -> bool:
    if one.kind == EntryKind.READING:
        return bool(abs(one.body["temp_c"] - other.body["temp_c"]) <= SAME_TEMP_K)
    if one.kind == EntryKind.PLACED:
        larger = max(one.body["volume_l"], other.body["volume_l"])
        return bool(abs(one.body["volume_l"] - other.body["volume_l"]) <= SAME_VOLUME_RATIO * larger)
    return True
