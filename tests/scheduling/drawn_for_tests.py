"""A foundation under invented weather, searched with odds, and the same search on each drawn weather by itself."""

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from groutjobs.benchmarks import invented_weather, later
from groutjobs.engineering.checks import Floats
from groutjobs.engineering.cure import EPOXY_CLOCK, hours_until_each
from groutjobs.engineering.heat import (
    AnnualStart,
    Layers,
    ProfileStart,
    Surroundings,
    Temperatures,
    Underside,
    simulate,
    simulate_pours,
)
from groutjobs.engineering.materials import concrete, grout, steel
from groutjobs.engineering.protection import Covers
from groutjobs.engineering.psychrometrics import dew_points_c
from groutjobs.engineering.response import AirErrors, DrawnAges, temperature_errors
from groutjobs.engineering.sky import Exposure, HourlyAir
from groutjobs.scheduling.conditions import CureForecast, HourlyWeather, Predicted
from groutjobs.scheduling.covered import weather_under
from groutjobs.scheduling.drawn import Drawn, PourRuns, drawn_pours
from groutjobs.scheduling.forecast_error import FORECAST_ERRORS, DrawnWeather, ErrorModel, draw_weathers
from groutjobs.scheduling.hour_rows import Bools
from groutjobs.scheduling.limits import default_limits
from groutjobs.scheduling.windows import PourHours, find_pour_hours
from tests.scheduling.weather_for_tests import some_need

FIRST = 240
AGE_H = 48.0
NEED = some_need()


@dataclass(frozen=True)
class Place:
    """Ten planned days after ten past ones; due_h is when the alignment must start, in hours from the first planned."""

    exposure: Exposure = Exposure.OPEN
    warmer_k: float = 0.0
    due_h: float = 150.0
    covers: Covers = ()

    @cached_property
    def whole(self) -> HourlyWeather:
        weather = invented_weather(10)
        temp_c = weather.temp_c + self.warmer_k
        return replace(
            weather,
            temp_c=temp_c,
            dew_point_c=dew_points_c(temp_c, weather.relative_humidity),
            rain_probability=0.6 * weather.rain_probability,
        )

    @cached_property
    def weather(self) -> HourlyWeather:
        return later(self.whole, FIRST)

    @cached_property
    def air(self) -> HourlyAir:
        return self.whole.for_heat()

    @cached_property
    def before(self) -> Temperatures:
        mean_c = 14.0 + self.warmer_k
        layers = Layers(concrete=concrete(), concrete_mm=900.0, plate=steel(), plate_mm=25.0, gap_mm=50.0)
        around = Surroundings(exposure=self.exposure, underside=Underside.GROUND, ground_c=mean_c, covers=self.covers)
        start = AnnualStart(annual_mean_c=mean_c, annual_swing_k=20.0, days_after_warmest=-105.0)
        return simulate(layers, self.air, around, start)

    @cached_property
    def runs(self) -> PourRuns:
        starts = np.arange(FIRST, self.air.n_hours + 1)
        after = simulate_pours(self.before, self.air, starts, self.weather.n_hours, grout("epoxy"), grout_c=21.0)
        return PourRuns(
            before=self.before, after=after, air=self.air, first=FIRST, clock=EPOXY_CLOCK, ages_h={"align": AGE_H}
        )

    def cure(self, after: Temperatures, starts: Floats | None = None) -> CureForecast:
        """When the alignment may start; NaN at the starts that were not run."""
        found = ready_h(after)
        whole: Floats = np.full(self.weather.n_hours + 1, np.nan)
        whole[np.arange(len(whole)) if starts is None else starts.astype(np.intp)] = found
        due_at = self.weather.at(self.due_h)
        return CureForecast(code="align", label="align", ready_h=whole, source="GROUTJOBS", due_at=due_at)

    def search(self, weather: HourlyWeather, predicted: Predicted, cure: CureForecast) -> PourHours:
        return find_pour_hours(weather, predicted, NEED, default_limits("epoxy", self.exposure), cure=[cure])

    @cached_property
    def answer(self) -> PourHours:
        concrete_c, plate_c = self.before.concrete_surface_c, self.before.plate_c
        assert plate_c is not None
        predicted = Predicted(concrete_c=concrete_c[FIRST:], plate_c=plate_c[FIRST:])
        return self.search(weather_under(self.covers, self.weather, FIRST), predicted, self.cure(self.runs.after))

    def draw(self, model: ErrorModel = FORECAST_ERRORS, *, seed: int = 3, n_samples: int = 200) -> DrawnWeather:
        return draw_weathers(self.weather, model, lead_h=6.0, seed=seed, n_samples=n_samples)

    def drawn(self, air: DrawnWeather) -> Drawn:
        return drawn_pours(air, self.weather, self.runs, NEED, self.answer.cure)

    def ages(self, air: DrawnWeather) -> DrawnAges:
        errors = AirErrors(air.temp_c - self.weather.temp_c, air.dew_point_c - self.weather.dew_point_c)
        warmer = temperature_errors(self.before, self.air, FIRST, errors)
        return DrawnAges(self.before, self.runs.after, self.air, FIRST, errors, warmer, EPOXY_CLOCK)


