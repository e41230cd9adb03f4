"""Temperatures of foundation, plate and grout, hour by hour, from weather.

Before the pour the plate lies over an air space on the concrete; after it the grout fills the space. The ground under
the block is part of the column, or its underside is free. Heat of cure is not part of this model: grout in place runs
warmer than it says, so cure times computed from it are late rather than early.

    before = simulate(layers, air, surroundings, AnnualStart(…), measured=(MeasuredConcrete(…),))
    after = simulate_pours(before, air, starts, hours, grout, grout_c=…)

Many machines under weather of the same length go through simulate_machines at once.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from groutjobs.engineering.checks import Floats, require_all_between, require_between
from groutjobs.engineering.conduction import Cells, Column, ColumnRow, Stepper, graded_cells_m
from groutjobs.engineering.layers import AnnualStart, Layers, MeasuredConcrete, ProfileStart, Surroundings, Underside
from groutjobs.engineering.materials import GroutProperties, soil
from groutjobs.engineering.protection import covers_before_and_after
from groutjobs.engineering.sky import HourlyAir, Ints, Surface, SurfaceLoad, gap_conductance_w_m2k
from groutjobs.errors import Unusable

__all__ = [
    "AnnualStart",
    "Case",
    "Layers",
    "MeasuredConcrete",
    "ProfileStart",
    "Surroundings",
    "Temperatures",
    "Underside",
    "simulate",
    "simulate_machines",
    "simulate_onward",
    "simulate_pours",
]

STEPS_PER_HOUR = 4
"""Against a general solver, in each season of a typical year: concrete within 0.15 K rms and 0.5 K at most, a plate in
the open within 0.25 K rms and 1.0 K at most, a third of each elsewhere. One step an hour is four times as far off."""
YEAR_H = 8766.0
FIRST_CELL_M = 0.008
CELL_GROWTH = 1.25
SOIL_M = 2.0
FREE_UNDERSIDE_W_M2K = 7.7
"""Underside of a table-top block in shade: 2.5 by still air and 5.2 by radiation. ISO6946."""
GROUND_FILM_W_M2K = 1000.0
CORRECTION_DEPTH_M = 0.5
"""A difference between measured and computed concrete fades into the depth by e for each of these. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class Temperatures:
    """Temperatures at the hourly instants, shape (n_hours + 1,), or (n_batch, n_hours + 1); None where no such layer.

    concrete_core_c is at half the depth of the block; grout_c is the mean of the layer, grout_coldest_c its coldest
    cell. cell_c has one more axis, the cells, top first. heat_in_w_m2 is what enters through the top, the mean of each
    hour, shape (n_hours,) or (n_batch, n_hours). energy_residual_ratio is the heat that the balance misses.
    """

    concrete_surface_c: Floats
    concrete_core_c: Floats
    plate_c: Floats | None
    grout_c: Floats | None
    grout_coldest_c: Floats | None
    cell_c: Floats
    heat_in_w_m2: Floats
    energy_residual_ratio: float
    layers: Layers
    surroundings: Surroundings


@dataclass(frozen=True, kw_only=True)
class Case:
    """What simulate is given for one machine, to run it among others."""

    layers: Layers
    air: HourlyAir
    surroundings: Surroundings
    start: AnnualStart | ProfileStart
    measured: tuple[MeasuredConcrete, ...] = ()


