"""Doubts about the readings of a pour: found by the engineering, told here with their times and what to do."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from groutjobs import units
from groutjobs.curing.calc.cure_findings import finding
from groutjobs.curing.models import Probe
from groutjobs.curing.series import HOUR, Floats, Series
from groutjobs.engineering.reading_checks import (
    Doubt,
    Doubted,
    clock_shift,
    clock_steps,
    exchanged_throughout,
    exchanges,
    in_air_spans,
    spikes,
    stuck_spans,
)
from groutjobs.errors import GroutJobsError
from groutjobs.findings import Finding
from groutjobs.weather.models import Forecast

FIRST_DAY_H = 24.0
STILL_AIR_H = 24.0
"""Air, plate and concrete of a hall may stand still for a night; a day to 0.01 K is doubted. GROUTJOBS."""
NOT_FOR_RATE = {Doubt.SPIKE, Doubt.STUCK, Doubt.IN_AIR, Doubt.EXCHANGED}
SHOWN = 12
LOOK_AT = "Look at the probe. Set the span aside below if it is wrong; nothing is deleted."
HINTS = {
    Doubt.SPIKE: "A loose contact or a hand on the probe does this. The clock leaves a lone spike of the grout out.",
    Doubt.STUCK: "A probe without contact or a logger that repeats its last value does this. " + LOOK_AT,
    Doubt.IN_AIR: "It may have come out of the grout. Put it back or read the grout by hand. " + LOOK_AT,
    Doubt.EXCHANGED: "Look at the cables. Set the span of both aside, then bring the file again with the columns the "
    "other way round.",
    Doubt.CLOCK_STEP: "A clock that was set on leaves such a hole. Compare the logger with a watch; nothing is moved.",
    Doubt.CLOCK_SHIFT: "Summer time, another zone or a wrong day does this. Compare the logger with a watch, and bring "
    "the file again with the right clock if it is off.",
}


def doubts_in(
    series: Mapping[str, Series], placed_c: float, forecast: Forecast | None, started_at: dt.datetime
) -> list[dict[str, Any]]:
    """Everything that is doubted about the readings of a pour, as plain JSON in the order of time."""
    held = {probe: row for probe, row in series.items() if len(row) > 1}
    found: list[tuple[str, Doubted]] = []
    for probe, row in held.items():
        found += [(probe, item) for item in _spikes(row)]
        found += [(probe, item) for item in clock_steps(row.at_h)]
        found += [(probe, item) for item in _stuck(probe, held)]
    grout, air = (held.get(probe, Series()).from_start() for probe in (Probe.GROUT, Probe.AIR))
    if len(grout) > 1 and len(air) > 1:
        found += [(Probe.GROUT, item) for item in in_air_spans(grout.at_h, grout.temp_c, air.at_h, air.temp_c)]
        found += [(Probe.GROUT, item) for item in _exchanged(grout, air, placed_c, forecast, started_at)]
    found += _shifted(held.get(Probe.AIR, Series()), forecast, started_at)
    rows = [_as_json(probe, item) for probe, item in found]
    return sorted({str(row): row for row in rows}.values(), key=lambda row: (row["first_h"], row["probe"]))


def spike_places(grout: Series) -> list[int]:
    """Which readings of the grout stand alone so far off that the clock leaves them out."""
    try:
        return [int(place) for place in spikes(grout.at_h, grout.temp_c)]
    except GroutJobsError:
        return []


def without_spikes(grout: Series) -> tuple[Series, list[float]]:
    """The course without its lone spikes, and the hours of those."""
    places = spike_places(grout)
    if not places:
        return grout, []
    keep: np.ndarray[tuple[int], np.dtype[np.bool_]] = np.ones(len(grout), dtype=np.bool_)
    keep[places] = False
    return Series(grout.at_h[keep], grout.temp_c[keep]), [float(grout.at_h[place]) for place in places]


def without_doubted(series: Mapping[str, Series], rows: Iterable[dict[str, Any]]) -> dict[str, Series]:
    """The readings that may tell the rate of the pour: spans in which a probe is doubted are left out of that."""
    kept = dict(series)
    for row in rows:
        if row["doubt"] not in NOT_FOR_RATE:
            continue
        if row["doubt"] == Doubt.STUCK and row["probe"] != Probe.GROUT:
            continue
        both = (Probe.GROUT, Probe.AIR) if row["doubt"] == Doubt.EXCHANGED else (row["probe"],)
        for probe in both:
            own = kept.get(probe, Series())
            outside = (own.at_h < row["first_h"] - 1e-3) | (own.at_h > row["last_h"] + 1e-3)
            kept[probe] = Series(own.at_h[outside], own.temp_c[outside])
    return kept


def doubt_findings(rows: Iterable[dict[str, Any]], started_at: dt.datetime, zone: dt.tzinfo) -> list[Finding]:
    """A warning for each doubt, with its times on the clock of the site."""
    shown = list(rows)
    told = [_told(row, started_at, zone) for row in shown[:SHOWN]]
    if len(shown) > SHOWN:
        words = f"And {len(shown) - SHOWN} more doubts like these about the readings."
        told.append(finding("note", "doubts_more", words, "GROUTJOBS"))
    return told


def left_out_finding(hours: list[float], system: str) -> list[Finding]:
    """Which readings the clock left out by itself."""
    if not hours:
        return []
    spike_k = units.shown(6.0, "k", system)
    when = ", ".join(f"{hour:.1f} h" for hour in hours[:6]) + (" and more" if len(hours) > 6 else "")
    words = (
        f"The clock leaves out {len(hours)} grout reading{'s' if len(hours) > 1 else ''} that "
        f"stand{'' if len(hours) > 1 else 's'} alone, {spike_k} or more off the readings around ({when} after placing)."
    )
    return [finding("note", "left_out", words, "GROUTJOBS", hint="They stay on record and in the picture.")]


def _spikes(row: Series) -> list[Doubted]:
    return [
        Doubted(doubt=Doubt.SPIKE, first_h=float(row.at_h[place]), last_h=float(row.at_h[place]), count=1)
        for place in spikes(row.at_h, row.temp_c)
    ]


def _stuck(probe: str, held: Mapping[str, Series]) -> list[Doubted]:
    own, least_h = held[probe], 0.0 if probe == Probe.GROUT else STILL_AIR_H
    for other, row in held.items():
        if other == probe:
            continue
        found = stuck_spans(own.at_h, own.temp_c, row.at_h, row.temp_c)
        if long_ones := [item for item in found if item.last_h - item.first_h >= least_h]:
            return long_ones
    return []


def _exchanged(
    grout: Series, air: Series, placed_c: float, forecast: Forecast | None, started_at: dt.datetime
) -> list[Doubted]:
    both, in_grout, in_air = np.intersect1d(np.round(grout.at_h, 4), np.round(air.at_h, 4), return_indices=True)
    if len(both) < 2:
        return []
    one_c, other_c = grout.temp_c[in_grout], air.temp_c[in_air]
    found = exchanges(both, one_c, other_c)
    day = both <= both[0] + FIRST_DAY_H
    outside_c = _forecast_c(forecast, started_at, both[day])
    known = outside_c is not None and 0.0 <= placed_c <= 60.0 and both[0] <= 1.0
    if known and outside_c is not None and exchanged_throughout(one_c[day], other_c[day], placed_c, outside_c):
        until = found[0].first_h if found else float(both[-1])
        count = int((both <= until).sum())
        return [Doubted(doubt=Doubt.EXCHANGED, first_h=float(both[0]), last_h=until, count=count)]
    return found


def _shifted(air: Series, forecast: Forecast | None, started_at: dt.datetime) -> list[tuple[str, Doubted]]:
    if forecast is None or forecast.is_typical or len(air) < 2:
        return []
    first_h = (forecast.starts_at - started_at) / HOUR
    temps: Floats = np.array(forecast.values("temp_c"), dtype=np.float64)
    found = clock_shift(air.at_h, air.temp_c, first_h + np.arange(len(temps), dtype=np.float64), temps)
    return [] if found is None else [(Probe.AIR, found)]


def _forecast_c(forecast: Forecast | None, started_at: dt.datetime, at_h: Floats) -> Floats | None:
    if forecast is None or forecast.is_typical:
        return None
    first_h = (forecast.starts_at - started_at) / HOUR
    temps: Floats = np.array(forecast.values("temp_c"), dtype=np.float64)
    if not len(temps) or at_h[0] < first_h or at_h[-1] > first_h + len(temps) - 1:
        return None
    return np.asarray(np.interp(at_h, first_h + np.arange(len(temps), dtype=np.float64), temps))


def _as_json(probe: str, item: Doubted) -> dict[str, Any]:
    return {
        "doubt": item.doubt.value,
        "probe": str(probe),
        "first_h": round(item.first_h, 4),
        "last_h": round(item.last_h, 4),
        "count": item.count,
        "shift_h": item.shift_h,
    }


def _told(row: dict[str, Any], started_at: dt.datetime, zone: dt.tzinfo) -> Finding:
    doubt = Doubt(row["doubt"])
    first, last = ((started_at + row[name] * HOUR).astimezone(zone) for name in ("first_h", "last_h"))
    span = f"from {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} ({row['count']} readings)"
    probe = Probe(row["probe"]).label.lower()
    moved = f"{math.fabs(row['shift_h']):.0f} h"
    words = {
        Doubt.SPIKE: f"A lone {probe} reading at {first:%Y-%m-%d %H:%M} stands far off those around it.",
        Doubt.STUCK: f"The {probe} probe told the same value {span} while another probe moved.",
        Doubt.IN_AIR: f"The grout probe follows the air {span}; grout under a plate does not.",
        Doubt.EXCHANGED: f"Grout and air probe look exchanged {span}.",
        Doubt.CLOCK_STEP: f"The times of the {probe} probe leave out {moved} after {first:%Y-%m-%d %H:%M}.",
        Doubt.CLOCK_SHIFT: f"The logger's clock looks {moved} {'fast' if row['shift_h'] > 0 else 'slow'}: its air fits "
        f"the forecast {moved} {'earlier' if row['shift_h'] > 0 else 'later'}.",
    }
    return finding("warning", f"doubt_{doubt.value}", words[doubt], "GROUTJOBS", hint=HINTS[doubt])
