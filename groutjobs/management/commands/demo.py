"""Load the demonstration into its own folder, then serve it with one worker until Ctrl-C."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser

from groutjobs.accounts.models import User
from groutjobs.demo import PASSWORD, address_of
from groutjobs.demo.plant import read
from groutjobs.demo.scenario import load

MANAGE = Path(settings.BASE_DIR) / "manage.py"
REST_S = 3
"""A worker gives up where the database stays locked for long; what it was at is swept and taken up again."""


def _started(command: list[str]) -> subprocess.Popen[bytes]:
    return subprocess.Popen(command, cwd=settings.BASE_DIR, env=os.environ)  # noqa: S603


class Command(BaseCommand):
    help = "Migrate, load the demonstration, start server and worker, print the address and the sign-ins."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--copies", type=int, default=1, help="how many times the dozen machines are made")
        parser.add_argument("--load-only", action="store_true", help="do not start server and worker")

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("migrate", verbosity=0)
        if User.objects.exists():
            self.stdout.write("The demonstration is loaded already; delete the folder var/demo to start afresh.")
        else:
            self._load(options["copies"])
        self._print_sign_ins(options["port"])
        if not options["load_only"]:
            self._serve(options["port"])

    def _load(self, copies: int) -> None:
        self.stdout.write("Loading the invented works, step by step through the actions that people use:")
        started = time.monotonic()
        load(lambda words: self.stdout.write(f"  {words}"), copies=copies)
        self.stdout.write(f"Loaded in {time.monotonic() - started:.0f} s.")

    def _print_sign_ins(self, port: int) -> None:
        self.stdout.write(f"\nOpen http://localhost:{port}/ and sign in as one of these invented people.")
        self.stdout.write(f"Password of all: {PASSWORD}")
        self.stdout.write("No second factor is asked for at an invented site; My settings sets one up.\n")
        for row in read("people.toml")["person"]:
            roles = ", ".join(row["roles"]).replace("_", " ")
            self.stdout.write(f"  {address_of(row['key']):42} {row['name']}, {roles}")
        self.stdout.write("\nCtrl-C ends it.\n")
        self.stdout.flush()

    def _serve(self, port: int) -> None:
        web = [
            str(Path(sys.executable).parent / "gunicorn"), "groutjobs.wsgi", "--bind", f"127.0.0.1:{port}",
            "--workers", "2", "--threads", "2", "--log-level", "warning",
        ]  # fmt: skip
        worker = [sys.executable, str(MANAGE), "db_worker", "--no-reload"]
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        running = [_started(web), _started(worker)]
        try:
            while running[0].poll() is None:
                time.sleep(0.5)
                if running[1].poll() is not None:
                    self.stdout.write(f"The worker ended; it is started again in {REST_S} s.")
                    time.sleep(REST_S)
                    running[1] = _started(worker)
        except KeyboardInterrupt:
            self.stdout.write("Ended.")
        finally:
            for process in running:
                process.terminate()
            for process in running:
                process.wait(timeout=10)
