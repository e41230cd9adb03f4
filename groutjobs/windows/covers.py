"""A shade or an enclosure over a pour: what it leaves of the weather, and the heater that it needs. For calc.py."""

import datetime as dt
from typing import Any

from groutjobs import units
from groutjobs.engineering.enclosure_heat import Tent, heater_findings, heater_need
from groutjobs.engineering.heat import Temperatures
from groutjobs.engineering.protection import Covers, Enclosure, Shade
from groutjobs.engineering.sky import HourlyAir
from groutjobs.errors import OutOfRange
from groutjobs.findings import Finding, Level
from groutjobs.planning.models import PourPlan
from groutjobs.weather.models import Forecast
from groutjobs.windows.question import CoverAsked, CoverKind
from groutjobs.windows.result import iso

SUN_LEFT = 0.2
"""Part of the sun that a usual shade cloth or a light roof lets through [GROUTJOBS]."""
ROOM_M, HEIGHT_M, AIR_CHANGES = 1.0, 2.2, 2.0
"""An enclosure stands 1 m outside the block, 2.2 m high, and changes its air twice an hour [GROUTJOBS]."""
HOUR = dt.timedelta(hours=1)


def covers_of(asked: CoverAsked | None, forecast: Forecast, added_h: int) -> Covers:
    """The cover on the axis of a run that begins so many hours before the forecast; none where none is asked."""
    if asked is None:
        return ()
    from_h = hour_in(forecast, asked.from_at, "first hour of the cover")
    to_h = hour_in(forecast, asked.to_at, "last hour of the cover")
    if to_h <= from_h:
        raise OutOfRange("last hour of the cover", to_h, low=from_h + 1, unit="h", source="GROUTJOBS")
    from_h, to_h = from_h + added_h, to_h + added_h
    if asked.kind == CoverKind.SHADE:
        return (Shade(from_hour=from_h, to_hour=to_h, sun_left_ratio=SUN_LEFT),)
    return (Enclosure(from_hour=from_h, to_hour=to_h, air_c=asked.held_c),)


def hour_in(forecast: Forecast, at: dt.datetime, what: str) -> int:
    """The hour of the forecast nearest to a moment; OutOfRange, by what it is, where it has none."""
    hour, last = round((at - forecast.starts_at) / HOUR), forecast.hour_count - 1
    if not 0 <= hour <= last:
        raise OutOfRange(f"{what} in the forecast", hour, low=0, high=last, unit="h", source="GROUTJOBS")
    return hour


def tent_round(plan: PourPlan) -> Tent:
    """An enclosure over the whole block, sized from its length and width."""
    block = plan.machine.foundation
    length_m, width_m = block.length_mm / 1000 + 2 * ROOM_M, block.width_mm / 1000 + 2 * ROOM_M
    return Tent(
        skin_m2=length_m * width_m + 2 * HEIGHT_M * (length_m + width_m),
        volume_m3=length_m * width_m * HEIGHT_M,
        surface_m2=block.length_mm * block.width_mm / 1e6,
        air_changes=AIR_CHANGES,
    )


def cover_json(asked: CoverAsked | None, plan: PourPlan, run: Temperatures, air: HourlyAir) -> dict[str, Any] | None:
    """What was asked, and for a heated enclosure its size and heat."""
    if asked is None:
        return None
    told: dict[str, Any] = {
        "kind": asked.kind.value,
        "from_at": iso(asked.from_at),
        "to_at": iso(asked.to_at),
        "held_c": asked.held_c,
    }
    enclosure = next(iter(run.surroundings.covers), None)
    if isinstance(enclosure, Shade):
        return told | {"sun_left_ratio": enclosure.sun_left_ratio}
    if not isinstance(enclosure, Enclosure) or enclosure.air_c is None:
        return told
    tent = tent_round(plan)
    need = heater_need(enclosure, tent, run, air)
    return told | {
        "walls_w_m2k": enclosure.walls_w_m2k,
        "skin_m2": round(tent.skin_m2, 2),
        "volume_m3": round(tent.volume_m3, 2),
        "surface_m2": round(tent.surface_m2, 2),
        "air_changes": tent.air_changes,
        "peak_heat_kw": round(need.peak_heat_kw, 2),
        "mean_heat_kw": round(need.mean_heat_kw, 2),
        "sources": ["ISO13789", "ISO6946", "GROUTJOBS"],
    }


def cover_notes(
    asked: CoverAsked | None, plan: PourPlan, run: Temperatures, air: HourlyAir, system: str
) -> list[Finding]:
    """What holds for the whole search because of the cover, with the cautions of a heater."""
    if asked is None:
        return []
    if asked.kind == CoverKind.SHADE:
        return [_shade_note()]
    enclosure = run.surroundings.covers[0]
    if not isinstance(enclosure, Enclosure) or enclosure.air_c is None:
        return []
    tent = tent_round(plan)
    size = (
        f"The enclosure is taken to stand {units.shown(ROOM_M, 'm', system)} outside the block, "
        f"{units.shown(HEIGHT_M, 'm', system)} high, one sheet thick, its air changed {AIR_CHANGES:.0f} times an hour."
    )
    hint = "A smaller, tighter or insulated one needs less; the supplier of the heater sizes it."
    told = Finding(level=Level.NOTE, code="enclosure_size", message=size, hint=hint, source="GROUTJOBS")
    return [*heater_findings(heater_need(enclosure, tent, run, air), system), told]


def _shade_note() -> Finding:
    return Finding(
        level=Level.NOTE,
        code="shade_size",
        message=f"The shade is taken to let {SUN_LEFT:.0%} of the sun through and to be as warm as the air.",
        hint="A dark sheet close over the plate radiates: hang it high and leave the sides open.",
        source="GROUTJOBS",
    )
