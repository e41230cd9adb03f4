"""The log depends on the set of entries alone: not on their order, their repetition, or which phone sent which."""

import dataclasses
import datetime as dt
import random

from hypothesis import given, settings
from hypothesis import strategies as st

from groutjobs.pours.log import Fact
from tests.pours.facts import answer, batch, fact, log_from, whole_pour


def untidy_pour() -> list[Fact]:
    """Corrections of corrections, two corrections of one entry, a strike, a leak that was renamed, a double entry."""
    facts = [answer(0, answer="not_accepted", remark="low"), answer(5), *batch(1, 10, "A"), *batch(2, 30, "B")]
    wetted, placed = facts[4], facts[5]
    again = fact("wetted_out", 17, batch=1, grout_c=24.0, _replaces_id=wetted.id, _reason="wrong probe")
    third = fact("wetted_out", 17, batch=1, grout_c=25.0, _replaces_id=again.id, _reason="wrong again")
    rival = fact("wetted_out", 17, batch=1, grout_c=26.0, _replaces_id=wetted.id, _reason="other phone")
    leak = fact("leak", 40, compartment="A", where="north")
    renamed = fact("leak", 40, compartment="A", where="north corner", _replaces_id=leak.id, _reason="clearer")
    closed = fact("leak_closed", 44, leak=str(leak.id), how="clay")
    strike = fact("struck", 60, _replaces_id=placed.id, _reason="typed twice")
    double = fact("liquids_started", 10, batch=1, kits=1, lot="L1")
    stops = [fact("stopped", 50, why="rain"), fact("resumed", 55), fact("note", 56, text="dry again")]
    return [*facts, again, third, rival, leak, renamed, closed, strike, double, *stops]


@given(seed=st.integers(0, 10_000), repeats=st.integers(0, 5))
@settings(max_examples=60, deadline=None)
def test_any_order_and_repetition_gives_the_same_log(seed: int, repeats: int) -> None:
    facts = untidy_pour()
    shuffled = facts + random.Random(seed).choices(facts, k=repeats)  # noqa: S311  a shuffle, not a secret
    random.Random(seed).shuffle(shuffled)  # noqa: S311
    assert log_from(shuffled) == log_from(facts)


@given(cut=st.sets(st.integers(0, 21)))
@settings(max_examples=60, deadline=None)
def test_two_phones_agree_when_both_have_sent_everything(cut: set[int]) -> None:
    facts = whole_pour()
    first = [one for place, one in enumerate(facts) if place in cut]
    second = [one for place, one in enumerate(facts) if place not in cut]
    assert log_from(first + second) == log_from(second + first) == log_from(facts)


@given(cut=st.sets(st.integers(0, 24)))
@settings(max_examples=60, deadline=None)
def test_any_part_of_the_entries_makes_a_log(cut: set[int]) -> None:
    """What has arrived so far is shown, whatever is still on the way."""
    facts = [one for place, one in enumerate(untidy_pour()) if place in cut]
    assert len(log_from(facts).lines) == len(facts)


def test_entries_of_one_moment_stand_in_the_order_of_their_ids() -> None:
    notes = [fact("note", 0, text=word) for word in ("first", "second", "third")]
    log = log_from(notes[::-1])
    assert [line.fact.body["text"] for line in log.lines] == ["first", "second", "third"]


def test_the_zone_in_which_a_time_was_written_changes_nothing() -> None:
    east = dt.timezone(dt.timedelta(hours=9))
    moved = [dataclasses.replace(one, happened_at=one.happened_at.astimezone(east)) for one in whole_pour()]
    assert [line.fact.kind for line in log_from(moved).lines] == [one.kind for one in whole_pour()]
