"""The cure clock of one pour: equivalent age from readings, milestones reached and ahead, strength, findings."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from groutjobs import units
from groutjobs.curing.calc.bands import AIR, HELD, LONGEST_H, MODEL, Bands, Outlook, band_json, bands_of
from groutjobs.curing.calc.cement import cement_findings, cement_state
from groutjobs.curing.calc.cure_findings import behind_findings, course_findings, epoxy_note, finding, rate_findings
from groutjobs.curing.calc.doubts import doubt_findings, doubts_in, left_out_finding, without_doubted, without_spikes
from groutjobs.curing.calc.rate import Rate, rate_of
from groutjobs.curing.models import Probe
from groutjobs.curing.series import (
    GAP_H,
    HOUR,
    Course,
    Floats,
    Series,
    as_json,
    cold_in_gaps,
    gaps_in,
    held_back_to_start,
    series_of,
)
from groutjobs.engineering import ENGINE_VERSION
from groutjobs.engineering.cure import CEMENT_CLOCK, EPOXY_CLOCK, CureClock, equivalent_age_h, hours_until
from groutjobs.engineering.milestone_bands import Band
from groutjobs.engineering.strength import (
    CEMENT_MILESTONES,
    EPOXY_MILESTONES,
    Milestone,
    StrengthCurve,
    StrengthPoint,
    fit_strength,
    milestone_age_h,
    strength_mpa,
)
from groutjobs.errors import GroutJobsError
from groutjobs.findings import Finding
from groutjobs.planning.models import DataSheet, GroutKind
from groutjobs.pours.models import Pour
from groutjobs.weather.models import Forecast

HORIZON_H = 2000.0
LONGEST_DRAWN_H = 24.0 * 30
Readings = Mapping[str, Iterable[tuple[dt.datetime, float]]]


@dataclass(frozen=True, kw_only=True)
class Product:
    """What the data sheet of the grout gives: clock, milestones, strength curve and what it lacks."""

    clock: CureClock
    activation_source: str
    milestones: tuple[Milestone, ...]
    points: tuple[StrengthPoint, ...]
    curve: StrengthCurve | None
    notes: tuple[Finding, ...]
    is_cement: bool


def cure_state(
    pour: Pour,
    readings: Readings,
    forecast: Forecast | None,
    *,
    at: dt.datetime,
    system: str = units.METRIC,
    outlook: dict[str, Any] | None = None,
    wetting: Sequence[tuple[str, dt.datetime]] = (),
) -> dict[str, Any]:
    """The state of the cure as stored, shown and drawn; `started_at` is None until the last grout is placed.

    `outlook` is what was worked out behind the page; without it rate and bands are worked out here.
    """
    product = product_of(pour.plan.data_sheet)
    state: dict[str, Any] = {
        "engine_version": ENGINE_VERSION,
        "computed_at": at.isoformat(),
        "started_at": None,
        "clock": _clock_json(product),
        "strength": _curve_json(product.curve),
        "sources": sorted({product.clock.source, "ASTMC1074", *(m.source for m in product.milestones)}),
    }
    if pour.placed_at is None:
        waiting = finding("note", "not_placed", "The clock starts when the last batch is placed.", "GROUTJOBS")
        return state | {"milestones": [], "findings": [waiting.as_json()], "series": {}, "basis": "none"}
    series = {probe: series_of(readings.get(probe, ()), pour.placed_at) for probe in Probe.values}
    return state | _running(_Cure(pour, pour.placed_at, product, series, forecast, at, outlook, wetting), system)


def product_of(sheet: DataSheet) -> Product:
    """Clock, milestones and strength curve from a data sheet; a number that it lacks is ours and says so."""
    cement = sheet.grout_system.kind == GroutKind.CEMENT
    default = CEMENT_CLOCK if cement else EPOXY_CLOCK
    hottest_c = max([default.reference_c, *(() if cement else (float(row[0]) for row in sheet.strength))])
    clock = replace(
        default,
        activation_kj_mol=sheet.activation_kj_mol or default.activation_kj_mol,
        minimum_c=sheet.cure_min_c,
        hottest_c=hottest_c,
    )
    points = tuple(StrengthPoint(age_h=hours, temp_c=temp_c, strength_mpa=mpa) for temp_c, hours, mpa in sheet.strength)
    curve, notes = _curve_of(points, clock)
    return Product(
        clock=clock,
        activation_source="data sheet" if sheet.activation_kj_mol else default.source,
        milestones=CEMENT_MILESTONES if cement else EPOXY_MILESTONES,
        points=points,
        curve=curve,
        notes=(*notes, *(() if cement else (epoxy_note(),))),
        is_cement=cement,
    )


def _curve_of(points: tuple[StrengthPoint, ...], clock: CureClock) -> tuple[StrengthCurve | None, tuple[Finding, ...]]:
    try:
        return fit_strength(points, clock), ()
    except GroutJobsError as error:
        words = f"There is no strength estimate: {error}."
        hint = "Type at least three strength rows of the data sheet; cubes cast at the pour tell more."
        return None, (finding("note", "no_strength", words, "GROUTJOBS", hint=hint),)


@dataclass(frozen=True)
class _Cure:
    """What the state of a running cure is worked out from."""

    pour: Pour
    started_at: dt.datetime
    product: Product
    series: dict[str, Series]
    forecast: Forecast | None
    at: dt.datetime
    outlook: dict[str, Any] | None = None
    wetting: Sequence[tuple[str, dt.datetime]] = ()

    @property
    def now_h(self) -> float:
        return (self.at - self.started_at) / HOUR


def _running(cure: _Cure, system: str) -> dict[str, Any]:
    product, started_at, now_h = cure.product, cure.started_at, cure.now_h
    grout, spikes_h = without_spikes(cure.series[Probe.GROUT].from_start())
    air = _air_ahead(cure.series[Probe.AIR], cure.forecast, started_at)
    course = _course(grout, air, product.clock)
    ages_h = _ages(course.best, product.clock)
    full_h = max(milestone_age_h(item, product.curve) for item in product.milestones)
    is_done = course.measured and float(ages_h[-1]) >= full_h
    found = course_findings(grout, course, product.clock, now_h, is_done=is_done, system=system)
    held = _held(course) if course.measured else None
    ahead = _followed(course, air)
    milestones = [_milestone(item, product, course, held, ahead, started_at, now_h) for item in product.milestones]
    doubts = _doubts(cure)
    rate, rate_found = _rate(cure, doubts)
    bands = None if _foreseen(cure) else _bands(cure, rate, course, held, ahead, milestones)
    _add_bands(milestones, bands, cure, course)
    until_h = _drawn_until(milestones, course, now_h)
    series = _drawn(cure.series, course, held, ahead, product.clock, until_h)
    cement = cement_state(course.best, held, now_h, _wetting_h(cure)) if product.is_cement else None
    found += [*rate_found, *behind_findings(milestones, cure.at), *_cement_found(cement, course, now_h)]
    found += doubt_findings(doubts, started_at, cure.pour.plan.machine.site.tz)
    found += [*left_out_finding(spikes_h, system), *product.notes]
    return {
        "started_at": started_at.isoformat(),
        "basis": "grout" if course.measured else "air" if len(course.best) else "none",
        "forecast": None if cure.forecast is None or not len(air) else _forecast_json(cure.forecast),
        "gaps": [{"first_h": gap.first_h, "last_h": gap.last_h} for gap in gaps_in(grout)] if len(grout) else [],
        "reading_count": len(grout),
        "findings": [item.as_json() for item in found],
        "milestones": [{key: value for key, value in item.items() if key != "hours"} for item in milestones],
        "rate": None if rate is None else rate.as_json(),
        "cement": None if cement is None else _with_moments(cement, started_at),
        "last": _at_last(course, product, started_at) if course.measured else None,
        "now": _at_now(course, held, product, now_h),
        "series": series | _age_band(cure, bands, until_h),
        "foreseen": _foreseen(cure).get("ahead"),
        "doubts": doubts,
        "until_h": until_h,
    }


def _foreseen(cure: _Cure) -> dict[str, Any]:
    """What was foreseen behind the page; empty where nothing was."""
    outlook = cure.outlook or {}
    return outlook if outlook.get("bands") else {}


def _doubts(cure: _Cure) -> list[dict[str, Any]]:
    if cure.outlook is not None and cure.outlook.get("is_current"):
        return list(cure.outlook["doubts"])
    return doubts_in(cure.series, cure.pour.plan.planned_grout_c, cure.forecast, cure.started_at)


def _age_band(cure: _Cure, bands: Bands | None, until_h: float) -> dict[str, Any]:
    if bands is not None:
        return {"age_band": bands.drawn(until_h, cure.product.milestones)}
    band = _foreseen(cure).get("age_band")
    if band is None:
        return {}
    count = sum(hour <= until_h for hour in band["at_h"])
    return {"age_band": {name: values[:count] for name, values in band.items()}}


def _wetting_h(cure: _Cure) -> list[tuple[str, float]]:
    return [(wetness, (at - cure.started_at) / HOUR) for wetness, at in cure.wetting]


def _cement_found(cement: dict[str, Any] | None, course: Course, now_h: float) -> list[Finding]:
    return [] if cement is None or not course.measured else cement_findings(cement, course.best, now_h)


def _with_moments(cement: dict[str, Any], started_at: dt.datetime) -> dict[str, Any]:
    wet = cement["wet"]
    moments = {f"{name}_at": _moment(started_at, wet[f"{name}_h"]) for name in ("wet_until", "warm_until")}
    return cement | {"wet": wet | moments}


def _rate(cure: _Cure, doubts: list[dict[str, Any]]) -> tuple[Rate | None, list[Finding]]:
    """The rate of the pour; None for cement, whose days are counted, and where the data sheet carries no fit."""
    if cure.product.is_cement:
        return None, []
    if _foreseen(cure).get("rate"):
        stored = Rate.from_json(_foreseen(cure)["rate"])
        return stored, rate_findings(stored, "", has_curve=True)
    try:
        trusted = without_doubted(cure.series, doubts)
        rate = rate_of(cure.pour, cure.product.clock, cure.product.points, trusted, cure.forecast)
    except GroutJobsError as error:
        return None, rate_findings(None, str(error), has_curve=cure.product.curve is not None)
    return rate, rate_findings(rate, "", has_curve=True)


def _bands(
    cure: _Cure,
    rate: Rate | None,
    course: Course,
    held: Series | None,
    ahead: Series | None,
    milestones: list[dict[str, Any]],
) -> Bands | None:
    ways = {name: way for name, way in ((HELD, held), (AIR, ahead)) if way is not None and len(way) > 1}
    if rate is None or not ways:
        return None
    known = [value for item in milestones for value in item["hours"].values() if value is not None]
    outlook = Outlook(
        started_at=cure.started_at,
        measured_until_h=course.last_h if course.measured else 0.0,
        end_h=min(3.0 * max([course.last_h, 24.0, *known]), LONGEST_H),
        forecast=cure.forecast,
        seed=cure.pour.pk,
    )
    return bands_of(rate.belief, cure.product.clock, ways, outlook)


def _add_bands(milestones: list[dict[str, Any]], bands: Bands | None, cure: _Cure, course: Course) -> None:
    """Give each milestone its band, None where there is none; one that lies behind the last reading is measured."""
    found = {} if bands is None else bands.of(cure.product.milestones)
    for code, stored in _foreseen(cure).get("bands", {}).items():
        found[code] = MODEL, Band(stored["p10_h"], stored["p50_h"], stored["p90_h"], stored["reached_ratio"])
    for item in milestones:
        item["band"] = None
        if item["code"] in found:
            way, band = found[item["code"]]
            is_behind = course.measured and band.p90_h is not None and band.p90_h <= course.last_h
            item["band"] = band_json("measured" if is_behind else way, band, cure.started_at)


def _air_ahead(air: Series, forecast: Forecast | None, started_at: dt.datetime) -> Series:
    """Measured air since placing, then the hours of the forecast that join it; empty where neither is there."""
    known = air.from_start()
    last_h = float(known.at_h[-1]) if len(known) else -math.inf
    if forecast is None:
        return known
    first_h = (forecast.starts_at - started_at) / HOUR
    temps: Floats = np.array(forecast.values("temp_c"), dtype=np.float64)
    hours = Series(first_h + np.arange(len(temps), dtype=np.float64), temps)
    later = hours.between(max(last_h + 1e-6, 0.0), np.inf)
    return known.then(later.at_h, later.temp_c)


def _course(grout: Series, air: Series, clock: CureClock) -> Course:
    standstill_c = (clock.minimum_c if clock.minimum_c is not None else -20.0) - 1.0
    if len(grout):
        last_h = float(grout.at_h[-1])
        return Course(
            best=held_back_to_start(grout), cold=cold_in_gaps(grout, standstill_c), last_h=last_h, measured=True
        )
    if len(air) and air.at_h[0] <= GAP_H:
        best = held_back_to_start(air)
        return Course(best=best, cold=best, last_h=0.0, measured=False)
    return Course(best=Series(), cold=Series(), last_h=0.0, measured=False)


def _held(course: Course) -> Series:
    """The course with its last reading held."""
    return course.best.then([course.last_h + HORIZON_H], [course.best.temp_c[-1]])


def _followed(course: Course, air: Series) -> Series | None:
    """The course, then the air temperature; None where the air is not known from the last reading on."""
    later = air.between(course.last_h + 1e-6, np.inf)
    if not course.measured:
        return course.best if len(course.best) > 1 else None
    if not len(later) or later.at_h[0] - course.last_h > GAP_H:
        return None
    return course.best.then(later.at_h, later.temp_c)


def _ages(series: Series, clock: CureClock) -> Floats:
    if len(series) < 2:
        return np.zeros(len(series))
    return equivalent_age_h(series.at_h, series.temp_c, clock)


def _until(needed_h: float, series: Series | None, clock: CureClock) -> float | None:
    if series is None or len(series) < 2:
        return None
    return hours_until(needed_h, series.at_h, series.temp_c, clock)


def _milestone(
    item: Milestone,
    product: Product,
    course: Course,
    held: Series | None,
    ahead: Series | None,
    started_at: dt.datetime,
    now_h: float,
) -> dict[str, Any]:
    needed_h = milestone_age_h(item, product.curve)
    clock = product.clock
    reached = _until(needed_h, course.best, clock) if course.measured else None
    surely = _until(needed_h, course.cold, clock) if course.measured else None
    by_held, by_air = (None if reached is not None else _until(needed_h, way, clock) for way in (held, ahead))
    known = [hours for hours in (by_held, by_air) if hours is not None]
    hours = {
        "reached": reached,
        "reached_surely": surely,
        "expected_held": by_held,
        "expected_air": by_air,
        "expected": max(known, default=None),
    }
    return {
        "code": item.code,
        "label": item.label,
        "needed_h": needed_h,
        "source": item.source,
        "strength_mpa": None if product.curve is None else strength_mpa(product.curve, needed_h),
        "state": _milestone_state(hours, course, now_h),
        "hours": hours,
        **{f"{name}_at": _moment(started_at, value) for name, value in hours.items()},
    }


def _milestone_state(hours: dict[str, float | None], course: Course, now_h: float) -> str:
    if hours["reached_surely"] is not None:
        return "reached"
    if hours["reached"] is not None:
        return "reached_unless_cold"
    expected_h = hours["expected"]
    if expected_h is None:
        return "never_so_cold" if course.measured else "beyond_forecast"
    if not course.measured:
        return "expected_unmeasured"
    return "due" if expected_h <= now_h else "expected"


def _moment(started_at: dt.datetime, hours: float | None) -> str | None:
    return None if hours is None else (started_at + dt.timedelta(hours=hours)).isoformat(timespec="seconds")


def _at_last(course: Course, product: Product, started_at: dt.datetime) -> dict[str, Any]:
    age_h = float(_ages(course.best, product.clock)[-1])
    low_h = float(_ages(course.cold, product.clock)[-1])
    return {
        "at": _moment(started_at, course.last_h),
        "temp_c": float(course.best.temp_c[-1]),
        "age_h": age_h,
        "age_low_h": low_h,
        "strength_mpa": None if product.curve is None else strength_mpa(product.curve, age_h),
        "strength_low_mpa": None if product.curve is None else strength_mpa(product.curve, low_h),
    }


def _at_now(course: Course, held: Series | None, product: Product, now_h: float) -> dict[str, Any] | None:
    """Age by now, the last reading held; None without a grout reading or before it."""
    if held is None or not course.last_h < now_h < course.last_h + HORIZON_H:
        return None
    age_h = float(_ages(course.best.then([now_h], [course.best.temp_c[-1]]), product.clock)[-1])
    return {"age_h": age_h, "since_last_h": now_h - course.last_h}


def _drawn_until(milestones: list[dict[str, Any]], course: Course, now_h: float) -> float:
    hours: list[float] = [value for item in milestones for value in item["hours"].values() if value is not None]
    hours += [item["band"]["p90_h"] for item in milestones[:-1] if item["band"] and item["band"]["p90_h"] is not None]
    return min(max([course.last_h, now_h, 24.0, *(1.04 * value for value in hours)]), LONGEST_DRAWN_H)


def _drawn(
    series: dict[str, Series],
    course: Course,
    held: Series | None,
    ahead: Series | None,
    clock: CureClock,
    until_h: float,
) -> dict[str, Any]:
    drawn: dict[str, Any] = {
        probe: as_json(values.between(-24.0, until_h)) for probe, values in series.items() if len(values)
    }
    measured_until = course.last_h if course.measured else 0.0
    if course.measured:
        drawn["age"] = as_json(Series(course.best.at_h, _ages(course.best, clock)), name="age_h")
        drawn["age_low"] = as_json(Series(course.cold.at_h, _ages(course.cold, clock)), name="age_h")
    for name, way in (("held", held), ("ahead", ahead)):
        if way is None:
            continue
        grid = np.unique(np.concatenate([way.at_h, np.linspace(measured_until, until_h, 60)]))
        grid = grid[grid <= way.at_h[-1]]
        fine = Series(grid, np.interp(grid, way.at_h, way.temp_c))
        ages = Series(grid, _ages(fine, clock)).between(measured_until, until_h)
        drawn[f"temp_{name}"] = as_json(fine.between(measured_until, until_h))
        drawn[f"age_{name}"] = as_json(ages, name="age_h")
    return drawn


def _clock_json(product: Product) -> dict[str, Any]:
    clock = product.clock
    return {
        "activation_kj_mol": clock.activation_kj_mol,
        "activation_source": product.activation_source,
        "reference_c": clock.reference_c,
        "minimum_c": clock.minimum_c,
        "hottest_c": clock.hottest_c,
        "source": clock.source,
    }


def _curve_json(curve: StrengthCurve | None) -> dict[str, float] | None:
    if curve is None:
        return None
    return {
        "ultimate_mpa": curve.ultimate_mpa,
        "time_h": curve.time_h,
        "shape": curve.shape,
        "scatter_ratio": curve.scatter_ratio,
    }


def _forecast_json(forecast: Forecast) -> dict[str, Any]:
    return {
        "source_name": forecast.source_name,
        "issued_at": forecast.issued_at.isoformat(),
        "is_typical": forecast.is_typical,
    }
