"""What the outage schedule costs and gains: greedy, local search, solver and proven bound on invented outages.

Each schedule is looked at by the checker, which knows neither search nor solver, before its row is printed.
"""

import random
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from datetime import time as clock

from groutjobs.benchmarks import Line
from groutjobs.errors import Unusable
from groutjobs.scheduling.calendar import CrewCalendar
from groutjobs.scheduling.check import broken_rules
from groutjobs.scheduling.in_minutes import OutageInMinutes
from groutjobs.scheduling.local_search import Effort, search_orders
from groutjobs.scheduling.problem import Crew, Job, Outage, PourHour, Schedule
from groutjobs.scheduling.serial import greedy
from groutjobs.scheduling.solve import solve
from groutjobs.scheduling.usual_steps import ALIGNER, CONCRETE, GROUT, MECHANICAL, MIXER, usual_steps

ZONE = "America/Chicago"
STARTS_AT = datetime(2026, 4, 6, 5, tzinfo=UTC)


def outage_lines(jobs: tuple[int, ...], seconds: float, *, workers: int = 2, seed: int = 4) -> Iterator[Line]:
    """For some numbers of jobs: greedy, local search alone, and search and solver in the same time."""
    for count in jobs:
        outage, size = invented_outage(count, seed), f"{count} jobs"
        begun = time.perf_counter()
        simple_h = _late_h(outage, greedy(outage))
        yield Line("outage, greedy", size, time.perf_counter() - begun, f"{simple_h:.0f} weighted h late")
        begun = time.perf_counter()
        found, schedule = search_orders(OutageInMinutes(outage), Effort(seconds=seconds, seed=seed))
        took_s = time.perf_counter() - begun
        told = f"{_late(_late_h(outage, schedule), simple_h)}; {found.looked_at / took_s:.0f} schedules a second"
        yield Line("outage, local search", size, took_s, told)
        begun = time.perf_counter()
        answer = solve(outage, Effort(seconds=seconds, workers=workers, seed=seed))
        took_s = time.perf_counter() - begun
        bound = "proven the best" if answer.proven else f"proven not under {answer.late_bound_h:.0f} h"
        told = f"{_late(_late_h(outage, answer.schedule), simple_h)}; {bound}"
        yield Line("outage, search and solver", size, took_s, told)


def _late(late_h: float, simple_h: float) -> str:
    share = f", {late_h / simple_h:.2f} of greedy" if simple_h else ""
    return f"{late_h:.0f} weighted h late{share}"


def _late_h(outage: Outage, schedule: Schedule | None) -> float:
    """Weighted hours late of a schedule that keeps every rule; any other ends the benchmark."""
    broken = ["no schedule was found"] if schedule is None else [one.message for one in broken_rules(outage, schedule)]
    if schedule is None or broken:
        raise Unusable("schedule of the benchmark", broken[0], source="GROUTJOBS")
    return schedule.score(outage).late_h


def invented_outage(n_jobs: int, seed: int) -> Outage:
    """An outage with about five jobs for each crew of a trade and due dates that cannot all be kept."""
    draw = random.Random(seed)  # noqa: S311
    days = 24 if n_jobs <= 20 else 30
    share = max(1, round(n_jobs / 6))
    calendar = CrewCalendar(timezone=ZONE, shifts=((clock(7), clock(17)),), weekdays=frozenset(range(6)))
    crews = [
        Crew(name=f"{skill} {number + 1}", skills=frozenset({skill}), calendar=calendar)
        for skill, count in ((MECHANICAL, share + (share + 1) // 2), (CONCRETE, share), (GROUT, share))
        for number in range(count)
    ]
    return Outage(
        starts_at=STARTS_AT,
        ends_at=STARTS_AT + timedelta(days=2 * days),
        jobs=tuple(_job(number, draw, days, 12 if n_jobs > 5 else 7) for number in range(n_jobs)),
        crews=tuple(crews),
        tools={MIXER: max(1, share // 2), ALIGNER: max(1, share // 2)},
    )


def _job(number: int, draw: random.Random, days: int, first_due: int) -> Job:
    size = draw.choice([0.6, 0.8, 1.0, 1.3, 1.8])
    base = {step.code: step.duration_min for step in usual_steps() if step.duration_min}
    minutes = {code: max(30, round(usual * size * draw.uniform(0.8, 1.2) / 30) * 30) for code, usual in base.items()}
    minutes["condition"] = draw.choice([24, 36, 48]) * 60
    minutes["pour"] = draw.choice([90, 120, 180, 240])
    return Job(
        tag=f"P-{101 + number}",
        steps=usual_steps(minutes),
        pour_hours=_pour_hours(draw, 2 * days),
        due_at=STARTS_AT + timedelta(hours=draw.randrange(first_due * 24, (first_due + 8) * 24)),
        weight=draw.choice([1, 1, 1, 2, 3]),
    )


def _pour_hours(draw: random.Random, days: int) -> tuple[PourHour, ...]:
    """Hours from mid-morning to mid-afternoon on about two days of three; cold days take longer to cure."""
    found = []
    for day in range(days):
        warmth = draw.uniform(0.0, 1.0)
        if warmth < 0.35:
            continue
        for hour in range(8, 16):
            starts_at = STARTS_AT + timedelta(days=day, hours=hour)
            slow = 1.6 - 0.6 * warmth + 0.01 * (hour - 8)
            ready = {"strip": 20 * slow, "jackscrews": 36 * slow, "tension": 40 * slow, "align": 48 * slow}
            odds = min(0.99, 0.6 + 0.4 * warmth - 0.01 * abs(hour - 11))
            found.append(PourHour(starts_at=starts_at, odds=round(odds, 3), ready_h=ready))
    return tuple(found)
