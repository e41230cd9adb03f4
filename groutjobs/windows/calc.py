"""A plan and a forecast in, pour hours out: the only file of this stage that calls engineering and scheduling."""

import datetime as dt
import hashlib
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from groutjobs import units
from groutjobs.engineering import ENGINE_VERSION
from groutjobs.engineering.cure import CEMENT_CLOCK, EPOXY_CLOCK, CureClock
from groutjobs.engineering.heat import (
    AnnualStart,
    Layers,
    MeasuredConcrete,
    Surroundings,
    Temperatures,
    Underside,
    simulate,
    simulate_pours,
)
from groutjobs.engineering.materials import WorkingLifePoint, concrete, grout, steel
from groutjobs.engineering.sky import Exposure, HourlyAir
from groutjobs.engineering.spin_up import WANTED_H, SpinUp, spun_up
from groutjobs.engineering.strength import (
    CEMENT_MILESTONES,
    EPOXY_MILESTONES,
    Milestone,
    milestone_age_h,
    milestone_hours,
)
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.findings import Level
from groutjobs.planning.calc.conditioning import store_hours
from groutjobs.planning.models import GroutKind, PourPlan
from groutjobs.scheduling.conditions import (
    CureForecast,
    HourlyWeather,
    PlacementNeed,
    Predicted,
    ShiftHours,
    daylight_spells,
)
from groutjobs.scheduling.covered import weather_under
from groutjobs.scheduling.drawn import PourRuns, drawn_pours
from groutjobs.scheduling.forecast_error import (
    CLIMATE_ERRORS,
    FORECAST_ERRORS,
    HALL_ERRORS,
    ErrorModel,
    ScoredDay,
    draw_weathers,
    errors_past_the_end,
    learned_errors,
)
from groutjobs.scheduling.hour_rows import SpellRule, daylight_rule, shift_rule
from groutjobs.scheduling.limits import PourLimit, default_limits
from groutjobs.scheduling.windows import PourHours as Answer
from groutjobs.scheduling.windows import find_pour_hours
from groutjobs.weather.models import Forecast, ForecastSource, LearnedSpread
from groutjobs.weather.queries import learned_spread, typical_hours_before
from groutjobs.windows.covers import cover_json, cover_notes, covers_of, hour_in
from groutjobs.windows.longer import Longer, end_notes, longer
from groutjobs.windows.models import WEIGHT_LEVELS, Weight
from groutjobs.windows.notes import BeforeForecast, notes_about
from groutjobs.windows.question import Question
from groutjobs.windows.result import (
    hours_json,
    iso,
    milestones_json,
    notes_json,
    odds_json,
    rules_json,
    runs_json,
    spells_json,
)

Floats = npt.NDArray[np.float64]
LONGEST_CURE_H = 400
PROTECTION_H = {GroutKind.EPOXY: (48.0, "BLOCH-MCM"), GroutKind.CEMENT: (168.0, "BLOCH-MCM")}
"""Epoxy: shade and shelter for two days after the pour. Cement: 10 °C or more for seven days."""
_ENGINE_KIND = {GroutKind.EPOXY: "epoxy", GroutKind.CEMENT: "cementitious"}
_MILESTONES = {GroutKind.EPOXY: EPOXY_MILESTONES, GroutKind.CEMENT: CEMENT_MILESTONES}
_QUANTITIES = ("temp_c", "relative_humidity", "dew_point_c", "wind_km_h", "solar_w_m2", "cloud_ratio")


@dataclass(frozen=True)
class _Heat:
    """Temperatures of the hours to plan for, the first of them on the axis of the run, and how many."""

    before: Temperatures
    air: HourlyAir
    first: int
    n_hours: int
    before_forecast: BeforeForecast

    def planned(self, values: Floats) -> Floats:
        return values[self.first :]


@dataclass(frozen=True)
class _Spread:
    """How wrong the weather may be, how far ahead it looks at its first hour, and where the draws begin."""

    model: ErrorModel
    lead_h: float
    seed: int
    learned: LearnedSpread | None = None

    def as_json(self, n_hours: int) -> dict[str, Any]:
        first_k, last_k = self.model.air_spread_k(np.array([self.lead_h, self.lead_h + n_hours]))
        told: dict[str, Any] = {"first_sd_k": round(float(first_k), 2), "last_sd_k": round(float(last_k), 2)}
        told |= {"lead_h": self.lead_h, "seed": self.seed, "model": asdict(self.model)}
        if self.learned is None:
            return told
        score = {"pairs": self.learned.pair_count, "made_at": iso(self.learned.made_at), "days": self.learned.days}
        return told | {"learned": score}


