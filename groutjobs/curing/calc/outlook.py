"""What is worked out behind the Cure page when readings or a forecast arrive, and “what if it is heated from now”."""

import datetime as dt
import hashlib
import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from groutjobs import units
from groutjobs.curing.calc.cure import Product, Readings, product_of
from groutjobs.curing.calc.cure_findings import finding
from groutjobs.curing.calc.doubts import doubts_in, without_doubted, without_spikes
from groutjobs.curing.calc.foresight import (
    AirKnown,
    Foreseen,
    Watched,
    age_band,
    band_series,
    band_values,
    bands_along,
    cures_of,
    foreseen_of,
    heating_from,
)
from groutjobs.curing.calc.rate import Rate, kinetics_of, mixed_h, rate_of, setting_of
from groutjobs.curing.models import Probe
from groutjobs.curing.series import HOUR, Floats, Series, series_of
from groutjobs.engineering import ENGINE_VERSION
from groutjobs.engineering.cure import equivalent_age_h, hours_until, rate_ratio
from groutjobs.engineering.enclosure_heat import AIR_HEAT_WH_M3K, HeaterNeed, Tent, heater_findings
from groutjobs.engineering.milestone_bands import CureAhead
from groutjobs.engineering.protection import SINGLE_SKIN_W_M2K
from groutjobs.engineering.strength import milestone_age_h
from groutjobs.equipment.models import Exposure
from groutjobs.errors import GroutJobsError, Unusable
from groutjobs.findings import Finding
from groutjobs.pours.models import Pour
from groutjobs.scheduling.forecast_error import CLIMATE_ERRORS, FORECAST_ERRORS, HALL_ERRORS
from groutjobs.weather.models import Forecast

