"""Recorded traffic, mutilated: cut, repeated, out of order, two phones mixed. All of it must end in one state."""

import base64
import datetime as dt
import hashlib
import itertools
import json
import random
from collections.abc import Iterator
from typing import Any

from groutjobs.faults.bench import MEANT, Bench, Outcome, Sender, judged
from groutjobs.faults.phone import Made, Phone, envelope

TITLE = "mutilated traffic"
ROUNDS = 6
START = dt.datetime.now(dt.UTC) - dt.timedelta(hours=3)
LAST_BYTES = 'groutjobs.faults.mutants:app("last_bytes_win")'


def run(bench: Bench) -> Iterator[Outcome]:
    yield mutilated(bench, f"2 phones, {ROUNDS} orders with cuts and repeats, one state", MEANT)
    yield mutilated(bench, "takes other bytes under a known id", LAST_BYTES, twin=True)


def story(first: Phone, second: Phone, pour_id: int) -> list[Made]:
    """A pour on two phones, with corrections, a leak, a strike and a hold point answered in two ways."""
    moments = (START + dt.timedelta(minutes=3 * number) for number in itertools.count())

    def made(phone: Phone, kind: str, body: dict[str, Any], **fields: Any) -> Made:
        return phone.op(pour_id, kind, body, at=next(moments), **fields)

    answered = made(first, "note", {"text": "both of us are here"})
    leak = made(second, "leak", {"compartment": "A", "where": "north form"})
    closed = made(second, "leak_closed", {"leak": leak.op_id, "how": "clay"}, deps=[leak.op_id])
    wetted = made(first, "wetted_out", {"batch": 1, "grout_c": 23.0})
    better = made(
        first, "wetted_out", {"batch": 1, "grout_c": 24.0}, deps=[wetted.op_id], replaces=wetted.op_id,
        reason="wrong probe",
    )  # fmt: skip
    rival = made(second, "wetted_out", {"batch": 1, "grout_c": 27.0})
    full = made(first, "compartment_full", {"compartment": "A"})
    struck = made(first, "struck", {}, deps=[answered.op_id], replaces=answered.op_id, reason="not needed")
    readings = [
        made(phone, "reading", {"what": "plate", "temp_c": 20.0 + number})
        for number, phone in enumerate([first, second] * 3)
    ]
    return [answered, leak, closed, wetted, better, rival, full, struck, *readings]


def mutilated(bench: Bench, what: str, app: str, *, twin: bool = False) -> Outcome:
    rng = random.Random(bench.random.random())  # noqa: S311
    states, faults, made = [], [], []
    with bench.server(app) as server:
        senders = [Sender(device.phone(), server.url) for device in bench.scene.devices[:2]]
        pours = bench.scene.pour_ids[ROUNDS if twin else 0 :][:ROUNDS]
        for pour_id in pours:
            ops = story(senders[0].phone, senders[1].phone, pour_id)
            made += ops
            faults += _deliver(senders, ops, rng)
            states.append(_state(senders[0], pour_id, ops))
    if any(state != states[0] for state in states):
        faults.append("the pours differ")
    return judged(what, bench, senders, made, 0, twin=twin, faults=sorted(set(faults)))


def _deliver(senders: list[Sender], ops: list[Made], rng: random.Random) -> list[str]:
    """In any order, some twice, some calls cut or damaged, until each op has its receipt."""
    faults: list[str] = []
    holders = {sender.phone.device_id: sender for sender in senders}
    shuffled = ops + rng.choices(ops, k=len(ops) // 2)
    rng.shuffle(shuffled)
    for one in shuffled:
        sender = holders[json.loads(one.text)["device_id"]]
        if rng.random() < 0.3:
            faults += _damaged(sender, one, rng)
        sender.send_once([one])
        if rng.random() < 0.2:
            faults += _other_bytes(sender, one)
    for sender in senders:
        sender.send_all([one for one in ops if holders[json.loads(one.text)["device_id"]] is sender], until_s=30)
    return faults


def _damaged(sender: Sender, one: Made, rng: random.Random) -> list[str]:
    """A call of which one byte was changed on the way: 422, whatever its digest says."""
    content = bytearray(envelope([one]))
    place = rng.randrange(20, len(content) - 20)
    content[place] = content[place] ^ 1
    digest = base64.b64encode(hashlib.sha256(envelope([one])).digest()).decode()
    status, _ = sender.call("POST", "ops", bytes(content), **{"Content-Digest": f"sha-256=:{digest}:"})
    return [] if status == 422 else [f"a damaged call was answered by {status}"]


def _other_bytes(sender: Sender, one: Made) -> list[str]:
    seq = sender.phone.seq
    other = sender.phone.op(json.loads(one.text)["record_id"], "note", {"text": "other"}, op_id=one.op_id)
    sender.phone.seq = seq
    _, content = sender.call("POST", "ops", envelope([other]))
    answer = json.loads(content)["answers"][0]
    is_refused = answer.get("error", {}).get("http") == 409
    return [] if is_refused else ["other bytes under a known id were taken"]


def _state(sender: Sender, pour_id: int, ops: list[Made]) -> Any:
    """What the log of the pour says, with the place of each op in the story in place of its id."""
    _, content = sender.call("GET", f"records/{pour_id}?since=0", b"")
    text = content.decode()
    for place, one in enumerate(ops):
        text = text.replace(one.op_id, f"op-{place}")
    log = json.loads(text)
    entries = sorted(
        ({name: entry[name] for name in ("id", "kind", "body", "replaces", "reason")} for entry in log["entries"]),
        key=lambda entry: str(entry["id"]),
    )
    conflicts = [(one["what"], one["shown"], sorted(one["sides"])) for one in log["conflicts"]]
    return entries, conflicts, log["state"], sorted(map(str, log["waiting"]))
