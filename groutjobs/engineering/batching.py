"""Batch timetable of a pour: mixers, crew and working life."""

import math
from dataclasses import dataclass
from itertools import pairwise

from groutjobs import units
from groutjobs.engineering.checks import require_above, require_between
from groutjobs.findings import Finding, Level

GAP_WARNING_SHARE = 0.5
GAP_BLOCK_SHARE = 0.8
AGE_WARNING_SHARE = 0.8
POUR_TARGET_MIN = 45.0


@dataclass(frozen=True, kw_only=True)
class BatchPlan:
    """How the pour is to run. Every batch is the same whole number of kits.

    `turnaround_min` is from the end of mixing until the same mixer can start again; `place_min` is what the crew needs
    for one batch from the mixer's lip to the next one. Working life counts from the start of mixing.
    """

    kits: int
    kits_per_batch: int
    kit_yield_l: float
    mixers: int
    mix_min: float
    turnaround_min: float
    place_min: float
    working_life_min: float


@dataclass(frozen=True, kw_only=True)
class Batch:
    """One batch; times in minutes from the start of the first mixing."""

    number: int
    mixer: int
    kits: int
    mix_start_min: float
    mix_end_min: float
    place_start_min: float
    place_end_min: float

    @property
    def age_when_placed_min(self) -> float:
        return self.place_end_min - self.mix_start_min


@dataclass(frozen=True, kw_only=True)
class Timetable:
    """All batches. `longest_gap_min` is the longest time from one batch placed to the next one placed."""

    batches: tuple[Batch, ...]
    longest_gap_min: float
    oldest_min: float
    placing_min: float
    pour_rate_l_min: float


def timetable(plan: BatchPlan) -> Timetable:
    """Return start and finish of each batch, the gaps between them, and the pour rate.

    Parameters
    ----------
    plan : Kits, mixers, times and working life.

    Returns
    -------
    The timetable. A batch is started so that its mixing ends when the crew is free, not before: mixed grout does not
    wait. The last batch may hold fewer kits. The pour rate is all volume over the time from first to last placing.

    Raises
    ------
    OutOfRange : a count is below 1 or a time is not above 0.

    Source
    ------
    [GROUTJOBS] first free mixer, one placing crew; [BLOCH-MCM] p. 122 stop-watch on mixing and placing.
    """
    _check(plan)
    batches: list[Batch] = []
    free_min = [0.0] * plan.mixers
    crew_free_min = 0.0
    for number in range(1, math.ceil(plan.kits / plan.kits_per_batch) + 1):
        mixer = min(range(plan.mixers), key=free_min.__getitem__)
        start_min = max(free_min[mixer], crew_free_min - plan.mix_min)
        mixed_min = start_min + plan.mix_min
        crew_free_min = mixed_min + plan.place_min
        free_min[mixer] = mixed_min + plan.turnaround_min
        batches.append(
            Batch(
                number=number,
                mixer=mixer + 1,
                kits=min(plan.kits_per_batch, plan.kits - (number - 1) * plan.kits_per_batch),
                mix_start_min=start_min,
                mix_end_min=mixed_min,
                place_start_min=mixed_min,
                place_end_min=crew_free_min,
            )
        )
    ends = [batch.place_end_min for batch in batches]
    placing_min = ends[-1] - batches[0].place_start_min
    return Timetable(
        batches=tuple(batches),
        longest_gap_min=max((later - earlier for earlier, later in pairwise(ends)), default=0.0),
        oldest_min=max(batch.age_when_placed_min for batch in batches),
        placing_min=placing_min,
        pour_rate_l_min=plan.kits * plan.kit_yield_l / placing_min,
    )


def timetable_findings(plan: BatchPlan, *, system: str = units.METRIC) -> list[Finding]:
    """Return where a plan leaves grout too old, in the mixer or on the open face.

    Parameters
    ----------
    plan : The plan; its timetable is worked out again.
    system : Units that the reader sees.

    Returns
    -------
    A warning from half and a blocker from 80 % of working life between batches; a warning from 80 % and a blocker from
    the whole of it for the age of a batch when placed; a note where placing takes longer than the usual target.

    Raises
    ------
    OutOfRange : as timetable.

    Source
    ------
    [GROUTJOBS] shares of working life; [BLOCH-MCM] p. 118 placing in 45 min for a pump base.
    """
    times = timetable(plan)
    return [
        *_gap_findings(times.longest_gap_min, plan.working_life_min),
        *_age_findings(times.oldest_min, plan.working_life_min),
        *_duration_findings(times, system),
    ]


def _gap_findings(gap_min: float, life_min: float) -> list[Finding]:
    share = gap_min / life_min
    if share <= GAP_WARNING_SHARE:
        return []
    blocks = share > GAP_BLOCK_SHARE
    limit = GAP_BLOCK_SHARE if blocks else GAP_WARNING_SHARE
    return [
        Finding(
            level=Level.BLOCKER if blocks else Level.WARNING,
            code="batch.gap",
            message=f"{_min(gap_min)} from one batch placed to the next is {share:.0%} of the working life of "
            f"{_min(life_min)}, more than {limit:.0%}; a cold joint may form.",
            hint="Add a mixer, shorten the way to the plate, or pour in a cooler hour.",
            source="GROUTJOBS",
            margin=limit - share,
        )
    ]


def _age_findings(oldest_min: float, life_min: float) -> list[Finding]:
    share = oldest_min / life_min
    if share <= AGE_WARNING_SHARE:
        return []
    limit = 1.0 if share > 1.0 else AGE_WARNING_SHARE
    return [
        Finding(
            level=Level.BLOCKER if share > 1.0 else Level.WARNING,
            code="batch.age",
            message=f"A batch is {_min(oldest_min)} old when it is placed, {share:.0%} of the working life of "
            f"{_min(life_min)}, more than {limit:.0%}.",
            hint="Mix fewer kits at a time, or put more people on placing.",
            source="GROUTJOBS",
            margin=limit - share,
        )
    ]


def _duration_findings(times: Timetable, system: str) -> list[Finding]:
    if times.placing_min <= POUR_TARGET_MIN:
        return []
    rate = units.shown(times.pour_rate_l_min, "l", system)
    return [
        Finding(
            level=Level.NOTE,
            code="batch.duration",
            message=f"Placing takes {_min(times.placing_min)} at {rate} a minute; {_min(POUR_TARGET_MIN)} is the usual "
            "target for a pump base.",
            hint="Plan relief for the crew and shade for the material, and keep a second mixer ready.",
            source="BLOCH-MCM",
            margin=POUR_TARGET_MIN - times.placing_min,
        )
    ]


def _min(minutes: float) -> str:
    return units.shown(minutes, "min")


def _check(plan: BatchPlan) -> None:
    for name, count in (("kits", plan.kits), ("kits in a batch", plan.kits_per_batch), ("mixers", plan.mixers)):
        require_between(name, count, 1, 10_000, source="GROUTJOBS")
    require_above("yield of a kit", plan.kit_yield_l, 0.0, unit="L", source="BLOCH-MCM")
    require_between("turnaround of a mixer", plan.turnaround_min, 0.0, None, unit="min", source="GROUTJOBS")
    for name, minutes, source in (
        ("mixing time", plan.mix_min, "BLOCH-MCM"),
        ("placing time", plan.place_min, "GROUTJOBS"),
        ("working life", plan.working_life_min, "PRACTICE"),
    ):
        require_above(name, minutes, 0.0, unit="min", source=source)
