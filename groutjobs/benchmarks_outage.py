"""What the outage schedule costs and gains: greedy, local search, solver and proven bound on invented outages."""

import random
from datetime import UTC, datetime, timedelta
from datetime import time as clock

from groutjobs.scheduling.calendar import CrewCalendar
from groutjobs.scheduling.problem import Crew, Job, Outage, PourHour
from groutjobs.scheduling.usual_steps import ALIGNER, CONCRETE, GROUT, MECHANICAL, MIXER, usual_steps

ZONE = "America/Chicago"
STARTS_AT = datetime(2026, 4, 6, 5, tzinfo=UTC)


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
        jobs=tuple(_job(number, draw, days) for number in range(n_jobs)),
        crews=tuple(crews),
        tools={MIXER: max(1, share // 2), ALIGNER: max(1, share // 2)},
    )


def _job(number: int, draw: random.Random, days: int) -> Job:
    size = draw.choice([0.6, 0.8, 1.0, 1.3, 1.8])
    base = {step.code: step.duration_min for step in usual_steps() if step.duration_min}
    minutes = {code: max(30, round(usual * size * draw.uniform(0.8, 1.2) / 30) * 30) for code, usual in base.items()}
    minutes["condition"] = draw.choice([24, 36, 48]) * 60
    minutes["pour"] = draw.choice([90, 120, 180, 240])
    return Job(
        tag=f"P-{101 + number}",
        steps=usual_steps(minutes),
        pour_hours=_pour_hours(draw, 2 * days),
        due_at=STARTS_AT + timedelta(hours=draw.randrange(12 * 24, 20 * 24)),
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
