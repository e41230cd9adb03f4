"""The door from equipment to the engineering: whether the geometry holds together, and what to say about the data."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from shapely import Point as PlanPoint
from shapely import Polygon, box

from groutjobs import units
from groutjobs.engineering import block, bolt_tables, bolting, compartments, levelling, materials, outlines
from groutjobs.equipment.foundation_checks import BlockMass, concrete_findings, mass_finding, missing
from groutjobs.equipment.geometry import Point, baseplate_of, foundation_of
from groutjobs.equipment.models import (
    AnchorBolt,
    Baseplate,
    Foundation,
    Machine,
    MachineKind,
    PartKind,
    PlatePart,
    parts_of,
)
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Finding, Level

MASS_RATIO, MASS_RATIO_RECIPROCATING = 3.0, 5.0
WRAP_MM = 6.0
"""Wrap that keeps grout off the exposed length of an anchor bolt [BLOCH-MCM] p. 92; asked for round a jackscrew too."""
_HOLES = {PartKind.FILL_HOLE: compartments.HoleKind.FILL, PartKind.VENT: compartments.HoleKind.VENT}


def level_limit(kind: str) -> levelling.LevelLimit:
    """The default limit of level for a kind of plate; KeyError for a kind that the table does not have."""
    return levelling.LEVEL_LIMITS[kind]


def _folded_thread(name: str) -> str:
    plain = name.casefold().replace("×", "x").replace("½", "1/2").replace(" ", "")
    return plain.replace("-4.5", "-41/2")


def _folded_grade(name: str) -> str:
    plain = name.casefold()
    for word in ("astm", "iso 898-1", "grade", "class", "gr.", "-", " "):
        plain = plain.replace(word, "")
    return plain


def read_thread(text: str) -> str:
    """The name in the thread table that the text means: "M24" or "m24x3" is M24×3, "1-8" is 1-8 UNC.

    Raises Unusable for a thread that the table does not have.
    """
    known: dict[str, str] = {}
    for name, thread in bolt_tables.threads().items():
        short = name.split("×")[0] if thread.series == "ISO" else name.rsplit(" ", 1)[0]
        known[_folded_thread(short)] = known[_folded_thread(name)] = name
    if _folded_thread(text) not in known:
        raise Unusable(
            "thread",
            f"“{text[:20]}” is not in the table; write for example M24, 1-8 UNC or 1 1/8-8 UN",
            source="ASMEB1.1",
        )
    return known[_folded_thread(text)]


def read_grade(text: str) -> str:
    """The name in the table of bolt steels that the text means; the text itself for a steel that is not in it."""
    return {_folded_grade(name): name for name in bolt_tables.grades()}.get(_folded_grade(text), text)


def thread_names() -> list[str]:
    return list(bolt_tables.threads())


def grade_names() -> list[str]:
    return list(bolt_tables.grades())


def require_geometry(
    outline: Sequence[Sequence[float]],
    compartment_rows: Iterable[Mapping[str, Any]],
    part_rows: Iterable[Mapping[str, Any]],
) -> None:
    """Raise Unusable or OutOfRange where outline, compartments and parts of a plate contradict each other.

    Compartments must lie in the plate and apart; holes and jackscrews have their centre on the plate, pads all of it.
    """
    plate = outlines.checked_polygon("plate", _points(outline))
    compartments.checked_compartments(plate, [_compartment(row) for row in compartment_rows])
    for row in part_rows:
        label = f"{PartKind(row['kind']).label.lower()} {row['label']}"
        x_mm, y_mm = row["x_mm"], row["y_mm"]
        off_mm = float(plate.distance(PlanPoint(x_mm, y_mm)))
        if off_mm > outlines.EDGE_TOLERANCE_MM:
            raise Unusable(label, f"its centre lies {off_mm:.0f} mm off the plate", source="GROUTJOBS")
        if row["kind"] == PartKind.MOUNTING_PAD:
            half_length, half_width = row["length_mm"] / 2, row["width_mm"] / 2
            pad = box(x_mm - half_length, y_mm - half_width, x_mm + half_length, y_mm + half_width)
            outlines.require_inside(label, pad, "plate", plate)


def require_on_block(length_mm: float, width_mm: float, places: Iterable[tuple[str, float, float]]) -> None:
    """Raise OutOfRange for the first named place (survey point, bolt) more than 1 mm off the foundation block."""
    slack_mm = outlines.EDGE_TOLERANCE_MM
    for label, x_mm, y_mm in places:
        for axis, value, size in (("x", x_mm, length_mm), ("y", y_mm, width_mm)):
            if not -slack_mm <= value <= size + slack_mm:
                raise OutOfRange(f"{label}, {axis}", value, low=0.0, high=size, unit="mm", source="GROUTJOBS")


def block_mass(machine: Machine) -> BlockMass | None:
    """The mass of the block; None where the machine has no foundation yet."""
    foundation = foundation_of(machine)
    if foundation is None:
        return None
    concrete = materials.concrete()
    size_mm = (foundation.length_mm, foundation.width_mm, foundation.height_mm)
    block_kg = block.block_mass_kg(*size_mm, concrete.density_kg_m3)
    reciprocating = machine.kind == MachineKind.RECIPROCATING_COMPRESSOR
    return BlockMass(
        block_kg=block_kg,
        ratio=block.mass_ratio(block_kg, machine.mass_kg),
        needed_ratio=MASS_RATIO_RECIPROCATING if reciprocating else MASS_RATIO,
        density_kg_m3=concrete.density_kg_m3,
        density_source=concrete.source,
    )


def grout_space_mm(machine: Machine, underside_elevation_mm: float) -> float | None:
    """Mean space between the surveyed concrete and a plate underside; None without a survey."""
    foundation = foundation_of(machine)
    elevations = [point.elevation_mm for point in foundation.survey_points.all()] if foundation else []
    return block.grout_space_mm(underside_elevation_mm, elevations) if elevations else None


def data_findings(machine: Machine, *, on: dt.date, system: str = units.METRIC) -> list[Finding]:
    """What stands out in the data of a machine on a day; without queries for a row of queries.machine_whole()."""
    foundation, plate = foundation_of(machine), baseplate_of(machine)
    found: list[Finding] = []
    if foundation is None:
        found.append(missing("foundation", "Enter the block, its concrete and the anchor bolts."))
    else:
        found += _foundation_findings(machine, foundation, on, system)
    if plate is None:
        found.append(missing("plate", "Enter its outline, compartments and holes, or start from a rectangle."))
    else:
        found += _plate_findings(plate, system)
    if foundation is not None and plate is not None:
        found += _together_findings(foundation, plate, system)
    return found


def _foundation_findings(machine: Machine, foundation: Foundation, on: dt.date, system: str) -> list[Finding]:
    mass = block_mass(machine)
    light = mass_finding(mass) if mass else None
    found = concrete_findings(foundation, on, system) + ([light] if light else [])
    return found + [f for bolt in foundation.bolts.all() for f in [_bolt_finding(bolt, system)] if f]


def _bolt_finding(bolt: AnchorBolt, system: str) -> Finding | None:
    thread = bolt_tables.threads().get(bolt.thread)
    if thread is None:
        return Finding(
            level=Level.WARNING,
            code="equipment.thread_unknown",
            message=f"Bolt {bolt.label}: thread {bolt.thread} is not in the table, so its free length is not judged.",
            hint="Write the thread as the table has it, for example M24 or 1-8 UNC.",
            source="ASMEB1.1",
            about=bolt.label,
        )
    needed_mm = bolting.FREE_LENGTH_DIAMETERS * thread.diameter_mm
    if bolt.free_length_mm >= needed_mm:
        return None
    return Finding(
        level=Level.WARNING,
        code="equipment.free_length",
        message=f"Bolt {bolt.label}, {bolt.thread}: {units.shown(bolt.free_length_mm, 'mm', system)} of free length is "
        f"{block.free_length_diameters(bolt.free_length_mm, thread.diameter_mm):.1f} diameters, "
        f"less than {bolting.FREE_LENGTH_DIAMETERS:.0f} ({units.shown(needed_mm, 'mm', system)}).",
        hint="Sleeve it deeper or use a spacer under the nut; a short bolt loses its tension when the joint settles.",
        source="API686",
        about=bolt.label,
        margin=bolt.free_length_mm - needed_mm,
    )


def _plate_findings(plate: Baseplate, system: str) -> list[Finding]:
    parts = list(plate.parts.all())
    rows = [
        {"name": row.name, "outline": row.outline, "fill_above_mm": row.fill_above_mm, "open_edge": row.open_edge}
        for row in plate.compartments.all()
    ]
    if not rows:
        return [missing("compartment", "Enter one compartment for each part of the underside between stiffeners.")]
    holes = [_hole(part) for part in parts if part.kind in _HOLES]
    try:
        found = compartments.compartment_findings(
            plate.outline_points(), [_compartment(row) for row in rows], holes, system=system
        )
    except (OutOfRange, Unusable) as error:
        return [_contradiction(error)]
    if not parts_of(parts, PartKind.JACKSCREW):
        found.append(_no_jackscrews())
    return found


def _contradiction(error: Exception) -> Finding:
    return Finding(
        level=Level.BLOCKER,
        code="equipment.geometry",
        message=f"The plate contradicts itself: {error}.",
        hint="Correct the plate.",
        source="GROUTJOBS",
        about="plate",
    )


def _no_jackscrews() -> Finding:
    return Finding(
        level=Level.WARNING,
        code="equipment.jackscrews_missing",
        message="No jackscrews are entered; small baseplates are levelled on them.",
        hint="Enter them with their pads, or level on wedges or shims that come out again before final tightening.",
        source="API686",
        about="plate",
    )


def _together_findings(foundation: Foundation, plate: Baseplate, system: str) -> list[Finding]:
    try:
        shape = outlines.checked_polygon("plate", plate.outline_points())
    except (OutOfRange, Unusable):
        return []
    found = _block_findings(foundation, shape)
    bolts = list(foundation.bolts.all())
    for bolt in bolts:
        if not shape.buffer(outlines.EDGE_TOLERANCE_MM).covers(PlanPoint(bolt.x_mm, bolt.y_mm)):
            found.append(_off_plate(bolt))
    screws = parts_of(plate.parts.all(), PartKind.JACKSCREW)
    for screw in screws:
        found += _jackscrew_findings(screw, bolts, system)
    for hole in plate.parts.all():
        if hole.kind in _HOLES:
            found += _hole_findings(hole, bolts, screws, system)
    return found


def _block_findings(foundation: Foundation, shape: Polygon) -> list[Finding]:
    block = box(0.0, 0.0, foundation.length_mm, foundation.width_mm)
    try:
        outlines.require_inside("plate", shape, "foundation block", block)
    except Unusable as error:
        return [
            Finding(
                level=Level.BLOCKER,
                code="equipment.plate_off_block",
                message=f"The {error.quantity} {error.reason}.",
                hint="Both are measured from one corner of the block: check the plate's outline and the block's size.",
                source=error.source,
                about="plate",
            )
        ]
    return []


def _off_plate(bolt: AnchorBolt) -> Finding:
    return Finding(
        level=Level.WARNING,
        code="equipment.bolt_off_plate",
        message=f"Bolt {bolt.label} at {bolt.x_mm:g}, {bolt.y_mm:g} mm does not go through the plate.",
        hint="Check its place; the plate and the bolts are measured from the same corner of the block.",
        source="GROUTJOBS",
        about=bolt.label,
    )


def _jackscrew_findings(screw: PlatePart, bolts: list[AnchorBolt], system: str) -> list[Finding]:
    found = []
    for bolt in bolts:
        reach_mm = ((screw.diameter_mm or 0.0) + _hole_round(bolt)) / 2
        room_mm = math.dist((screw.x_mm, screw.y_mm), (bolt.x_mm, bolt.y_mm)) - reach_mm
        if room_mm < 0:
            found.append(
                Finding(
                    level=Level.WARNING,
                    code="equipment.jackpad_over_bolt",
                    message=f"The pad of jackscrew {screw.label} reaches {units.shown(-room_mm, 'mm', system)} over "
                    f"the sleeve of bolt {bolt.label}.",
                    hint="Move the pad or choose a smaller one, so that it stands on sound concrete.",
                    source="GROUTJOBS",
                    about=screw.label,
                    margin=room_mm,
                )
            )
    return found


def _hole_findings(hole: PlatePart, bolts: list[AnchorBolt], screws: list[PlatePart], system: str) -> Iterable[Finding]:
    """A hole over a bolt or a jackscrew pad is half shut by it, and by the wrap that keeps the grout off."""
    threads = bolt_tables.threads()
    obstacles = [
        (f"bolt {bolt.label}", bolt, threads[bolt.thread].diameter_mm) for bolt in bolts if bolt.thread in threads
    ] + [(f"the pad of jackscrew {screw.label}", screw, screw.diameter_mm or 0.0) for screw in screws]
    kind = PartKind(hole.kind).label
    for name, place, across_mm in obstacles:
        needed_mm = ((hole.diameter_mm or 0.0) + across_mm) / 2 + WRAP_MM
        apart_mm = math.dist((hole.x_mm, hole.y_mm), (place.x_mm, place.y_mm))
        if apart_mm >= needed_mm:
            continue
        yield Finding(
            level=Level.WARNING,
            code="equipment.hole_over_part",
            message=f"{kind} {hole.label} is {units.shown(apart_mm, 'mm', system)} from {name}, centre to centre; "
            f"{units.shown(needed_mm, 'mm', system)} leave it free, with a wrap of "
            f"{units.shown(WRAP_MM, 'mm', system)}.",
            hint="Check its place, or make the hole elsewhere in the compartment: grout and air must pass it.",
            source="BLOCH-MCM, GROUTJOBS",
            about=hole.label,
            margin=apart_mm - needed_mm,
        )


def _hole_round(bolt: AnchorBolt) -> float:
    """Diameter in the concrete that cannot carry a pad: the sleeve, else the bolt itself."""
    if bolt.sleeve_diameter_mm is not None:
        return bolt.sleeve_diameter_mm
    thread = bolt_tables.threads().get(bolt.thread)
    return thread.diameter_mm if thread else 0.0


def _hole(part: PlatePart) -> compartments.Hole:
    return compartments.Hole(
        kind=_HOLES[PartKind(part.kind)], x_mm=part.x_mm, y_mm=part.y_mm, diameter_mm=part.diameter_mm or 0.0
    )


def _compartment(row: Mapping[str, Any]) -> compartments.Compartment:
    return compartments.Compartment(
        name=row["name"],
        outline=tuple(_points(row["outline"])),
        fill_above_mm=row["fill_above_mm"],
        open_edge=row["open_edge"],
    )


def _points(outline: Sequence[Sequence[float]]) -> list[Point]:
    return [(float(x), float(y)) for x, y in outline]