def simulate(
    layers: Layers,
    air: HourlyAir,
    surroundings: Surroundings,
    start: AnnualStart | ProfileStart,
    *,
    measured: tuple[MeasuredConcrete, ...] = (),
    steps_per_hour: int = STEPS_PER_HOUR,
    from_hours: Floats | Ints | None = None,
) -> Temperatures:
    """Return the temperatures of the column at every hour of the weather.

    Parameters
    ----------
    layers : Materials and thicknesses.
    air : Weather at hourly instants; begin 10 to 30 days early, so that the start is forgotten.
    surroundings : Exposure, covers and what lies under the block.
    start : Temperatures at index 0.
    measured : Readings of the concrete surface, each at one of the hours; the column is shifted to them there.
    steps_per_hour : Steps of the scheme in an hour. [-], 1 to 3600
    from_hours : Index 0 on the axis of the covers, 0 where not given. [h], shape (n_batch,), 0 or more

    Returns
    -------
    Temperatures; index 0 is the first hour of the weather. After 30 days an eighth of a wrong start is left.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or the inputs contradict each other.

    Source
    ------
    [INCROPERA] 5.10 implicit finite volumes; films of [ISO6946], sky of [LI2017]. Heat of cure left out.
    [GROUTJOBS] limits of the steps.
    """
    require_between("steps per hour", steps_per_hour, 1, 3600, source="GROUTJOBS")
    case = Case(layers=layers, air=_as_batch(air), surroundings=surroundings, start=start, measured=measured)
    built = _column_of(layers, surroundings, air)
    first = np.zeros(1) if from_hours is None else np.asarray(from_hours, dtype=np.float64)
    if len(first) not in (1, len(case.air.air_c)):
        reason = f"{len(first)} hours for {len(case.air.air_c)} runs"
        raise Unusable("hour at which a run begins", reason, source="GROUTJOBS")
    require_all_between("hour at which a run begins", first, 0, None, unit="h", source="GROUTJOBS")
    found = _simulated(case, built, first.astype(np.intp)[:, None] + np.arange(air.n_hours + 1), 3600 / steps_per_hour)
    return _first(found) if air.air_c.ndim == 1 else found


def _simulated(case: Case, built: "_Built", hours: Ints, step_s: float) -> Temperatures:
    """The run of a batch; hours are those of its instants on the axis of the covers."""
    column, marks = built
    load = _load_of(case, hours)
    cell_c = _start_cells(column, marks, case.start, load.n_batch)
    readings = _readings([case.measured] * load.n_batch, load.n_hours)
    run = _march(Stepper(column, step_s, load.n_batch), load, _bottom_c(case, load), cell_c, marks, readings)
    return _named(run, column, marks, case)


def simulate_machines(cases: Sequence[Case]) -> list[Temperatures]:
    """Return the temperatures of several machines, all at once: the same as simulate for each, in less time.

    Parameters
    ----------
    cases : One for each machine, all with a plate over its gap or all without; weather of one length, one machine each.

    Returns
    -------
    Temperatures of each machine, in the order of the cases.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or the cases do not fit together.

    Source
    ------
    As simulate.
    """
    _require_alike(cases)
    built = [_column_of(case.layers, case.surroundings, case.air) for case in cases]
    row = ColumnRow([column for column, _ in built])
    loads = [_load_of(replace(case, air=_as_batch(case.air)), np.arange(case.air.n_hours + 1)) for case in cases]
    load = SurfaceLoad.joined(loads)
    cell_c = np.zeros_like(row.depth_m)
    for place, (case, (column, marks)) in enumerate(zip(cases, built, strict=True)):
        cell_c[place, : len(column.depth_m)] = _start_cells(column, marks, case.start, 1)[0]
    bottom_c = np.concatenate([_bottom_c(case, one) for case, one in zip(cases, loads, strict=True)], axis=1)
    gaps = [marks.gap_w_m2k for _, marks in built if marks.gap_w_m2k is not None]
    marks = replace(built[0][1], gap_w_m2k=np.concatenate(gaps) if gaps else None)
    readings = _readings([case.measured for case in cases], load.n_hours)
    run = _march(Stepper(row, 3600 / STEPS_PER_HOUR, len(cases)), load, bottom_c, cell_c, marks, readings)
    return [
        _first(_named(run.of(place, len(column.depth_m)), column, marks, case))
        for place, (case, (column, marks)) in enumerate(zip(cases, built, strict=True))
    ]


def _require_alike(cases: Sequence[Case]) -> None:
    if {case.air.air_c.ndim for case in cases} != {1} or len({case.air.n_hours for case in cases}) != 1:
        raise Unusable("machines", "each needs one run of weather, all of the same length", source="GROUTJOBS")
    if len({case.layers.plate is None for case in cases}) != 1 or any(case.layers.grout for case in cases):
        reason = "all must have a plate over its gap, or all must be without plate; none with grout"
        raise Unusable("machines", reason, source="GROUTJOBS")


@dataclass(frozen=True)
class _Marks:
    """Index of the first cell of each layer, and the gap's conductance, shape (1,) or (n_batch,)."""

    grout: int
    concrete: int
    soil: int
    gap_w_m2k: Floats | None


_Built = tuple[Column, _Marks]


