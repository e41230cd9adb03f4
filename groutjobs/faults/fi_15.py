"""A bad line: 400 kbit/s, 400 ms there and back, one call in five cut before or after the answer."""

import json
import random
import time
from collections.abc import Iterator

from groutjobs.faults.bench import Bench, Outcome, Sender, in_threads, judged
from groutjobs.faults.fi_01 import notes
from groutjobs.faults.line import Line
from groutjobs.faults.phone import Made

TITLE = "bad line"
EACH = 60
MOST_TRIES = 3
WITHIN_S = 60.0
LEAST_PAUSE_S, MOST_PAUSE_S = 2.0, 40.0


def run(bench: Bench) -> Iterator[Outcome]:
    yield bad_line(bench, "2 phones, 400 kbit/s, 400 ms, every fifth call cut", patient)
    yield bad_line(bench, "a phone that tries again at once", eager, twin=True)
    yield bad_line(bench, "a phone that takes silence for a receipt", hopeful, twin=True)
    yield bad_line(bench, "a phone that makes a new id after silence", renaming, twin=True)


def patient(sender: Sender, ops: list[Made]) -> list[Made]:
    """As the app does: the same bytes, after a pause that doubles, with a random part; what went out three times within
    a minute rests, and the others go on."""
    until, pause_s = time.monotonic() + 240, LEAST_PAUSE_S
    while time.monotonic() < until:
        waiting = [one for one in ops if one.op_id not in sender.acked]
        if not waiting:
            break
        before, now = len(sender.acked), time.monotonic()
        ready = [one for one in waiting if _tries(sender, one, now) < MOST_TRIES]
        if ready:
            sender.send_once(ready[: sender.at_once])
        if len(sender.acked) == before:
            time.sleep(pause_s / 2 + random.uniform(0, pause_s))  # noqa: S311
            pause_s = min(pause_s * 2, MOST_PAUSE_S)
        else:
            pause_s = LEAST_PAUSE_S
    return ops


def _tries(sender: Sender, one: Made, now: float) -> int:
    return sum(now - moment < WITHIN_S for moment in sender.tries.get(one.op_id, ()))


def eager(sender: Sender, ops: list[Made]) -> list[Made]:
    """Sends the same bytes again without a pause until their receipt is there."""
    sender.send_all(ops, least_s=0.01, most_s=0.02)
    return ops


def hopeful(sender: Sender, ops: list[Made]) -> list[Made]:
    """Sends everything once and takes every call that went out for received."""
    for start in range(0, len(ops), sender.at_once):
        batch = ops[start : start + sender.at_once]
        sender.send_once(batch)
        for one in batch:
            sender.acked.setdefault(one.op_id, "hoped for")
    return ops


def renaming(sender: Sender, ops: list[Made]) -> list[Made]:
    """Sends what brought no answer again, under a new id: the words may stand twice in the log then."""
    made, waiting = list(ops), list(ops)
    while waiting:
        batch, waiting = waiting[: sender.at_once], waiting[sender.at_once :]
        sender.send_once(batch)
        for one in [one for one in batch if one.op_id not in sender.acked]:
            values = json.loads(one.text)
            again = sender.phone.op(values["record_id"], values["kind"], values["body"])
            made.append(again)
            waiting.append(again)
    return made


def bad_line(bench: Bench, what: str, sending: object, *, twin: bool = False) -> Outcome:
    rng = random.Random(bench.random.random())  # noqa: S311
    each = EACH // 2 if twin else EACH
    with bench.server() as server:
        line = Line(server.port, rng, bit_s=400_000, delay_s=0.2, cut_ratio=0.6 if sending is eager else 0.2)
        senders = [
            Sender(device.phone(), f"http://localhost:{line.port}", timeout_s=15.0, at_once=3)
            for device in bench.scene.devices[:2]
        ]
        made: list[Made] = []

        def one_phone(sender: Sender) -> None:
            made.extend(sending(sender, notes(bench, sender.phone, each, what)))  # type: ignore[operator]

        with in_threads(*(lambda sender=sender: one_phone(sender) for sender in senders)):
            pass
        line.close()
    faults = [f"{count} tries of one entry in a minute" for count in [_most_tries(senders)] if count > MOST_TRIES]
    return judged(f"{what} ({line.cuts} cuts)", bench, senders, made, 0, twin=twin, faults=faults)


def _most_tries(senders: list[Sender]) -> int:
    """The most times that one op went out within a minute."""
    most = 0
    for sender in senders:
        for tries in sender.tries.values():
            for start in tries:
                most = max(most, sum(start <= moment < start + WITHIN_S for moment in tries))
    return most
