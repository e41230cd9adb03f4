"""Crews, jobs and their pour hours in, a schedule out: the only file of this stage that calls scheduling."""

import datetime as dt
import math
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from groutjobs.engineering import ENGINE_VERSION
from groutjobs.errors import Unusable
from groutjobs.outages.choices import preparation
from groutjobs.outages.models import Outage, OutageCrew, OutageJob, Skill
from groutjobs.planning.models import GroutKind
from groutjobs.scheduling import problem
from groutjobs.scheduling.calendar import CrewCalendar
from groutjobs.scheduling.check import broken_rules
from groutjobs.scheduling.explain import why_late
from groutjobs.scheduling.local_search import Effort, Progress
from groutjobs.scheduling.serial import greedy
from groutjobs.scheduling.usual_steps import ALIGNER, MIXER, usual_steps
from groutjobs.windows.models import PourHours
from groutjobs.windows.result import iso

MINUTES = 60
JACKSCREWS_AS = "strip"
"""Cement grout has no milestone of its own for the jackscrews; they come out after stripping, when the step is due."""
TICK_S = 0.5


@dataclass(frozen=True, kw_only=True)
class JobFacts:
    """One job with the search that its pour hours come from; None where its plan was never searched."""

    job: OutageJob
    search: PourHours | None

    @property
    def tag(self) -> str:
        return str(self.job.plan.machine.tag)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """All that a schedule is computed from, read once before the computing starts."""

    outage: Outage
    crews: Sequence[OutageCrew]
    jobs: Sequence[JobFacts]
    what_if: dict[str, int]
    seconds: int


@dataclass
class Watched:
    """What the computing tells while it runs, and whether it is asked to stop; shared by two threads."""

    news: Progress | None = None
    stop: threading.Event = field(default_factory=threading.Event)

    def tell(self, progress: Progress) -> None:
        self.news = progress

    def as_json(self) -> dict[str, Any]:
        news = self.news
        if news is None:
            return {}
        told = {"doing": news.doing, "looked_at": news.looked_at, "seconds": round(news.seconds, 1)}
        return told | {"best": _score_json(news.best), "late_bound_h": round(news.late_bound_h, 2)}


def usual_hours(job: OutageJob) -> list[tuple[str, str, float]]:
    """Code, label and usual hours of the steps whose duration a shop may set for a job, in their order.

    Conditioning and placing come from the plan; the cure from the pour hour.
    """
    own = _plan_minutes(job)
    return [
        (step.code, step.label, own.get(step.code, step.duration_min) / MINUTES)
        for step in usual_steps()
        if step.kind is not problem.StepKind.CURE
    ]


def _plan_minutes(job: OutageJob) -> dict[str, int]:
    result = job.plan.result
    before_h, _, _ = preparation(result)
    placing_min = math.ceil(result["timetable"]["duration_min"])
    return {"condition": max(1, math.ceil(before_h * MINUTES)), "pour": max(1, placing_min)}


def lockable_steps() -> list[tuple[str, str]]:
    """Code and label of the steps that can be held at a time."""
    return [(step.code, step.label) for step in usual_steps() if step.kind in problem.CREWED]


def problem_of(asked: Asked) -> problem.Outage:
    """The outage as the solver takes it. Unusable says what is missing."""
    outage = asked.outage
    ends_at = outage.ends_at + dt.timedelta(hours=asked.what_if.get("later_h", 0))
    return problem.Outage(
        starts_at=outage.starts_at,
        ends_at=ends_at,
        jobs=tuple(_job(facts) for facts in asked.jobs),
        crews=tuple(_crews(asked)),
        tools={
            MIXER: outage.mixers + asked.what_if.get("mixers", 0),
            ALIGNER: outage.alignment_tools + asked.what_if.get("alignment_tools", 0),
        },
    )


def _crews(asked: Asked) -> list[problem.Crew]:
    off = frozenset(dt.date.fromisoformat(day) for day in asked.outage.days_off)
    zone = asked.outage.site.zone
    crews = [_crew(crew.name, crew, off, zone) for crew in asked.crews]
    for skill in Skill.values:
        like = next((crew for crew in asked.crews if skill in crew.skills), None)
        for number in range(asked.what_if.get(skill, 0)):
            if like is None:
                reason = f"there is no crew with the skill “{skill}” whose shifts another one could take; add a crew"
                raise Unusable("more crews", reason, source="GROUTJOBS")
            more = _crew(f"one more, {skill} {number + 1}", like, off, zone)
            crews.append(replace(more, skills=frozenset({skill})))
    return crews


