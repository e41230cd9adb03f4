"""FI-10, the phones' half: two phones write in one pour without seeing each other, and send in every order [GROUTJOBS]."""

# ruff: noqa: E501  lines of JavaScript in strings

import itertools
import json
from collections.abc import Iterator, Sequence
from typing import Any

from playwright.sync_api import Playwright

from groutjobs.faults.bench import Bench, Outcome, Server
from groutjobs.faults.browsing import BrowserPhone, Mutant, join, phones, write

TITLE = "Two phones, one pour, every order"
Ops = tuple[tuple[str, dict[str, Any]], ...]
FIRST: Ops = (
    ("liquids_started", {"batch": 1, "kits": 1, "lot": "L1"}),
    ("wetted_out", {"batch": 1, "grout_c": 22.0}),
    ("placed", {"batch": 1, "compartment": "A", "volume_l": 50.0, "left": "none"}),
)
SECOND: Ops = (
    ("liquids_started", {"batch": 1, "kits": 2, "lot": "L1"}),
    ("reading", {"what": "plate", "temp_c": 21.5}),
    ("note", {"text": "second phone"}),
)
# Who sends next, for each of the 20 orders of three ops of one phone and three of the other.
ORDERS = [tuple(0 if turn in chosen else 1 for turn in range(6)) for chosen in itertools.combinations(range(6), 3)]
ARRIVAL_DECIDES = Mutant("fold.js", ".values()].sort(order);", ".values()];")
SEND_ONE = """
const [outbox, wire, canon] = await Promise.all(["outbox.js", "wire.js", "canon.js"].map(load));
const row = (await outbox.waiting()).filter((one) => one.record_id === given)[0];
const bytes = canon.bytesOf(JSON.stringify({ ops: [{ op_id: row.op_id, sha256: row.sha256, text: row.text }] }));
const headers = { "X-By-Hand": "1", "Content-Type": "application/json", "Content-Digest": await canon.digestHeader(bytes) };
const [answer] = (await wire.call("POST", "/sync/v1/ops", { bytes, headers })).data.answers;
await outbox.receive(row.op_id, answer.receipt, answer.now);
return (await outbox.rows()).find((one) => one.op_id === row.op_id).state;
"""
# What the phone makes of the pour, with ids left out: they differ from run to run.
STATE = """
const [pull, model] = await Promise.all(["pull.js", "model.js"].map(load));
await pull.pull();
const { log } = await model.pour(given);
return JSON.stringify({
  kinds: log.lines.map((line) => line.fact.kind).sort(), state: log.state, conflicts: log.conflicts.map((one) => [one.key, one.sides.length]),
  batches: log.batches.map((one) => [one.number, one.kits, one.grout_c, one.placed_l, one.is_open]), fills: log.fills.map((one) => [one.name, one.placed_l]),
  readings: log.readings.map((one) => one.body.temp_c), blockers: log.findings.filter((one) => one.level === "blocker").map((one) => one.code).sort(),
});
"""


def run(bench: Bench) -> Iterator[Outcome]:
    with bench.server(workers=1) as server, phones() as driver:
        yield _all_orders(bench, server, driver, None, ORDERS, bench.scene.pour_ids[:20])
        yield _all_orders(bench, server, driver, ARRIVAL_DECIDES, [ORDERS[0], ORDERS[-1]], bench.scene.pour_ids[20:22])


def _all_orders(
    bench: Bench,
    server: Server,
    driver: Playwright,
    mutant: Mutant | None,
    orders: Sequence[Sequence[int]],
    pours: Sequence[int],
) -> Outcome:
    first = 0 if mutant is None else 2
    pair = [BrowserPhone(driver, server.url, mutant) for _ in range(2)]
    states: list[tuple[str, str]] = []
    try:
        for number, phone in enumerate(pair):
            join(phone, bench.scene.devices[first + number], number)
        for pour, order in zip(pours, orders, strict=True):
            states.append(_one_order(pair, pour, order))
    finally:
        for phone in pair:
            phone.close()
    ledger = bench.ledger()
    rows = len(ledger["ops"])
    return _judged(states, rows, mutant, len(orders))


def _one_order(pair: Sequence[BrowserPhone], pour: int, order: Sequence[int]) -> tuple[str, str]:
    """Both write without a network, one first; then they send one at a time in this order."""
    for phone, ops in zip(pair, (FIRST, SECOND), strict=True):
        phone.is_online = False  # what one wrote reaches the other only afterwards
        for kind, body in ops:
            write(phone, pour, kind, body)
    for phone in pair:
        phone.only_marked, phone.is_online = True, True
    for who in order:
        state = pair[who].run(SEND_ONE, pour)
        if state != "sent":
            raise RuntimeError(f"an op stands at {state} after its receipt")
    one, other = (str(phone.run(STATE, pour)) for phone in pair)
    return one, other


def _judged(states: Sequence[tuple[str, str]], rows: int, mutant: Mutant | None, count: int) -> Outcome:
    told: list[dict[str, Any]] = [json.loads(one) for one, _ in states]
    same_on_both = all(one == other for one, other in states)
    same_in_every_order = len({one for one, _ in states}) == 1
    conflict = all(
        state["conflicts"] == [["liquids_started 1", 2]] and "entry.conflict" in state["blockers"] for state in told
    )
    whole = all(len(state["kinds"]) == 6 for state in told)
    faults = [
        words
        for words, is_right in (
            ("the phones differ", same_on_both), ("the order of arrival decides", same_in_every_order),
            ("the conflict is not told", conflict), ("an entry is missing", whole),
        )
        if not is_right
    ]  # fmt: skip
    return Outcome(
        what=f"{count} orders of 3 and 3 ops", twin=mutant is not None, acked=6 * count, rows=rows, passed=not faults,
        note="; ".join(faults) or "one state, conflict told",
    )  # fmt: skip
