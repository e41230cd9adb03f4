"""Why a job is late: what each of its steps waited for, followed back from its end.

Each link of the chain says what kept a step from beginning earlier. Where that is a crew or a tool at another job, the
chain goes on there.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from groutjobs.errors import Unusable
from groutjobs.scheduling.problem import Job, Outage, Placed, Schedule, Step, StepKind

LONGEST_CHAIN = 400


@dataclass(frozen=True, kw_only=True)
class Link:
    """What kept one step from beginning earlier. `code` is one of the words of WAITS."""

    job: str
    step: str
    code: str
    message: str


WAITS = {
    "order": "the step before it",
    "cure": "a milestone of the cure",
    "pour_hour": "an acceptable pour hour",
    "conditioning": "the conditioning of the material",
    "crew": "a crew at another step",
    "tool": "a tool at another step",
    "start": "the start of the outage, or the release of the machine",
    "lock": "nothing: it is locked at its time",
    "choice": "nothing: an earlier place would have cost more elsewhere",
}


@dataclass(frozen=True, kw_only=True)
class _Wait:
    """A link, and the step at which the chain goes on."""

    code: str
    words: str
    on: tuple[str, str] | None


def why_late(outage: Outage, schedule: Schedule, tag: str) -> tuple[Link, ...]:
    """Return the chain of waits that leads to the end of a job, the earliest first.

    Parameters
    ----------
    outage : What was scheduled.
    schedule : A schedule of it that keeps every rule.
    tag : The job.

    Returns
    -------
    Links in the order of time.

    Raises
    ------
    Unusable : the outage has no job of that name.

    Source
    ------
    [GROUTJOBS] the latest of all that a step must wait for is what binds it.
    """
    chain = _Chain(outage, schedule)
    if tag not in chain.jobs:
        raise Unusable("job", f"“{tag}” is no job of this outage", source="GROUTJOBS")
    last = max(chain.jobs[tag].last_steps(), key=lambda step: schedule.by_step[tag, step.code].ends_at)
    return tuple(reversed(list(chain.links(tag, last.code))))


class _Chain:
    def __init__(self, outage: Outage, schedule: Schedule) -> None:
        self.outage, self.schedule = outage, schedule
        self.jobs = {job.tag: job for job in outage.jobs}
        self._spells = {
            crew.name: crew.calendar.working_spells(outage.starts_at, outage.ends_at) for crew in outage.crews
        }

    def links(self, tag: str, code: str) -> Iterator[Link]:
        place: tuple[str, str] | None = (tag, code)
        seen: set[tuple[str, str]] = set()
        while place is not None and place not in seen and len(seen) < LONGEST_CHAIN:
            seen.add(place)
            job, step = self.jobs[place[0]], self.jobs[place[0]].by_code[place[1]]
            wait = self._wait(job, step, self.schedule.by_step[place])
            yield Link(job=job.tag, step=step.code, code=wait.code, message=f"{job.tag}, {step.label}: {wait.words}.")
            place = wait.on

    def _wait(self, job: Job, step: Step, placed: Placed) -> _Wait:
        if step.locked_at is not None:
            return _Wait(code="lock", words=f"locked at {self._at(placed.starts_at)}", on=None)
        if step.kind is StepKind.POUR:
            return self._wait_of_pour(job, step, placed)
        if step.kind is StepKind.CURE:
            return self._after(job, job.by_code[step.after[0]] if step.after else step)
        return self._wait_of_work(job, step, placed)

    def _wait_of_work(self, job: Job, step: Step, placed: Placed) -> _Wait:
        from_at, own = self._bound(job, step)
        if self._works_from(placed.crews, from_at) >= placed.starts_at:
            return own
        return self._busy(job, step, placed, from_at) or _Wait(
            code="choice",
            words="no earlier stretch of its crew is long enough, or the crew is needed more elsewhere",
            on=own.on,
        )

    def _bound(self, job: Job, step: Step) -> tuple[datetime, _Wait]:
        """The latest of what a step must wait for within its job."""
        from_at = max(self.outage.starts_at, job.from_at or self.outage.starts_at)
        words = f"begins as soon as the machine is free, {self._at(from_at)}"
        latest, wait = from_at, _Wait(code="start", words=words, on=None)
        for code in step.after:
            ends_at = self.schedule.by_step[job.tag, code].ends_at
            if job.by_code[code].kind is not StepKind.CONDITION and ends_at >= latest:
                latest, wait = ends_at, self._after(job, job.by_code[code])
        if step.milestone and job.pour is not None:
            pour = self.schedule.by_step[job.tag, job.pour.code]
            hour = next(hour for hour in job.pour_hours if hour.starts_at == pour.starts_at)
            ready_at = hour.starts_at + timedelta(hours=hour.ready_h[step.milestone])
            if ready_at >= latest:
                words = f"the cure allows it {hour.ready_h[step.milestone]:.1f} h after the pour began"
                on = (job.tag, job.pour.code)
                latest, wait = ready_at, _Wait(code="cure", words=f"{words}, {self._at(ready_at)}", on=on)
        return latest, wait

    def _after(self, job: Job, earlier: Step) -> _Wait:
        ends_at = self.schedule.by_step[job.tag, earlier.code].ends_at
        return _Wait(
            code="order", words=f"follows “{earlier.label}”, which ends {self._at(ends_at)}", on=(job.tag, earlier.code)
        )

    def _wait_of_pour(self, job: Job, step: Step, placed: Placed) -> _Wait:
        from_at, own = self._bound(job, step)
        for condition in (one for one in job.steps if one.kind is StepKind.CONDITION):
            before_at, wait = self._bound(job, condition)
            ready_at = before_at + timedelta(minutes=condition.duration_min)
            if ready_at > from_at:
                words = f"“{condition.label}” takes {condition.duration_min / 60:.0f} h, until {self._at(ready_at)}"
                from_at, own = ready_at, _Wait(code="conditioning", words=words, on=wait.on)
        length = timedelta(minutes=step.duration_min)
        hours = [hour.starts_at for hour in job.pour_hours if from_at <= hour.starts_at < placed.starts_at]
        passed = [at for at in hours if len(self._able(step, at, at + length)) >= step.crews]
        if not passed:
            if placed.starts_at == from_at:
                return own
            words = f"ready {self._at(from_at)}, no acceptable pour hour before {self._at(placed.starts_at)}"
            return _Wait(code="pour_hour", words=f"{words}; {own.words}", on=own.on)
        busy = [self._taken(job, step, at, at + length) for at in passed]
        if busy[-1] is not None:
            return busy[-1]
        words = f"{self._at(passed[-1])} would have done too; the later hour costs less elsewhere or is less risky"
        return _Wait(code="choice", words=words, on=own.on)

    def _busy(self, job: Job, step: Step, placed: Placed, from_at: datetime) -> _Wait | None:
        """The step at which a crew, or a tool that it needs, was until it began."""
        ended = sorted(one.ends_at for one in self.schedule.steps if from_at < one.ends_at <= placed.starts_at)
        for at in reversed(ended):
            if self._works_from(placed.crews, at) < placed.starts_at:
                return None
            wait = self._taken(job, step, at - timedelta(minutes=1), at)
            if wait is not None:
                return wait
        return None

    def _taken(self, job: Job, step: Step, begins: datetime, ends: datetime) -> _Wait | None:
        """What took crews or tools of a step that could have run in a span; None where enough were free."""
        others = [one for one in self.schedule.steps if one.starts_at < ends and begins < one.ends_at]
        others = [one for one in others if (one.job, one.step) != (job.tag, step.code)]
        able = self._able(step, begins, ends)
        at_work = [one for one in others if able & set(one.crews)]
        if at_work and len(able - {name for one in at_work for name in one.crews}) < step.crews:
            return self._waits_for("crew", step, max(at_work, key=lambda one: one.ends_at))
        for name, count in step.tools:
            using = [one for one in others if name in dict(self._step(one).tools)]
            in_use = sum(dict(self._step(one).tools)[name] for one in using)
            if using and in_use + count > self.outage.tools.get(name, 0):
                return self._waits_for("tool", step, max(using, key=lambda one: one.ends_at))
        return None

    def _able(self, step: Step, begins: datetime, ends: datetime) -> set[str]:
        """Crews with the skill that work through a span."""
        crews = [crew.name for crew in self.outage.crews_with(step.skill)]
        return {name for name in crews if any(a <= begins and ends <= b for a, b in self._spells[name])}

    def _waits_for(self, code: str, step: Step, last: Placed) -> _Wait:
        who = f"the crews for “{step.skill}” are" if code == "crew" else "the tools it needs are"
        words = f"{who} at “{self._step(last).label}” of {last.job} until {self._at(last.ends_at)}"
        return _Wait(code=code, words=words, on=(last.job, last.step))

    def _step(self, placed: Placed) -> Step:
        return self.jobs[placed.job].by_code[placed.step]

    def _works_from(self, crews: tuple[str, ...], at: datetime) -> datetime:
        """The first moment from a time on at which the crews of a step work; they share their calendar."""
        spells = self._spells[crews[0]] if crews else ()
        return next((max(begins, at) for begins, ends in spells if ends > at), at)

    def _at(self, at: datetime) -> str:
        return self.outage.clock(at)
