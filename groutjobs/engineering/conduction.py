"""One-dimensional transient conduction through a stack of layers: finite volumes in space, backward Euler in time.

The top meets a film that may change at every step; the bottom is insulated or meets a constant film. Because only the
top film changes, the matrix is inverted once and the film enters as a correction of rank one, so a step is one small
matrix product for a whole batch of cases. Backward Euler never overshoots and closes its energy balance exactly.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from groutjobs.engineering.checks import Floats, require_above, require_all_between
from groutjobs.engineering.materials import Solid


def graded_cells_m(depth_m: float, first_m: float, growth: float) -> Floats:
    """Return thicknesses of cells that grow from the surface and add up to a depth.

    Parameters
    ----------
    depth_m : Thickness of the layer. [m], above 0
    first_m : Wanted thickness of the first cell; the true one is at most this. [m], above 0
    growth : Ratio of each cell to the one above it. [-], 1 or more

    Returns
    -------
    Cell thicknesses. [m], shape (n_cells,), index 0 at the surface

    Raises
    ------
    OutOfRange : a value lies outside the limits above.

    Source
    ------
    [GROUTJOBS] geometric grid.

    Examples
    --------
    >>> graded_cells_m(0.07, 0.01, 2.0).round(3).tolist()
    [0.01, 0.02, 0.04]
    """
    require_above("layer thickness", depth_m, 0.0, unit="m", source="GROUTJOBS")
    require_above("first cell", first_m, 0.0, unit="m", source="GROUTJOBS")
    require_all_between("growth of cells", np.array([growth]), 1.0, None, source="GROUTJOBS")
    cells = [min(first_m, depth_m)]
    while sum(cells) < depth_m * (1 - 1e-9):
        cells.append(cells[-1] * growth)
    return np.array(cells) * depth_m / sum(cells)


@dataclass(frozen=True)
class Cells:
    """One layer of a column: its material and the thickness of its cells, index 0 on top."""

    solid: Solid
    thickness_m: Floats


class Column:
    """A stack of layers, top first. gap_w_m2k puts a resistance such as still air under the first layer."""

    def __init__(
        self, layers: Sequence[Cells], *, gap_w_m2k: float | None = None, bottom_film_w_m2k: float = 0.0
    ) -> None:
        self.thickness_m = np.concatenate([layer.thickness_m for layer in layers])
        require_all_between("cell thickness", self.thickness_m, 1e-6, None, unit="m", source="GROUTJOBS")
        self.depth_m = np.cumsum(self.thickness_m) - self.thickness_m / 2
        counts = [len(layer.thickness_m) for layer in layers]
        conductivity = np.repeat([layer.solid.conductivity_w_mk for layer in layers], counts)
        self.capacity_j_m2k = self.thickness_m * np.repeat([x.solid.heat_capacity_j_m3k for x in layers], counts)
        self.half_w_m2k = 2 * conductivity / self.thickness_m
        resistance = 1 / self.half_w_m2k[:-1] + 1 / self.half_w_m2k[1:]
        if gap_w_m2k is not None:
            require_above("conductance of the gap", gap_w_m2k, 0.0, unit="W/m²·K", source="GROUTJOBS")
            resistance[counts[0] - 1] += 1 / gap_w_m2k
        self.link_w_m2k = 1 / resistance
        self.last: int | npt.NDArray[np.intp] = len(self.depth_m) - 1
        self.bottom_w_m2k = np.zeros_like(self.depth_m)
        self.bottom_w_m2k[-1] = self._with_half_cell(bottom_film_w_m2k)

    def _with_half_cell(self, film_w_m2k: float) -> float:
        if film_w_m2k == 0.0:
            return 0.0
        require_above("film under the column", film_w_m2k, 0.0, unit="W/m²·K", source="GROUTJOBS")
        return 1 / (1 / film_w_m2k + 1 / float(self.half_w_m2k[-1]))

    def conductance_matrix(self) -> Floats:
        """Heat that leaves each cell per kelvin, without the top film. [W/m²·K], shape (..., n_cells, n_cells)"""
        n_cells = self.depth_m.shape[-1]
        matrix, here = np.zeros((*self.depth_m.shape, n_cells)), np.arange(n_cells)
        matrix[..., here[:-1], here[1:]] = matrix[..., here[1:], here[:-1]] = -self.link_w_m2k
        matrix[..., here, here] = self.bottom_w_m2k - matrix.sum(axis=-1)
        return matrix

    def top_conductance_w_m2k(self, film_w_m2k: Floats) -> Floats:
        """Film and half a cell in series, so that the surface itself needs no cell."""
        return np.asarray(1 / (1 / film_w_m2k + 1 / self.half_w_m2k[..., 0]))

    def top_surface_c(self, cell_c: Floats, film_w_m2k: Floats, flow_w_m2: Floats) -> Floats:
        """Temperature of the top face from the top cell and the film; the flow is film times its air temperature."""
        half = self.half_w_m2k[..., 0]
        return np.asarray((flow_w_m2 + half * cell_c) / (film_w_m2k + half))


class ColumnRow(Column):
    """Several columns side by side, one for each case of a batch: arrays have one row for each column.

    Shorter columns are filled up from below with cells that touch nothing and stay as they are.
    """

    def __init__(self, columns: Sequence[Column]) -> None:
        widest = max(len(column.depth_m) for column in columns)

        def filled(rows: Sequence[Floats], value: float, width: int) -> Floats:
            return np.stack([np.pad(row, (0, width - len(row)), constant_values=value) for row in rows])

        self.thickness_m = filled([column.thickness_m for column in columns], 1.0, widest)
        self.depth_m = filled([column.depth_m for column in columns], math.inf, widest)
        self.capacity_j_m2k = filled([column.capacity_j_m2k for column in columns], 1.0, widest)
        self.half_w_m2k = filled([column.half_w_m2k for column in columns], 1.0, widest)
        self.link_w_m2k = filled([column.link_w_m2k for column in columns], 0.0, widest - 1)
        self.bottom_w_m2k = filled([column.bottom_w_m2k for column in columns], 0.0, widest)
        self.last = np.array([len(column.depth_m) - 1 for column in columns])


class Stepper:
    """Advances a batch of columns by equal steps and keeps the account of the heat that crosses top and bottom."""

    def __init__(self, column: Column, step_s: float, n_batch: int) -> None:
        require_above("time step", step_s, 0.0, unit="s", source="GROUTJOBS")
        self.column, self.step_s = column, step_s
        inertia = column.capacity_j_m2k / step_s
        n_cells = inertia.shape[-1]
        inverse = np.linalg.inv(inertia[..., None] * np.eye(n_cells) + column.conductance_matrix())
        self._spread = np.ascontiguousarray(inverse.swapaxes(-1, -2) * inertia[..., None])
        self._from_top = inverse[..., :, 0].copy()
        self._from_bottom = (inverse * column.bottom_w_m2k[..., None, :]).sum(axis=-1)
        self._one_column = inertia.ndim == 1
        self._last = slice(None) if self._one_column else np.arange(n_batch), column.last
        self._bottom_w_m2k = np.broadcast_to(column.bottom_w_m2k, (n_batch, n_cells))[self._last]
        self.heat_in_j_m2 = np.zeros(n_batch)
        self.heat_in_top_j_m2 = np.zeros(n_batch)
        self.heat_moved_j_m2 = np.zeros(n_batch)

    def run(self, cell_c: Floats, film_w_m2k: Floats, equivalent_c: Floats, bottom_c: Floats) -> Floats:
        """Cell temperatures after some steps. [°C], shape (n_batch, n_cells)

        The films and their air temperatures, shape (n_steps, n_batch), are those at the end of each step; what lies
        under the column, shape (n_batch,), stays the same meanwhile.
        """
        conductance = self.column.top_conductance_w_m2k(film_w_m2k)
        share = conductance / (1 + conductance * self._from_top[..., 0])
        from_bottom_c = bottom_c[:, None] * self._from_bottom
        inflow, bottom_c_after = np.empty_like(conductance), np.empty_like(conductance)
        for step in range(len(conductance)):
            cell_c = self._spread_out(cell_c) + from_bottom_c
            inflow[step] = share[step] * (equivalent_c[step] - cell_c[:, 0])
            cell_c += inflow[step][:, None] * self._from_top
            bottom_c_after[step] = cell_c[self._last]
        bottom_inflow = self._bottom_w_m2k * (bottom_c - bottom_c_after)
        self.heat_in_top_j_m2 += inflow.sum(axis=0) * self.step_s
        self.heat_in_j_m2 += (inflow + bottom_inflow).sum(axis=0) * self.step_s
        self.heat_moved_j_m2 += (np.abs(inflow) + np.abs(bottom_inflow)).sum(axis=0) * self.step_s
        return cell_c

    def _spread_out(self, cell_c: Floats) -> Floats:
        if self._one_column:
            return np.asarray(cell_c @ self._spread)
        return np.asarray((cell_c[:, None, :] @ self._spread)[:, 0])

    def stored_j_m2(self, warmer_k: Floats) -> Floats:
        """Heat that the column takes up with this much warmer cells. [J/m²], shape (n_batch,)"""
        return np.asarray((warmer_k * self.column.capacity_j_m2k).sum(axis=-1))

    def residual_ratio(self, first_c: Floats, last_c: Floats, added_j_m2: Floats) -> Floats:
        """Heat that the balance misses, as a share of all heat that crossed top and bottom. [-], shape (n_batch,)

        Where less than 1 kJ/m² crossed, which warms a metre of concrete by half a millikelvin, it is a share of that.
        """
        stored = self.stored_j_m2(last_c - first_c)
        missing = np.abs(stored - self.heat_in_j_m2 - added_j_m2)
        moved = np.maximum(self.heat_moved_j_m2, 1000.0)
        return np.asarray(missing / moved)