def _column_of(layers: Layers, surroundings: Surroundings, air: HourlyAir) -> _Built:
    stack: list[Cells] = []
    if layers.plate is not None and layers.plate_mm is not None:
        stack.append(Cells(layers.plate, np.array([layers.plate_mm / 1000])))
    grout_at = len(stack)
    if layers.grout is not None and layers.grout_mm is not None:
        count = min(max(4, math.ceil(layers.grout_mm / 10)), 15)
        stack.append(Cells(layers.grout, np.full(count, layers.grout_mm / 1000 / count)))
    concrete_at = sum(len(cells.thickness_m) for cells in stack)
    concrete_cells = graded_cells_m(layers.concrete_mm / 1000, FIRST_CELL_M, CELL_GROWTH)
    stack.append(Cells(layers.concrete, concrete_cells))
    soil_at = concrete_at + len(concrete_cells)
    bottom_film = FREE_UNDERSIDE_W_M2K
    if surroundings.underside is Underside.GROUND:
        stack.append(Cells(soil(), graded_cells_m(SOIL_M, max(0.05, float(concrete_cells[-1]) / 2), 1.5)))
        bottom_film = GROUND_FILM_W_M2K
    gap = _gap_w_m2k(layers, air)
    column = Column(stack, gap_w_m2k=gap, bottom_film_w_m2k=bottom_film)
    return column, _Marks(grout_at, concrete_at, soil_at, None if gap is None else np.array([gap]))


def _gap_w_m2k(layers: Layers, air: HourlyAir) -> float | None:
    if layers.gap_mm is None or layers.plate is None:
        return None
    return gap_conductance_w_m2k(
        layers.gap_mm, float(air.air_c.mean()), layers.plate.emissivity, layers.concrete.emissivity
    )


def _load_of(case: Case, hours: Ints) -> SurfaceLoad:
    top, around = case.layers.top, case.surroundings
    surface = Surface(
        exposure=around.exposure,
        absorptance=top.absorptance,
        emissivity=top.emissivity,
        sun_share_ratio=around.sun_share_ratio,
    )
    if not around.covers:
        return SurfaceLoad(case.air, surface)
    return SurfaceLoad(case.air, surface, covers_before_and_after(around.covers, hours, case.air))


def _as_batch(air: HourlyAir) -> HourlyAir:
    return replace(air, **{field.name: np.atleast_2d(getattr(air, field.name)) for field in fields(air)})


def _bottom_c(case: Case, load: SurfaceLoad) -> Floats:
    """What the underside meets, shape (n_hours + 1, n_batch): the deep ground, or the air under a table-top block."""
    if case.surroundings.underside is Underside.GROUND:
        return np.full((load.n_hours + 1, load.n_batch), case.surroundings.ground_c)
    return np.broadcast_to(case.air.air_c, (load.n_batch, load.n_hours + 1)).T


def _start_cells(column: Column, marks: _Marks, start: AnnualStart | ProfileStart, n_batch: int) -> Floats:
    n_cells = len(column.depth_m)
    if isinstance(start, ProfileStart):
        cell_c = np.atleast_2d(np.asarray(start.cell_c, dtype=np.float64))
        if cell_c.shape[-1] != n_cells or len(cell_c) not in (1, n_batch):
            reason = f"{cell_c.shape} temperatures for {n_batch} columns of {n_cells} cells"
            raise Unusable("start of the column", reason, source="GROUTJOBS")
        require_all_between("start temperature", cell_c, -60.0, 120.0, unit="°C", source="GROUTJOBS")
        return np.broadcast_to(cell_c, (n_batch, n_cells)).copy()
    return np.broadcast_to(_annual_wave_c(column, marks, start), (n_batch, n_cells)).copy()


def _annual_wave_c(column: Column, marks: _Marks, start: AnnualStart) -> Floats:
    """The yearly wave, damped and late with depth below the concrete surface; above it everything is as the surface."""
    conductivity = column.half_w_m2k * column.thickness_m / 2
    diffusivity = conductivity * column.thickness_m / column.capacity_j_m2k
    omega = 2 * math.pi / (YEAR_H * 3600)
    reach = column.thickness_m / np.sqrt(2 * diffusivity / omega)
    reach[: marks.concrete] = 0.0
    phase = np.cumsum(reach) - reach / 2
    days = 2 * math.pi * start.days_after_warmest * 24 / YEAR_H
    return np.asarray(start.annual_mean_c + start.annual_swing_k / 2 * np.exp(-phase) * np.cos(days - phase))


