"""What the computing costs on this machine: medians of several runs, and ratios between things measured in one go.

The problems are invented but of the size of real ones. Times say nothing by themselves; the ratios travel.
"""

import statistics
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from datetime import time as clock
from functools import cached_property, partial

import numpy as np
from scipy.integrate import solve_ivp

from groutjobs.engineering.checks import Floats, require_between
from groutjobs.engineering.compartments import Compartment
from groutjobs.engineering.conduction import Cells, Column, Stepper, graded_cells_m
from groutjobs.engineering.cure import EPOXY_CLOCK
from groutjobs.engineering.heat import (
    AnnualStart,
    Case,
    Layers,
    Surroundings,
    Temperatures,
    Underside,
    simulate_machines,
    simulate_pours,
)
from groutjobs.engineering.materials import WorkingLifePoint, concrete, grout, steel
from groutjobs.engineering.psychrometrics import dew_points_c
from groutjobs.engineering.sky import Exposure, HourlyAir
from groutjobs.engineering.strength import EPOXY_MILESTONES, milestone_age_h, milestone_hours
from groutjobs.engineering.takeoff import TakeoffCase, take_off
from groutjobs.equipment.drawing import plan_drawing
from groutjobs.equipment.geometry import MachineDrawing, Pad, Region, RoundPart
from groutjobs.errors import Unusable
from groutjobs.scheduling.conditions import CureForecast, HourlyWeather, PlacementNeed, Predicted, ShiftHours
from groutjobs.scheduling.drawn import PourRuns, drawn_pours
from groutjobs.scheduling.forecast_error import FORECAST_ERRORS, SAMPLES, ErrorModel, draw_weathers
from groutjobs.scheduling.hour_rows import shift_rule
from groutjobs.scheduling.limits import default_limits
from groutjobs.scheduling.windows import PourHours, find_pour_hours

HOUR_S = 3600.0
PAST_DAYS = 10
ZONE = "America/Chicago"
TOLERANCES = tuple(10.0 ** (-half / 2) for half in range(2, 17))


@dataclass(frozen=True)
class Line:
    """One line of the table: what was done to how much, the median of the runs, and how it compares."""

    what: str
    size: str
    median_s: float
    compared: str


