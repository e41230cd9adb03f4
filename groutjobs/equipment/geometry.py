"""The geometry of one machine in plan, as plain frozen data: drawn by drawing.py, kept as JSON in plans and reports.

Millimetres on the foundation block; the origin is a corner of the block, x along its length, y along its width.
"""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from groutjobs.equipment.models import Baseplate, Foundation, Machine, PartKind, PlatePart

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class RoundPart:
    """A bolt (its sleeve), fill hole, vent or jackscrew (its pad); the diameter is None where nobody gave one."""

    label: str
    x_mm: float
    y_mm: float
    diameter_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Pad:
    """A mounting pad, its sides along x and y."""

    label: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float


@dataclass(frozen=True, kw_only=True)
class Region:
    """A compartment of the plate."""

    name: str
    outline: tuple[Point, ...]


@dataclass(frozen=True, kw_only=True)
class MachineDrawing:
    """All that the plan drawing shows. A machine without foundation has no block, one without plate no outline."""

    tag: str
    service: str
    block_length_mm: float | None = None
    block_width_mm: float | None = None
    outline: tuple[Point, ...] = ()
    compartments: tuple[Region, ...] = ()
    fill_holes: tuple[RoundPart, ...] = ()
    vents: tuple[RoundPart, ...] = ()
    jackscrews: tuple[RoundPart, ...] = ()
    pads: tuple[Pad, ...] = ()
    bolts: tuple[RoundPart, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to draw yet."""
        return self.block_length_mm is None and not self.outline

    def as_json(self) -> dict[str, Any]:
        """Plain lists and dicts; drawing_from_json reads them back to an equal value."""
        stored = asdict(self)
        stored["outline"] = _lists(self.outline)
        for region, kept in zip(self.compartments, stored["compartments"], strict=True):
            kept["outline"] = _lists(region.outline)
        return {name: list(value) if isinstance(value, tuple) else value for name, value in stored.items()}

    def corners_mm(self) -> tuple[Point, Point]:
        """Lower left and upper right corner of the least rectangle round block and plate; not for an empty drawing."""
        block = []
        if self.block_length_mm is not None and self.block_width_mm is not None:
            block = [(0.0, 0.0), (self.block_length_mm, self.block_width_mm)]
        return box_of([*block, *self.outline])


def box_of(points: Sequence[Point]) -> tuple[Point, Point]:
    """Lower left and upper right corner of the least rectangle round the points."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return (min(xs), min(ys)), (max(xs), max(ys))


def drawing_from_json(stored: dict[str, Any]) -> MachineDrawing:
    """Read back what as_json gave."""
    rounds = {
        name: tuple(RoundPart(**part) for part in stored[name])
        for name in ("fill_holes", "vents", "jackscrews", "bolts")
    }
    return MachineDrawing(
        tag=stored["tag"],
        service=stored["service"],
        block_length_mm=stored["block_length_mm"],
        block_width_mm=stored["block_width_mm"],
        outline=_points(stored["outline"]),
        compartments=tuple(
            Region(name=kept["name"], outline=_points(kept["outline"])) for kept in stored["compartments"]
        ),
        pads=tuple(Pad(**pad) for pad in stored["pads"]),
        **rounds,
    )


def drawing_of(machine: Machine) -> MachineDrawing:
    """The drawing of a machine; without queries where the row comes from queries.machine_whole()."""
    foundation = foundation_of(machine)
    plate = baseplate_of(machine)
    parts = list(plate.parts.all()) if plate else []
    return MachineDrawing(
        tag=machine.tag,
        service=machine.service,
        block_length_mm=foundation.length_mm if foundation else None,
        block_width_mm=foundation.width_mm if foundation else None,
        outline=tuple(plate.outline_points()) if plate else (),
        compartments=tuple(
            Region(name=row.name, outline=tuple(row.outline_points()))
            for row in (plate.compartments.all() if plate else ())
        ),
        fill_holes=_rounds(parts, PartKind.FILL_HOLE),
        vents=_rounds(parts, PartKind.VENT),
        jackscrews=_rounds(parts, PartKind.JACKSCREW),
        pads=tuple(
            Pad(label=part.label, x_mm=part.x_mm, y_mm=part.y_mm, length_mm=part.length_mm, width_mm=part.width_mm)
            for part in parts
            if part.kind == PartKind.MOUNTING_PAD and part.length_mm is not None and part.width_mm is not None
        ),
        bolts=tuple(
            RoundPart(label=bolt.label, x_mm=bolt.x_mm, y_mm=bolt.y_mm, diameter_mm=bolt.sleeve_diameter_mm)
            for bolt in (foundation.bolts.all() if foundation else ())
        ),
    )


def foundation_of(machine: Machine) -> Foundation | None:
    """The foundation, or None where it is not entered yet."""
    return getattr(machine, "foundation", None)


def baseplate_of(machine: Machine) -> Baseplate | None:
    """The plate, or None where it is not entered yet."""
    return getattr(machine, "baseplate", None)


def _rounds(parts: Iterable[PlatePart], kind: PartKind) -> tuple[RoundPart, ...]:
    return tuple(
        RoundPart(label=part.label, x_mm=part.x_mm, y_mm=part.y_mm, diameter_mm=part.diameter_mm)
        for part in parts
        if part.kind == kind
    )


def _points(stored: Iterable[Sequence[float]]) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in stored)


def _lists(points: Iterable[Point]) -> list[list[float]]:
    return [[x, y] for x, y in points]