def kind_of(plan: PourPlan) -> GroutKind:
    return GroutKind(plan.result["inputs"]["data_sheet"]["kind"])


def usual_protection(plan: PourPlan) -> tuple[float, str]:
    """Hours that grout of this kind is kept from cold, sun and rain, and the source."""
    return PROTECTION_H[kind_of(plan)]


def usual_limits(plan: PourPlan) -> list[dict[str, Any]]:
    """The limits to begin with, as JSON; placing limits of the data sheet stand in place of general ones."""
    return [_limit_json(limit) for limit in _limits(plan)]


def _limits(plan: PourPlan, other: dict[str, tuple[float, str]] | None = None) -> list[PourLimit]:
    sheet = plan.result["inputs"]["data_sheet"]
    source = f"DATASHEET {sheet['name']} rev {sheet['revision']}"
    limits = []
    for limit in default_limits(_ENGINE_KIND[kind_of(plan)], Exposure(plan.machine.foundation.exposure)):
        if limit.suffix == "c" and limit.level is Level.BLOCKER:
            value = sheet["placing_min_c"] if limit.is_minimum else sheet["placing_max_c"]
            limit = replace(limit, value=value, source=source)
        limits.append(limit)
    blockers = {(limit.quantity, limit.is_minimum): limit.value for limit in limits if limit.level is Level.BLOCKER}
    kept = [limit for limit in limits if _matters(limit, blockers.get((limit.quantity, limit.is_minimum)))]
    return [_with_other(limit, other or {}) for limit in kept]


def _matters(limit: PourLimit, blocker: float | None) -> bool:
    """A warning matters where it comes before the blocker of its kind."""
    if limit.level is Level.BLOCKER or blocker is None:
        return True
    return limit.value > blocker if limit.is_minimum else limit.value < blocker


def _with_other(limit: PourLimit, other: dict[str, tuple[float, str]]) -> PourLimit:
    if limit.code not in other:
        return limit
    value, source = other[limit.code]
    return replace(limit, value=value, source=source)


def _limit_json(limit: PourLimit) -> dict[str, Any]:
    names = ("code", "label", "quantity", "value", "suffix", "is_minimum", "source", "hint")
    return {name: getattr(limit, name) for name in names} | {"level": limit.level.value, "span": limit.span.value}


def search(plan: PourPlan, forecast: Forecast, question: Question) -> dict[str, Any]:
    """Judge every hour of the forecast for the plan, as JSON. The plan comes from planning.queries.plan_whole().

    OutOfRange and Unusable tell of inputs that the engineering refuses.
    """
    if "timetable" not in plan.result:
        raise NotAllowed(f"{plan} has not been computed; open it and save it once before searching for its hours")
    made = longer(forecast, plan.machine.site, Exposure(plan.machine.foundation.exposure))
    heat = _heat(plan, made, question)
    outside = _weather(made.forecast)
    weather = weather_under(heat.before.surroundings.covers, outside, heat.first)
    limits = _limits(plan, question.limits)
    after = _after(plan, heat, question)
    cure = _cure(plan, after, question)
    spread = _spread_of(plan, made)
    answer = find_pour_hours(
        weather,
        Predicted(concrete_c=heat.planned(heat.before.concrete_surface_c), plate_c=heat.planned(_plate_c(heat))),
        _need(plan, question),
        limits,
        spell_rules=_spell_rules(plan, weather, question),
        cure=cure,
        forecast_h=made.n_hours,
    )
    air = draw_weathers(outside, spread.model, lead_h=spread.lead_h, seed=spread.seed)
    runs = _runs(plan, heat, after)
    asked, told = answer.within_spells, answer.acceptable
    drawn = drawn_pours(air, outside, runs, answer.need, cure, asked=asked, told=told)
    answer = answer.with_odds(drawn)
    return {
        "engine_version": ENGINE_VERSION,
        "inputs": _inputs(plan, forecast, question, heat) | {"typical_hours_after": made.typical_h},
        "limits": [_limit_json(limit) for limit in limits],
        "rules": rules_json(answer),
        "notes": _notes(plan, made, question, heat, units.METRIC),
        "notes_us": _notes(plan, made, question, heat, units.US),
        "odds": odds_json(answer) | spread.as_json(made.n_hours) if answer.odds else {},
        "hours": hours_json(answer),
        "runs": runs_json(answer),
        "milestones": milestones_json(answer, drawn.early_late_h),
        "series": _series(answer, heat),
        "daylight": spells_json(_daylight(plan, forecast)),
    }


