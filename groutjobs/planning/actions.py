"""Writes of grout systems, data sheets, lots and pour plans. The states of a plan are kept here."""

from typing import Any, TypeVar

from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.audit.models import AuditedRow
from groutjobs.equipment.models import Machine, Site
from groutjobs.equipment.queries import machine_whole
from groutjobs.errors import NotAllowed
from groutjobs.planning.calc import check_data_sheet, compute
from groutjobs.planning.hold_points import standard_points
from groutjobs.planning.models import DataSheet, GroutKind, GroutLot, GroutSystem, PlanPoint, PlanState, PourPlan
from groutjobs.planning.queries import lacks_of, promised_kits, sheets_in_use

Row = TypeVar("Row", bound=AuditedRow)
PLAN_COLUMNS = (
    "data_sheet", "lot", "clearance_mm", "rise_mm", "chamfer_mm", "head_mm", "waste_ratio", "spare_kits", "mixers",
    "crew", "place_min", "turnaround_min", "kits_per_batch", "planned_grout_c", "pour_on", "snug_kn", "machine_mounted",
    "material_c", "conditioning_store_c", "core_c", "conditioning_h",
)  # fmt: skip
POINT_COLUMNS = (
    "position", "step", "checked", "recorded", "acceptance", "code", "witness_role", "before_pour", "source",
)  # fmt: skip
EDITABLE_POINT_COLUMNS = frozenset({"acceptance", "code", "witness_role", "source"})
AUTHORITY_LENGTH = 20


@action
def add_grout_system(*, site: Site, name: str, kind: str, supplier: str, by: User) -> GroutSystem:
    system = GroutSystem.objects.create(site=site, name=name, kind=kind, supplier=supplier)
    record(system, by=by, kind="grout_system.added")
    return system


@action
def add_data_sheet(*, grout_system: GroutSystem, by: User, **columns: Any) -> DataSheet:
    """A revision of the data sheet; columns are those of DataSheet. Raises Unusable where its values contradict."""
    check_data_sheet(GroutKind(grout_system.kind), columns)
    sheet = DataSheet.objects.create(grout_system=grout_system, **columns)
    record(sheet, by=by, kind="data_sheet.added")
    return sheet


@action
def change_data_sheet(*, sheet: DataSheet, by: User, reason: str = "", **columns: Any) -> DataSheet:
    """Correct a data sheet that no approved plan rests on yet."""
    require_not_fixed(sheet)
    check_data_sheet(GroutKind(sheet.grout_system.kind), columns)
    return _changed(sheet, columns, by=by, kind="data_sheet.changed", reason=reason)


@action
def add_lot(*, grout_system: GroutSystem, by: User, **columns: Any) -> GroutLot:
    lot = GroutLot.objects.create(grout_system=grout_system, **columns)
    record(lot, by=by, kind="lot.added")
    return lot


@action
def change_lot(*, lot: GroutLot, by: User, reason: str = "", **columns: Any) -> GroutLot:
    """Count a lot again, or correct its store. Approved plans keep what they were approved with."""
    return _changed(lot, columns, by=by, kind="lot.changed", reason=reason)


@action
def make_plan(*, machine: Machine, by: User, **columns: Any) -> PourPlan:
    """The first plan of a machine, with the standard hold points; columns are PLAN_COLUMNS and as_entered.

    Raises OutOfRange or Unusable where the engineering refuses an input.
    """
    whole = _ready(machine)
    newest = machine.plans.order_by("-revision").first()
    if newest is not None:
        raise NotAllowed(
            f"{machine.tag} already has revision {newest.revision} of its plan, {newest.get_state_display().lower()}. "
            + ("Change that one." if newest.state == PlanState.DRAFTED else "Make a new revision from it.")
        )
    plan = PourPlan(machine=machine, made_by=by, **columns)
    _require_own_material(plan)
    plan.result = compute(plan, whole, promised_kits=promised_kits(plan))
    plan.save()
    record(plan, by=by, kind="plan.made")
    _seed_points(plan, [point.columns() for point in standard_points(_kind(plan))], by=by)
    return plan


@action
def change_plan(*, plan: PourPlan, by: User, **columns: Any) -> PourPlan:
    """Change a drafted plan and compute it again. Changing the kind of grout brings that kind's hold points."""
    plan = _drafted(plan)
    before, old_kind = snapshot(plan), _kind(plan)
    for name, value in columns.items():
        setattr(plan, name, value)
    _require_own_material(plan)
    plan.result = compute(plan, _ready(plan.machine), promised_kits=promised_kits(plan))
    plan.save()
    record(plan, by=by, kind="plan.changed", before=before)
    if _kind(plan) != old_kind:
        plan.points.all().delete()
        _seed_points(plan, [point.columns() for point in standard_points(_kind(plan))], by=by)
    return plan


@action
def change_point(*, point: PlanPoint, by: User, reason: str = "", **columns: Any) -> PlanPoint:
    """Change acceptance, code, witness or source of one hold point of a drafted plan."""
    _drafted(point.plan)
    foreign = columns.keys() - EDITABLE_POINT_COLUMNS
    if foreign:
        raise NotAllowed(
            f"{', '.join(sorted(foreign))} of a hold point is fixed; a new line of its own is not made here."
        )
    return _changed(point, columns, by=by, kind="plan_point.changed", reason=reason)