def medians_s(runs: int, *works: Callable[[], object]) -> list[float]:
    """Median wall-clock time of each work. [s] They take turns, so that a busy minute falls on all of them."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(runs):
        for work, times in zip(works, taken, strict=True):
            begun = time.perf_counter()
            work()
            times.append(time.perf_counter() - begun)
    return [statistics.median(times) for times in taken]


def all_lines(
    *, runs: int, days: int, columns: tuple[int, ...], machines: tuple[int, ...], repeats: int
) -> Iterator[Line]:
    """Every line, each as soon as it is measured. `repeats` is how many drawings and takeoffs make one run."""
    for name, value in (("runs", runs), ("days", days), ("repeats", repeats)):
        require_between(name, value, 1, 1000, source="GROUTJOBS")
    for count in columns:
        yield from slab_lines(runs, days, count)
    yield from search_lines(runs, days, machines)
    yield from plan_lines(runs, repeats)


@dataclass(frozen=True)
class SlabProblem:
    """Blocks of concrete, 0.9 m deep on insulation, under a film and an air temperature that change by the hour.

    Both are straight lines between hours, shape (n_hours + 1, n_columns), and so is their product, the flow.
    """

    column: Column
    film_w_m2k: Floats
    air_c: Floats

    @cached_property
    def flow_w_m2(self) -> Floats:
        return self.film_w_m2k * self.air_c

    @classmethod
    def invented(cls, days: int, n_columns: int) -> "SlabProblem":
        hours = np.arange(days * 24 + 1.0)[:, None]
        phase = np.linspace(0.0, 2 * np.pi, n_columns, endpoint=False)
        wave = np.sin(2 * np.pi * hours / 24 + phase)
        cells = Cells(concrete(), graded_cells_m(0.9, 0.008, 1.25))
        return cls(Column([cells]), 15.0 + 10.0 * np.cos(2 * np.pi * hours / 31 + phase), 15.0 + 12.0 * wave)

    @property
    def shape(self) -> tuple[int, int]:
        """Columns and cells."""
        return self.air_c.shape[1], len(self.column.depth_m)

    def ours(self) -> Floats:
        """Cell temperatures by our stepper at four steps an hour, shape (n_hours + 1, columns, cells)."""
        stepper = Stepper(self.column, HOUR_S / 4, self.shape[0])
        shares = np.arange(1, 5)[:, None] / 4
        flow = self.flow_w_m2
        rows = [np.full(self.shape, 15.0)]
        for hour in range(1, len(self.air_c)):
            films = self.film_w_m2k[hour - 1] + shares * (self.film_w_m2k[hour] - self.film_w_m2k[hour - 1])
            flows = flow[hour - 1] + shares * (flow[hour] - flow[hour - 1])
            rows.append(stepper.run(rows[-1], films, flows / films, np.zeros(self.shape[0])))
        return np.stack(rows)

    def general(self, method: str, tolerance: float) -> Floats:
        """The same by scipy's solve_ivp, all columns as one system whose matrix has three diagonals."""
        span_s = (len(self.air_c) - 1) * HOUR_S
        found = solve_ivp(
            self._slope,
            (0.0, span_s),
            np.full(self.shape[0] * self.shape[1], 15.0),
            method=method,
            t_eval=np.arange(len(self.air_c)) * HOUR_S,
            rtol=tolerance,
            atol=tolerance,
            max_step=HOUR_S,
            **({"lband": 1, "uband": 1} if method == "LSODA" else {}),
        )
        if not found.success:
            raise Unusable("general solver", str(found.message), source="GROUTJOBS")
        return np.asarray(found.y.T.reshape(-1, *self.shape))

    def _slope(self, at_s: float, flat_c: Floats) -> Floats:
        column, cell_c = self.column, flat_c.reshape(self.shape)
        hour = min(int(at_s / HOUR_S), len(self.air_c) - 2)
        share = at_s / HOUR_S - hour
        film = (1 - share) * self.film_w_m2k[hour] + share * self.film_w_m2k[hour + 1]
        flow = (1 - share) * self.flow_w_m2[hour] + share * self.flow_w_m2[hour + 1]
        between = column.link_w_m2k * (cell_c[:, :-1] - cell_c[:, 1:])
        gain = np.zeros(self.shape)
        gain[:, 0] = column.top_conductance_w_m2k(film) * (flow / film - cell_c[:, 0])
        gain[:, :-1] -= between
        gain[:, 1:] += between
        return np.asarray((gain / column.capacity_j_m2k).ravel())


def slab_lines(runs: int, days: int, n_columns: int) -> Iterator[Line]:
    """Our solver, then the general one at the loosest tolerance that comes as near to the exact answer as ours does.

    Exact here is the general solver at a tolerance of 1e-10; the space is cut into the same cells.
    """
    problem = SlabProblem.invented(days, n_columns)
    exact = problem.general("LSODA", 1e-10)
    error_k = _furthest_k(problem.ours(), exact)
    near = (each for each in TOLERANCES if _furthest_k(problem.general("LSODA", each), exact) <= error_k)
    tolerance = next(near, TOLERANCES[-1])
    ours_s, general_s = medians_s(runs, problem.ours, partial(problem.general, "LSODA", tolerance))
    size, ratio = f"{n_columns} x {days} d", general_s / ours_s
    yield Line("slab, our stepper", size, ours_s, f"within {error_k:.2g} K of exact")
    yield Line("slab, scipy solve_ivp LSODA", size, general_s, f"{ratio:.1f} times ours, tolerance {tolerance:.2g}")


def _furthest_k(found_c: Floats, exact_c: Floats) -> float:
    """Largest difference in the second half of the days, when the start is forgotten."""
    half = len(exact_c) // 2
    return float(np.abs(found_c[half:] - exact_c[half:]).max())


def invented_weather(days: int) -> HourlyWeather:
    """Hours from the past days to the end of the planned ones: a daily wave with a slow one under it."""
    hours = np.arange((days + PAST_DAYS) * 24 + 1.0)
    wave = np.sin(2 * np.pi * (hours - 9) / 24)
    temp_c = 18.0 + 6.0 * wave + 4.0 * np.sin(2 * np.pi * hours / 130)
    humidity = 0.6 - 0.2 * wave
    return HourlyWeather(
        start_at=datetime(2026, 4, 6, 5, tzinfo=UTC),
        timezone=ZONE,
        temp_c=temp_c,
        relative_humidity=humidity,
        dew_point_c=dew_points_c(temp_c, humidity),
        wind_km_h=12.0 + 6.0 * np.cos(hours / 7),
        solar_w_m2=np.maximum(0.0, 700.0 * np.sin(2 * np.pi * (hours - 6) / 24)),
        cloud_ratio=0.5 + 0.4 * np.sin(hours / 11),
        rain_probability=np.maximum(0.0, 0.6 * np.sin(hours / 17)),
    )


