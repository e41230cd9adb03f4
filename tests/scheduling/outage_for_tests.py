"""Small invented outages: a few jobs, steps of whole hours, shifts from seven to five."""

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Any

from groutjobs.scheduling.calendar import CrewCalendar
from groutjobs.scheduling.check import broken_rules
from groutjobs.scheduling.local_search import Effort
from groutjobs.scheduling.problem import Answer, Crew, Job, Kind, Outage, PourHour, Schedule, Step, StepKind
from groutjobs.scheduling.solve import solve

MONDAY = datetime(2026, 4, 6, tzinfo=UTC)
DAY = CrewCalendar(timezone="UTC", shifts=((time(7), time(17)),))
NIGHT = CrewCalendar(timezone="UTC", shifts=((time(19), time(5)),))
ALWAYS = CrewCalendar(timezone="UTC", shifts=((time(0), time(0)),))
SMALL = Effort(steps=60, solver_units=2.0)


def at(day: int, hour: float) -> datetime:
    """An hour of a day of the outage; day 0 is the Monday on which it begins."""
    return MONDAY + timedelta(days=day, hours=hour)


def a_step(code: str, hours: float, *after: str, skill: str = "grout", **more: Any) -> Step:
    minutes = round(hours * 60)
    return Step(code=code, label=code, duration_min=minutes, skill=skill, after=tuple(after), **more)


def a_pour(hours: float, *after: str, **more: Any) -> Step:
    return a_step("pour", hours, *after, kind=StepKind.POUR, **more)


def conditioning(hours: float, *after: str) -> Step:
    return Step(
        code="condition", label="condition", kind=StepKind.CONDITION, duration_min=round(hours * 60), after=tuple(after)
    )


CURE = Step(code="cure", label="cure", kind=StepKind.CURE, after=("pour",))


def hours(*starts: datetime, odds: float = 0.9, **ready_h: float) -> tuple[PourHour, ...]:
    return tuple(PourHour(starts_at=start, odds=odds, ready_h=ready_h) for start in starts)


def grouting(tag: str = "P-1", *, pours: Sequence[datetime] = (), due_at: datetime | None = None) -> Job:
    """Preparation of six hours, pour of two, two hours of work from a day after the pour began."""
    starts = pours or [at(day, hour) for day in range(6) for hour in range(8, 15)]
    steps = (a_step("chip", 6), a_pour(2, "chip"), CURE, a_step("strip", 2, "pour", milestone="strip"))
    return Job(tag=tag, steps=steps, pour_hours=hours(*starts, strip=24), due_at=due_at)


def crew(name: str = "crew 1", *skills: str, calendar: CrewCalendar = DAY) -> Crew:
    return Crew(name=name, skills=frozenset(skills or ("grout",)), calendar=calendar)


def an_outage(*jobs: Job, crews: Sequence[Crew] = (), days: float = 10, **tools: int) -> Outage:
    return Outage(
        starts_at=MONDAY, ends_at=MONDAY + timedelta(days=days), jobs=jobs, crews=tuple(crews) or (crew(),), tools=tools
    )


def expect_solved(outage: Outage, effort: Effort = SMALL) -> Schedule:
    """The schedule of an outage that has one; it is proven to be the best, and keeps every rule."""
    answer = solve(outage, effort)
    assert (answer.kind, answer.proven) == (Kind.SOLVED, True), answer.reasons
    assert answer.schedule is not None
    assert broken_rules(outage, answer.schedule) == ()
    return answer.schedule


def expect_infeasible(outage: Outage, *words: str) -> Answer:
    """There is no schedule, and each of the words stands in the reasons."""
    answer = solve(outage, SMALL)
    assert answer.kind is Kind.INFEASIBLE
    assert answer.schedule is None
    told = " ".join(answer.reasons)
    assert [word for word in words if word not in told] == [], told
    return answer


def span(schedule: Schedule, job: str, step: str) -> tuple[datetime, datetime]:
    placed = schedule.by_step[job, step]
    return placed.starts_at, placed.ends_at


def random_outage(seed: int, n_jobs: int) -> Outage:
    """Jobs of four steps on two crews and one mixer, with dates that are hard to keep."""
    draw = random.Random(seed)  # noqa: S311
    jobs = [_random_job(number, draw) for number in range(n_jobs)]
    return an_outage(*jobs, crews=(crew("crew 1", "chip", "grout"), crew("crew 2", "grout")), days=14, mixer=1)


def _random_job(number: int, draw: random.Random) -> Job:
    pours = [at(day, hour) for day in range(12) if draw.random() < 0.7 for hour in (9, 13)]
    return Job(
        tag=f"P-{number + 1}",
        steps=(
            a_step("chip", draw.randint(1, 9), skill="chip"),
            a_pour(draw.randint(1, 3), "chip", tools=(("mixer", 1),)),
            a_step("strip", draw.randint(1, 5), "pour", milestone="strip"),
        ),
        pour_hours=hours(*pours, strip=float(draw.randint(10, 40))),
        due_at=at(0, draw.randint(30, 100)),
        weight=draw.choice([1, 1, 2, 3]),
    )


def with_step(job: Job, code: str, **changes: Any) -> Job:
    """The same job with one of its steps changed."""
    steps = tuple(replace(step, **changes) if step.code == code else step for step in job.steps)
    return replace(job, steps=steps)
