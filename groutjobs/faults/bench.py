"""The bench on which faults are tried: its own database, real server processes on loopback, phones that keep count.

Every run of a fault has a twin with a planted fault that must be found; a twin that passes says that the run proves
nothing. The seed is printed. Outcomes rest on what was acknowledged by a receipt, never on what was sent.
"""

import atexit
import contextlib
import http.client
import json
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from groutjobs.faults.databases import Databases
from groutjobs.faults.phone import Made, Phone, envelope, headers

ROOT = Path(__file__).resolve().parents[2]
MEANT = "groutjobs.wsgi:application"
PATIENCE_S = 60.0


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One run. A twin is a run with a planted fault; it must come out with `passed` False."""

    what: str
    twin: bool = False
    acked: int = 0
    rows: int = 0
    lost: int = 0
    doubled: int = 0
    restarts: int = 0
    passed: bool = True
    note: str = ""

    @property
    def is_right(self) -> bool:
        return self.passed is not self.twin


class Server:
    """Gunicorn with its workers on a port of its own. A master that is killed is started again by the bench."""

    def __init__(self, environment: Mapping[str, str], app: str, workers: int) -> None:
        self.environment, self.app, self.workers = dict(environment), app, workers
        self.port = free_port()
        self.restarts = 0
        self.process = self._start()

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def _start(self) -> subprocess.Popen[bytes]:
        command = [
            str(Path(sys.executable).parent / "gunicorn"), self.app, "--bind", f"127.0.0.1:{self.port}", "--workers",
            str(self.workers), "--threads", "2", "--preload", "--log-level", "critical", "--graceful-timeout", "10",
        ]  # fmt: skip
        process = subprocess.Popen(  # noqa: S603
            command, cwd=ROOT, env=self.environment, start_new_session=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._wait(process)
        return process

    def _wait(self, process: subprocess.Popen[bytes]) -> None:
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            if process.poll() is not None:
                raise RuntimeError("the server ended while it started")
            with contextlib.suppress(OSError, http.client.HTTPException):
                connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
                connection.request("GET", "/sync/v1/hello", headers={"X-Sync-Proto": "1"})
                if connection.getresponse().status == 401:
                    return
            time.sleep(0.1)
        raise RuntimeError("the server did not answer in time")

    def worker_pids(self) -> list[int]:
        """The processes that answer; asked of the system, since gunicorn tells nobody."""
        path = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        return [int(word) for word in path.read_text().split()] if path.exists() else []

    def kill_worker(self, rng: random.Random, how: signal.Signals = signal.SIGKILL) -> None:
        """End one worker; the master starts another."""
        pids = self.worker_pids()
        if pids:
            with contextlib.suppress(ProcessLookupError):
                os.kill(rng.choice(pids), how)
                self.restarts += 1

    def kill(self) -> None:
        """End master and workers at once, as a power switch would."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(timeout=PATIENCE_S)

    def restart(self) -> None:
        """Kill everything and start anew on the same port."""
        self.kill()
        self.restarts += 1
        self.process = self._start()

    def stop(self) -> None:
        """End in good order, and by force where that takes too long."""
        self.process.terminate()
        try:
            self.process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            self.kill()


def free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


@dataclass(frozen=True)
class BenchDevice:
    """An enrolled phone of the scene with the people who have a shift key on it."""

    id: str
    name: str
    token: str
    cookie: tuple[str, str]
    people: tuple[dict[str, Any], ...]

    def phone(self, number: int = 0) -> Phone:
        """A phone as a program, held by one of these people."""
        one = self.people[number]
        return Phone(self.id, self.token, one["author_id"], one["key_id"], bytes.fromhex(one["key"]))


@dataclass(frozen=True)
class BenchScene:
    """What the seeding left: a site with pours and phones."""

    site_id: int
    pour_ids: tuple[int, ...]
    devices: tuple[BenchDevice, ...]
    administrator: dict[str, str]

    @property
    def pour_id(self) -> int:
        return self.pour_ids[0]


@cache
def _databases(vendor: str) -> Databases:
    address = os.environ.get("DATABASE_URL") or "postgres://postgres@127.0.0.1:5432/postgres"
    made = Databases(address if vendor == "postgresql" else "")
    atexit.register(made.close)
    return made