def later(weather: HourlyWeather, first: int) -> HourlyWeather:
    """The weather from an hour on."""
    rows = {name: value[first:] for name, value in vars(weather).items() if isinstance(value, np.ndarray)}
    return HourlyWeather(start_at=weather.at(first), timezone=weather.timezone, **rows)


def invented_case(air: HourlyAir, number: int) -> Case:
    """A machine in the open on a block of a depth of its own."""
    return Case(
        layers=Layers(
            concrete=concrete(), concrete_mm=700.0 + 20.0 * (number % 30), plate=steel(), plate_mm=25.0, gap_mm=50.0
        ),
        air=air,
        surroundings=Surroundings(exposure=Exposure.OPEN, underside=Underside.GROUND, ground_c=14.0),
        start=AnnualStart(annual_mean_c=14.0, annual_swing_k=20.0, days_after_warmest=-105.0),
    )


def judged_hours(
    weather: HourlyWeather, before: Temperatures, *, spread: ErrorModel | None = None, seed: int = 0
) -> PourHours:
    """Temperatures after the pour, cure and every hour judged, for one machine; with a spread the odds too.

    Its alignment is due two days before the forecast ends. Odds are counted in as many weathers as the app draws.
    """
    first, air = PAST_DAYS * 24, weather.for_heat()
    planned = later(weather, first)
    starts = np.arange(first, air.n_hours + 1)
    after = simulate_pours(before, air, starts, planned.n_hours, grout("epoxy"), grout_c=21.0)
    if before.plate_c is None or after.grout_coldest_c is None:
        raise Unusable("benchmark", "plate and grout are missing", source="GROUTJOBS")
    ready = milestone_hours(EPOXY_MILESTONES, np.arange(planned.n_hours + 1.0), after.grout_coldest_c, EPOXY_CLOCK)
    cure = _cure(planned, ready)
    answer = find_pour_hours(
        planned,
        Predicted(concrete_c=before.concrete_surface_c[first:], plate_c=before.plate_c[first:]),
        _need(),
        default_limits("epoxy", Exposure.OPEN),
        spell_rules=(shift_rule(_shift(), planned),),
        cure=cure,
    )
    if spread is None:
        return answer
    ages_h = {milestone.code: milestone_age_h(milestone) for milestone in EPOXY_MILESTONES}
    runs = PourRuns(before=before, after=after, air=air, first=first, clock=EPOXY_CLOCK, ages_h=ages_h)
    drawn = draw_weathers(planned, spread, lead_h=0.0, seed=seed)
    return answer.with_odds(drawn_pours(drawn, planned, runs, answer.need, cure, asked=answer.within_spells))


def _cure(planned: HourlyWeather, ready: dict[str, Floats]) -> list[CureForecast]:
    due_at = planned.at(planned.n_hours - 48.0) if planned.n_hours > 48 else planned.at(planned.n_hours)
    return [
        CureForecast(
            code=code,
            label=code,
            ready_h=hours + _need().placement_h,
            source="GROUTJOBS",
            due_at=due_at if code == "align" else None,
        )
        for code, hours in ready.items()
    ]


def _need() -> PlacementNeed:
    life = (WorkingLifePoint(10.0, 150.0), WorkingLifePoint(23.0, 90.0), WorkingLifePoint(35.0, 45.0))
    return PlacementNeed(placement_h=2.5, protection_h=48.0, batch_min=20.0, material_c=21.0, working_life_points=life)


def _shift() -> ShiftHours:
    return ShiftHours(timezone=ZONE, weekdays=frozenset(range(7)), first=clock(6), last=clock(18))


def search_lines(runs: int, days: int, machines: tuple[int, ...]) -> Iterator[Line]:
    """Pour hours for some numbers of machines, on the forecast alone and with odds; ratios against the first row of
    the same kind, and of odds against the forecast alone."""
    weather = invented_weather(days)
    works = [
        partial(_search_machines, weather, count, with_odds=with_odds)
        for count in machines
        for with_odds in (False, True)
    ]
    medians = medians_s(runs, *works)
    for place, count in enumerate(machines):
        plain_s, odds_s = medians[2 * place : 2 * place + 2]
        yield Line("pour hours", f"{count} x {days} d", plain_s, _each(plain_s, count, medians[0] / machines[0]))
        told = _each(odds_s, count, medians[1] / machines[0])
        told += f"; {odds_s / plain_s:.2f} times the row above"
        yield Line(f"pour hours, odds of {SAMPLES}", f"{count} x {days} d", odds_s, told)


