"""What the entries of a pour say: state, batches, compartments, leaks, samples and what is missing."""

import datetime as dt

import pytest

from groutjobs.pours.log import Fact
from groutjobs.pours.models import PourState
from tests.pours.facts import START, answer, basis, batch, codes, fact, log_from, missing, whole_pour


def upto(minute: float) -> list[Fact]:
    return [one for one in whole_pour() if one.happened_at <= START + dt.timedelta(minutes=minute)]


@pytest.mark.parametrize(
    ("minute", "state"),
    [
        (-1, PourState.PREPARED),
        (0, PourState.RELEASED),
        (24, PourState.RELEASED),
        (25, PourState.POURED),
        (85, PourState.POURED),
        (86, PourState.PLACED),
        (90, PourState.SETTLED),
    ],
)
def test_the_state_follows_the_entries(minute: float, state: PourState) -> None:
    assert log_from(upto(minute)).state == state


def test_a_pour_without_a_flaw_has_no_finding_and_misses_nothing() -> None:
    log = log_from(whole_pour())
    assert (codes(log), missing(log)) == ([], set())
    assert log.poured_at == START + dt.timedelta(minutes=25)
    assert log.placed_at == START + dt.timedelta(minutes=85)
    assert log.declared_by == "Ines Vandermolen"


def test_an_empty_pour_names_what_it_needs() -> None:
    log = log_from([])
    assert {"point.open", "pour.nothing_placed", "fill.not_full", "sample.none", "point.witness_open"} == missing(log)
    assert log.placed_at is None


def test_placing_is_not_over_while_a_compartment_is_open() -> None:
    log = log_from(upto(85))
    assert log.placed_at is None
    assert [fill.name for fill in log.open_fills] == ["B"]


def test_a_declaration_with_something_missing_ends_the_placing_but_not_the_record() -> None:
    log = log_from([*upto(45), fact("declared_complete", 50)])
    assert log.state == PourState.PLACED
    assert "fill.not_full" in missing(log)
    assert log.placed_at == START + dt.timedelta(minutes=45)


def test_a_batch_is_told_from_its_entries() -> None:
    one = log_from(upto(40)).batches[0]
    assert (one.number, one.lot, one.kits, one.bags, one.grout_c) == (1, "L1", 1, 4, 23.0)
    assert one.volume_l == one.placed_l == 56.0
    assert not one.is_open


def test_a_batch_with_some_left_stays_open_until_it_is_placed_or_discarded() -> None:
    part = fact("placed", 20, batch=1, compartment="A", volume_l=30.0, left="some")
    mixed = [*batch(1, 5, "A")[:3], part]
    assert log_from([answer(), *mixed]).open_batches[0].remaining_l == 26.0
    rest = fact("placed", 25, batch=1, compartment="B", volume_l=26.0, left="none")
    assert log_from([answer(), *mixed, rest]).open_batches == ()
    wasted = fact("discarded", 25, batch=1, why="too stiff")
    assert log_from([answer(), *mixed, wasted]).open_batches == ()


def test_compartments_add_up_what_was_placed() -> None:
    first, second = log_from(upto(70)).fills
    assert (first.placed_l, first.batches, first.missing_l) == (112.0, (1, 2), 8.0)
    assert (second.placed_l, second.batches) == (56.0, (3,))
    assert first.full_at
    assert second.full_at is None


def test_kits_are_counted_whole() -> None:
    log = log_from(upto(70))
    assert (log.kits_used, log.kits_left, log.next_batch) == (4, 2, 5)


def test_a_leak_is_open_until_a_closing_names_any_version_of_it() -> None:
    leak = fact("leak", 40, compartment="A", where="north")
    renamed = fact("leak", 40, compartment="A", where="north corner", _replaces_id=leak.id, _reason="clearer")
    assert "leak.open" in missing(log_from([leak, renamed]))
    for named in (leak, renamed):
        closed = fact("leak_closed", 44, leak=str(named.id), how="clay")
        log = log_from([leak, renamed, closed])
        assert [(one.where, one.how) for one in log.leaks] == [("north corner", "clay")]
        assert not log.open_leaks


def test_work_that_stopped_keeps_the_record_open() -> None:
    stop = fact("stopped", 40, why="rain")
    assert "pour.stopped" in missing(log_from([stop]))
    assert log_from([stop, fact("stopped", 41, why="still raining"), fact("resumed", 50)]).open_stoppage is None


def test_samples_and_readings_are_listed() -> None:
    facts = [fact("sample", 5, label="P-1", batch=1, photos=[7]), fact("reading", 1, what="air", temp_c=20.0)]
    log = log_from(facts)
    assert (log.samples[0].label, log.samples[0].photos) == ("P-1", (7,))
    assert (log.readings[0].what, log.readings[0].temp_c) == ("air", 20.0)


def test_lines_print_values_with_units_and_names() -> None:
    log = log_from([answer(), fact("wetted_out", 1, batch=1, grout_c=23.0)])
    assert ("Witness", "Ada Quillfeather") in log.lines[0].details
    assert ("Hold point", "1. Set plate, level") in log.lines[0].details
    assert ("Temperature of the mixed grout", "23.0 °C") in log.lines[1].details


def test_a_cementitious_grout_has_its_own_words() -> None:
    log = log_from([fact("liquids_started", 1, batch=1, kits=1, lot="L1", water_l=4.0)], grout_kind="cement")
    assert log.lines[0].title == "Water in, mixing started"


def test_the_basis_of_the_tests_adds_up() -> None:
    assert sum(fill.takeoff_l for fill in basis().fills) == basis().net_l
