"""Jackscrew moves that bring a plate level: a linear program over the plane that the readings gave."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from groutjobs.engineering.checks import Floats, require_above, require_between
from groutjobs.engineering.levelling import Plane, require_spread
from groutjobs.engineering.outlines import require_point
from groutjobs.errors import Unusable

FLATS_PER_TURN = 6


@dataclass(frozen=True, kw_only=True)
class Jackscrew:
    """One jackscrew and the grout gap under the plate at it, before the move."""

    name: str
    x_mm: float
    y_mm: float
    pitch_mm: float
    gap_mm: float


@dataclass(frozen=True, kw_only=True)
class Target:
    """Where the plate shall come to. With `raise_only` no screw is backed off, so that the highest place is kept.

    The elevation of the centroid is free where its limits are None; `tilt_mm_m` is what may remain each way.
    """

    min_gap_mm: float
    raise_only: bool = False
    tilt_mm_m: float = 0.0
    lowest_elevation_mm: float | None = None
    highest_elevation_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class ScrewMove:
    """How far to turn one jackscrew; positive lifts the plate."""

    name: str
    move_mm: float
    turns: float
    flats: float


@dataclass(frozen=True, kw_only=True)
class Correction:
    """Moves of all jackscrews, and the plane they lead to if the plate moves as a rigid body."""

    moves: tuple[ScrewMove, ...]
    total_move_mm: float
    elevation_mm: float
    tilt_along_mm_m: float
    tilt_across_mm_m: float


def jackscrew_moves(plane: Plane, screws: Sequence[Jackscrew], target: Target) -> Correction:
    """Return the turns of each jackscrew that bring a plate level with the least total movement.

    Parameters
    ----------
    plane : The plate as it stands.
    screws : Three or more, not on one line; gap of each above the limit after the move.
    target : Least gap, tilt that may remain, and elevation.

    Returns
    -------
    The moves. The plate is taken as rigid: turn in small steps, all screws in turn, and read again.

    Raises
    ------
    OutOfRange : a pitch or gap is not above 0, or a limit is no number.
    Unusable : too few screws, all on one line, or no move satisfies the target.

    Source
    ------
    [GROUTJOBS] linear program: least sum of moves, subject to the gap at each screw, elevation and tilt.
    """
    _check_screws(screws, target)
    at = np.array([[1.0, (s.x_mm - plane.centroid_x_mm) / 1e3, (s.y_mm - plane.centroid_y_mm) / 1e3] for s in screws])
    found = _least_moves(plane, at, np.array([screw.gap_mm for screw in screws]), target)
    moves = at @ found
    return Correction(
        moves=tuple(
            ScrewMove(
                name=screw.name,
                move_mm=float(move),
                turns=float(move) / screw.pitch_mm,
                flats=float(move) / screw.pitch_mm * FLATS_PER_TURN,
            )
            for screw, move in zip(screws, moves, strict=True)
        ),
        total_move_mm=float(np.abs(moves).sum()),
        elevation_mm=plane.elevation_mm + float(found[0]),
        tilt_along_mm_m=plane.tilt_along_mm_m + float(found[1]),
        tilt_across_mm_m=plane.tilt_across_mm_m + float(found[2]),
    )


def _check_screws(screws: Sequence[Jackscrew], target: Target) -> None:
    if len(screws) < 3:
        raise Unusable("jackscrews", f"{len(screws)}, at least 3 are needed", source="API686")
    for screw in screws:
        require_point(f"jackscrew {screw.name}", screw.x_mm, screw.y_mm)
        require_above(f"jackscrew {screw.name}, pitch", screw.pitch_mm, 0.0, unit="mm", source="API686")
        require_above(f"jackscrew {screw.name}, gap", screw.gap_mm, 0.0, unit="mm", source="GROUTJOBS")
    require_spread("jackscrews", np.array([[screw.x_mm, screw.y_mm] for screw in screws]))
    require_between("least gap", target.min_gap_mm, 0.0, None, unit="mm", source="GROUTJOBS")
    require_between("tilt that may remain", target.tilt_mm_m, 0.0, 50.0, unit="mm/m", source="GROUTJOBS")
    for limit_mm in (target.lowest_elevation_mm, target.highest_elevation_mm):
        if limit_mm is not None:
            require_between("elevation to reach", limit_mm, -1e6, 1e6, unit="mm", source="GROUTJOBS")


def _least_moves(plane: Plane, at: Floats, gaps_mm: Floats, target: Target) -> Floats:
    """Change of elevation and of both tilts; the unknowns after them are the sizes of the moves."""
    count = len(at)
    sizes = -np.eye(count)
    none = np.zeros((count, count))
    rows = np.vstack([np.hstack([at, sizes]), np.hstack([-at, sizes]), np.hstack([-at, none])])
    rises_mm = gaps_mm - target.min_gap_mm
    tops = np.concatenate([np.zeros(2 * count), np.minimum(rises_mm, 0.0) if target.raise_only else rises_mm])
    low, high = target.lowest_elevation_mm, target.highest_elevation_mm
    left = target.tilt_mm_m
    bounds = [
        (None if low is None else low - plane.elevation_mm, None if high is None else high - plane.elevation_mm),
        (-plane.tilt_along_mm_m - left, -plane.tilt_along_mm_m + left),
        (-plane.tilt_across_mm_m - left, -plane.tilt_across_mm_m + left),
    ] + [(0.0, None)] * count
    answer = linprog([0.0] * 3 + [1.0] * count, A_ub=rows, b_ub=tops, bounds=bounds, method="highs")
    if answer.status != 0:
        raise Unusable("jackscrew moves", "no move satisfies gap, elevation and tilt together", source="GROUTJOBS")
    found: Floats = np.asarray(answer.x[:3], dtype=np.float64)
    return found