@dataclass(frozen=True)
class _Run:
    """Shapes (n_batch, n_hours + 1, n_cells), (n_batch, n_hours + 1), (n_batch, n_hours) and (n_batch,)."""

    cell_c: Floats
    concrete_surface_c: Floats
    heat_in_w_m2: Floats
    residual_ratio: Floats

    def of(self, place: int, n_cells: int) -> "_Run":
        """One case of the batch, the cells that are its own."""
        one = slice(place, place + 1)
        return _Run(
            self.cell_c[one, :, :n_cells],
            self.concrete_surface_c[one],
            self.heat_in_w_m2[one],
            self.residual_ratio[one],
        )


def _march(
    stepper: Stepper,
    load: SurfaceLoad,
    bottom_c: Floats,
    cell_c: Floats,
    marks: _Marks,
    readings: dict[int, Floats],
) -> _Run:
    column = stepper.column
    history = np.empty((load.n_hours + 1, *cell_c.shape))
    films, flows = np.empty((load.n_hours + 1, load.n_batch)), np.empty((load.n_hours + 1, load.n_batch))
    heat_in_j_m2, first_c, added = np.zeros_like(films), cell_c, np.zeros(load.n_batch)
    films[0], flows[0] = load.film_after(0, cell_c[:, 0])
    for hour in range(load.n_hours + 1):
        if hour > 0:
            cell_c, films[hour], flows[hour] = _one_hour(
                stepper, load, hour, cell_c, films[hour - 1], flows[hour - 1], bottom_c[hour]
            )
            heat_in_j_m2[hour] = stepper.heat_in_top_j_m2
        if hour in readings:
            face_c = _concrete_face_c(column, marks, cell_c, films[hour], flows[hour])
            shift_c = _shift_c(column, marks, readings[hour] - face_c, films[hour])
            added += stepper.stored_j_m2(shift_c)
            cell_c = cell_c + shift_c
        history[hour] = cell_c
    faces = _concrete_face_c(column, marks, history, films, flows)
    residual = stepper.residual_ratio(first_c, cell_c, added)
    return _Run(history.swapaxes(0, 1), faces.T, np.diff(heat_in_j_m2, axis=0).T / 3600, residual)


def _one_hour(
    stepper: Stepper, load: SurfaceLoad, hour: int, cell_c: Floats, film: Floats, flow: Floats, bottom_c: Floats
) -> tuple[Floats, Floats, Floats]:
    """Step through one hour, film and flow straight lines from its start to its end. Radiation at its end is first
    taken for the surface as it was at the start; the next hour begins with that of the surface as it came out."""
    column, n_steps = stepper.column, round(3600 / stepper.step_s)
    if load.jumps[hour - 1].any():
        film_after, flow_after = load.film_after(hour - 1, column.top_surface_c(cell_c[:, 0], film, flow))
        film = np.where(load.jumps[hour - 1], film_after, film)
        flow = np.where(load.jumps[hour - 1], flow_after, flow)
    shares = np.arange(1, n_steps + 1)[:, None] / n_steps
    next_film, next_flow = load.film(hour, column.top_surface_c(cell_c[:, 0], film, flow))
    films = film + shares * (next_film - film)
    flows = flow + shares * (next_flow - flow)
    cell_c = stepper.run(cell_c, films, flows / films, bottom_c)
    return cell_c, *load.film(hour, column.top_surface_c(cell_c[:, 0], next_film, next_flow))


def _readings(measured: Sequence[tuple[MeasuredConcrete, ...]], n_hours: int) -> dict[int, Floats]:
    """The readings of each case by hour, shape (n_batch,), NaN where a case has none then."""
    by_hour: dict[int, Floats] = {}
    for place, each in enumerate(measured):
        for reading in each:
            require_between("hour of the reading", reading.hour, 0, n_hours, unit="h", source="GROUTJOBS")
            require_between(
                "measured concrete temperature", reading.concrete_c, -40.0, 80.0, unit="°C", source="GROUTJOBS"
            )
            row = by_hour.setdefault(reading.hour, np.full(len(measured), np.nan))
            if not np.isnan(row[place]):
                reason = f"two readings of the concrete at hour {reading.hour}; give their mean"
                raise Unusable("measured concrete temperature", reason, source="GROUTJOBS")
            row[place] = reading.concrete_c
    return by_hour