LEAST_AHEAD_H, LONGEST_AHEAD_H, SLOWEST = 72.0, 24.0 * 30, 0.2
DRAWN_AHEAD_H = 24.0 * 14
HALL_KNOWN_H = 12.0
"""Air of a hall measured so long says more of its days ahead than a forecast of the open. GROUTJOBS."""
ROOM_M, HEIGHT_M, AIR_CHANGES = 1.0, 2.2, 2.0
"""An enclosure 1 m outside the block, 2.2 m high, two air changes an hour, as under Pour hours. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """A pour with its readings as hours after placing."""

    pour: Pour
    started_at: dt.datetime
    product: Product
    series: dict[str, Series]
    forecast: Forecast | None
    rate: Rate | None
    doubts: list[dict[str, Any]]


def outlook_key(readings: Readings, forecast: Forecast | None, pour: Pour) -> str:
    """A hash of all that an outlook rests on; another key means that it is to be worked out again."""
    rows = {probe: [(at.isoformat(), temp) for at, temp in values] for probe, values in readings.items()}
    about = [rows, None if forecast is None else forecast.pk, pour.plan_id, str(pour.placed_at), ENGINE_VERSION]
    return hashlib.sha256(json.dumps(about, sort_keys=True).encode()).hexdigest()


def outlook_of(pour: Pour, readings: Readings, forecast: Forecast | None, *, at: dt.datetime) -> dict[str, Any]:
    """Rate, temperatures ahead, bands and doubts of a pour that is placed, as plain JSON with what they rest on."""
    seen = _seen(pour, readings, forecast)
    counts = {probe: len(list(readings.get(probe, ()))) for probe in Probe.values}
    grout = seen.series[Probe.GROUT]
    told: dict[str, Any] = {
        "engine_version": ENGINE_VERSION,
        "sources": ["ASTMC1074", "BDA3", "GROUTJOBS", "INCROPERA"],
        "key": outlook_key(readings, forecast, pour),
        "computed_at": at.isoformat(),
        "reading_counts": counts,
        "last_reading_at": None if not len(grout) else _moment(seen.started_at, float(grout.at_h[-1])),
        "forecast": None if forecast is None else {"id": forecast.pk, "issued_at": forecast.issued_at.isoformat()},
        "doubts": seen.doubts,
        "rate": None if seen.rate is None else seen.rate.as_json(),
        "why_not": "",
    }
    try:
        return told | _foreseen_json(seen, at)
    except (GroutJobsError, ValueError) as error:
        return told | {"why_not": str(error), "bands": {}, "ahead": None, "age_band": None}


def _foreseen_json(seen: _Seen, at: dt.datetime) -> dict[str, Any]:
    watched = _watched(seen)
    found = foreseen_of(watched)
    last = {probe: float(row.at_h[-1]) for probe, row in seen.series.items() if len(row)}
    now_h = (at - seen.started_at) / HOUR
    until_h = max([now_h, *last.values()]) + DRAWN_AHEAD_H
    told: dict[str, Any] = {"ahead": band_series(found, last, until_h), "bands": {}, "age_band": None}
    if seen.rate is None:
        return told | {"bands": _cement_bands(seen, found)}
    ahead = cures_of(seen.rate.belief, seen.product.clock, found, watched.seed)
    bands = bands_along(seen.product.milestones, ahead)
    return told | {
        "bands": {code: band_values(band) for code, band in bands.items() if band.p50_h is not None},
        "age_band": age_band(ahead, until_h),
    }


def _cement_bands(seen: _Seen, found: Foreseen) -> dict[str, Any]:
    """Cement counts by the clock alone: the band is that of the temperatures."""
    told = {}
    for item in seen.product.milestones:
        needed_h = milestone_age_h(item, seen.product.curve)
        hours = [hours_until(needed_h, found.at_h, row, seen.product.clock) for row in found.grout_c]
        each = np.array([np.inf if hour is None else hour for hour in hours])
        p10, p50, p90 = (
            float(value) if np.isfinite(value) else None
            for value in np.quantile(each, [0.1, 0.5, 0.9], method="inverted_cdf")
        )
        if p50 is not None:
            ratio = float(np.isfinite(each).mean())
            told[item.code] = {"p10_h": p10, "p50_h": p50, "p90_h": p90, "reached_ratio": ratio}
    return told


def _seen(pour: Pour, readings: Readings, forecast: Forecast | None) -> _Seen:
    if pour.placed_at is None:
        raise Unusable("outlook", "the grout is not placed yet", source="GROUTJOBS")
    product = product_of(pour.plan.data_sheet)
    series = {probe: series_of(readings.get(probe, ()), pour.placed_at) for probe in Probe.values}
    doubts = doubts_in(series, pour.plan.planned_grout_c, forecast, pour.placed_at)
    series[Probe.GROUT] = without_spikes(series[Probe.GROUT])[0]
    trusted = without_doubted(series, doubts)
    rate = None
    if not product.is_cement:
        try:
            rate = rate_of(pour, product.clock, product.points, trusted, forecast)
        except GroutJobsError:
            rate = None
    return _Seen(
        pour=pour,
        started_at=pour.placed_at,
        product=product,
        series=trusted,
        forecast=forecast,
        rate=rate,
        doubts=doubts,
    )


def _watched(seen: _Seen) -> Watched:
    if seen.rate is None and not seen.product.is_cement:
        raise Unusable("temperatures ahead", "the data sheet carries no rate of cure", source="GROUTJOBS")
    air = _air_known(seen)
    began_h = mixed_h(seen.pour)
    given = air.measured if len(air.measured) else air.forecast
    if not len(given):
        raise Unusable("temperatures ahead", "the air is neither measured nor forecast", source="GROUTJOBS")
    first_air_c = float(np.interp(began_h, given.at_h, given.temp_c))
    is_cement = seen.product.is_cement
    last_h = max([0.0, *(float(row.at_h[-1]) for row in seen.series.values() if len(row))])
    return Watched(
        setting=setting_of(seen.pour, seen.series, first_air_c, is_cement=is_cement),
        kinetics=None if is_cement else kinetics_of(seen.product.points, seen.product.clock),
        pace=None if seen.rate is None else seen.rate.pace,
        series=seen.series,
        air=air,
        mixed_h=began_h,
        end_h=last_h + _look_ahead_h(seen, first_air_c),
        seed=seen.pour.pk,
    )


def _look_ahead_h(seen: _Seen, air_c: float) -> float:
    """How far ahead the last milestone may lie, generously, at the temperature of the last reading."""
    clock, grout = seen.product.clock, seen.series[Probe.GROUT].from_start()
    temp_c = float(grout.temp_c[-1]) if len(grout) else air_c
    age_h = float(equivalent_age_h(grout.at_h, grout.temp_c, clock)[-1]) if len(grout) > 1 else 0.0
    full_h = max(milestone_age_h(item, seen.product.curve) for item in seen.product.milestones)
    pace = max(rate_ratio(clock, temp_c), SLOWEST)
    return min(max(2.0 * (full_h - age_h) / pace, 0.0) + LEAST_AHEAD_H, LONGEST_AHEAD_H)


def _air_known(seen: _Seen) -> AirKnown:
    measured, forecast = seen.series[Probe.AIR], seen.forecast
    in_hall = seen.pour.plan.machine.foundation.exposure == Exposure.INDOORS
    hours = float(measured.at_h[-1] - measured.at_h[0]) if len(measured) else 0.0
    if forecast is None or (in_hall and hours >= HALL_KNOWN_H):
        last_h = float(measured.at_h[-1]) if len(measured) else 0.0
        return AirKnown(measured=measured, forecast=Series(), issued_h=last_h, errors=HALL_ERRORS)
    temps: Floats = np.array(forecast.values("temp_c"), dtype=np.float64)
    first_h = (forecast.starts_at - seen.started_at) / HOUR
    return AirKnown(
        measured=measured,
        forecast=Series(first_h + np.arange(len(temps), dtype=np.float64), temps),
        issued_h=(forecast.issued_at - seen.started_at) / HOUR,
        errors=CLIMATE_ERRORS if forecast.is_typical else FORECAST_ERRORS,
    )


@dataclass(frozen=True, kw_only=True)
class HeatQuestion:
    """Heat the air round the pour to a temperature, from when until when."""

    target_c: float
    from_at: dt.datetime
    until_at: dt.datetime


def heated_of(
    pour: Pour, readings: Readings, forecast: Forecast | None, question: HeatQuestion, *, at: dt.datetime
) -> dict[str, Any]:
    """Milestones without and with the heat, side by side, and the heater; nothing of it is stored."""
    seen = _seen(pour, readings, forecast)
    watched = _watched(seen)
    from_h, until_h = ((moment - seen.started_at) / HOUR for moment in (question.from_at, question.until_at))
    heating = heating_from(question.target_c, from_h, until_h, watched.mixed_h)
    plain, heated = foreseen_of(watched), foreseen_of(watched, heating)
    without, with_heat = _bands_of(seen, plain), _bands_of(seen, heated)
    rows = [
        _side_by_side(seen, item.code, item.label, without.get(item.code, {}), with_heat.get(item.code, {}))
        for item in seen.product.milestones
    ]
    need = _heater(seen.pour, question.target_c, plain, heated, (from_h, until_h))
    last = {probe: float(row.at_h[-1]) for probe, row in seen.series.items() if len(row)}
    shown_h = max(until_h, *last.values(), 0.0) + 72.0
    return {
        "engine_version": ENGINE_VERSION,
        "sources": ["ASTMC1074", "CFR1926.154", "GROUTJOBS", "INCROPERA", "ISO13789", "ISO6946"],
        "computed_at": at.isoformat(),
        "started_at": seen.started_at.isoformat(),
        "question": {
            "target_c": question.target_c,
            "from_at": question.from_at.isoformat(),
            "until_at": question.until_at.isoformat(),
        },
        "milestones": rows,
        "peak_heat_kw": round(need.peak_heat_kw, 2),
        "mean_heat_kw": round(need.mean_heat_kw, 2),
        "hottest_c": round(float(np.median(heated.grout_c, axis=0)[heated.at_h >= from_h].max()), 1),
        "ahead": {"plain": band_series(plain, last, shown_h), "heated": band_series(heated, last, shown_h)},
        "findings": {
            system: [item.as_json() for item in _heat_found(seen, need, heated, from_h, system)]
            for system in (units.METRIC, units.US)
        },
    }


def _bands_of(seen: _Seen, found: Foreseen) -> dict[str, Any]:
    if seen.rate is None:
        return _cement_bands(seen, found)
    ahead: CureAhead = cures_of(seen.rate.belief, seen.product.clock, found, seen.pour.pk)
    return {code: band_values(band) for code, band in bands_along(seen.product.milestones, ahead).items()}


def _side_by_side(seen: _Seen, code: str, label: str, plain: dict[str, Any], heated: dict[str, Any]) -> dict[str, Any]:
    """One milestone without and with the heat; the gain counts the middle dates."""
    told: dict[str, Any] = {"code": code, "label": label}
    for name, band in (("plain", plain), ("heated", heated)):
        for part in ("p10", "p50", "p90"):
            told[f"{name}_{part}_at"] = _moment(seen.started_at, band.get(f"{part}_h"))
    known = plain.get("p50_h") is not None and heated.get("p50_h") is not None
    return told | {"gain_h": round(plain["p50_h"] - heated["p50_h"], 2) if known else None}


def _heater(pour: Pour, target_c: float, plain: Foreseen, heated: Foreseen, span: tuple[float, float]) -> HeaterNeed:
    """Heat of the enclosure over the block, hour by hour while it is held warm."""
    block = pour.plan.machine.foundation
    length_m, width_m = block.length_mm / 1000 + 2 * ROOM_M, block.width_mm / 1000 + 2 * ROOM_M
    tent = Tent(
        skin_m2=length_m * width_m + 2 * HEIGHT_M * (length_m + width_m),
        volume_m3=length_m * width_m * HEIGHT_M,
        surface_m2=block.length_mm * block.width_mm / 1e6,
        air_changes=AIR_CHANGES,
    )
    inside = (heated.at_h >= span[0]) & (heated.at_h <= span[1])
    if not inside.any():
        raise Unusable("heating", "it begins after what is foreseen ends", source="GROUTJOBS")
    outside_c = np.median(plain.air_c, axis=0)[inside]
    warmer_k = np.maximum(target_c - outside_c, 0.0)
    return HeaterNeed(
        walls_heat_kw=SINGLE_SKIN_W_M2K * tent.skin_m2 * warmer_k / 1000,
        air_heat_kw=AIR_HEAT_WH_M3K * tent.air_changes * tent.volume_m3 * warmer_k / 1000,
        surface_heat_kw=tent.surface_m2 * heated.surface_w_m2[inside] / 1000,
    )


def _heat_found(seen: _Seen, need: HeaterNeed, heated: Foreseen, from_h: float, system: str) -> list[Finding]:
    found = list(heater_findings(need, system))
    hottest_c, clock = float(np.median(heated.grout_c, axis=0)[heated.at_h >= from_h].max()), seen.product.clock
    if clock.hottest_c is not None and hottest_c > clock.hottest_c:
        high = units.shown(clock.hottest_c, "c", system)
        words = f"The grout gets warmer than {high}, the hottest that the data sheet tells of; the clock gains no more."
        found.append(finding("warning", "heat_no_gain", words, "DATASHEET", hint="Heat less; ask the supplier."))
    return found


def _moment(started_at: dt.datetime, hours: float | None) -> str | None:
    return None if hours is None else (started_at + dt.timedelta(hours=hours)).isoformat(timespec="seconds")
