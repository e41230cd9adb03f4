"""An entry is never changed: a correction takes its place, with a reason, and both stay."""

from tests.pours.facts import answer, batch, codes, fact, log_from


def test_a_correction_counts_and_the_first_entry_stays_struck_through() -> None:
    facts = [answer(), *batch(1, 10, "A")]
    better = fact("wetted_out", 17, batch=1, grout_c=21.0, _replaces_id=facts[3].id, _reason="wrong probe")
    log = log_from([*facts, better])
    assert log.batches[0].grout_c == 21.0
    old = next(line for line in log.lines if line.fact.id == facts[3].id)
    assert (old.is_struck, old.struck_reason, old.struck_by) == (True, "wrong probe", (better.id,))
    assert log.deviations == (old,)
    assert codes(log) == []


def test_a_correction_of_a_correction_counts() -> None:
    facts = [answer(), *batch(1, 10, "A")]
    second = fact("wetted_out", 17, batch=1, grout_c=21.0, _replaces_id=facts[3].id, _reason="wrong probe")
    third = fact("wetted_out", 17, batch=1, grout_c=22.0, _replaces_id=second.id, _reason="misread")
    assert log_from([*facts, second, third]).batches[0].grout_c == 22.0


def test_a_struck_entry_counts_for_nothing() -> None:
    facts = [answer(), *batch(1, 10, "A")]
    strike = fact("struck", 30, _replaces_id=facts[4].id, _reason="typed on the wrong pour")
    log = log_from([*facts, strike])
    assert log.placed_l == 0.0
    assert log.poured_at is None
    assert len(log.lines) == len(facts) + 1


def test_striking_out_the_declaration_opens_the_record_again() -> None:
    declared = fact("declared_complete", 90)
    assert log_from([declared]).declared_at
    strike = fact("struck", 95, _replaces_id=declared.id, _reason="one batch was forgotten")
    assert log_from([declared, strike]).declared_at is None


def test_two_corrections_of_one_entry_both_stand_and_are_asked_about() -> None:
    note = fact("note", 0, text="dry")
    rivals = [fact("note", 0, text=text, _replaces_id=note.id, _reason="spelling") for text in ("wet", "damp")]
    log = log_from([note, *rivals])
    assert codes(log) == ["entry.corrected_twice"]
    settled = fact("struck", 5, _replaces_id=rivals[0].id, _reason="the other is right")
    assert codes(log_from([note, *rivals, settled])) == []
