"""Heat of cure under a plate: how hot a lift of epoxy gets, and when.

The reaction of kinetics.py heats the grout cells of conduction.py, and their temperature drives the reaction. The heat
released in a step is added to the cells before the implicit step, which is the same as a source in that step, so the
balance of heat closes to rounding. The peak is an estimate with a wide band and never a promise: the lift thickness
in the supplier's written instruction outranks it.

Against steps of a second, steps of a minute put the peak of a 100 mm lift 0.1 K too low at 23 °C and 0.5 K at 35 °C,
and its time within 0.04 h.
"""

import math
from dataclasses import dataclass, fields

import numpy as np

from groutjobs.engineering.checks import Floats, require_above, require_all_between, require_between
from groutjobs.engineering.conduction import Cells, Column, Stepper, graded_cells_m
from groutjobs.engineering.kinetics import CureKinetics, unchecked_rates_per_h
from groutjobs.engineering.layers import Layers
from groutjobs.errors import NotConverged, Unusable

STEPS_PER_HOUR = 60
MOST_GROWTH = 0.1
"""Growth of the degree of cure in one step beyond which the midpoint rule is not trusted. GROUTJOBS."""
GROUT_CELL_MM = 10.0
FEWEST_GROUT_CELLS = 5
FIRST_CELL_M = 0.008
CELL_GROWTH = 1.25
FILLED_BINDER_RATIO = 0.35
"""More resin and hardener than this is no filled grout. GROUTJOBS."""


@dataclass(frozen=True, kw_only=True)
class Placements:
    """What is poured on what, one entry per case, shape (n_batch,).

    binder_ratio is the share of resin and hardener in the mass of the grout, pace_ratio multiplies both rates of the
    reaction. Without a plate plate_c is None.
    """

    placed_c: Floats
    foundation_c: Floats
    plate_c: Floats | None
    binder_ratio: Floats
    pace_ratio: Floats

    def __post_init__(self) -> None:
        given = [getattr(self, field.name) for field in fields(self)]
        shapes = {values.shape for values in given if values is not None}
        if len(shapes) != 1 or self.placed_c.ndim != 1 or self.placed_c.size == 0:
            raise Unusable("placements", f"one value per case is needed, not {sorted(shapes)}", source="GROUTJOBS")
        for label, temp_c, low, high in (
            ("grout temperature as placed", self.placed_c, 0.0, 60.0),
            ("foundation temperature", self.foundation_c, -20.0, 60.0),
            ("plate temperature", self.plate_c, -20.0, 80.0),
        ):
            if temp_c is not None:
                require_all_between(label, temp_c, low, high, unit="°C", source="GROUTJOBS")
        require_all_between("binder share", self.binder_ratio, 0.0, FILLED_BINDER_RATIO, source="GROUTJOBS")
        require_all_between("pace of the reaction", self.pace_ratio, 0.1, 10.0, source="GROUTJOBS")

    @property
    def warmest_c(self) -> Floats:
        """The warmer of grout and foundation, from which the rise is counted."""
        return np.maximum(self.placed_c, self.foundation_c)


@dataclass(frozen=True, kw_only=True)
class AirAround:
    """Air, or air with its sunlight as one temperature, and the film to it, at hourly instants from the pour on.

    Both have the shape (n_batch, n_hours + 1).
    """

    air_c: Floats
    film_w_m2k: Floats

    def __post_init__(self) -> None:
        if self.air_c.ndim != 2 or self.air_c.shape != self.film_w_m2k.shape or self.air_c.shape[1] < 2:
            reason = f"air of shape {self.air_c.shape} and film of {self.film_w_m2k.shape}; both (n_batch, n_hours + 1)"
            raise Unusable("air around the pour", reason, source="GROUTJOBS")
        require_all_between("air temperature", self.air_c, -40.0, 80.0, unit="°C", source="GROUTJOBS")
        require_all_between("film", self.film_w_m2k, 1e-9, 200.0, unit="W/m²·K", source="GROUTJOBS")


@dataclass(frozen=True, kw_only=True)
class CuringTemperatures:
    """What the coupled model found. Histories are hourly, shape (n_batch, n_hours + 1); the rest is (n_batch,).

    The peak is that of the hottest grout cell at any step, peak_at_h counted from the pour; degree_least is the degree
    of cure of the cell that lags most. concrete_c is the uppermost cell of the foundation. Heat is per area of plate;
    stored heat is that of the whole column.
    """

    hottest_c: Floats
    coldest_c: Floats
    plate_c: Floats | None
    concrete_c: Floats
    degree_least: Floats
    peak_c: Floats
    peak_at_h: Floats
    peak_rise_k: Floats
    heat_released_j_m2: Floats
    heat_stored_j_m2: Floats
    heat_lost_j_m2: Floats
    energy_residual_ratio: float


