"""Signals in a burst: workers told to end, and stopped for a while as a busy machine does."""

import random
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from os import kill

from groutjobs.faults.bench import MEANT, Bench, Outcome, Sender, Server, in_threads, judged
from groutjobs.faults.fi_01 import BEFORE_COMMIT, notes

TITLE = "signals in a burst"
STOPPED_S = 20.0
SIGNALS = 60


def run(bench: Bench) -> Iterator[Outcome]:
    yield signals(bench, "SIGTERM to workers, then SIGSTOP for 20 s", MEANT, 200, STOPPED_S)
    yield signals(bench, "answers before it commits, SIGKILL after SIGTERM", BEFORE_COMMIT, 30, 0.0, twin=True)


def signals(bench: Bench, what: str, app: str, each: int, stopped_s: float, *, twin: bool = False) -> Outcome:
    with bench.server(app) as server:
        senders = [Sender(device.phone(), server.url, timeout_s=30.0 if stopped_s else 5.0)
                   for device in bench.scene.devices]  # fmt: skip
        made = [notes(bench, sender.phone, each, what) for sender in senders]
        is_over = threading.Event()
        rng = random.Random(bench.random.random())  # noqa: S311

        def signaller() -> None:
            if stopped_s:
                _stop_for(server, rng, stopped_s)
            while server.restarts < SIGNALS and not is_over.wait(rng.uniform(0.3, 0.9)):
                server.kill_worker(rng, signal.SIGTERM)
                if twin:
                    server.kill_worker(rng, signal.SIGKILL)

        def sending(sender: Sender, number: int) -> None:
            sender.send_all(made[number], until_s=240)

        with in_threads(signaller):
            with in_threads(*(lambda pair=pair: sending(pair[1], pair[0]) for pair in enumerate(senders))):
                pass
            is_over.set()
    return judged(what, bench, senders, [one for ops in made for one in ops], server.restarts, twin=twin)


def _stop_for(server: Server, rng: random.Random, seconds: float) -> None:
    """One worker stands still in the middle of its work and goes on as if nothing had been."""
    time.sleep(0.5)
    pids = server.worker_pids()
    if not pids:
        return
    pid = rng.choice(pids)
    with suppress(ProcessLookupError):
        kill(pid, signal.SIGSTOP)
        time.sleep(seconds)
        kill(pid, signal.SIGCONT)
        server.restarts += 1
