"""What is to be scheduled in an outage, and the answer: frozen facts, no solver.

A job is the grouting of one machine: steps that follow each other. A step of work takes working time and a crew; it
stops at the end of the shift and goes on in the next. Placing runs in one shift without a break and begins at an hour
that the search for pour hours accepts. Conditioning runs around the clock and ends when placing begins. The cure runs
around the clock and lasts as long as the pour hour says; steps wait for its milestones.
"""

import enum
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from itertools import pairwise
from zoneinfo import ZoneInfo

from groutjobs.engineering.checks import require_between
from groutjobs.errors import Unusable
from groutjobs.scheduling.calendar import CrewCalendar, minutes_between

LONGEST_STEP_MIN = 30 * 24 * 60
MOST_STEPS = 60
MOST_JOBS = 300
LONGEST_OUTAGE_D = 120
HEAVIEST = 1000


class StepKind(enum.StrEnum):
    """How a step takes its time."""

    WORK = "work"
    POUR = "pour"
    CONDITION = "condition"
    CURE = "cure"


CREWED = frozenset({StepKind.WORK, StepKind.POUR})


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of a job.

    `after` names steps of the same job that end first. `milestone` names the point of the cure to wait for. `crews` of
    the skill are busy at once. A locked step stays at its start, and with its crews where these are named. The cure has
    no duration of its own.
    """

    code: str
    label: str
    kind: StepKind = StepKind.WORK
    duration_min: int = 0
    skill: str = ""
    crews: int = 1
    tools: tuple[tuple[str, int], ...] = ()
    after: tuple[str, ...] = ()
    milestone: str = ""
    locked_at: datetime | None = None
    locked_crews: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        name = f"duration of “{self.label}”"
        shortest = 0 if self.kind is StepKind.CURE else 1
        longest = 0 if self.kind is StepKind.CURE else LONGEST_STEP_MIN
        require_between(name, self.duration_min, shortest, longest, unit="min", source="GROUTJOBS")
        if self.duration_min != int(self.duration_min):
            raise Unusable(name, "give it in whole minutes", source="GROUTJOBS")
        if self.kind in CREWED:
            self._require_crew()
        elif self.skill or self.tools or self.milestone or self.locked_at:
            reason = "it follows from the hour of the pour and takes no crew, tool, milestone or lock of its own"
            raise Unusable(f"“{self.label}”", reason, source="GROUTJOBS")

    def _require_crew(self) -> None:
        if not self.skill:
            raise Unusable(f"“{self.label}”", "the skill of its crew is missing", source="GROUTJOBS")
        require_between(f"crews for “{self.label}”", self.crews, 1, 20, source="GROUTJOBS")
        for tool, count in self.tools:
            require_between(f"number of “{tool}” for “{self.label}”", count, 1, 50, source="GROUTJOBS")
        if self.locked_crews and self.locked_at is None:
            raise Unusable(f"“{self.label}”", "crews are locked without a start", source="GROUTJOBS")
        if self.locked_crews and len(set(self.locked_crews)) != self.crews:
            reason = f"it takes {self.crews} crews and is locked to {len(set(self.locked_crews))}; name all or none"
            raise Unusable(f"“{self.label}”", reason, source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class PourHour:
    """An hour at which placing may begin: odds that every limit holds, and hours from then to each milestone."""

    starts_at: datetime
    odds: float
    ready_h: Mapping[str, float]

    def __post_init__(self) -> None:
        if self.starts_at.tzinfo is None:
            raise Unusable("pour hour", "its time zone is missing", source="GROUTJOBS")
        require_between("odds of a pour hour", self.odds, 0.0, 1.0, source="GROUTJOBS")
        for milestone, hours in self.ready_h.items():
            require_between(f"hours to the milestone “{milestone}”", hours, 0.0, 2000.0, unit="h", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class Job:
    """The grouting of one machine. `weight` is what an hour of lateness costs beside other jobs. [-]"""

    tag: str
    steps: tuple[Step, ...]
    pour_hours: tuple[PourHour, ...] = ()
    due_at: datetime | None = None
    weight: int = 1
    from_at: datetime | None = None

    def __post_init__(self) -> None:
        require_between(f"number of steps of {self.tag}", len(self.steps), 1, MOST_STEPS, source="GROUTJOBS")
        require_between(f"weight of {self.tag}", self.weight, 1, HEAVIEST, source="GROUTJOBS")
        self._require_order()
        pours = [step for step in self.steps if step.kind is StepKind.POUR]
        if len(pours) > 1:
            raise Unusable(self.tag, "it has two pours; a second lift is a job of its own", source="GROUTJOBS")
        needs_pour = [step.label for step in self.steps if step.kind not in CREWED or step.milestone]
        if needs_pour and not pours:
            raise Unusable(self.tag, f"“{needs_pour[0]}” needs a pour, and there is none", source="GROUTJOBS")
        self._require_hours()

    def _require_order(self) -> None:
        known: set[str] = set()
        for step in self.steps:
            if step.code in known:
                raise Unusable(self.tag, f"the step “{step.code}” stands twice", source="GROUTJOBS")
            for code in step.after:
                if code not in known:
                    reason = f"“{step.label}” comes after “{code}”, which does not stand before it"
                    raise Unusable(self.tag, reason, source="GROUTJOBS")
            known.add(step.code)

    def _require_hours(self) -> None:
        hours = [hour.starts_at for hour in self.pour_hours]
        if any(later <= earlier for earlier, later in pairwise(hours)):
            raise Unusable(f"pour hours of {self.tag}", "they must rise, each once", source="GROUTJOBS")
        for hour in self.pour_hours:
            missing = self.milestones - set(hour.ready_h)
            if missing:
                reason = f"{hour.starts_at:%Y-%m-%d %H:%M} does not tell when “{min(missing)}” is reached"
                raise Unusable(f"pour hours of {self.tag}", reason, source="GROUTJOBS")

    @property
    def milestones(self) -> frozenset[str]:
        """The points of the cure that steps wait for."""
        return frozenset(step.milestone for step in self.steps if step.milestone)

    @cached_property
    def by_code(self) -> dict[str, Step]:
        return {step.code: step for step in self.steps}

    @property
    def pour(self) -> Step | None:
        return next((step for step in self.steps if step.kind is StepKind.POUR), None)

    def last_steps(self) -> tuple[Step, ...]:
        """The steps that no other follows; the job is done when they are."""
        followed = {code for step in self.steps for code in step.after}
        return tuple(step for step in self.steps if step.code not in followed and step.kind is not StepKind.CONDITION)


@dataclass(frozen=True, kw_only=True)
class Crew:
    """People who work together at one machine at a time. A single person is a crew too."""

    name: str
    skills: frozenset[str]
    calendar: CrewCalendar


@dataclass(frozen=True, kw_only=True)
class Outage:
    """Everything that is to be scheduled. Nothing runs before the start or after the end; due dates may be missed."""

    starts_at: datetime
    ends_at: datetime
    jobs: tuple[Job, ...]
    crews: tuple[Crew, ...]
    tools: Mapping[str, int]

    def __post_init__(self) -> None:
        length_d = minutes_between(self.starts_at, self.ends_at) / (24 * 60)
        require_between("length of the outage", length_d, 1 / 24, LONGEST_OUTAGE_D, unit="days", source="GROUTJOBS")
        if not self.crews:
            raise Unusable("crews", "the outage has none", source="GROUTJOBS")
        require_between("number of jobs", len(self.jobs), 1, MOST_JOBS, source="GROUTJOBS")
        for what, names in (("jobs", [job.tag for job in self.jobs]), ("crews", [crew.name for crew in self.crews])):
            if len(set(names)) < len(names):
                raise Unusable(what, "two of them have the same name", source="GROUTJOBS")
        for name, count in self.tools.items():
            require_between(f"number of “{name}”", count, 0, 100, source="GROUTJOBS")
        self._require_known_names()

    def _require_known_names(self) -> None:
        names = {crew.name for crew in self.crews}
        for job in self.jobs:
            for step in job.steps:
                strangers = set(step.locked_crews) - names
                if strangers:
                    reason = f"“{step.label}” is locked to “{min(strangers)}”, which is no crew of this outage"
                    raise Unusable(job.tag, reason, source="GROUTJOBS")

    def clock(self, at: datetime) -> str:
        """Day and hour in the time of the crews, for words."""
        zone = ZoneInfo(self.crews[0].calendar.timezone)
        return f"{at.astimezone(zone):%a %d %b %H:%M}"

    def crews_with(self, skill: str) -> tuple[Crew, ...]:
        return tuple(crew for crew in self.crews if skill in crew.skills)


@dataclass(frozen=True, kw_only=True)
class Placed:
    """One step in the schedule. Conditioning and cure have no crew."""

    job: str
    step: str
    starts_at: datetime
    ends_at: datetime
    crews: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Score:
    """How good a schedule is: weighted lateness first, then risk, then the finish. Less is better.

    late_h is the sum of weight times hours late; risk the number of pours that are expected to break a limit. [-]
    """

    late_h: float
    risk: float
    finish_at: datetime

    @property
    def order(self) -> tuple[float, float, datetime]:
        return self.late_h, self.risk, self.finish_at


@dataclass(frozen=True, kw_only=True)
class Schedule:
    """Every step of every job with its time and its crews."""

    steps: tuple[Placed, ...]

    @cached_property
    def by_step(self) -> dict[tuple[str, str], Placed]:
        return {(placed.job, placed.step): placed for placed in self.steps}

    def done_at(self, job: Job) -> datetime:
        return max(self.by_step[job.tag, step.code].ends_at for step in job.last_steps())

    def late_h(self, job: Job) -> float:
        """Hours by which the job misses its date, 0 where it keeps it or has none."""
        if job.due_at is None:
            return 0.0
        return max(0.0, minutes_between(job.due_at, self.done_at(job)) / 60)

    def odds(self, job: Job) -> float:
        """Odds of the pour hour that was taken; 1 for a job without a pour, 0 for an hour that nobody offered."""
        if job.pour is None:
            return 1.0
        starts_at = self.by_step[job.tag, job.pour.code].starts_at
        return next((hour.odds for hour in job.pour_hours if hour.starts_at == starts_at), 0.0)

    def score(self, outage: Outage) -> Score:
        return Score(
            late_h=math.fsum(job.weight * self.late_h(job) for job in outage.jobs),
            risk=math.fsum(1.0 - self.odds(job) for job in outage.jobs),
            finish_at=max(placed.ends_at for placed in self.steps),
        )


class Kind(enum.StrEnum):
    """What came of a search."""

    SOLVED = "solved"
    INFEASIBLE = "infeasible"
    OUT_OF_TIME = "out of time"


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What came of a search.

    Solved: no schedule is less late by more than the gap that was asked for; `proven` says that risk and finish cannot
    be bettered either. Infeasible: no schedule keeps every rule, and `reasons` say why. Out of time: the best that was
    found, None where nothing was, and late_bound_h, under which nobody can come.
    """

    kind: Kind
    schedule: Schedule | None = None
    score: Score | None = None
    late_bound_h: float = 0.0
    proven: bool = False
    reasons: tuple[str, ...] = ()

    @property
    def gap_h(self) -> float | None:
        """Weighted hours of lateness between what was found and what is proven to be impossible to beat."""
        return None if self.score is None else self.score.late_h - self.late_bound_h
