"""Temperatures of foundation, plate and grout, hour by hour, from weather.

Before the pour the plate lies over an air space on the concrete; after it the grout fills the space. The ground under
the block is part of the column, or its underside is free. Heat of cure is not part of this model: grout in place runs
warmer than it says, so cure times computed from it are late rather than early.

    before = simulate(layers, air, surroundings, AnnualStart(…), measured=(MeasuredConcrete(…),))
    after = simulate_pours(before, air, starts, hours, grout, grout_c=…)
"""

import math
from dataclasses import dataclass, fields, replace

import numpy as np
import numpy.typing as npt

from groutjobs.engineering.checks import Floats, require_all_between, require_between
from groutjobs.engineering.conduction import Cells, Column, Stepper, graded_cells_m
from groutjobs.engineering.layers import AnnualStart, Layers, MeasuredConcrete, ProfileStart, Surroundings, Underside
from groutjobs.engineering.materials import GroutProperties, soil
from groutjobs.engineering.sky import HourlyAir, Ints, Surface, SurfaceLoad, gap_conductance_w_m2k
from groutjobs.errors import Unusable

__all__ = [
    "AnnualStart",
    "Layers",
    "MeasuredConcrete",
    "ProfileStart",
    "Surroundings",
    "Temperatures",
    "Underside",
    "simulate",
    "simulate_pours",
]

STEPS_PER_HOUR = 4
"""Against steps of a minute, on a typical year: concrete within 0.1 K rms and 0.35 K at most; a plate in the open
within 0.2 K rms and 0.8 K at most, in shelter a quarter of that. One step an hour is four times as far off."""
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
    cell. cell_c has one more axis, the cells, top first. energy_residual_ratio is the heat that the balance misses.
    """

    concrete_surface_c: Floats
    concrete_core_c: Floats
    plate_c: Floats | None
    grout_c: Floats | None
    grout_coldest_c: Floats | None
    cell_c: Floats
    energy_residual_ratio: float
    layers: Layers
    surroundings: Surroundings


def simulate(
    layers: Layers,
    air: HourlyAir,
    surroundings: Surroundings,
    start: AnnualStart | ProfileStart,
    *,
    measured: tuple[MeasuredConcrete, ...] = (),
    steps_per_hour: int = STEPS_PER_HOUR,
) -> Temperatures:
    """Return the temperatures of the column at every hour of the weather.

    Parameters
    ----------
    layers : Materials and thicknesses.
    air : Weather at hourly instants; begin 10 to 30 days early, so that the start is forgotten.
    surroundings : Exposure and what lies under the block.
    start : Temperatures at index 0.
    measured : Readings of the concrete surface, each at one of the hours; the column is shifted to them there.
    steps_per_hour : Steps of the scheme in an hour. [-], 1 to 3600

    Returns
    -------
    Temperatures; index 0 is the first hour of the weather. After 30 days an eighth of a wrong start is left.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or the inputs contradict each other.

    Source
    ------
    [INCROPERA] 5.10 implicit finite volumes; films of [ISO6946], sky of [LI2017]. Heat of cure left out.
    """
    require_between("steps per hour", steps_per_hour, 1, 3600, source="GROUTJOBS")
    column, marks = _column_of(layers, surroundings, air)
    one_case = air.air_c.ndim == 1
    load = SurfaceLoad(_as_batch(air), _surface_of(layers, surroundings))
    cell_c = _start_cells(column, marks, start, load.n_batch)
    stepper = Stepper(column, 3600 / steps_per_hour, load.n_batch)
    run = _march(stepper, load, _bottom_c(surroundings, load), cell_c, marks, measured)
    return _named(run, column, marks, layers, surroundings, one_case)


@dataclass(frozen=True)
class _Marks:
    """Index of the first cell of each layer, and the gap's conductance."""

    grout: int
    concrete: int
    soil: int
    gap_w_m2k: float | None


def _column_of(layers: Layers, surroundings: Surroundings, air: HourlyAir) -> tuple[Column, _Marks]:
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
    return Column(stack, gap_w_m2k=gap, bottom_film_w_m2k=bottom_film), _Marks(grout_at, concrete_at, soil_at, gap)


def _gap_w_m2k(layers: Layers, air: HourlyAir) -> float | None:
    if layers.gap_mm is None or layers.plate is None:
        return None
    return gap_conductance_w_m2k(
        layers.gap_mm, float(air.air_c.mean()), layers.plate.emissivity, layers.concrete.emissivity
    )


