"""The bench counts what was acknowledged against what is there, and a twin that passes fails the command."""

import importlib
import inspect
from typing import Any

import pytest

from groutjobs.faults.bench import Outcome, Sender, judged
from groutjobs.faults.phone import Made, Phone, uuid7
from groutjobs.management.commands.faults import fault_names

PHONE = Phone("d", "t", 1, None, b"")


class Ledger:
    """A bench of which only the ledger is asked."""

    def __init__(self, ops: list[list[Any]], entries: list[list[str]], chain: str = "") -> None:
        self.read = {"ops": ops, "entries": entries, "chain": chain}

    def ledger(self) -> dict[str, Any]:
        return self.read


def row(name: str, seq: int, now: str = "accepted") -> list[Any]:
    return [name, "sha", seq, f"hash{seq}", now, ""]


def verdict(ledger: Ledger, acked: dict[str, str], made: tuple[str, ...] = ("a", "b")) -> Outcome:
    sender = Sender(PHONE, "http://localhost:1", acked=acked)
    ops = [Made(name, "sha", "{}", number) for number, name in enumerate(made, 1)]
    return judged("run", ledger, [sender], ops, 0)  # type: ignore[arg-type]


BOTH = {"a": "1 hash1", "b": "2 hash2"}
ENTRIES = [["a", "12 note x"], ["b", "12 note y"]]


def test_all_there_is_sound() -> None:
    outcome = verdict(Ledger([row("a", 1), row("b", 2)], ENTRIES), BOTH)
    assert (outcome.acked, outcome.rows, outcome.lost, outcome.doubled, outcome.passed) == (2, 2, 0, 0, True)


@pytest.mark.parametrize(
    ("ledger", "acked", "lost", "doubled"),
    [
        (Ledger([row("a", 1)], ENTRIES[:1]), BOTH, 1, 0),
        (Ledger([row("a", 1), row("b", 3)], ENTRIES), BOTH, 1, 0),
        (Ledger([row("a", 1), row("b", 2)], [["a", "12 note x"], ["b", "12 note x"]]), BOTH, 0, 1),
        (Ledger([row("a", 1), row("b", 2)], ENTRIES), {"a": "1 hash1"}, 0, 0),
        (Ledger([row("a", 1), row("b", 2, "quarantined")], ENTRIES), BOTH, 0, 0),
        (Ledger([row("a", 1), row("b", 2)], ENTRIES, "2 forged"), BOTH, 0, 0),
    ],
    ids=["lost", "another receipt", "doubled", "never acknowledged", "entered though it waits", "chain broken"],
)
def test_each_fault_is_found(ledger: Ledger, acked: dict[str, str], lost: int, doubled: int) -> None:
    outcome = verdict(ledger, acked)
    assert not outcome.passed
    assert (outcome.lost, outcome.doubled) == (lost, doubled)


def test_a_twin_that_passes_is_wrong() -> None:
    assert Outcome(what="x", passed=True).is_right
    assert not Outcome(what="x", passed=False).is_right
    assert Outcome(what="x", twin=True, passed=False).is_right
    assert not Outcome(what="x", twin=True, passed=True).is_right


@pytest.mark.parametrize("name", fault_names())
def test_every_fault_has_a_run_and_a_twin(name: str) -> None:
    module = importlib.import_module(f"groutjobs.faults.fi_{name}")
    assert module.TITLE
    assert inspect.isgeneratorfunction(module.run)
    assert "twin" in inspect.getsource(module)


def test_the_faults_that_were_promised_are_there() -> None:
    assert {"01", "04", "08", "10", "15", "18", "22"} <= set(fault_names())


def test_ids_are_of_version_7_and_rise_with_time() -> None:
    """RFC 9562, section 5.7: 48 bits of milliseconds, version 7, variant 10."""
    early, late = uuid7(1_000), uuid7(2_000)
    assert (early.version, early.variant) == (7, "specified in RFC 4122")
    assert early < late
    assert early.int >> 80 == 1_000