def _crew(name: str, crew: OutageCrew, off: frozenset[dt.date], zone: str) -> problem.Crew:
    calendar = CrewCalendar(
        timezone=zone,
        shifts=((crew.shift_starts, crew.shift_ends),),
        weekdays=frozenset(crew.working_days),
        holidays=off,
    )
    return problem.Crew(name=name, skills=frozenset(crew.skills), calendar=calendar)


def _job(facts: JobFacts) -> problem.Job:
    job = facts.job
    return problem.Job(
        tag=facts.tag,
        steps=tuple(_step(step, job) for step in _steps(job)),
        pour_hours=_pour_hours(facts),
        due_at=job.due_at,
        weight=job.weight,
    )


def _steps(job: OutageJob) -> tuple[problem.Step, ...]:
    entered = {code: max(1, round(hours * MINUTES)) for code, hours in job.hours_of_steps.items()}
    return usual_steps(_plan_minutes(job) | entered)


def _step(step: problem.Step, job: OutageJob) -> problem.Step:
    locked = job.locked.get(step.code)
    if _is_cement(job) and step.code == "condition":
        step = replace(step, label="wet the concrete")
    return replace(step, locked_at=dt.datetime.fromisoformat(locked)) if locked else step


def _is_cement(job: OutageJob) -> bool:
    return bool(job.plan.result["inputs"]["data_sheet"]["kind"] == GroutKind.CEMENT)


def _pour_hours(facts: JobFacts) -> tuple[problem.PourHour, ...]:
    """Acceptable hours whose cure the forecast follows up to alignment."""
    if facts.search is None:
        return ()
    result = facts.search.result
    reached = {row["code"]: row["at"] for row in result["milestones"]}
    reached.setdefault("jackscrews", reached[JACKSCREWS_AS])
    found = []
    for index, hour in enumerate(result["hours"]):
        at = dt.datetime.fromisoformat(hour["at"])
        ready = {code: reached[code][index] for code in ("strip", "jackscrews", "tension", "align")}
        if hour["ok"] and all(ready.values()):
            ready_h = {
                code: (dt.datetime.fromisoformat(text) - at) / dt.timedelta(hours=1) for code, text in ready.items()
            }
            found.append(problem.PourHour(starts_at=at, odds=hour.get("odds", 1.0), ready_h=ready_h))
    return tuple(found)


def schedule_json(asked: Asked, watched: Watched) -> dict[str, Any]:
    """Compute the schedule and tell it as JSON; every schedule passes the independent checker or is not kept."""
    from groutjobs.scheduling.solve import solve  # noqa: PLC0415  half a second that only the worker needs

    outage = problem_of(asked)
    effort = Effort(seconds=float(asked.seconds), workers=2)
    answer = solve(outage, effort, should_stop=watched.stop.is_set, tell=watched.tell)
    simple = greedy(outage)
    told = {
        "engine_version": ENGINE_VERSION,
        "kind": answer.kind.value,
        "proven": answer.proven,
        "late_bound_h": round(answer.late_bound_h, 2),
        "score": _score_json(answer.score),
        "greedy": _score_json(simple.score(outage)) if simple and not broken_rules(outage, simple) else None,
        "reasons": list(answer.reasons),
        "inputs": _inputs(asked, outage),
        "sources": ["GROUTJOBS", "VM1987"],
        "stopped": watched.stop.is_set(),
    }
    if answer.schedule is None:
        return told | {"steps": [], "jobs": []}
    broken = broken_rules(outage, answer.schedule)
    if broken:
        raise Unusable("schedule", f"it breaks a rule and is not kept: {broken[0].message}", source="GROUTJOBS")
    return told | {
        "steps": _steps_json(outage, answer.schedule),
        "jobs": [
            _job_json(outage, answer.schedule, job, facts) for facts, job in zip(asked.jobs, outage.jobs, strict=True)
        ],
    }


def _score_json(score: problem.Score | None) -> dict[str, Any] | None:
    if score is None:
        return None
    return {"late_h": round(score.late_h, 2), "risk": round(score.risk, 3), "finish_at": iso(score.finish_at)}