def _above_concrete(column: Column, marks: _Marks, film: Floats) -> Floats:
    """Conductance from the concrete surface to the cell above it, or to the air. [W/m²·K]"""
    if marks.concrete == 0:
        return film
    resistance = 1 / column.half_w_m2k[..., marks.concrete - 1]
    if marks.gap_w_m2k is not None:
        resistance = resistance + 1 / marks.gap_w_m2k
    return np.broadcast_to(1 / resistance, film.shape)


def _concrete_face_c(column: Column, marks: _Marks, cell_c: Floats, film: Floats, flow: Floats) -> Floats:
    """Temperature of the concrete's top face; cells on the last axis of cell_c, film and flow without it."""
    half = column.half_w_m2k[..., marks.concrete]
    if marks.concrete == 0:
        return column.top_surface_c(cell_c[..., 0], film, flow)
    above = _above_concrete(column, marks, film)
    above_c, below_c = cell_c[..., marks.concrete - 1], cell_c[..., marks.concrete]
    return np.asarray((above * above_c + half * below_c) / (above + half))


def _shift_c(column: Column, marks: _Marks, difference_k: Floats, film: Floats) -> Floats:
    """Shift of every cell that brings the concrete surface to a reading and fades with depth, (n_batch, n_cells);
    none where the difference is NaN."""
    half = column.half_w_m2k[..., marks.concrete]
    to_bridge = np.where(np.isnan(difference_k), 0.0, difference_k)
    at_first_cell = to_bridge * (_above_concrete(column, marks, film) + half) / half
    depth_m = column.depth_m - column.depth_m[..., marks.concrete, None]
    fade = np.where(depth_m < 0, 0.0, np.exp(-np.maximum(depth_m, 0) / CORRECTION_DEPTH_M))
    return np.asarray(at_first_cell[:, None] * fade)


def _named(run: _Run, column: Column, marks: _Marks, case: Case) -> Temperatures:
    layers, cell_c = case.layers, run.cell_c
    top_m = float(column.thickness_m[: marks.concrete].sum())
    depth_m = column.depth_m[marks.concrete : marks.soil] - top_m
    grout_cells = cell_c[..., marks.grout : marks.concrete] if layers.grout is not None else None
    return Temperatures(
        concrete_surface_c=run.concrete_surface_c,
        concrete_core_c=_between_cells(cell_c[..., marks.concrete : marks.soil], depth_m, layers.concrete_mm / 2000),
        plate_c=cell_c[..., 0] if layers.plate is not None else None,
        grout_c=None if grout_cells is None else grout_cells.mean(axis=-1),
        grout_coldest_c=None if grout_cells is None else grout_cells.min(axis=-1),
        cell_c=cell_c,
        heat_in_w_m2=run.heat_in_w_m2,
        energy_residual_ratio=float(run.residual_ratio.max()),
        layers=layers,
        surroundings=case.surroundings,
    )


def _curves(found: Temperatures) -> dict[str, Any]:
    """Its arrays by name, those that it has."""
    return {name: value for name, value in vars(found).items() if isinstance(value, np.ndarray)}


def _first(found: Temperatures) -> Temperatures:
    return replace(found, **{name: value[0] for name, value in _curves(found).items()})


def _between_cells(cell_c: Floats, depth_m: Floats, at_m: float) -> Floats:
    lower = int(np.searchsorted(depth_m, at_m))
    share = (at_m - depth_m[lower - 1]) / (depth_m[lower] - depth_m[lower - 1])
    return np.asarray(cell_c[..., lower - 1] + share * (cell_c[..., lower] - cell_c[..., lower - 1]))


