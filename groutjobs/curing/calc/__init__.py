"""The one door of this stage to the engineering: the cure clock and the three inspections."""

from groutjobs.curing.calc.bolts import (
    STRETCH,
    TORQUE,
    VALUE_OF,
    bolt_targets,
    bolts_result,
    default_target,
    friction_names,
    order_of,
    passes_of,
)
from groutjobs.curing.calc.cure import cure_state
from groutjobs.curing.calc.inputs import (
    bolts_inputs,
    bolts_of,
    level_inputs,
    level_points,
    sounding_inputs,
    tap_points,
)
from groutjobs.curing.calc.judgement import calibration_findings, too_early_findings, with_more
from groutjobs.curing.calc.level import OCCASIONS, level_result
from groutjobs.curing.calc.outlook import HeatQuestion, heated_of, outlook_key, outlook_of
from groutjobs.curing.calc.sounding import DEFAULTS as SOUNDING_DEFAULTS
from groutjobs.curing.calc.sounding import (
    FREE,
    HOLLOW,
    NOT_REACHED,
    SOLID,
    SOUNDS,
    SPACINGS_MM,
    UNSURE,
    sounding_result,
)
from groutjobs.engineering.bolting import BOLT_TENSION_CAUTION

__all__ = [
    "BOLT_TENSION_CAUTION",
    "FREE",
    "HOLLOW",
    "NOT_REACHED",
    "OCCASIONS",
    "SOLID",
    "SOUNDING_DEFAULTS",
    "SOUNDS",
    "SPACINGS_MM",
    "STRETCH",
    "TORQUE",
    "UNSURE",
    "VALUE_OF",
    "HeatQuestion",
    "bolt_targets",
    "bolts_inputs",
    "bolts_of",
    "bolts_result",
    "calibration_findings",
    "cure_state",
    "default_target",
    "friction_names",
    "heated_of",
    "level_inputs",
    "level_points",
    "level_result",
    "order_of",
    "outlook_key",
    "outlook_of",
    "passes_of",
    "sounding_inputs",
    "sounding_result",
    "tap_points",
    "too_early_findings",
    "with_more",
]
