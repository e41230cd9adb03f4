"""A server and its worker as processes of their own, on a database that nobody else uses, at a moment of our choice."""

import datetime as dt
import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from groutjobs.faults.databases import Databases

ROOT = Path(__file__).resolve().parents[2]
STARTS_WITHIN_S = 60
ENDS_WITHIN_S = 15


class Server:
    """Web server and worker; `set_clock` starts both again at another moment of the same database."""

    def __init__(self, folder: Path, database: dict[str, str]) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = int(probe.getsockname()[1])
        self.address = f"http://127.0.0.1:{self.port}"
        self.folder = folder
        self.root = ROOT
        left_out = {"DATABASE_URL", "DJANGO_ALLOW_ASYNC_UNSAFE", "GROUTJOBS_HOSTS", "GROUTJOBS_DEBUG"}
        self.environment = {name: value for name, value in os.environ.items() if name not in left_out} | database
        self.environment |= {
            "DJANGO_SETTINGS_MODULE": "groutjobs.settings",
            "GROUTJOBS_PLAIN_HTTP": "1",
            "GROUTJOBS_VAR": str(folder / "var"),
        }
        self.running: list[subprocess.Popen[bytes]] = []

    def manage(self, at: dt.datetime, *words: str) -> str:
        """Run one command of the program to its end and return what it printed."""
        command = [*self.timed(at), "django", *words]
        done = subprocess.run(  # noqa: S603
            command, cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def set_clock(self, at: dt.datetime) -> None:
        """Stop what runs, and start server and worker at this moment."""
        self.stop()
        web = ["gunicorn", "groutjobs.wsgi", "--bind", f"127.0.0.1:{self.port}", "--threads", "4"]
        for words in (web, ["django", "db_worker", "--no-reload"]):
            with (self.folder / f"{words[0]}.log").open("ab") as log:
                self.running.append(
                    subprocess.Popen(  # noqa: S603
                        [*self.timed(at), *words], cwd=self.root, env=self.environment, stdout=log, stderr=log
                    )
                )
        self._wait_for_an_answer()

    def stop(self) -> None:
        for process in self.running:
            process.terminate()
        for process in self.running:
            process.wait(timeout=ENDS_WITHIN_S)
        self.running = []

    def log(self) -> str:
        """What server and worker wrote; a traceback in it is an error that no page showed."""
        return "\n".join(path.read_text(errors="replace") for path in sorted(self.folder.glob("*.log")))

    @staticmethod
    def timed(at: dt.datetime) -> list[str]:
        return [sys.executable, "-m", "tests.browser.timed", at.isoformat()]

    def _wait_for_an_answer(self) -> None:
        until = time.monotonic() + STARTS_WITHIN_S
        while time.monotonic() < until:
            assert all(process.poll() is None for process in self.running), self.log()
            try:
                with urllib.request.urlopen(f"{self.address}/sign-in/", timeout=5) as answer:  # noqa: S310
                    assert answer.status == 200
                    return
            except (urllib.error.URLError, TimeoutError, ConnectionError):
                time.sleep(0.2)
        raise AssertionError(f"no answer within {STARTS_WITHIN_S} s\n{self.log()}")


@contextmanager
def fresh_server(databases: Databases, folder: Path, *, is_empty: bool = False) -> Iterator[Server]:
    """A server that is not started yet, on a database of its own; `is_empty` for one without tables."""
    database = databases.empty() if is_empty else databases.fresh(folder / "var")
    server = Server(folder, database)
    try:
        yield server
    finally:
        server.stop()
        databases.drop(server.environment)


def first_invitation(server: Server, at: dt.datetime) -> str:
    """Make the tables, the first site and its administrator; returns the link that lets the administrator in."""
    server.manage(at, "migrate", "--verbosity", "0")
    told = server.manage(
        at, "first_administrator", "--site", "Site to be named", "--email", "lovisa@works.example",
        "--name", "Lovisa Quillmarsh", "--address", server.address,
    )  # fmt: skip
    found = re.search(r"http://\S+", told)
    assert found, told
    return found.group()