def _inputs(asked: Asked, outage: problem.Outage) -> dict[str, Any]:
    searches = {facts.tag: facts.search.pk for facts in asked.jobs if facts.search is not None}
    return {
        "starts_at": iso(outage.starts_at),
        "ends_at": iso(outage.ends_at),
        "tools": dict(outage.tools),
        "days_off": list(asked.outage.days_off),
        "crews": [
            {
                "name": crew.name,
                "skills": sorted(crew.skills),
                "shifts": [[f"{first:%H:%M}", f"{last:%H:%M}"] for first, last in crew.calendar.shifts],
                "weekdays": sorted(crew.calendar.weekdays),
            }
            for crew in outage.crews
        ],
        "jobs": {
            facts.tag: {
                "plan": facts.job.plan_id,
                "due_at": iso(facts.job.due_at) if facts.job.due_at else None,
                "weight": facts.job.weight,
                "hours_of_steps": facts.job.hours_of_steps,
                "locked": facts.job.locked,
                "pour_hours": searches.get(facts.tag),
                "hours_offered": len(job.pour_hours),
            }
            for facts, job in zip(asked.jobs, outage.jobs, strict=True)
        },
        "seconds": asked.seconds,
        "what_if": dict(asked.what_if),
    }


def _steps_json(outage: problem.Outage, schedule: problem.Schedule) -> list[dict[str, Any]]:
    labels = {(job.tag, step.code): step for job in outage.jobs for step in job.steps}
    return [
        {
            "job": one.job,
            "step": one.step,
            "label": labels[one.job, one.step].label,
            "kind": labels[one.job, one.step].kind.value,
            "skill": labels[one.job, one.step].skill,
            "starts_at": iso(one.starts_at),
            "ends_at": iso(one.ends_at),
            "crews": list(one.crews),
            "locked": labels[one.job, one.step].locked_at is not None,
        }
        for one in schedule.steps
    ]


def _job_json(outage: problem.Outage, schedule: problem.Schedule, job: problem.Job, facts: JobFacts) -> dict[str, Any]:
    """One job as the page tells it; odds are None where its search did not count them."""
    counted = facts.search is not None and bool(facts.search.result.get("odds"))
    late_h = schedule.late_h(job)
    pour = schedule.by_step[job.tag, job.pour.code] if job.pour else None
    taken = next((hour for hour in job.pour_hours if pour and hour.starts_at == pour.starts_at), None)
    return {
        "tag": job.tag,
        "pour_at": iso(pour.starts_at) if pour else None,
        "align_at": iso(taken.starts_at + dt.timedelta(hours=taken.ready_h["align"])) if taken else None,
        "done_at": iso(schedule.done_at(job)),
        "due_at": iso(job.due_at) if job.due_at else None,
        "late_h": round(late_h, 2),
        "odds": round(schedule.odds(job), 3) if counted else None,
        "offered": _spans(job),
        "why": [link.message for link in why_late(outage, schedule, job.tag)],
    }


def _spans(job: problem.Job) -> list[list[str]]:
    """The acceptable hours of a job, those that follow each other as one span."""
    spans: list[list[dt.datetime]] = []
    for hour in job.pour_hours:
        at = hour.starts_at
        if spans and at - spans[-1][1] <= dt.timedelta(hours=1):
            spans[-1][1] = at
        else:
            spans.append([at, at])
    return [[iso(begins), iso(ends)] for begins, ends in spans]


def computed(asked: Asked, tick: Callable[[Watched], bool]) -> dict[str, Any]:
    """The schedule as JSON, computed beside this thread; `tick` is told twice a second and answers whether to stop.

    The computing touches no database, so that all reading and writing stays in the thread of the caller.
    """
    watched = Watched()
    results: list[dict[str, Any]] = []
    errors: list[Exception] = []

    def run() -> None:
        try:
            results.append(schedule_json(asked, watched))
        except Exception as error:  # raised again in the thread of the caller
            errors.append(error)

    worker = threading.Thread(target=run, daemon=True)
    worker.start()
    while worker.is_alive():
        worker.join(TICK_S)
        if worker.is_alive() and tick(watched):
            watched.stop.set()
    if errors:
        raise errors[0]
    return results[0]
