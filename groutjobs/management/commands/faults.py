"""Try faults on real server processes, print what was acknowledged and what is there, and fail where they differ."""

import importlib
import json
import pkgutil
import random
import signal
import time
from collections.abc import Callable
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from groutjobs import faults
from groutjobs.faults.bench import Bench, Outcome
from groutjobs.faults.seeding import blockers, read_ledger, seed_scene, upset

HEAD = f"{'fault':<7}{'what':<58}{'acked':>7}{'rows':>7}{'lost':>6}{'doubled':>9}{'restarts':>10}{'s':>7}  found"
NOTES = """
Acked: entries for which a phone holds a receipt. Lost: acked, and not in the database with that very receipt. A twin
has a planted fault and must be found faulty. What this does not show: power loss, a disk that lies, real phones."""

ASKED_BY_THE_BENCH: dict[str, Callable[[str], Any]] = {
    "seed_scene": lambda _: seed_scene(),
    "read_ledger": lambda _: read_ledger(),
    "read_blockers": lambda pour_id: blockers(int(pour_id)),
    "upset": lambda names: upset(*names.split(",")),
}


def fault_names() -> list[str]:
    """Numbers of the faults that this program has, such as 01 and 10b."""
    return sorted(one.name[3:] for one in pkgutil.iter_modules(faults.__path__) if one.name.startswith("fi_"))


class Command(BaseCommand):
    help = "Fault injections on the entries of phones, each with a twin that must be found faulty."
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--only", default="", help="numbers apart by comma, such as 1,4,18; without it all")
        parser.add_argument("--seed", type=int, default=0, help="0 takes one by chance; it is printed")
        parser.add_argument("--database", choices=["sqlite", "postgres", "both"], default="sqlite")
        parser.add_argument("--keep", action="store_true", help="keep the folders of the runs")
        for name in ASKED_BY_THE_BENCH:
            parser.add_argument(f"--{name.replace('_', '-')}", nargs="?", const="all", help="asked by the bench itself")

    def handle(self, *args: Any, **options: Any) -> None:
        for name, answer in ASKED_BY_THE_BENCH.items():
            if options[name]:
                self.stdout.write(json.dumps(answer(options[name])))
                return
        signal.signal(signal.SIGTERM, signal.default_int_handler)  # so that no server is left behind
        seed = options["seed"] or random.SystemRandom().randrange(1, 10**6)
        vendors = {"both": ["sqlite", "postgresql"], "postgres": ["postgresql"]}.get(options["database"], ["sqlite"])
        wrong = 0
        for vendor in vendors:
            self.stdout.write(f"\n{vendor}, seed {seed}\n{HEAD}\n")
            for name in _wanted(options["only"]):
                wrong += self._try(name, seed, vendor, keep=options["keep"])
        self.stdout.write(NOTES + "\n")
        if wrong:
            raise CommandError(f"{wrong} runs did not come out as they must")

    def _try(self, name: str, seed: int, vendor: str, *, keep: bool) -> int:
        """One fault with its twin, each on a database of its own; how many came out wrong."""
        try:
            module = importlib.import_module(f"groutjobs.faults.fi_{name}")
        except ModuleNotFoundError as error:
            self.stdout.write(f"{name:<7}left out: needs the package {error.name} of the test lock\n")
            return 1
        wrong = 0
        bench = Bench(seed, vendor)
        started = time.monotonic()
        try:
            for outcome in module.run(bench):
                wrong += not outcome.is_right
                self._print(name, outcome, time.monotonic() - started)
                started = time.monotonic()
        finally:
            if keep or wrong:
                self.stdout.write(f"       kept in {bench.folder}\n")
            else:
                bench.close()
        return wrong

    def _print(self, name: str, one: Outcome, seconds: float) -> None:
        found = "as it must" if one.is_right else "WRONG"
        kind = "found faulty" if not one.passed else "sound"
        what = f"twin: {one.what}" if one.twin else one.what
        self.stdout.write(
            f"{name:<7}{what:<58}{one.acked:>7}{one.rows:>7}{one.lost:>6}{one.doubled:>9}{one.restarts:>10}"
            f"{seconds:>7.1f}  {kind}, {found}{'; ' + one.note if one.note else ''}\n"
        )
        self.stdout.flush()


def _wanted(only: str) -> list[str]:
    names = fault_names()
    if not only:
        return names
    asked = [word.strip().lower() for word in only.split(",") if word.strip()]
    wanted = [word if word in names else word.zfill(3 if word[-1:].isalpha() else 2) for word in asked]
    unknown = sorted(set(wanted) - set(names))
    if unknown:
        raise CommandError(f"no fault {', '.join(unknown)}; there are {', '.join(names)}")
    return wanted
