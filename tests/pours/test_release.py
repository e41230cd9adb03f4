"""A pour is released by its hold points: accepted, and seen by a second person."""

import pytest

from groutjobs.pours.log import Fact
from groutjobs.pours.models import PourState
from tests.pours.facts import ENGINEER, LEAD, START, answer, batch, codes, fact, log_from


def test_an_accepted_and_witnessed_hold_point_releases_the_pour() -> None:
    log = log_from([answer(3)])
    assert log.state == PourState.RELEASED
    assert log.released_at == START.replace(minute=3)


@pytest.mark.parametrize(
    ("one", "why"),
    [
        (answer(answer="not_accepted", remark="low"), "not accepted"),
        (answer(witness_id=None), "no witness named"),
        (answer(witness_id=LEAD), "the witness is the person who answered"),
    ],
)
def test_it_stays_closed_without_acceptance_or_a_second_person(one: Fact, why: str) -> None:
    log = log_from([one])
    assert log.state == PourState.PREPARED
    assert log.points[0].what_is_open == why


def test_a_point_that_does_not_apply_counts_when_it_is_witnessed() -> None:
    assert log_from([answer(answer="not_applicable", remark="no sleeves")]).is_released


def test_the_latest_answer_counts() -> None:
    refused, accepted = answer(0, answer="not_accepted", remark="low"), answer(10)
    assert log_from([refused, accepted]).is_released
    assert not log_from([accepted, answer(20, answer="not_accepted", remark="moved")]).is_released


def test_points_after_the_pour_and_witness_points_do_not_hold_it() -> None:
    log = log_from([answer(), answer(1, point_id=3, answer="not_accepted", remark="hollow")])
    assert log.is_released


def test_the_release_dates_from_the_last_point_and_is_broken_by_a_refusal() -> None:
    facts = [answer(0), answer(5, answer="not_accepted", remark="moved"), answer(9), answer(12)]
    assert log_from(facts).released_at == START.replace(minute=9)


def test_a_batch_before_the_release_is_kept_and_named_as_a_blocker() -> None:
    log = log_from([*batch(1, 10, "A"), answer(60)])
    assert codes(log) == ["batch.before_release"]
    assert log.state == PourState.POURED
    assert "1" in log.findings[0].message


def test_a_batch_in_a_gap_of_the_release_is_named_too() -> None:
    facts = [answer(0), answer(5, answer="not_accepted", remark="moved"), answer(30)]
    assert codes(log_from([*facts, *batch(1, 10, "A")])) == ["batch.before_release"]
    assert codes(log_from([*facts, *batch(1, 31, "A")])) == []


def test_a_witness_is_named_by_the_people_of_the_site() -> None:
    unknown = answer(witness_id=99)
    assert log_from([unknown]).points[0].answers[0].witness == "person 99"
    assert log_from([answer(witness_id=ENGINEER)]).points[0].answers[0].witness == "Ada Quillfeather"


def test_a_corrected_answer_no_longer_counts() -> None:
    first = answer()
    second = answer(answer="not_accepted", remark="low", _replaces_id=first.id, _reason="wrong point")
    assert not log_from([first, second]).is_released
    assert log_from([first, fact("note", text="x")]).is_released