@action
def approve_plan(*, plan: PourPlan, by: User, note: str = "") -> PourPlan:
    """Freeze a drafted plan with inputs, result, engine version and sources; the approved one before it is superseded.

    What stands in the way refuses the approval, unless `note` says on whose authority it is accepted.
    """
    plan = _drafted(plan)
    plan.result = compute(plan, _ready(plan.machine), promised_kits=promised_kits(plan))
    _require_authority(plan, note)
    before = snapshot(plan)
    for earlier in PourPlan.objects.select_for_update().filter(machine=plan.machine_id, state=PlanState.APPROVED):
        _changed(
            earlier,
            {"state": PlanState.SUPERSEDED},
            by=by,
            kind="plan.superseded",
            reason=f"revision {plan.revision} was approved",
        )
    plan.state, plan.approved_by, plan.approved_at, plan.approval_note = PlanState.APPROVED, by, timezone.now(), note
    plan.save()
    points = [snapshot(point) for point in plan.points.all()]
    record(plan, by=by, kind="plan.approved", before=before, reason=note, extra={"points": points})
    return plan


@action
def revise_plan(*, plan: PourPlan, by: User, reason: str) -> PourPlan:
    """A drafted copy of an approved plan with its hold points; the approved one holds until the copy is approved."""
    if plan.state != PlanState.APPROVED:
        raise NotAllowed(f"Revision {plan.revision} is {plan.get_state_display().lower()}; revise the approved one.")
    drafted = PourPlan.objects.filter(machine=plan.machine_id, state=PlanState.DRAFTED).first()
    if drafted is not None:
        raise NotAllowed(f"Revision {drafted.revision} is already drafted; change that one.")
    newest = PourPlan.objects.filter(machine=plan.machine_id).order_by("-revision").values_list("revision", flat=True)
    copied = {name: getattr(plan, name) for name in (*PLAN_COLUMNS, "as_entered")}
    revised = PourPlan(machine=plan.machine, made_by=by, revision=newest[0] + 1, **copied)
    revised.result = compute(revised, _ready(plan.machine), promised_kits=promised_kits(revised))
    revised.save()
    record(revised, by=by, kind="plan.revised", reason=reason, extra={"from_revision": plan.revision})
    _seed_points(revised, [{name: getattr(row, name) for name in POINT_COLUMNS} for row in plan.points.all()], by=by)
    return revised


def require_not_fixed(sheet: DataSheet) -> None:
    if sheets_in_use([sheet.pk]):
        raise NotAllowed(
            f"{sheet} is fixed: an approved plan rests on it. Add a new revision of the data sheet, and of the plan."
        )


def require_drafted(plan: PourPlan) -> None:
    if plan.state != PlanState.DRAFTED:
        raise NotAllowed(
            f"{plan} is {plan.get_state_display().lower()} and cannot be changed. Make a new revision from the "
            "approved one."
        )


def blockers_in(result: dict[str, Any]) -> list[str]:
    """What stands in the way of an approval, in words."""
    return [finding["message"] for finding in result.get("findings", []) if finding["level"] == "blocker"]


def _require_own_material(plan: PourPlan) -> None:
    system = plan.data_sheet.grout_system
    if system.site_id != plan.machine.site_id:
        raise NotAllowed(f"{system} belongs to another site; add it with its data sheet to the site of the machine.")
    if plan.lot is not None and plan.lot.grout_system_id != system.pk:
        raise NotAllowed(f"Lot {plan.lot.lot_no} is not of {system}; choose one of its lots.")


def _require_authority(plan: PourPlan, note: str) -> None:
    blockers = blockers_in(plan.result)
    if blockers and len(note.strip()) < AUTHORITY_LENGTH:
        raise NotAllowed(
            f"{plan} is not approved; this stands in the way: {' '.join(blockers)} Mend it, or write on whose "
            f"authority it is accepted, in {AUTHORITY_LENGTH} characters or more."
        )


def _ready(machine: Machine) -> Machine:
    whole = machine_whole().get(pk=machine.pk)
    lacks = lacks_of(whole)
    if lacks:
        raise NotAllowed(
            f"{machine.tag} cannot be planned yet. Enter " + "; ".join(f"{lack.part}: {lack.why}" for lack in lacks)
        )
    return whole


def _drafted(plan: PourPlan) -> PourPlan:
    """The row as it is now, locked; refused unless it is drafted."""
    now = PourPlan.objects.select_for_update().get(pk=plan.pk)
    require_drafted(now)
    return now


def _kind(plan: PourPlan) -> GroutKind:
    return GroutKind(plan.data_sheet.grout_system.kind)


def _seed_points(plan: PourPlan, rows: list[dict[str, Any]], *, by: User) -> None:
    for position, columns in enumerate(rows, 1):
        PlanPoint.objects.create(plan=plan, **{"position": position} | columns)
    lines = [f"{row.code} {row.position}. {row.step}" for row in plan.points.all()]
    record(plan, by=by, kind="plan.points_set", before=snapshot(plan), extra={"points": lines})


def _changed(row: Row, columns: dict[str, Any], *, by: User, kind: str, reason: str = "") -> Row:
    before = snapshot(row)
    for name, value in columns.items():
        setattr(row, name, value)
    row.save()
    record(row, by=by, kind=kind, before=before, reason=reason)
    return row