def ready_h(after: Temperatures) -> Floats:
    assert after.grout_coldest_c is not None
    at_h = np.arange(after.grout_coldest_c.shape[1], dtype=np.float64)
    return hours_until_each(AGE_H, at_h, after.grout_coldest_c, EPOXY_CLOCK) + NEED.placement_h


@dataclass(frozen=True)
class OneByOne:
    """The whole model run for each weather by itself: concrete, plate, cure, and the search of the forecast alone."""

    place: Place
    air: DrawnWeather
    starts: Floats

    @cached_property
    def full_air(self) -> HourlyAir:
        shape = self.air.temp_c.shape[0], self.place.air.n_hours + 1
        rows = {name.name: np.broadcast_to(getattr(self.place.air, name.name), shape) for name in fields(HourlyAir)}
        past = {name: rows[name][:, :FIRST] for name in ("air_c", "dew_point_c")}
        air_c = np.concatenate([past["air_c"], self.air.temp_c], axis=1)
        return HourlyAir(
            **rows
            | {"air_c": air_c, "dew_point_c": np.concatenate([past["dew_point_c"], self.air.dew_point_c], axis=1)}
        )

    @cached_property
    def before(self) -> Temperatures:
        nominal = self.place.before
        start = ProfileStart(cell_c=nominal.cell_c[0])
        return simulate(nominal.layers, self.full_air, nominal.surroundings, start)

    @cached_property
    def _found(self) -> list[tuple[Bools, Floats]]:
        return [self._one(sample) for sample in range(self.air.n_samples)]

    @cached_property
    def acceptable(self) -> Bools:
        """shape (n_samples, n_starts)"""
        return np.stack([found[0] for found in self._found])

    @cached_property
    def ready_h(self) -> Floats:
        """shape (n_samples, n_starts)"""
        return np.stack([found[1] for found in self._found])

    def _one(self, sample: int) -> tuple[Bools, Floats]:
        place, run = self.place, self.before
        assert run.plate_c is not None
        one = replace(
            run,
            concrete_surface_c=run.concrete_surface_c[sample],
            plate_c=run.plate_c[sample],
            cell_c=run.cell_c[sample],
        )
        air = HourlyAir(**{name.name: getattr(self.full_air, name.name)[sample] for name in fields(HourlyAir)})
        hours = place.weather.n_hours
        after = simulate_pours(one, air, FIRST + self.starts, hours, grout("epoxy"), grout_c=21.0)
        weather = replace(
            place.weather,
            temp_c=self.air.temp_c[sample],
            dew_point_c=self.air.dew_point_c[sample],
            relative_humidity=self.air.relative_humidity[sample],
            rain_probability=self.air.rain_probability[sample],
        )
        predicted = Predicted(concrete_c=run.concrete_surface_c[sample, FIRST:], plate_c=run.plate_c[sample, FIRST:])
        weather = weather_under(place.covers, weather, FIRST)
        answer = place.search(weather, predicted, place.cure(after, self.starts))
        return answer.acceptable[self.starts.astype(np.intp)], ready_h(after)