def _notes(plan: PourPlan, made: Longer, question: Question, heat: _Heat, system: str) -> list[dict[str, Any]]:
    of_cover = cover_notes(question.cover, plan, heat.before, heat.air, system)
    about = notes_about(plan, made.forecast, question, heat.before_forecast, system)
    return notes_json([*about, *end_notes(made), *of_cover])


def _weather(forecast: Forecast) -> HourlyWeather:
    first = forecast.past_hours
    known = {name: np.array(forecast.values(name)[first:]) for name in _QUANTITIES}
    unknown: Floats = np.full(forecast.hour_count - first, np.nan)
    has_rain = "rain_probability" in forecast.hours
    rain = np.array(forecast.values("rain_probability")[first:]) if has_rain else unknown
    return HourlyWeather(start_at=forecast.plan_starts_at, timezone=forecast.zone, rain_probability=rain, **known)


def _spun_up(forecast: Forecast, site: Site, exposure: Exposure) -> SpinUp:
    """The whole forecast with what brings the foundation to its temperature before it."""
    in_the_open = exposure is Exposure.OPEN
    typical = typical_hours_before(site, forecast.starts_at, WANTED_H) if in_the_open else {}
    usual_year = _air(typical) if typical and len(typical["temp_c"]) > 1 else None
    return spun_up(_air(forecast.hours), forecast.past_hours, exposure, usual_year)


def _air(hours: dict[str, Any]) -> HourlyAir:
    columns = {name: np.array(hours[name], dtype=np.float64) for name in _QUANTITIES if name != "relative_humidity"}
    columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["temp_c"])
    return HourlyAir(air_c=columns.pop("temp_c"), **columns)


def _heat(plan: PourPlan, made: Longer, question: Question) -> _Heat:
    site, foundation, forecast = plan.machine.site, plan.machine.foundation, made.forecast
    spin_up = _spun_up(forecast, site, Exposure(foundation.exposure))
    air, added = spin_up.air, spin_up.added_h
    mean_c = float(air.air_c.mean()) if site.annual_mean_c is None else site.annual_mean_c
    swing_k = 0.0 if site.annual_swing_c is None or site.annual_mean_c is None else 2 * site.annual_swing_c
    layers = Layers(
        concrete=concrete(),
        concrete_mm=foundation.height_mm,
        plate=steel(),
        plate_mm=plan.result["inputs"]["plate"]["thickness_mm"],
        gap_mm=gap_mm(plan),
    )
    before = simulate(
        layers,
        air,
        Surroundings(
            exposure=Exposure(foundation.exposure),
            underside=Underside.GROUND,
            ground_c=mean_c,
            covers=covers_of(question.cover, forecast, added),
        ),
        AnnualStart(
            annual_mean_c=mean_c,
            annual_swing_k=swing_k,
            days_after_warmest=_days_after_warmest(forecast, site) - added / 24,
        ),
        measured=_measured(forecast, question, added),
    )
    put_before = BeforeForecast(spin_up.repeated_h, spin_up.usual_year_h, round(spin_up.left_error_k, 2))
    return _Heat(before, air, added + forecast.past_hours, made.n_hours, put_before)


def _days_after_warmest(forecast: Forecast, site: Any) -> float:
    """Days from the warmest of the year: about 20 July north of the equator, 20 January south of it [GROUTJOBS]."""
    warmest = dt.datetime(forecast.starts_at.year, 7 if site.latitude_deg >= 0 else 1, 20, tzinfo=dt.UTC)
    return float((forecast.starts_at - warmest) / dt.timedelta(days=1))


def _measured(forecast: Forecast, question: Question, added: int) -> tuple[MeasuredConcrete, ...]:
    if question.measured_c is None or question.measured_at is None:
        return ()
    hour = hour_in(forecast, question.measured_at, "hour of the concrete measurement")
    return (MeasuredConcrete(hour + added, question.measured_c),)