@dataclass
class Bench:
    """A fresh database with a small scene, and servers upon it. Left in place where a run was not right."""

    seed: int
    vendor: str = "sqlite"
    folder: Path = field(default_factory=lambda: Path(tempfile.mkdtemp(prefix="groutjobs-faults-")))

    def __post_init__(self) -> None:
        self.random = random.Random(self.seed)  # noqa: S311  faults at random moments, no secret
        self.environment = {
            **os.environ,
            "GROUTJOBS_VAR": str(self.folder),
            "GROUTJOBS_PLAIN_HTTP": "1",
            "GROUTJOBS_SECRET_KEY": "faults only, never a server " * 3,
            "DJANGO_SETTINGS_MODULE": "groutjobs.settings",
            "OPENBLAS_NUM_THREADS": "1",
            "PYTHONPATH": str(ROOT),
        }
        self.environment.pop("DATABASE_URL", None)
        self.environment |= _databases(self.vendor).fresh(self.folder)
        self.scene = _scene(json.loads(self.manage("faults", "--seed-scene")))

    def manage(self, *words: str) -> str:
        """What a management command prints, run on the bench's own database."""
        done = subprocess.run(  # noqa: S603
            [sys.executable, "-m", "django", *words], cwd=ROOT, env=self.environment, capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{words[0]}: {done.stderr[-2000:]}")
        return done.stdout

    @contextlib.contextmanager
    def server(self, app: str = MEANT, workers: int = 2, **more: str) -> Iterator[Server]:
        running = Server(self.environment | more, app, workers)
        try:
            yield running
        finally:
            running.stop()

    def ledger(self) -> dict[str, Any]:
        """What the database holds in the end: op ids with hash and status, ids of entries, whether the chain holds."""
        read: dict[str, Any] = json.loads(self.manage("faults", "--read-ledger"))
        return read

    def close(self) -> None:
        _databases(self.vendor).drop(self.environment)
        shutil.rmtree(self.folder, ignore_errors=True)


def _scene(values: dict[str, Any]) -> BenchScene:
    devices = tuple(
        BenchDevice(one["id"], one["name"], one["token"], (one["cookie"], one["token"]), tuple(one["people"]))
        for one in values["devices"]
    )
    return BenchScene(values["site_id"], tuple(values["pour_ids"]), devices, values["administrator"])


@dataclass
class Sender:
    """One phone that sends what it holds until every op has its receipt. Anything else is unknown: the same again."""

    phone: Phone
    url: str
    at_once: int = 8
    timeout_s: float = 5.0
    acked: dict[str, str] = field(default_factory=dict)
    unknown: int = 0
    tries: dict[str, list[float]] = field(default_factory=dict)
    strange: list[str] = field(default_factory=list)

    def call(self, method: str, path: str, content: bytes, **more: str) -> tuple[int, bytes]:
        """Status and content of one call; OSError or HTTPException where nothing whole came back."""
        parts = urlsplit(self.url)
        connection = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=self.timeout_s)
        sent = headers(content, Origin=self.url, Cookie=f"device={self.phone.token}") | more
        try:
            connection.request(method, f"/sync/v1/{path}", content, sent)
            response = connection.getresponse()
            is_ours = response.headers.get("X-Sync-Proto") == "1"
            return (response.status if is_ours else 0), response.read()
        finally:
            connection.close()

    def send_once(self, ops: list[Made]) -> None:
        """One call; receipts that fit are noted."""
        for one in ops:
            self.tries.setdefault(one.op_id, []).append(time.monotonic())
        try:
            status, content = self.call("POST", "ops", envelope(ops))
            answers = json.loads(content)["answers"] if status == 200 else []
        except (OSError, http.client.HTTPException, ValueError, KeyError):
            status, answers = 0, []
        if status != 200:
            self.unknown += len(ops)
        wanted = {one.op_id: one.sha256 for one in ops}
        for answer in answers:
            receipt = answer.get("receipt") or {}
            op_id = receipt.get("op_id", "")
            if receipt and wanted.get(op_id) == receipt["sha256"]:
                seen = f"{receipt['ledger_seq']} {receipt['event_hash']}"
                if self.acked.setdefault(op_id, seen) != seen:
                    self.strange.append(f"{op_id} has two receipts")

    def send_all(self, ops: list[Made], until_s: float = 120.0, least_s: float = 0.05, most_s: float = 1.0) -> None:
        """Go on until every op has its receipt; after a call that brought none, wait twice as long each time."""
        until, pause_s = time.monotonic() + until_s, least_s
        while time.monotonic() < until:
            waiting = [one for one in ops if one.op_id not in self.acked]
            if not waiting:
                return
            before = len(self.acked)
            self.send_once(waiting[: self.at_once])
            pause_s = least_s if len(self.acked) > before else min(pause_s * 2, most_s)
            if len(self.acked) == before:
                time.sleep(pause_s)


@contextlib.contextmanager
def in_threads(*tasks: Any) -> Iterator[None]:
    """Run these beside the body, and wait for them at its end."""
    threads = [threading.Thread(target=task, daemon=True) for task in tasks]
    for thread in threads:
        thread.start()
    yield
    for thread in threads:
        thread.join(timeout=300)


def judged(what: str, bench: Bench, senders: list[Sender], made: list[Made], restarts: int, **more: Any) -> Outcome:
    """Compare what phones hold receipts for with what the database holds of the ops of this run.

    Each op of a run says something of its own, so that two entries that say the same are one that was doubled.
    """
    ledger, ours = bench.ledger(), {one.op_id for one in made}
    rows = {row[0]: row for row in ledger["ops"] if row[0] in ours}
    acked = {op_id: seen for sender in senders for op_id, seen in sender.acked.items()}
    lost = [op_id for op_id, seen in acked.items() if op_id not in rows or f"{rows[op_id][2]} {rows[op_id][3]}" != seen]
    said = Counter(words for op_id, words in ledger["entries"] if op_id in ours)
    doubled = sum(count - 1 for count in said.values())
    accepted = {row[0] for row in rows.values() if row[4] == "accepted"}
    faults = [one for sender in senders for one in sender.strange]
    faults += [f"chain: {ledger['chain']}"] if ledger["chain"] else []
    if accepted != {op_id for op_id, _ in ledger["entries"] if op_id in ours}:
        faults.append("accepted ops and entries differ")
    unacked = len(ours - set(acked))
    if unacked:
        faults.append(f"{unacked} never acknowledged")
    faults += more.pop("faults", [])
    return Outcome(
        what=what, acked=len(acked), rows=len(rows), lost=len(lost), doubled=doubled, restarts=restarts,
        passed=not lost and not doubled and not faults, note="; ".join(faults)[:200], **more,
    )  # fmt: skip