def adiabatic_rise_k(binder_ratio: float, heat_kj_kg: float, specific_heat_j_kgk: float) -> float:
    """Return how much a mix warms when it cures fully and loses no heat.

    Parameters
    ----------
    binder_ratio : Share of resin and hardener in the mass. [-], above 0, to 1; unfilled resin has 1
    heat_kj_kg : Heat of cure per mass of resin and hardener. [kJ/kg], 50 to 700
    specific_heat_j_kgk : Specific heat of the mix. [J/kg·K], 500 to 3000

    Returns
    -------
    Rise. [K]

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [SI] balance of heat: share times heat over specific heat. [GROUTJOBS] the limits.

    Examples
    --------
    >>> round(adiabatic_rise_k(0.13, 400.0, 1000.0), 1)
    52.0
    """
    require_above("binder share", binder_ratio, 0.0, source="GROUTJOBS")
    require_between("binder share", binder_ratio, None, 1.0, source="GROUTJOBS")
    require_between("heat of cure", heat_kj_kg, 50.0, 700.0, unit="kJ/kg", source="GROUTJOBS")
    require_between("specific heat", specific_heat_j_kgk, 500.0, 3000.0, unit="J/kg·K", source="GROUTJOBS")
    return binder_ratio * heat_kj_kg * 1000 / specific_heat_j_kgk


def heated_cells_c(stepper: Stepper, cell_c: Floats, heat_j_m2: Floats, film_w_m2k: Floats, air_c: Floats) -> Floats:
    """Return the cell temperatures after one step in which heat is released inside the cells.

    Parameters
    ----------
    stepper : The column, its step and its account of heat; nothing passes its underside.
    cell_c : Temperatures before. [°C], shape (n_batch, n_cells), index 0 on top
    heat_j_m2 : Heat released in each cell during the step. [J/m²], shape (n_batch, n_cells)
    film_w_m2k : Film on top at the end of the step. [W/m²·K], shape (n_batch,)
    air_c : Air at the end of the step. [°C], shape (n_batch,)

    Returns
    -------
    Temperatures after. [°C], shape (n_batch, n_cells)

    Source
    ------
    [INCROPERA] 5.10 implicit balance of a cell with generation of heat.
    """
    before_c = cell_c + heat_j_m2 / stepper.column.capacity_j_m2k
    return stepper.run(before_c, film_w_m2k[None, :], air_c[None, :], np.zeros(len(cell_c)))


def curing_temperatures(
    layers: Layers,
    kinetics: CureKinetics,
    placements: Placements,
    around: AirAround,
    *,
    steps_per_hour: int = STEPS_PER_HOUR,
) -> CuringTemperatures:
    """Return the temperatures and the degree of cure of grout that heats itself, for several cases at once.

    Parameters
    ----------
    layers : Plate, grout and foundation; the foundation's underside passes no heat.
    kinetics : Parameters of the reaction.
    placements : Temperatures and mix at the pour, shape (n_batch,).
    around : Air and film from the pour on, shape (n_batch, n_hours + 1).
    steps_per_hour : Steps of the scheme in an hour. [-], 6 to 3600

    Returns
    -------
    CuringTemperatures; index 0 of its histories is the pour.

    Raises
    ------
    OutOfRange, Unusable : a value lies outside its limits, or the inputs contradict each other.
    NotConverged : the reaction is too fast for the steps.

    Source
    ------
    [INCROPERA] 5.10 implicit finite volumes; reaction of [KAMAL1973] and [CHERN1987]; joined by us [GROUTJOBS].
    """
    require_between("steps per hour", steps_per_hour, 6, 3600, source="GROUTJOBS")
    column, grout, density_kg_m3 = _column_of(layers)
    _require_consistent(layers, kinetics, placements, around)
    run = _Run(column, grout, density_kg_m3, kinetics, placements, steps_per_hour)
    for hour in range(1, around.air_c.shape[1]):
        run.one_hour(around.air_c[:, hour - 1 : hour + 1], around.film_w_m2k[:, hour - 1 : hour + 1])
    return run.outcome()


def _require_consistent(layers: Layers, kinetics: CureKinetics, placements: Placements, around: AirAround) -> None:
    if (layers.plate is None) != (placements.plate_c is None):
        raise Unusable("plate temperature", "it is given with a plate and only with one", source="GROUTJOBS")
    if len(around.air_c) != len(placements.placed_c):
        reason = f"air for {len(around.air_c)} cases, placements for {len(placements.placed_c)}"
        raise Unusable("air around the pour", reason, source="GROUTJOBS")
    for label, temp_c in (
        ("foundation temperature", placements.foundation_c),
        ("plate temperature", placements.plate_c),
        ("air temperature", around.air_c),
    ):
        if temp_c is not None:
            require_all_between(label, temp_c, kinetics.coldest_c, None, unit="°C", source=kinetics.source)


