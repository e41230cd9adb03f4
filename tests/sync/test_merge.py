"""Two phones without signal: any order, repetition, cut and mixture of what they made ends in one state."""

import datetime as dt
import random
from typing import Any
from uuid import UUID

from hypothesis import given
from hypothesis import strategies as st

from groutjobs.pours.log import Fact, PourLog
from groutjobs.pours.merge import knows
from tests.pours.facts import START, answer, codes, fact, log_from, missing

FIRST, SECOND = "phone-1", "phone-2"


def sent(kind: str, at_min: float, phone: str, seq: int, /, deps: tuple[UUID, ...] = (), **body: Any) -> Fact:
    """An entry as a phone sent it; `received` says nothing that counts."""
    how = {"device_id": phone, "device_seq": seq, "deps": [str(one) for one in deps], "base_rev": 0, "grade": "A"}
    return fact(kind, at_min, _sent=how, _device=phone, **body)


def two_phones() -> list[Fact]:
    """Readings of both, a hold point in two ways, a batch step in two ways, a compartment full at two moments."""
    one = [
        sent("point_answer", 0, FIRST, 1, point_id=1, answer="accepted", witness_id=2),
        sent("reading", 1, FIRST, 2, what="plate", temp_c=21.0),
        sent("liquids_started", 10, FIRST, 3, batch=1, kits=1, lot="L1"),
        sent("wetted_out", 15, FIRST, 4, batch=1, grout_c=23.0),
        sent("compartment_full", 40, FIRST, 5, compartment="A"),
    ]
    other = [
        sent("point_answer", 2, SECOND, 1, point_id=1, answer="not_accepted", remark="low"),
        sent("reading", 1.5, SECOND, 2, what="plate", temp_c=21.2),
        sent("wetted_out", 16, SECOND, 3, batch=1, grout_c=27.0),
        sent("compartment_full", 55, SECOND, 4, compartment="A"),
        sent("note", 60, SECOND, 5, text="both here"),
    ]
    return [*one, *other]


def resolved(at_min: float, keeps: Fact, *over: Fact, phone: str = FIRST, seq: int = 9, deps: Any = None) -> Fact:
    ids = tuple(one.id for one in (keeps, *over))
    body = {"keeps": str(keeps.id), "over": [str(one.id) for one in over]}
    return sent("resolved", at_min, phone, seq, deps if deps is not None else ids, _reason="read again", **body)


def arrived(facts: list[Fact], order: list[int]) -> list[Fact]:
    """The same entries, received in another order: revision and time of receipt follow the arrival."""
    moved = []
    for rev, place in enumerate(order, 1):
        one = facts[place]
        columns = {name: getattr(one, name) for name in one.__dataclass_fields__}
        moved.append(Fact(**columns | {"rev": rev, "received_at": START + dt.timedelta(days=1, minutes=rev)}))
    return moved


def state(log: PourLog) -> Any:
    """All that a log says, times of receipt and revisions apart."""
    return (
        [(line.fact.id, line.details, line.is_struck, line.struck_reason) for line in log.lines],
        log.points, log.batches, log.fills, log.readings, log.findings, log.conflicts, log.doubles, log.state,
    )  # fmt: skip


@given(seed=st.integers(0, 10_000), repeats=st.integers(0, 4), cut=st.integers(0, 10), settle=st.booleans())
def test_any_order_repetition_cut_and_mixture_gives_one_state(seed: int, repeats: int, cut: int, settle: bool) -> None:
    facts = two_phones()
    if settle:
        facts += [resolved(70, facts[3], facts[7]), resolved(71, facts[8], facts[4], phone=SECOND)]
    kept = [place for place in range(len(facts)) if place != cut]
    rng = random.Random(seed)  # noqa: S311  a shuffle, not a secret
    shuffled = kept + rng.choices(kept, k=repeats)
    rng.shuffle(shuffled)
    assert state(log_from(arrived(facts, shuffled))) == state(log_from(arrived(facts, kept)))


def test_unequal_single_values_are_all_kept_and_stand_in_the_way() -> None:
    log = log_from(two_phones())
    assert [one.what for one in log.conflicts] == [
        "Compartment full, vent bleeding A", "Hold point 1, Set plate, level", "Wetted out, batch 1",
    ]  # fmt: skip
    assert len(log.lines) == 10
    assert codes(log).count("entry.conflict") == 3
    assert log.points[0].what_is_open.startswith("answered in two ways")
    assert "point.open" in missing(log)
    assert not log.is_released
    assert log.batches[0].grout_c == 23.0


def test_equal_single_values_are_no_conflict() -> None:
    facts = [
        sent("point_answer", 0, FIRST, 1, point_id=1, answer="accepted", witness_id=2),
        sent("point_answer", 9, SECOND, 1, point_id=1, answer="accepted", witness_id=2),
        sent("compartment_full", 40, FIRST, 2, compartment="A"),
        sent("compartment_full", 41, SECOND, 2, compartment="A", remark="east vent"),
    ]
    assert log_from(facts).conflicts == ()