def _surface_of(layers: Layers, surroundings: Surroundings) -> Surface:
    return Surface(
        exposure=surroundings.exposure,
        absorptance=layers.top.absorptance,
        emissivity=layers.top.emissivity,
        sun_share_ratio=surroundings.sun_share_ratio,
    )


def _as_batch(air: HourlyAir) -> HourlyAir:
    return replace(air, **{field.name: np.atleast_2d(getattr(air, field.name)) for field in fields(air)})


def _bottom_c(surroundings: Surroundings, load: SurfaceLoad) -> Floats:
    """What the underside meets, shape (n_hours + 1, n_batch): the deep ground, or the air under a table-top block."""
    if surroundings.underside is Underside.GROUND:
        return np.full(load.air_c.T.shape, surroundings.ground_c)
    return load.air_c.T


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
    cell_c: Floats
    concrete_surface_c: Floats
    residual_ratio: float


def _march(
    stepper: Stepper,
    load: SurfaceLoad,
    bottom_c: Floats,
    cell_c: Floats,
    marks: _Marks,
    measured: tuple[MeasuredConcrete, ...],
) -> _Run:
    column, readings = stepper.column, _by_hour(measured, load.n_hours)
    history = np.empty((load.n_hours + 1, *cell_c.shape))
    films, flows = np.empty((load.n_hours + 1, load.n_batch)), np.empty((load.n_hours + 1, load.n_batch))
    first_c, added = cell_c, np.zeros(load.n_batch)
    films[0], flows[0] = load.film(0, cell_c[:, 0])
    for hour in range(load.n_hours + 1):
        if hour > 0:
            cell_c, films[hour], flows[hour] = _one_hour(
                stepper, load, hour, cell_c, films[hour - 1], flows[hour - 1], bottom_c[hour]
            )
        if hour in readings:
            face_c = _concrete_face_c(column, marks, cell_c, films[hour], flows[hour])
            shift_c = _shift_c(column, marks, readings[hour] - face_c, films[hour])
            added += shift_c @ column.capacity_j_m2k
            cell_c = cell_c + shift_c
        history[hour] = cell_c
    faces = _concrete_face_c(column, marks, history, films, flows)
    residual = stepper.residual_ratio(first_c, cell_c, added)
    return _Run(history.swapaxes(0, 1), faces.T, float(residual.max()))


def _one_hour(
    stepper: Stepper, load: SurfaceLoad, hour: int, cell_c: Floats, film: Floats, flow: Floats, bottom_c: Floats
) -> tuple[Floats, Floats, Floats]:
    """Step through one hour, film and flow straight lines from its start to its end. Radiation at its end is first
    taken for the surface as it was at the start; the next hour begins with that of the surface as it came out."""
    column, n_steps = stepper.column, round(3600 / stepper.step_s)
    shares = np.arange(1, n_steps + 1)[:, None] / n_steps
    next_film, next_flow = load.film(hour, column.top_surface_c(cell_c[:, 0], film, flow))
    films = film + shares * (next_film - film)
    flows = flow + shares * (next_flow - flow)
    cell_c = stepper.run(cell_c, films, flows / films, bottom_c)
    return cell_c, *load.film(hour, column.top_surface_c(cell_c[:, 0], next_film, next_flow))


def _by_hour(measured: tuple[MeasuredConcrete, ...], n_hours: int) -> dict[int, float]:
    for reading in measured:
        require_between("hour of the reading", reading.hour, 0, n_hours, unit="h", source="GROUTJOBS")
        require_between("measured concrete temperature", reading.concrete_c, -40.0, 80.0, unit="°C", source="GROUTJOBS")
    return {reading.hour: reading.concrete_c for reading in measured}


def _above_concrete(column: Column, marks: _Marks, film: Floats) -> Floats:
    """Conductance from the concrete surface to the cell above it, or to the air. [W/m²·K]"""
    if marks.concrete == 0:
        return film
    resistance = 1 / column.half_w_m2k[marks.concrete - 1]
    if marks.gap_w_m2k is not None:
        resistance = resistance + 1 / marks.gap_w_m2k
    return np.full_like(film, 1 / resistance)