def _column_of(layers: Layers) -> tuple[Column, slice, float]:
    """The column, the range of its grout cells and the density of the grout."""
    if layers.grout is None or layers.grout_mm is None:
        raise Unusable("layers", "heat of cure needs grout in place", source="GROUTJOBS")
    count = max(FEWEST_GROUT_CELLS, math.ceil(layers.grout_mm / GROUT_CELL_MM))
    stack = [Cells(layers.grout, np.full(count, layers.grout_mm / 1000 / count))]
    stack.append(Cells(layers.concrete, graded_cells_m(layers.concrete_mm / 1000, FIRST_CELL_M, CELL_GROWTH)))
    if layers.plate is None or layers.plate_mm is None:
        return Column(stack), slice(0, count), layers.grout.density_kg_m3
    plate = Cells(layers.plate, np.array([layers.plate_mm / 1000]))
    return Column([plate, *stack]), slice(1, count + 1), layers.grout.density_kg_m3


class _Run:
    """State of a coupled run, its hourly histories and its peak so far."""

    def __init__(
        self,
        column: Column,
        grout: slice,
        density_kg_m3: float,
        kinetics: CureKinetics,
        placements: Placements,
        steps_per_hour: int,
    ) -> None:
        n_batch, n_cells = len(placements.placed_c), len(column.depth_m)
        self.column, self.grout, self.kinetics, self.placements = column, grout, kinetics, placements
        self.steps_per_hour = steps_per_hour
        self.stepper = Stepper(column, 3600 / steps_per_hour, n_batch)
        self.cell_c = np.repeat(placements.foundation_c[:, None], n_cells, axis=1)
        self.cell_c[:, grout] = placements.placed_c[:, None]
        if placements.plate_c is not None:
            self.cell_c[:, 0] = placements.plate_c
        self.first_c = self.cell_c
        mass_kg_m2 = density_kg_m3 * column.thickness_m[grout]
        self.full_heat_j_m2 = placements.binder_ratio[:, None] * kinetics.heat_kj_kg * 1000 * mass_kg_m2
        self.degree = np.zeros_like(self.full_heat_j_m2)
        self.peak_c, self.peak_at_h = placements.placed_c.copy(), np.zeros(n_batch)
        self.steps_done = 0
        self.hourly = [self._snapshot()]

    def _snapshot(self) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        inside, top = self.cell_c[:, self.grout], self.cell_c[:, 0]
        return inside.max(axis=1), inside.min(axis=1), self.degree.min(axis=1), top, self.cell_c[:, self.grout.stop]

    def one_hour(self, air_c: Floats, film_w_m2k: Floats) -> None:
        """Step through an hour, air and film straight lines from its start to its end, shape (n_batch, 2)."""
        for step in range(1, self.steps_per_hour + 1):
            share = step / self.steps_per_hour
            film = film_w_m2k[:, 0] + share * (film_w_m2k[:, 1] - film_w_m2k[:, 0])
            air = air_c[:, 0] + share * (air_c[:, 1] - air_c[:, 0])
            heat = np.zeros_like(self.cell_c)
            heat[:, self.grout] = self._grown() * self.full_heat_j_m2
            self.cell_c = heated_cells_c(self.stepper, self.cell_c, heat, film, air)
            self._note_peak()
        self.hourly.append(self._snapshot())

    def _grown(self) -> Floats:
        """Growth of the degree of cure in one step at the temperature of its start, by the midpoint rule."""
        step_h, temp_c = 1 / self.steps_per_hour, self.cell_c[:, self.grout]
        pace = self.placements.pace_ratio[:, None] * step_h
        half = self.degree + pace / 2 * unchecked_rates_per_h(self.kinetics, self.degree, temp_c)
        grown = pace * unchecked_rates_per_h(self.kinetics, half, temp_c)
        if grown.max() > MOST_GROWTH:
            grew = f"the cure grows by {grown.max():.2f} in one step, more than {MOST_GROWTH:g}"
            raise NotConverged(f"heat of cure: {grew}; take more steps per hour [GROUTJOBS]")
        self.degree = self.degree + grown
        return grown

    def _note_peak(self) -> None:
        self.steps_done += 1
        hottest_c = self.cell_c[:, self.grout].max(axis=1)
        higher = hottest_c > self.peak_c
        self.peak_c = np.where(higher, hottest_c, self.peak_c)
        self.peak_at_h = np.where(higher, self.steps_done / self.steps_per_hour, self.peak_at_h)

    def outcome(self) -> CuringTemperatures:
        released = (self.degree * self.full_heat_j_m2).sum(axis=1)
        hottest, coldest, least, top, below = (np.array(history).T for history in zip(*self.hourly, strict=True))
        return CuringTemperatures(
            hottest_c=hottest,
            coldest_c=coldest,
            plate_c=None if self.placements.plate_c is None else top,
            concrete_c=below,
            degree_least=least,
            peak_c=self.peak_c,
            peak_at_h=self.peak_at_h,
            peak_rise_k=self.peak_c - self.placements.warmest_c,
            heat_released_j_m2=released,
            heat_stored_j_m2=(self.cell_c - self.first_c) @ self.column.capacity_j_m2k,
            heat_lost_j_m2=-self.stepper.heat_in_j_m2,
            energy_residual_ratio=float(self.stepper.residual_ratio(self.first_c, self.cell_c, released).max()),
        )
