"""Two phones on one pour without signal: every way in which their six entries can arrive, and one state."""

import datetime as dt
import itertools
import json
from collections.abc import Iterator
from typing import Any

from groutjobs.faults.bench import MEANT, Bench, Outcome, Sender, judged
from groutjobs.faults.phone import Made, Phone

TITLE = "two phones on one pour (server)"
ORDERS = tuple(itertools.combinations(range(6), 3))
NO_CONFLICTS = 'groutjobs.faults.mutants:app("no_conflicts")'


def run(bench: Bench) -> Iterator[Outcome]:
    yield two_phones(bench, f"{len(ORDERS)} interleavings of 3 and 3 entries", MEANT, ORDERS)
    yield two_phones(bench, "the last answer wins in silence", NO_CONFLICTS, ORDERS[:4], twin=True)


def story(first: Phone, second: Phone, pour_id: int) -> tuple[list[Made], list[Made]]:
    """What each phone enters while it sees nothing of the other: readings, and a compartment full at two moments."""
    at = dt.datetime.now(dt.UTC) - dt.timedelta(hours=1)
    one = [
        first.op(pour_id, "reading", {"what": "plate", "temp_c": 21.0}, at=at),
        first.op(
            pour_id, "compartment_full", {"compartment": "A", "remark": "east vent"}, at=at + dt.timedelta(minutes=10)
        ),
        first.op(pour_id, "wetted_out", {"batch": 1, "grout_c": 23.0}, at=at + dt.timedelta(minutes=1)),
    ]
    other = [
        second.op(pour_id, "reading", {"what": "concrete", "temp_c": 19.0}, at=at + dt.timedelta(minutes=2)),
        second.op(
            pour_id, "compartment_full", {"compartment": "A", "remark": "west vent"}, at=at + dt.timedelta(minutes=30)
        ),
        second.op(pour_id, "wetted_out", {"batch": 1, "grout_c": 26.0}, at=at + dt.timedelta(minutes=3)),
    ]
    return one, other


def two_phones(
    bench: Bench, what: str, app: str, orders: tuple[tuple[int, ...], ...], *, twin: bool = False
) -> Outcome:
    faults: list[str] = []
    states: list[Any] = []
    made: list[Made] = []
    pours = bench.scene.pour_ids[20:] if twin else bench.scene.pour_ids
    with bench.server(app) as server:
        first, second = (Sender(device.phone(), server.url) for device in bench.scene.devices[:2])
        for pour_id, places in zip(pours, orders, strict=False):
            one, other = story(first.phone, second.phone, pour_id)
            made += [*one, *other]
            ours, theirs = iter(one), iter(other)
            for place in range(6):
                sender, op = (first, next(ours)) if place in places else (second, next(theirs))
                sender.send_all([op], until_s=20)
            state, conflicts = _state(first, pour_id, [*one, *other])
            states.append(state)
            if len(conflicts) != 2:
                faults.append(f"{len(conflicts)} conflicts, not 2")
    if any(state != states[0] for state in states):
        faults.append("the order of arrival shows in the state")
    if not twin:
        faults += _readiness(bench)
    return judged(what, bench, [first, second], made, 0, twin=twin, faults=sorted(set(faults)))


def _readiness(bench: Bench) -> list[str]:
    """A conflict stands in the way of the turnover."""
    told = json.loads(bench.manage("faults", "--read-blockers", str(bench.scene.pour_ids[0])))
    return [] if any("conflict" in code for code in told) else ["the turnover does not see the conflict"]


def _state(sender: Sender, pour_id: int, ops: list[Made]) -> tuple[Any, list[Any]]:
    _, content = sender.call("GET", f"records/{pour_id}?since=0", b"")
    text = content.decode()
    for place, one in enumerate(ops):
        text = text.replace(one.op_id, f"op-{place}")
    log = json.loads(text)
    names = ("id", "kind", "body", "author", "device")
    entries = [{name: entry[name] for name in names} for entry in log["entries"]]
    conflicts = [(one["key"], one["shown"], sorted(one["sides"])) for one in log["conflicts"]]
    return (sorted(entries, key=lambda entry: str(entry["id"])), conflicts, log["state"]), conflicts