def _concrete_face_c(column: Column, marks: _Marks, cell_c: Floats, film: Floats, flow: Floats) -> Floats:
    """Temperature of the concrete's top face; cells on the last axis of cell_c, film and flow without it."""
    half = column.half_w_m2k[marks.concrete]
    if marks.concrete == 0:
        return column.top_surface_c(cell_c[..., 0], film, flow)
    above = _above_concrete(column, marks, film)
    above_c, below_c = cell_c[..., marks.concrete - 1], cell_c[..., marks.concrete]
    return np.asarray((above * above_c + half * below_c) / (above + half))


def _shift_c(column: Column, marks: _Marks, difference_k: Floats, film: Floats) -> Floats:
    """Shift of every cell that brings the concrete surface to a reading and fades with depth, (n_batch, n_cells)."""
    half = column.half_w_m2k[marks.concrete]
    at_first_cell = difference_k * (_above_concrete(column, marks, film) + half) / half
    depth_m = column.depth_m - column.depth_m[marks.concrete]
    fade = np.where(depth_m < 0, 0.0, np.exp(-np.maximum(depth_m, 0) / CORRECTION_DEPTH_M))
    return np.outer(at_first_cell, fade)


def _named(
    run: _Run, column: Column, marks: _Marks, layers: Layers, surroundings: Surroundings, one_case: bool
) -> Temperatures:
    pick = 0 if one_case else slice(None)
    cell_c = run.cell_c[pick]
    top_m = float(column.thickness_m[: marks.concrete].sum())
    depth_m = column.depth_m[marks.concrete : marks.soil] - top_m
    grout_cells = cell_c[..., marks.grout : marks.concrete] if layers.grout is not None else None
    return Temperatures(
        concrete_surface_c=run.concrete_surface_c[pick],
        concrete_core_c=_between_cells(cell_c[..., marks.concrete : marks.soil], depth_m, layers.concrete_mm / 2000),
        plate_c=cell_c[..., 0] if layers.plate is not None else None,
        grout_c=None if grout_cells is None else grout_cells.mean(axis=-1),
        grout_coldest_c=None if grout_cells is None else grout_cells.min(axis=-1),
        cell_c=cell_c,
        energy_residual_ratio=run.residual_ratio,
        layers=layers,
        surroundings=surroundings,
    )


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
    starts : Hour of each pour on the axis of the weather. [h], shape (n_starts,), whole numbers
    hours : How long to follow each pour. [h], 1 or more
    grout : Properties of the grout; it fills the gap. Without a plate use simulate with a ProfileStart.
    grout_c : Temperature of the grout as placed. [°C], one value or shape (n_starts,)

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
    require_all_between(
        "hour of the pour", np.asarray(starts, dtype=np.float64), 0, air.n_hours, unit="h", source="GROUTJOBS"
    )
    require_between("hours to follow", hours, 1, 10_000, unit="h", source="GROUTJOBS")
    poured = replace(layers, gap_mm=None, grout=grout, grout_mm=layers.gap_mm)
    ahead = np.asarray(starts, dtype=np.intp)[:, None] + np.arange(hours + 1)
    beyond = ahead > air.n_hours
    windowed = air.at(np.minimum(ahead, air.n_hours))
    cells = before.cell_c[ahead[:, 0]]
    n_grout = len(_column_of(poured, before.surroundings, windowed)[0].depth_m) - cells.shape[-1]
    middle = np.broadcast_to(np.asarray(grout_c, dtype=np.float64)[..., None], (len(cells), n_grout))
    start = ProfileStart(cell_c=np.concatenate([cells[:, :1], middle, cells[:, 1:]], axis=1))
    after = simulate(poured, windowed, before.surroundings, start)
    return _blanked(after, beyond)


def _blanked(after: Temperatures, beyond: npt.NDArray[np.bool_]) -> Temperatures:
    def blank(values: Floats | None) -> Floats | None:
        return None if values is None else np.where(beyond, np.nan, values)

    return replace(
        after,
        concrete_surface_c=np.where(beyond, np.nan, after.concrete_surface_c),
        concrete_core_c=np.where(beyond, np.nan, after.concrete_core_c),
        plate_c=blank(after.plate_c),
        grout_c=blank(after.grout_c),
        grout_coldest_c=blank(after.grout_coldest_c),
        cell_c=np.where(beyond[..., None], np.nan, after.cell_c),
    )
