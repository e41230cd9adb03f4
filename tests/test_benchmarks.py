"""The benchmark runs and prints its rows. Nothing is said about time: another machine is another time."""

import io

import numpy as np
import pytest
from django.core.management import call_command

from groutjobs.benchmarks import SlabProblem, all_lines
from groutjobs.errors import OutOfRange

SMALL = {"runs": 1, "days": 2, "repeats": 1}


def test_it_prints_a_row_for_each_thing_measured() -> None:
    out = io.StringIO()
    call_command("benchmark", stdout=out, columns=[1, 2], machines=[1, 2], outages=[2], seconds=0.3, **SMALL)
    rows = [line[:30].strip() for line in out.getvalue().splitlines() if " ms " in line[:60]]
    slab = ["slab, our stepper", "slab, scipy solve_ivp LSODA"]
    hours = ["pour hours", "pour hours, odds of 500"]
    outage = ["outage, greedy", "outage, local search", "outage, search and solver"]
    assert rows == [*slab, *slab, *hours, *hours, "plan drawing", "takeoff", *outage]
    assert "whether the alignment can start two days before the forecast ends" in out.getvalue()


def test_both_solvers_solve_the_same_problem() -> None:
    """scipy.integrate.solve_ivp (LSODA, tolerance 1e-8). Backward Euler at a quarter of an hour is within 0.1 K of it
    on a daily wave of 12 K, once the start is forgotten."""
    problem = SlabProblem.invented(4, 3)
    ours, general = problem.ours(), problem.general("LSODA", 1e-8)
    assert ours.shape == general.shape == (97, 3, len(problem.column.depth_m))
    assert np.ptp(general[48:, :, 0]) > 10.0
    assert ours[48:] == pytest.approx(general[48:], abs=0.1)


def test_nothing_to_run_is_refused() -> None:
    with pytest.raises(OutOfRange) as refusal:
        list(all_lines(runs=0, days=2, columns=(1,), machines=(1,), repeats=1))
    assert refusal.value.quantity == "runs"