def _each(took_s: float, count: int, first_s: float) -> str:
    return f"{took_s / count * 1000:.0f} ms a machine, {took_s / count / first_s:.2f} times that of the first such row"


def _search_machines(weather: HourlyWeather, count: int, *, with_odds: bool) -> None:
    """Temperatures before the pour for all machines at once, then each of them by itself."""
    air = weather.for_heat()
    runs = simulate_machines([invented_case(air, number) for number in range(count)])
    spread = FORECAST_ERRORS if with_odds else None
    for number, before in enumerate(runs):
        judged_hours(weather, before, spread=spread, seed=number).pour_windows()


def rectangle(x_mm: float, y_mm: float, length_mm: float, width_mm: float) -> tuple[tuple[float, float], ...]:
    right_mm, top_mm = x_mm + length_mm, y_mm + width_mm
    return (x_mm, y_mm), (right_mm, y_mm), (right_mm, top_mm), (x_mm, top_mm)


def invented_takeoff() -> TakeoffCase:
    """A plate of 3 m by 1.5 m in two compartments over a tilted block with forty-five surveyed points."""
    grid = [(x, y) for x in np.linspace(-75, 3075, 9) for y in np.linspace(-75, 1575, 5)]
    return TakeoffCase(
        plate_outline=rectangle(0, 0, 3000, 1500),
        block_outline=rectangle(-75, -75, 3150, 1650),
        compartments=(
            Compartment(name="A", outline=rectangle(0, 0, 1200, 1500)),
            Compartment(name="B", outline=rectangle(1200, 0, 1800, 1500)),
        ),
        survey=tuple((float(x), float(y), float(100 + 0.004 * x - 0.006 * y)) for x, y in grid),
        plate_underside_elevation_mm=175.0,
        clearance_mm=75.0,
        roughness_mm=6.0,
    )


def invented_drawing() -> MachineDrawing:
    """The same plate with eight bolts, six jackscrews, holes, vents and pads."""
    across = (60.0, 1440.0)
    bolts = [(x, y) for x in (100.0, 1000.0, 2000.0, 2900.0) for y in across]
    return MachineDrawing(
        tag="P-1",
        service="invented pump",
        block_length_mm=3150.0,
        block_width_mm=1650.0,
        outline=rectangle(75, 75, 3000, 1500),
        compartments=(
            Region(name="A", outline=rectangle(75, 75, 1200, 1500)),
            Region(name="B", outline=rectangle(1275, 75, 1800, 1500)),
        ),
        fill_holes=tuple(RoundPart(label="", x_mm=x, y_mm=825.0, diameter_mm=100.0) for x in (675.0, 2175.0)),
        vents=tuple(RoundPart(label="", x_mm=x, y_mm=y, diameter_mm=13.0) for x in (150.0, 3000.0) for y in across),
        jackscrews=tuple(
            RoundPart(label=f"J{i}", x_mm=x + 130, y_mm=y + 75, diameter_mm=75.0) for i, (x, y) in enumerate(bolts[:6])
        ),
        pads=tuple(Pad(label="", x_mm=x, y_mm=825.0, length_mm=300.0, width_mm=200.0) for x in (400.0, 2600.0)),
        bolts=tuple(
            RoundPart(label=f"B{i}", x_mm=x + 75, y_mm=y + 75, diameter_mm=60.0) for i, (x, y) in enumerate(bolts)
        ),
    )


def plan_lines(runs: int, repeats: int) -> Iterator[Line]:
    """Plan drawings and takeoffs, how many a second."""
    names = ("plan drawing", "takeoff")
    works = (partial(plan_drawing, invented_drawing()), partial(take_off, invented_takeoff()))
    medians = medians_s(runs, *(partial(_repeat, work, repeats) for work in works))
    for name, took_s in zip(names, medians, strict=True):
        yield Line(name, f"{repeats}", took_s, f"{repeats / took_s:.0f} a second")


def _repeat(work: Callable[[], object], repeats: int) -> None:
    for _ in range(repeats):
        work()
