"""Server processes killed in the middle of a burst, with repeated, halved and changed calls among the good ones."""

import contextlib
import json
import random
import socket
import threading
import time
from collections.abc import Iterator
from urllib.parse import urlsplit

from groutjobs.faults.bench import MEANT, Bench, Outcome, Sender, Server, in_threads, judged
from groutjobs.faults.phone import Made, Phone, envelope, headers

TITLE = "server killed in a burst"
EACH = 400
KILLS = 40
REPEATED, HALVED, CHANGED = 0.10, 0.05, 0.03
BEFORE_COMMIT = 'groutjobs.faults.mutants:app("answers_before_commit")'


def run(bench: Bench) -> Iterator[Outcome]:
    yield burst(bench, "4 phones, 400 each, kill -9 of workers and master", MEANT, EACH)
    yield burst(bench, "answers before it commits", BEFORE_COMMIT, 40, twin=True)


def burst(bench: Bench, what: str, app: str, each: int, *, twin: bool = False) -> Outcome:
    with bench.server(app) as server:
        senders = [Sender(device.phone(), server.url) for device in bench.scene.devices]
        made = [notes(bench, sender.phone, each, what) for sender in senders]
        is_over = threading.Event()
        killer = Killer(bench, server, is_over)
        clients = [
            Client(sender, ops, random.Random(bench.random.random()))  # noqa: S311
            for sender, ops in zip(senders, made, strict=True)
        ]
        with in_threads(killer.run):
            with in_threads(*(client.run for client in clients)):
                pass
            is_over.set()
    all_made = [one for ops in made for one in ops]
    faults = [fault for client in clients for fault in client.faults]
    return judged(what, bench, senders, all_made, server.restarts, twin=twin, faults=faults)


def notes(bench: Bench, phone: Phone, count: int, what: str) -> list[Made]:
    """Ops that each say something of their own, spread over the pours."""
    pours = bench.scene.pour_ids
    return [
        phone.op(pours[number % len(pours)], "note", {"text": f"{what} {phone.device_id} {number}"})
        for number in range(count)
    ]


class Killer:
    """Ends workers, and now and then everything, until the burst is over."""

    def __init__(self, bench: Bench, server: Server, is_over: threading.Event) -> None:
        self.server, self.is_over = server, is_over
        self.rng = random.Random(bench.random.random())  # noqa: S311

    def run(self) -> None:
        while self.server.restarts < KILLS and not self.is_over.wait(self.rng.uniform(0.3, 0.9)):
            if self.rng.random() < 0.1:
                self.server.restart()
            else:
                self.server.kill_worker(self.rng)


class Client:
    """One phone in a burst: good calls, and among them such that the wire or a bad program makes."""

    def __init__(self, sender: Sender, ops: list[Made], rng: random.Random) -> None:
        self.sender, self.ops, self.rng = sender, ops, rng
        self.faults: list[str] = []

    def run(self) -> None:
        until = time.monotonic() + 240
        while time.monotonic() < until:
            waiting = [one for one in self.ops if one.op_id not in self.sender.acked]
            if not waiting:
                return
            batch = waiting[: self.rng.randint(1, 12)]
            if self.rng.random() < HALVED:
                self._halved(batch)
            self.sender.send_once(batch)
            if self.rng.random() < REPEATED:
                self.sender.send_once(batch)
            if self.rng.random() < CHANGED:
                self._changed(batch[0])
            if batch[0].op_id not in self.sender.acked:
                time.sleep(self.rng.uniform(0.05, 0.3))

    def _halved(self, batch: list[Made]) -> None:
        """A call that is cut in the middle of its content."""
        content = envelope(batch)
        lines = headers(
            content, Origin=self.sender.url, Cookie=f"device={self.sender.phone.token}",
            **{"Content-Length": str(len(content))},
        )  # fmt: skip
        head = "POST /sync/v1/ops HTTP/1.1\r\nHost: localhost:{port}\r\n{rest}\r\n\r\n".format(
            port=urlsplit(self.sender.url).port, rest="\r\n".join(f"{name}: {value}" for name, value in lines.items())
        )
        with (
            contextlib.suppress(OSError),
            socket.create_connection(("127.0.0.1", urlsplit(self.sender.url).port or 0), timeout=3) as wire,
        ):
            wire.sendall(head.encode() + content[: len(content) // 2])

    def _changed(self, one: Made) -> None:
        """The id of an op that was received, with other bytes: 409, and nothing is overwritten."""
        if one.op_id not in self.sender.acked:
            return
        phone = self.sender.phone
        seq = phone.seq
        values = json.loads(one.text)
        other = phone.op(values["record_id"], "note", {"text": "changed"}, op_id=one.op_id)
        phone.seq = seq
        with contextlib.suppress(OSError, ValueError, KeyError):
            status, content = self.sender.call("POST", "ops", envelope([other]))
            answer = json.loads(content)["answers"][0] if status == 200 else {"error": {"http": 409}}
            if answer.get("error", {}).get("http") != 409:
                self.faults.append(f"other bytes under {one.op_id} were taken")
