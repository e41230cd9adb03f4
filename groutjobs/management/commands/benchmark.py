"""Print what the computing costs on this machine, as medians and ratios of one run."""

import importlib
import os
import platform
from itertools import chain
from typing import Any

import numpy as np
import scipy
from django.core.management.base import BaseCommand, CommandError, CommandParser

from groutjobs.benchmarks import all_lines
from groutjobs.benchmarks_calibration import reliability, table
from groutjobs.benchmarks_cures import cure_table, held_back
from groutjobs.benchmarks_outage import outage_lines
from groutjobs.benchmarks_readings import reading_lines
from groutjobs.benchmarks_report import report_lines
from groutjobs.faults.bench import Bench

NOTES = """
Ratios compare rows of one run; times by themselves belong to this machine and what else it was doing.
Slab: the same cells for both solvers, all columns at once; the general one knows that its matrix has three diagonals
and runs at the loosest tolerance whose largest error, in the second half of the days, is no more than ours.
Pour hours: temperatures before and after the pour at every start, cure and judging, on one forecast. With odds: the
same, and then that many weathers drawn about the forecast anew for each machine, what each does to concrete, plate and
cure, every limit in each of them, and whether the alignment can start two days before the forecast ends.
Outage: invented jobs with due dates that cannot all be kept, from one seed. Greedy takes each job as early as it can;
local search and search with solver have the same time, and an independent checker looks at every schedule."""
CALIBRATION_NOTES = """
Truth: recorded hours of a typical year, each month from another year. Forecasts of ten days, at midnight and at noon in
turn, are drawn from those that have this truth with the error that the odds are told; nobody issued them. Rain is left
out. Give or take: one standard error, with the start hours of one forecast as one case."""

PHONE_NOTES = """
Line: 400 kbit/s and 400 ms, laid on the page by Chromium; bytes are counted before the server, with those of the
service worker. Tap to words: from the event to the frame after “Saved on this phone”, which is said after the strict
commit and the reading back only; 60 entries were there before, and sending went on. Chromium on a desktop is no phone.
"""


class Command(BaseCommand):
    help = "Measure slab solver, pour hours, plan drawing, takeoff and outage schedule; print medians and ratios."
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--runs", type=int, default=5, help="runs of each row; the median is printed")
        parser.add_argument("--days", type=int, default=10, help="hourly days of the slab and of the pour hours")
        parser.add_argument("--columns", type=int, nargs="+", default=[1, 200], help="columns of the slab at once")
        parser.add_argument("--machines", type=int, nargs="+", default=[1, 20, 200], help="machines with pour hours")
        parser.add_argument("--repeats", type=int, default=50, help="drawings and takeoffs in one run")

        parser.add_argument("--outages", type=int, nargs="*", default=[5, 20, 50, 100], help="jobs of each outage")
        parser.add_argument("--seconds", type=float, default=30.0, help="time for the schedule of an outage")

        parser.add_argument(
            "--calibration", type=int, metavar="DAYS", help="print how odds come true, with a forecast every DAYS days"
        )

        parser.add_argument(
            "--readings", type=int, metavar="N", help="fill a scratch table with N readings on PostgreSQL and read it"
        )
        parser.add_argument("--cures", type=int, metavar="N", help="print how bands of N held-back cures come true")
        parser.add_argument(
            "--report", action="store_true", help="draw a report of the database with 10 photos and 1 500 readings"
        )
        parser.add_argument("--phone", action="store_true", help="measure the phone's pages in Chromium instead")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["phone"]:
            self._phone(max(options["runs"], 5))
            return
        if options["report"]:
            if not report_lines(options["runs"], lambda words: self.stdout.write(words + "\n")):
                raise CommandError("a goal is not held")
            return
        if options["readings"] is not None:
            reading_lines(options["readings"], lambda words: self.stdout.write(words + "\n"))
            return
        if options["cures"] is not None:
            for words in cure_table(held_back(options["cures"])):
                self.stdout.write(words + "\n")
            return
        if options["calibration"] is not None:
            for words in table(reliability(options["calibration"])):
                self.stdout.write(words + "\n")
            self.stdout.write(CALIBRATION_NOTES)
            return
        versions = f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}"
        self.stdout.write(f"{versions}, {os.cpu_count()} cores; medians of {options['runs']}\n\n")
        self.stdout.write(f"{'what':<30}{'size':>14}{'median':>12}   compared\n")
        lines = chain(
            all_lines(
                runs=options["runs"],
                days=options["days"],
                columns=tuple(options["columns"]),
                machines=tuple(options["machines"]),
                repeats=options["repeats"],
            ),
            outage_lines(tuple(options["outages"]), options["seconds"]),
        )
        for line in lines:
            self.stdout.write(f"{line.what:<30}{line.size:>14}{line.median_s * 1000:>9.1f} ms   {line.compared}\n")
            self.stdout.flush()
        self.stdout.write(NOTES)

    def _phone(self, runs: int) -> None:
        """Print what was measured beside its goal; fail where one is not held."""
        try:
            pace = importlib.import_module("groutjobs.faults.pace")
        except ModuleNotFoundError as error:
            raise CommandError(f"needs the package {error.name} of the test lock, and Chromium") from error
        self.stdout.write(f"{'what':<64}{'measured':>12}{'goal':>10}\n")
        bench, missed = Bench(seed=1), 0
        try:
            for one in pace.measure(bench, runs):
                missed += not one.is_held
                held = "held" if one.is_held else "NOT HELD"
                figure = f"{one.value:.{0 if one.unit == 'ms' else 2}f} {one.unit}"
                self.stdout.write(f"{one.what:<64}{figure:>12}{one.goal:>10g}   {held} {one.note}\n")
                self.stdout.flush()
        finally:
            bench.close()
        self.stdout.write(PHONE_NOTES)
        if missed:
            raise CommandError(f"{missed} goals are not held")
