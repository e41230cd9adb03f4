"""The next thing to do, in one sentence. Grout that is mixed comes before all else."""

import datetime as dt

import pytest

from groutjobs.pours.log import Fact
from groutjobs.pours.steps import NextStep, next_step
from tests.pours.facts import START, answer, batch, fact, log_from, whole_pour


def step_after(facts: list[Fact], at_min: float = 20.0) -> NextStep:
    return next_step(log_from(facts), START + dt.timedelta(minutes=at_min))


def test_hold_points_come_first() -> None:
    step = step_after([])
    assert (step.kind, step.query) == ("point_answer", "point=1")
    assert "Set plate, level" in step.sentence


def test_then_the_first_batch_of_the_first_open_compartment() -> None:
    step = step_after([answer()])
    assert (step.kind, step.button) == ("liquids_started", "Start batch 1")
    assert "compartment A" in step.sentence


@pytest.mark.parametrize(("done", "kind"), [(1, "aggregate_in"), (2, "wetted_out"), (3, "placed")])
def test_a_batch_is_led_from_step_to_step(done: int, kind: str) -> None:
    step = step_after([answer(), *batch(1, 10, "A")[:done]])
    assert step.kind == kind
    assert "batch=1" in step.query


def test_the_oldest_open_batch_goes_first() -> None:
    facts = [answer(), *batch(2, 12, "A")[:3], *batch(1, 10, "A")[:3]]
    assert step_after(facts).button == "Batch 1 placed"


def test_it_is_urgent_near_the_end_of_the_working_life_and_ends_in_discarding() -> None:
    facts = [answer(), *batch(1, 10, "A")[:3]]
    assert not step_after(facts, 89).is_urgent
    assert step_after(facts, 91).is_urgent
    over = step_after(facts, 100)
    assert (over.kind, over.button) == ("discarded", "Discard batch 1")


def test_a_leak_is_closed_before_the_next_batch_but_after_the_batch_in_hand() -> None:
    leak = fact("leak", 18, compartment="A", where="north form")
    assert step_after([answer(), leak]).kind == "leak_closed"
    assert step_after([answer(), leak, *batch(1, 10, "A")[:3]]).kind == "placed"


def test_stopped_work_asks_to_go_on() -> None:
    assert step_after([answer(), fact("stopped", 18, why="rain")]).kind == "resumed"


def test_a_compartment_with_its_volume_is_looked_at() -> None:
    facts = [answer(), *batch(1, 10, "A", 60.0), *batch(2, 30, "A", 58.0)]
    step = step_after(facts, 50)
    assert (step.kind, step.query) == ("compartment_full", "compartment=A")


def test_the_rest_of_a_batch_goes_where_volume_is_lacking() -> None:
    rest = [*batch(2, 30, "B")[:3], fact("placed", 45, batch=2, compartment="A", volume_l=60.0, left="some")]
    step = step_after([answer(), *batch(1, 10, "A", 58.0), *rest], 50)
    assert (step.kind, step.query) == ("placed", "batch=2&compartment=B")


def test_a_full_pour_asks_for_a_sample_and_then_for_the_declaration() -> None:
    facts = whole_pour()
    assert step_after(facts[:-2], 88).kind == "sample"
    assert step_after(facts[:-1], 88).kind == "declared_complete"
    assert step_after(facts, 91).kind == ""


def test_a_declaration_with_something_missing_points_there() -> None:
    step = step_after([*whole_pour()[:6], fact("declared_complete", 40)], 41)
    assert (step.kind, "missing" in step.sentence) == ("", True)