def test_a_later_answer_that_knew_the_earlier_one_simply_counts() -> None:
    bad = sent("point_answer", 0, FIRST, 1, point_id=1, answer="not_accepted", remark="low")
    own = sent("point_answer", 5, FIRST, 2, point_id=1, answer="accepted", witness_id=2)
    of_other = sent("point_answer", 6, SECOND, 1, (bad.id, own.id), point_id=1, answer="not_accepted", remark="x")
    assert log_from([bad, own]).points[0].is_closed
    assert log_from([bad, own, of_other]).conflicts == ()


def test_an_answer_that_knew_both_settles_them() -> None:
    yes = sent("point_answer", 0, FIRST, 1, point_id=1, answer="accepted", witness_id=2)
    no = sent("point_answer", 1, SECOND, 1, point_id=1, answer="not_accepted", remark="low")
    again = sent("point_answer", 9, SECOND, 2, (yes.id,), point_id=1, answer="accepted", witness_id=1, _author_id=2)
    assert len(log_from([yes, no]).conflicts) == 1
    assert log_from([yes, no, again]).conflicts == ()
    assert log_from([yes, no, again]).points[0].is_closed


def test_a_decision_keeps_one_and_strikes_the_others_through_with_its_reason() -> None:
    facts = two_phones()
    log = log_from([*facts, resolved(70, facts[7], facts[3])])
    assert log.batches[0].grout_c == 27.0
    assert "Wetted out, batch 1" not in [one.what for one in log.conflicts]
    (line,) = [line for line in log.lines if line.fact.id == facts[3].id]
    assert (line.is_struck, line.struck_reason) == (True, "read again")


def test_a_third_value_that_comes_later_opens_it_again() -> None:
    facts = two_phones()
    third = sent("wetted_out", 17, "phone-3", 1, batch=1, grout_c=30.0)
    log = log_from([*facts, resolved(70, facts[3], facts[7]), third])
    assert "Wetted out, batch 1" in [one.what for one in log.conflicts]


def test_two_decisions_that_contradict_are_a_conflict_until_a_third_knows_both() -> None:
    facts = two_phones()
    one = resolved(70, facts[3], facts[7])
    other = resolved(71, facts[7], facts[3], phone=SECOND)
    log = log_from([*facts, one, other])
    assert "Two decisions about one thing" in [conflict.what for conflict in log.conflicts]
    assert log.batches[0].grout_c == 23.0
    third = resolved(80, facts[7], facts[3], seq=10, deps=(facts[3].id, facts[7].id, one.id, other.id))
    log = log_from([*facts, one, other, third])
    assert "Two decisions about one thing" not in [conflict.what for conflict in log.conflicts]
    assert log.batches[0].grout_c == 27.0


def test_a_likely_double_is_flagged_and_both_count() -> None:
    log = log_from(two_phones())
    assert [double.what for double in log.doubles] == ["Reading"]
    assert len(log.readings) == 2
    apart = [
        sent("reading", 0, FIRST, 1, what="air", temp_c=20.0),
        sent("reading", 3, SECOND, 1, what="air", temp_c=20.0),
    ]
    assert log_from(apart).doubles == ()


def test_an_entry_of_the_desk_knows_what_had_been_received() -> None:
    of_phone = sent("wetted_out", 15, FIRST, 1, batch=1, grout_c=23.0)
    at_desk = fact("wetted_out", 30, batch=1, grout_c=27.0)
    assert knows(at_desk, of_phone)
    assert log_from([of_phone, at_desk]).conflicts == ()
    later = START + dt.timedelta(hours=5)
    columns = {name: getattr(of_phone, name) for name in of_phone.__dataclass_fields__}
    assert len(log_from([Fact(**columns | {"received_at": later}), at_desk]).conflicts) == 1


def test_a_phone_that_had_seen_the_revision_knew_the_entry() -> None:
    at_desk = fact("wetted_out", 15, batch=1, grout_c=23.0, _rev=4)
    how = {"device_id": FIRST, "device_seq": 1, "deps": [], "base_rev": 4}
    seen = fact("wetted_out", 30, batch=1, grout_c=27.0, _sent=how, _rev=5)
    unseen = fact("wetted_out", 30, batch=1, grout_c=27.0, _sent=how | {"base_rev": 3}, _rev=5)
    assert log_from([at_desk, seen]).conflicts == ()
    assert len(log_from([at_desk, unseen]).conflicts) == 1


def test_pictures_that_have_not_come_keep_the_record_open() -> None:
    log = log_from([answer(), sent("note", 3, FIRST, 1, text="seen", _missing_blobs=("ab" * 32,))])
    assert "photo.missing" in missing(log)


def test_grade_c_and_late_entries_are_told() -> None:
    unsure = fact("note", 0, text="x", _sent={"grade": "C", "late": True, "device_id": FIRST, "device_seq": 1})
    assert {"entry.clock", "entry.late"} <= set(codes(log_from([unsure])))
