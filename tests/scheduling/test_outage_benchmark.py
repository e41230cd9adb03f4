"""The benchmark of outages prints its rows. Nothing is said about time: another machine is another time."""

from dataclasses import replace

import pytest

from groutjobs.benchmarks_outage import _late_h, invented_outage, outage_lines
from groutjobs.errors import Unusable
from groutjobs.scheduling.problem import Schedule
from groutjobs.scheduling.serial import greedy


def test_it_prints_three_rows_for_each_number_of_jobs() -> None:
    lines = list(outage_lines((2, 3), 0.3, workers=1))
    names = ["outage, greedy", "outage, local search", "outage, search and solver"]
    assert [line.what for line in lines] == [*names, *names]
    assert [line.size for line in lines] == ["2 jobs"] * 3 + ["3 jobs"] * 3
    assert all("weighted h late" in line.compared for line in lines)
    assert all("proven" in line.compared for line in lines[2::3])


def test_the_same_seed_makes_the_same_outage_with_every_step_and_hard_dates() -> None:
    outage = invented_outage(20, 4)
    assert outage == invented_outage(20, 4)
    assert outage != invented_outage(20, 5)
    assert {len(job.steps) for job in outage.jobs} == {17}
    simple = greedy(outage)
    assert simple is not None
    assert simple.score(outage).late_h > 100


def test_a_schedule_that_breaks_a_rule_ends_it() -> None:
    outage = invented_outage(2, 4)
    schedule = greedy(outage)
    assert schedule is not None
    wrong = Schedule(steps=tuple(replace(one, crews=()) for one in schedule.steps))
    for broken in (wrong, None):
        with pytest.raises(Unusable) as refusal:
            _late_h(outage, broken)
        assert refusal.value.quantity == "schedule of the benchmark"
