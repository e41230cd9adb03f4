"""Writing sites, machines, foundations and plates. Children are replaced as a whole and recorded with their parent.

Changing the geometry of a machine whose plan is approved is allowed: the plan keeps the inputs it was approved with,
and the record shows what changed, by whom and why.
"""

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from django.db.models import Model

from groutjobs.accounts.models import Membership, Role, User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.audit.models import AuditedRow
from groutjobs.equipment import calc, layout
from groutjobs.equipment.geometry import baseplate_of
from groutjobs.equipment.layout import Rectangle
from groutjobs.equipment.models import (
    Baseplate,
    Foundation,
    Machine,
    Site,
    SurveyPoint,
)
from groutjobs.errors import NotAllowed

Columns = Mapping[str, Any]
Rows = Sequence[Mapping[str, Any]]
Row = TypeVar("Row", bound=AuditedRow)
Part = TypeVar("Part", Foundation, Baseplate)

POINT_COLUMNS = ("x_mm", "y_mm", "elevation_mm")
BOLT_COLUMNS = (
    "label", "x_mm", "y_mm", "thread", "grade", "free_length_mm", "sleeve_diameter_mm", "sleeve_depth_mm",
)  # fmt: skip
COMPARTMENT_COLUMNS = ("name", "outline", "fill_above_mm", "open_edge")
PART_COLUMNS = ("kind", "label", "x_mm", "y_mm", "diameter_mm", "length_mm", "width_mm", "pitch_mm")


@action
def add_site(*, by: User | None, columns: Columns) -> Site:
    """A new site. Whoever adds it becomes its first administrator, so that somebody can let others in.

    Nobody adds the very first one of an installation: a command does, and prints an invitation.
    """
    site = Site.objects.create(**columns)
    record(site, by=by, kind="site.added")
    if by is not None:
        membership = Membership.objects.create(user=by, site=site, role=Role.ADMINISTRATOR)
        record(membership, by=by, kind="role.given")
    return site


@action
def change_site(*, site: Site, by: User, columns: Columns, reason: str = "") -> Site:
    return _changed(site, by, columns, "site.changed", reason)


@action
def add_machine(*, site: Site, by: User, columns: Columns) -> Machine:
    """A new machine; NotAllowed where its tag is already used at the site, in capitals or not."""
    _require_free_tag(site, str(columns["tag"]), None)
    machine = Machine.objects.create(site=site, **columns)
    record(machine, by=by, kind="machine.added")
    return machine


@action
def change_machine(*, machine: Machine, by: User, columns: Columns, reason: str = "") -> Machine:
    _require_free_tag(machine.site, str(columns.get("tag", machine.tag)), machine)
    return _changed(machine, by, columns, "machine.changed", reason)


@action
def save_foundation(
    *, machine: Machine, by: User, columns: Columns, survey_points: Rows, bolts: Rows, reason: str = ""
) -> Foundation:
    """Enter or change the foundation with all its survey points and bolts.

    A bolt row may leave out its sleeve. Raises OutOfRange for a point or bolt that is not on the block, Unusable for a
    thread that the table does not have.
    """
    points = [_row(row, POINT_COLUMNS) for row in survey_points]
    bolt_rows = [
        _row(row, BOLT_COLUMNS) | {"thread": calc.read_thread(row["thread"]), "grade": calc.read_grade(row["grade"])}
        for row in bolts
    ]
    foundation, before = _opened(Foundation, machine, columns)
    places = [("survey point", row["x_mm"], row["y_mm"]) for row in points]
    places += [(f"bolt {row['label']}", row["x_mm"], row["y_mm"]) for row in bolt_rows]
    calc.require_on_block(foundation.length_mm, foundation.width_mm, places)
    foundation.save()
    extra = _replace_points(foundation, points)
    extra |= _matched(foundation.bolts, BOLT_COLUMNS, ("label",), bolt_rows)
    kind = "foundation.changed" if before else "foundation.added"
    record(foundation, by=by, kind=kind, before=before, reason=reason, extra=extra or None)
    return foundation