def simulate_pours(
    before: Temperatures,
    air: HourlyAir,
    starts: Floats | Ints,
    hours: int,
    grout: GroutProperties,
    *,
    grout_c: float | Floats,
) -> Temperatures:
    """Return the temperatures after the pour, for a pour at each of several hours, all at once.

    Parameters
    ----------
    before : One case of simulate, with the plate over its gap or without a plate.
    air : The weather of that case, shape (n_hours + 1,).
    starts : Hour of each pour on the axis of the weather. [h], shape (n_starts,), whole numbers, 0 to air.n_hours
    hours : How long to follow each pour. [h], 1 to 10000
    grout : Properties of the grout; it fills the gap. Without a plate use simulate with a ProfileStart.
    grout_c : Temperature of the grout as placed. [°C], one value or shape (n_starts,), -40 to 80

    Returns
    -------
    Temperatures of shape (n_starts, hours + 1), index 0 at the pour; NaN beyond the end of the weather.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or the inputs contradict each other.

    Source
    ------
    As simulate. Heat of cure is left out, so the grout runs warmer than this.
    """
    layers = before.layers
    if layers.gap_mm is None or before.plate_c is None or air.air_c.ndim != 1:
        raise Unusable("pours", "one case with a plate over a gap is needed", source="GROUTJOBS")
    ahead = _hours_ahead(air, starts, hours)
    placed_c = np.asarray(grout_c, dtype=np.float64)
    require_all_between("grout temperature as placed", placed_c, -40.0, 80.0, unit="°C", source="GROUTJOBS")
    poured = replace(layers, gap_mm=None, grout=grout, grout_mm=layers.gap_mm)
    cells = before.cell_c[ahead[:, 0]]
    n_grout = len(_column_of(poured, before.surroundings, air)[0].depth_m) - cells.shape[-1]
    middle = np.broadcast_to(placed_c[..., None], (len(cells), n_grout))
    start = ProfileStart(cell_c=np.concatenate([cells[:, :1], middle, cells[:, 1:]], axis=1))
    return _from_hours(Case(layers=poured, air=air, surroundings=before.surroundings, start=start), ahead)


def simulate_onward(
    before: Temperatures, air: HourlyAir, starts: Floats | Ints, hours: int, surroundings: Surroundings
) -> Temperatures:
    """Return how a run would go on under other covers, from each of several of its hours, all at once.

    Parameters
    ----------
    before : One case of simulate.
    air : The weather of that case, shape (n_hours + 1,).
    starts : Hour of the weather to go on from. [h], shape (n_starts,), whole numbers, 0 to air.n_hours
    hours : How long to follow each. [h], 1 to 10000
    surroundings : Those of the case with other covers, on the axis of the weather.

    Returns
    -------
    Temperatures of shape (n_starts, hours + 1), index 0 at the start; NaN beyond the end of the weather.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or the inputs contradict each other.

    Source
    ------
    As simulate; [GROUTJOBS] limits of the hours.
    """
    if air.air_c.ndim != 1 or before.cell_c.ndim != 2:
        raise Unusable("run to go on from", "one case of simulate is needed", source="GROUTJOBS")
    ahead = _hours_ahead(air, starts, hours)
    start = ProfileStart(cell_c=before.cell_c[ahead[:, 0]])
    return _from_hours(Case(layers=before.layers, air=air, surroundings=surroundings, start=start), ahead)


def _hours_ahead(air: HourlyAir, starts: Floats | Ints, hours: int) -> Ints:
    """Hours of each run on the axis of the weather, shape (n_starts, hours + 1), also beyond its end."""
    at_hours = np.asarray(starts, dtype=np.float64)
    require_all_between("hour of the pour", at_hours, 0, air.n_hours, unit="h", source="GROUTJOBS")
    require_between("hours to follow", hours, 1, 10_000, unit="h", source="GROUTJOBS")
    if (at_hours % 1 != 0).any():
        raise Unusable("hour of the pour", "each must be a whole hour of the weather", source="GROUTJOBS")
    return at_hours.astype(np.intp)[:, None] + np.arange(hours + 1)


def _from_hours(case: Case, ahead: Ints) -> Temperatures:
    """The case run from several hours on; NaN beyond the end of the weather."""
    beyond = ahead > case.air.n_hours
    windowed = replace(case, air=case.air.at(np.minimum(ahead, case.air.n_hours)))
    built = _column_of(case.layers, case.surroundings, case.air)
    found = _simulated(windowed, built, ahead, 3600 / STEPS_PER_HOUR)
    blank = {"cell_c": beyond[..., None], "heat_in_w_m2": beyond[:, 1:]}
    blanked: dict[str, Any] = {
        name: np.where(blank.get(name, beyond), np.nan, curve) for name, curve in _curves(found).items()
    }
    return replace(found, **blanked)