def gap_mm(plan: PourPlan) -> float:
    """Mean depth of the grout under the plate, from the takeoff of the plan."""
    rows = plan.result["compartments"]
    area_m2 = sum(row["area_m2"] for row in rows)
    return float(sum(row["area_m2"] * row["depth_mean_mm"] for row in rows) / area_m2)


def _plate_c(heat: _Heat) -> Floats:
    if heat.before.plate_c is None:
        raise NotAllowed("the plan has no plate; enter the baseplate of the machine")
    return heat.before.plate_c


def _need(plan: PourPlan, question: Question) -> PlacementNeed:
    points = plan.result["inputs"]["data_sheet"]["working_life"]
    return PlacementNeed(
        placement_h=_placement_h(plan),
        protection_h=question.protection_h,
        batch_min=plan.place_min,
        material_c=question.material_c,
        working_life_points=tuple(WorkingLifePoint(temp_c, minutes) for temp_c, minutes in points),
    )


def _spell_rules(plan: PourPlan, weather: HourlyWeather, question: Question) -> list[SpellRule]:
    site, rules = plan.machine.site, []
    if question.shift is not Weight.IGNORED:
        first, last = question.shift_hours or (site.shift_starts, site.shift_ends)
        shift = ShiftHours(timezone=site.zone, weekdays=frozenset(site.working_days), first=first, last=last)
        rules.append(replace(shift_rule(shift, weather), level=WEIGHT_LEVELS[question.shift]))
    if question.daylight is not Weight.IGNORED:
        rule = daylight_rule(weather, site.latitude_deg, site.longitude_deg)
        rules.append(replace(rule, level=WEIGHT_LEVELS[question.daylight]))
    return rules


def _daylight(plan: PourPlan, forecast: Forecast) -> tuple[tuple[dt.datetime, dt.datetime], ...]:
    site = plan.machine.site
    return daylight_spells(forecast.plan_starts_at, forecast.ends_at, site.latitude_deg, site.longitude_deg)


def cure_clock(plan: PourPlan) -> CureClock:
    """The cure clock of the plan's data sheet; what the sheet does not tell comes from its kind of grout."""
    sheet = plan.result["inputs"]["data_sheet"]
    usual = EPOXY_CLOCK if kind_of(plan) == GroutKind.EPOXY else CEMENT_CLOCK
    hottest = [temp_c for temp_c, _, _ in sheet["strength"]] or [usual.hottest_c or usual.reference_c]
    return CureClock(
        activation_kj_mol=sheet["activation_kj_mol"] or usual.activation_kj_mol,
        reference_c=usual.reference_c,
        minimum_c=sheet["cure_min_c"],
        hottest_c=usual.reference_c if usual is CEMENT_CLOCK else max(usual.reference_c, *hottest),
        source=usual.source
        if sheet["activation_kj_mol"] is None
        else f"DATASHEET {sheet['name']} rev {sheet['revision']}",
    )


def _milestones(plan: PourPlan) -> tuple[Milestone, ...]:
    return _MILESTONES[kind_of(plan)]


def _after(plan: PourPlan, heat: _Heat, question: Question) -> Temperatures:
    """Temperatures after a pour at each hour of the forecast."""
    starts = heat.first + np.arange(heat.n_hours + 1, dtype=np.float64)
    hours = min(LONGEST_CURE_H, heat.air.n_hours - heat.first)
    material = grout(_ENGINE_KIND[kind_of(plan)])
    return simulate_pours(heat.before, heat.air, starts, hours, material, grout_c=question.material_c)


def _placement_h(plan: PourPlan) -> float:
    return float(plan.result["timetable"]["duration_min"] / 60)


def _cure(plan: PourPlan, after: Temperatures, question: Question) -> list[CureForecast]:
    """When each milestone is reached after a start at each hour, counted from the last batch: the youngest grout."""
    if after.grout_coldest_c is None:
        raise NotAllowed("the plan has no grout to follow")
    at_h = np.arange(after.grout_coldest_c.shape[-1], dtype=np.float64)
    ready = milestone_hours(_milestones(plan), at_h, after.grout_coldest_c, cure_clock(plan))
    return [
        CureForecast(
            code=milestone.code,
            label=milestone.label,
            ready_h=ready[milestone.code] + _placement_h(plan),
            source=milestone.source,
            due_at=question.align_by_at if milestone.code == "align" else None,
        )
        for milestone in _milestones(plan)
    ]