@action
def save_plate(
    *, machine: Machine, by: User, columns: Columns, compartments: Rows, parts: Rows, reason: str = ""
) -> Baseplate:
    """Enter or change the plate with all its compartments and parts.

    Raises Unusable or OutOfRange where outline, compartments and parts contradict each other.
    """
    compartment_rows = [
        {"fill_above_mm": 0.0, "open_edge": False}
        | _row(row, COMPARTMENT_COLUMNS, leave_out=True)
        | {"outline": _corners(row["outline"])}
        for row in compartments
    ]
    part_rows = [_row(row, PART_COLUMNS) for row in parts]
    plate, before = _opened(Baseplate, machine, columns)
    plate.outline = _corners(plate.outline)
    calc.require_geometry(plate.outline, compartment_rows, part_rows)
    plate.save()
    extra = _matched(plate.compartments, COMPARTMENT_COLUMNS, ("name",), compartment_rows)
    extra |= _matched(plate.parts, PART_COLUMNS, ("kind", "label"), part_rows)
    kind = "plate.changed" if before else "plate.added"
    record(plate, by=by, kind=kind, before=before, reason=reason, extra=extra or None)
    return plate


@action
def start_from_rectangle(*, machine: Machine, by: User, columns: Columns, rectangle: Rectangle) -> Baseplate:
    """A first plate from a rectangle; `columns` are those of the plate without its outline."""
    if baseplate_of(machine) is not None:
        raise NotAllowed(f"{machine.tag} has a plate already. Change that plate instead of starting a new one.")
    return save_plate(
        machine=machine,
        by=by,
        columns={**columns, "outline": layout.outline_of(rectangle)},
        compartments=layout.compartments_of(rectangle),
        parts=layout.parts_of_rectangle(rectangle),
        reason="started from a rectangle",
    )


def _changed(row: Row, by: User, columns: Columns, kind: str, reason: str) -> Row:
    before = snapshot(row)
    _set(row, columns)
    row.save()
    record(row, by=by, kind=kind, before=before, reason=reason)
    return row


def _set(row: Model, columns: Columns) -> None:
    known = {field.attname for field in row._meta.concrete_fields}
    for name, value in columns.items():
        if name not in known:
            raise TypeError(f"{row._meta.object_name} has no column {name}")
        setattr(row, name, value)


def _opened(model: type[Part], machine: Machine, columns: Columns) -> tuple[Part, dict[str, Any] | None]:
    """The row of this machine with the new columns set but not saved, and its snapshot before; None for a new row."""
    row = model.objects.select_for_update().filter(machine=machine).first()
    before = snapshot(row) if row else None
    row = row or model()
    row.machine = machine
    _set(row, columns)
    return row, before


def _row(given: Mapping[str, Any], columns: Sequence[str], *, leave_out: bool = False) -> dict[str, Any]:
    """The named columns of a row given by a form or a script; what is not given is None, or left out."""
    unknown = set(given) - set(columns)
    if unknown:
        raise TypeError(f"no column {', '.join(sorted(unknown))}; there are {', '.join(columns)}")
    return {name: given.get(name) for name in columns if name in given or not leave_out}


def _corners(outline: Sequence[Sequence[float]]) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in outline]


def _replace_points(foundation: Foundation, wanted: list[dict[str, Any]]) -> dict[str, Any]:
    old = list(foundation.survey_points.values(*POINT_COLUMNS))
    if old == wanted:
        return {}
    foundation.survey_points.all().delete()
    SurveyPoint.objects.bulk_create(SurveyPoint(foundation=foundation, **row) for row in wanted)
    return {"survey points": {"old": old, "new": wanted}}


def _matched(
    held: Any, columns: Sequence[str], key: Sequence[str], wanted: list[dict[str, Any]]
) -> dict[str, dict[str, Any]]:
    """Bring the children of a row (`held` is their manager) to what is wanted, and say what changed.

    A child whose key columns stay the same keeps its row.
    """
    name = held.model._meta.verbose_name_plural
    old = list(held.values(*columns))
    if old == wanted:
        return {}
    fresh = {tuple(row[column] for column in key): row for row in wanted}
    if len(fresh) != len(wanted):
        raise NotAllowed(f"Two {name} have the same label. Give each its own label and save again.")
    rows = {tuple(getattr(row, column) for column in key): row for row in held.all()}
    held.filter(pk__in=[row.pk for label, row in rows.items() if label not in fresh]).delete()
    for label, values in fresh.items():
        if label in rows:
            _set(rows[label], values)
            rows[label].save()
        else:
            held.create(**values)
    return {name: {"old": old, "new": wanted}}


def _require_free_tag(site: Site, tag: str, machine: Machine | None) -> None:
    same = Machine.objects.filter(site=site, tag__iexact=tag)
    if (same.exclude(pk=machine.pk) if machine else same).exists():
        raise NotAllowed(f"Tag {tag} is already used at {site.name}. Open that machine, or give this one its own tag.")
