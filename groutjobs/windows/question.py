"""What a person asks of a forecast."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from groutjobs.weather.models import Forecast
from groutjobs.windows.models import Weight


class CoverKind(models.TextChoices):
    """What stands over plate and block from before the pour until the end of protection."""

    NONE = "none", "nothing"
    SHADE = "shade", "shade"
    ENCLOSURE = "enclosure", "enclosure, not heated"
    HEATED = "heated", "heated enclosure"


@dataclass(frozen=True, kw_only=True)
class CoverAsked:
    """A shade or an enclosure and when it stands. held_c is the air that a heater holds, None where none does."""

    kind: CoverKind
    from_at: dt.datetime
    to_at: dt.datetime
    held_c: float | None = None


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
    cover: CoverAsked | None = None
    limits: dict[str, tuple[float, str]] = field(default_factory=dict)


def cover_again(told: dict[str, Any] | None, forecast: Forecast) -> CoverAsked | None:
    """The cover of a stored search for another forecast, cut to its hours; none where it would not stand in them."""
    if not told:
        return None
    from_at = max(dt.datetime.fromisoformat(told["from_at"]), forecast.starts_at)
    to_at = min(dt.datetime.fromisoformat(told["to_at"]), forecast.ends_at)
    if to_at <= from_at:
        return None
    return CoverAsked(kind=CoverKind(told["kind"]), from_at=from_at, to_at=to_at, held_c=told["held_c"])
