"""The steps of a grouting job in their order, with durations to begin with; every one of them is edited for the job."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from groutjobs.errors import Unusable
from groutjobs.scheduling.problem import Step, StepKind

MECHANICAL, CONCRETE, GROUT = "mechanical", "concrete", "grout"
MIXER, ALIGNER = "mixer", "aligner"

_STEPS = (
    Step(code="isolate", label="isolate and disconnect", duration_min=240, skill=MECHANICAL),
    Step(code="chip", label="chip the concrete", duration_min=480, skill=CONCRETE, after=("isolate",)),
    Step(code="clean", label="clean the concrete", duration_min=180, skill=CONCRETE, after=("chip",)),
    Step(code="pads", label="set jackscrew pads", duration_min=180, skill=MECHANICAL, after=("clean",)),
    Step(code="set", label="set and level", duration_min=360, skill=MECHANICAL, after=("pads",)),
    Step(code="snug", label="snug the bolts", duration_min=60, skill=MECHANICAL, after=("set",)),
    Step(code="formwork", label="formwork", duration_min=480, skill=GROUT, after=("snug",)),
    Step(code="condition", label="condition the material", kind=StepKind.CONDITION, duration_min=48 * 60),
    Step(
        code="pour", label="pour", kind=StepKind.POUR, duration_min=180, skill=GROUT, tools=((MIXER, 1),),
        after=("formwork", "condition"),
    ),
    Step(code="cure", label="cure", kind=StepKind.CURE, after=("pour",)),
    Step(code="strip", label="strip the forms", duration_min=180, skill=GROUT, after=("pour",), milestone="strip"),
    Step(
        code="jackscrews", label="jackscrews out", duration_min=120, skill=MECHANICAL, after=("strip",),
        milestone="jackscrews",
    ),
    Step(code="sounding", label="sound for hollow places", duration_min=120, skill=GROUT, after=("jackscrews",)),
    Step(code="repair", label="allowance for repair", duration_min=240, skill=GROUT, after=("sounding",)),
    Step(
        code="tension", label="tension the bolts", duration_min=180, skill=MECHANICAL, after=("repair",),
        milestone="tension",
    ),
    Step(code="recheck", label="recheck the level", duration_min=120, skill=MECHANICAL, after=("tension",)),
    Step(
        code="hand_over", label="hand over to alignment", duration_min=240, skill=MECHANICAL, tools=((ALIGNER, 1),),
        after=("recheck",), milestone="align",
    ),
)  # fmt: skip
NOTHING: Mapping[str, int] = MappingProxyType({})


def usual_steps(durations_min: Mapping[str, int] = NOTHING) -> tuple[Step, ...]:
    """Return the seventeen steps of a job, from isolating the machine to handing it over to alignment.

    Parameters
    ----------
    durations_min : Durations that differ from the usual ones, by code of the step. [min], 1 or more

    Returns
    -------
    The steps, each with kind, duration, skill, tools and the steps that it follows.

    Source
    ------
    [GROUTJOBS] order of the work as the trade does it; durations are ours, to begin with.
    """
    unknown = set(durations_min) - {step.code for step in _STEPS}
    if unknown:
        raise Unusable("durations", f"“{min(unknown)}” is no step of a job", source="GROUTJOBS")
    return tuple(replace(step, duration_min=durations_min.get(step.code, step.duration_min)) for step in _STEPS)