def _spread_of(plan: PourPlan, made: Longer) -> _Spread:
    """The same forecast gives the same draws, so that odds change only when something else does."""
    forecast = made.forecast
    named = f"{forecast.source} {forecast.source_name} {iso(forecast.issued_at)} {iso(forecast.starts_at)}"
    seed = int.from_bytes(hashlib.sha256(named.encode()).digest()[:4])
    lead_h = (forecast.plan_starts_at - forecast.issued_at) / dt.timedelta(hours=1)
    is_hall = forecast.source == ForecastSource.HAND and plan.machine.foundation.exposure == Exposure.INDOORS
    model = CLIMATE_ERRORS if forecast.is_typical else HALL_ERRORS if is_hall else FORECAST_ERRORS
    learned = learned_spread(plan.machine.site) if forecast.is_live else None
    if learned is not None:
        model = learned_errors([ScoredDay(**day) for day in learned.days])
    ends_h = lead_h + made.n_hours
    if made.typical_h and ends_h > 0:
        model = errors_past_the_end(model, ends_h)
    return _Spread(model, round(lead_h, 2), seed, learned)


def _runs(plan: PourPlan, heat: _Heat, after: Temperatures) -> PourRuns:
    return PourRuns(
        before=heat.before,
        after=after,
        air=heat.air,
        first=heat.first,
        clock=cure_clock(plan),
        ages_h={milestone.code: milestone_age_h(milestone) for milestone in _milestones(plan)},
    )


def _series(answer: Answer, heat: _Heat) -> dict[str, Any]:
    """The curves of the picture, at every hour of the forecast."""
    weather, hours = answer.weather, slice(heat.n_hours + 1)
    curves = {
        "air_c": weather.temp_c,
        "dew_point_c": weather.dew_point_c,
        "concrete_c": heat.planned(heat.before.concrete_surface_c),
        "plate_c": heat.planned(_plate_c(heat)),
        "wind_km_h": weather.wind_km_h,
    }
    if not np.isnan(weather.rain_probability).any():
        curves["rain_probability"] = weather.rain_probability
    at = [iso(weather.at(hour)) for hour in range(heat.n_hours + 1)]
    return {"at": at} | {name: [round(float(value), 2) for value in values[hours]] for name, values in curves.items()}


def _inputs(plan: PourPlan, forecast: Forecast, question: Question, heat: _Heat) -> dict[str, Any]:
    site, foundation = plan.machine.site, plan.machine.foundation
    clock = cure_clock(plan)
    return {
        "plan_revision": plan.revision,
        "forecast": {
            "source": forecast.source,
            "source_name": forecast.source_name,
            "issued_at": iso(forecast.issued_at),
            "past_hours": forecast.past_hours,
            "past_hours_added": heat.before_forecast.repeated_h,
            "typical_hours_added": heat.before_forecast.typical_h,
            "start_error_k": heat.before_forecast.left_error_k,
        },
        "site": {
            name: getattr(site, name) for name in ("latitude_deg", "longitude_deg", "annual_mean_c", "annual_swing_c")
        },
        "foundation": {"height_mm": foundation.height_mm, "exposure": foundation.exposure},
        "plate_mm": plan.result["inputs"]["plate"]["thickness_mm"],
        "gap_mm": gap_mm(plan),
        "placement_h": _placement_h(plan),
        "batch_min": plan.place_min,
        "material_c": question.material_c,
        "protection_h": question.protection_h,
        "measured_c": question.measured_c,
        "measured_at": iso(question.measured_at) if question.measured_at else None,
        "align_by_at": iso(question.align_by_at) if question.align_by_at else None,
        "shift": question.shift.value,
        "shift_hours": [each.isoformat("minutes") for each in question.shift_hours] if question.shift_hours else None,
        "store": store_hours(plan, question.store_c, question.material_c),
        "daylight": question.daylight.value,
        "cover": cover_json(question.cover, plan, heat.before, heat.air),
        "cure_clock": {
            "activation_kj_mol": clock.activation_kj_mol,
            "reference_c": clock.reference_c,
            "minimum_c": clock.minimum_c,
            "hottest_c": clock.hottest_c,
            "source": clock.source,
        },
    }
