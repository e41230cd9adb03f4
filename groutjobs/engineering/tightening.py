"""The order and the rounds in which anchor bolts are tightened."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from groutjobs.engineering.checks import require_above
from groutjobs.engineering.outlines import EDGE_TOLERANCE_MM, Point, require_point
from groutjobs.errors import Unusable

PASS_SHARES = (0.30, 0.70, 1.00)
ONE_CIRCLE = 0.02
"""Radii that differ by less than this share of the largest are one circle."""
ONE_ROW_MM = 25.0
"""Bolts whose distances from the middle differ by less stand in one row across."""


@dataclass(frozen=True, kw_only=True)
class TighteningPass:
    """One round over all bolts in the order of tightening."""

    number: int
    label: str
    share: float
    torque_nm: float


@dataclass(frozen=True, kw_only=True)
class BoltPlace:
    """Where a bolt stands in plan."""

    name: str
    x_mm: float
    y_mm: float


def tightening_passes(final_torque_nm: float) -> tuple[TighteningPass, ...]:
    """Return the rounds of tightening: 30, 70 and 100 % criss-cross, then once round in order at 100 %.

    Parameters
    ----------
    final_torque_nm : Torque to reach. [N·m], above 0

    Returns
    -------
    The passes, the final round last.

    Raises
    ------
    OutOfRange : the torque is not above 0.

    Source
    ------
    [PRACTICE] three passes and a final round; tighten again after 24 h and after the first hot run.
    """
    require_above("final torque", final_torque_nm, 0.0, unit="N·m", source="PRACTICE")
    rounds = [(f"{share:.0%} in the order of tightening", share) for share in PASS_SHARES]
    rounds.append(("once round, bolt by bolt, none may turn", 1.0))
    return tuple(
        TighteningPass(number=number, label=label, share=share, torque_nm=share * final_torque_nm)
        for number, (label, share) in enumerate(rounds, start=1)
    )


def tightening_order(bolts: Sequence[BoltPlace]) -> tuple[str, ...]:
    """Return the names of bolts in the order of tightening.

    Parameters
    ----------
    bolts : Two or more, each with a name and a place of its own.

    Returns
    -------
    On a circle: a bolt, the one opposite, then the widest gap left and its opposite, and so on. In rows: from the
    middle of the plate outwards, crossing over to the far corner each time.

    Raises
    ------
    OutOfRange : a coordinate is no number.
    Unusable : fewer than two bolts, or a name or place comes twice.

    Source
    ------
    [PRACTICE] criss-cross, centre outwards.
    """
    _check_places(bolts)
    centre = (sum(b.x_mm for b in bolts) / len(bolts), sum(b.y_mm for b in bolts) / len(bolts))
    radii = [math.dist((b.x_mm, b.y_mm), centre) for b in bolts]
    on_circle = len(bolts) > 2 and max(radii) - min(radii) <= ONE_CIRCLE * max(radii)
    return _circle_order(bolts, centre) if on_circle else _rows_order(bolts, centre)


def _check_places(bolts: Sequence[BoltPlace]) -> None:
    if len(bolts) < 2:
        raise Unusable("order of tightening", f"at least 2 bolts are needed, not {len(bolts)}", source="PRACTICE")
    if len({bolt.name for bolt in bolts}) < len(bolts):
        raise Unusable("order of tightening", "two bolts have the same name", source="GROUTJOBS")
    for number, bolt in enumerate(bolts):
        require_point(f"bolt {bolt.name}", bolt.x_mm, bolt.y_mm)
        if any(_apart_mm(bolt, other) < EDGE_TOLERANCE_MM for other in bolts[:number]):
            raise Unusable(f"bolt {bolt.name}", "another bolt stands at the same place", source="GROUTJOBS")


def _apart_mm(bolt: BoltPlace, other: BoltPlace) -> float:
    return math.dist((bolt.x_mm, bolt.y_mm), (other.x_mm, other.y_mm))


def _turn(angle: float, other: float) -> float:
    """How far apart two directions are, 0 to π, rounded so that equal spacings compare equal."""
    return round(abs(math.remainder(angle - other, math.tau)), 9)


def _circle_order(bolts: Sequence[BoltPlace], centre: Point) -> tuple[str, ...]:
    angles = {bolt.name: math.atan2(bolt.y_mm - centre[1], bolt.x_mm - centre[0]) for bolt in bolts}
    left = [bolt.name for bolt in bolts]
    order: list[str] = []
    while left:
        first = max(left, key=lambda name: min((_turn(angles[name], angles[done]) for done in order), default=0.0))
        left.remove(first)
        order.append(first)
        if left:
            opposite = max(left, key=lambda name: _turn(angles[name], angles[first]))
            left.remove(opposite)
            order.append(opposite)
    return tuple(order)


def _rows_order(bolts: Sequence[BoltPlace], centre: Point) -> tuple[str, ...]:
    lengthwise = _span([b.x_mm for b in bolts]) >= _span([b.y_mm for b in bolts])

    def from_middle_mm(bolt: BoltPlace) -> float:
        return abs(bolt.x_mm - centre[0]) if lengthwise else abs(bolt.y_mm - centre[1])

    left = list(bolts)
    order: list[BoltPlace] = []
    while left:
        nearest_mm = min(map(from_middle_mm, left))
        row = [bolt for bolt in left if from_middle_mm(bolt) <= nearest_mm + ONE_ROW_MM]
        left = [bolt for bolt in left if bolt not in row]
        while row:
            bolt = max(row, key=lambda candidate: _apart_mm(candidate, order[-1])) if order else row[0]
            row.remove(bolt)
            order.append(bolt)
    return tuple(bolt.name for bolt in order)


def _span(values: Sequence[float]) -> float:
    return max(values) - min(values)
