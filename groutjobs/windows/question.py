"""What a person asks of a forecast."""

import datetime as dt
from dataclasses import dataclass, field

from groutjobs.windows.models import Weight


@dataclass(frozen=True, kw_only=True)
class Question:
    """What a person asks of a forecast. limits holds other values and sources for some limits, by code."""

    material_c: float
    protection_h: float
    measured_c: float | None = None
    measured_at: dt.datetime | None = None
    align_by_at: dt.datetime | None = None
    shift: Weight = Weight.MUST
    daylight: Weight = Weight.PREFERRED
    limits: dict[str, tuple[float, str]] = field(default_factory=dict)
