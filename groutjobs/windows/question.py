"""What a person asks of a forecast."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from groutjobs.weather.models import Forecast
from groutjobs.windows.models import PourHours, Weight


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


ShiftAsked = tuple[dt.time, dt.time]
"""First and last time of a shift."""


@dataclass(frozen=True, kw_only=True)
class Question:
    """What a person asks of a forecast. limits holds other values and sources for some limits, by code.

    shift_hours stand in place of the site's shift. store_c is that of another store for the material, to be told how
    long it stands there until it is material_c throughout.
    """

    material_c: float
    protection_h: float
    measured_c: float | None = None
    measured_at: dt.datetime | None = None
    align_by_at: dt.datetime | None = None
    shift: Weight = Weight.MUST
    daylight: Weight = Weight.PREFERRED
    shift_hours: ShiftAsked | None = None
    store_c: float | None = None
    cover: CoverAsked | None = None
    limits: dict[str, tuple[float, str]] = field(default_factory=dict)


def shift_again(told: list[str] | None) -> ShiftAsked | None:
    """The shift of a stored search."""
    return (dt.time.fromisoformat(told[0]), dt.time.fromisoformat(told[1])) if told else None


def cover_again(told: dict[str, Any] | None, forecast: Forecast) -> CoverAsked | None:
    """The cover of a stored search for another forecast, cut to its hours; none where it would not stand in them."""
    if not told:
        return None
    from_at = max(dt.datetime.fromisoformat(told["from_at"]), forecast.starts_at)
    to_at = min(dt.datetime.fromisoformat(told["to_at"]), forecast.ends_at)
    if to_at <= from_at:
        return None
    return CoverAsked(kind=CoverKind(told["kind"]), from_at=from_at, to_at=to_at, held_c=told["held_c"])


def asked_before(earlier: PourHours, forecast: Forecast) -> dict[str, Any]:
    """The question of a stored search for a forecast; a measurement outside its hours is left out."""
    asked, measured_at = earlier.result["inputs"], earlier.measured_at
    inside = measured_at is not None and forecast.starts_at <= measured_at <= forecast.ends_at
    store = asked.get("store")
    return {
        "material_c": earlier.material_c,
        "measured_concrete_c": earlier.measured_concrete_c if inside else None,
        "measured_at": measured_at if inside else None,
        "align_by_at": earlier.align_by_at,
        "protection_h": asked["protection_h"],
        "shift": asked["shift"],
        "shift_hours": shift_again(asked.get("shift_hours")),
        "store_c": store["store_c"] if store else None,
        "daylight": asked["daylight"],
        "cover": cover_again(asked.get("cover"), forecast),
        "limits": {limit["code"]: (limit["value"], limit["source"]) for limit in earlier.result["limits"]},
        "as_entered": {name: text for name, text in earlier.as_entered.items() if inside or "measured" not in name},
    }
