"""Inspections that come from phones: entered by the actions of the desk, in the name of who made them."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any
from uuid import UUID

from groutjobs import units
from groutjobs.accounts.queries import holds
from groutjobs.curing import actions, calc, on_phone
from groutjobs.curing.actions import INSPECTORS, FromPhone, InspectionHead
from groutjobs.curing.models import CureInspection, InspectionKind, Verdict
from groutjobs.curing.op_bodies import BOLTS, LEVEL, SOUNDING, Head, bolt_rows, head_of, level_rows, sounding_rows
from groutjobs.curing.queries import effective_inspections, pour_with_machine
from groutjobs.equipment.tolerances import tolerance_of
from groutjobs.errors import NotAllowed, NotConverged, Stale
from groutjobs.pours.models import Pour
from groutjobs.sync.ops import Op
from groutjobs.sync.takers import TAKERS, TOLD, Arrived, Taker

KINDS = {LEVEL: InspectionKind.LEVEL, SOUNDING: InspectionKind.SOUNDING, BOLTS: InspectionKind.BOLTS}
Rows = dict[str, Any]


def register() -> None:
    """Called once when the program starts."""
    for kind, inspection in KINDS.items():
        TAKERS[kind] = Taker(title=str(inspection.label), enter=_enter, words=words, known=known)
    TOLD["inspections"] = on_phone.told


def known(ids: Iterable[UUID]) -> set[UUID]:
    """Those of the ids under which an inspection was entered."""
    rows = CureInspection.objects.filter(op_id__in=list(ids)).values_list("op_id", flat=True)
    return {one for one in rows if one is not None}


def _enter(arrived: Arrived) -> CureInspection:
    op, pour = arrived.op, pour_with_machine().get(pk=arrived.pour.pk)
    judge = arrived.vouched_by or arrived.by
    if not holds(judge, pour.plan.machine.site_id, INSPECTORS):
        raise NotAllowed(f"{judge.name} holds no role that inspects: inspector, engineer or crew lead")
    kind = KINDS[op.kind]
    head, counts = head_of(op.kind, op.body), effective_inspections(pour).get(kind)
    rows, write = ROWS[op.kind](op.body, pour, counts)
    try:
        row: CureInspection = write(
            pour=pour,
            head=_head(arrived, head, counts),
            rows=rows | ({"blobs": list(head.blobs)} if head.blobs else {}),
            by=arrived.by,
            phone=FromPhone(op_id=op.op_id, entered_at=op.clock.corrected(_given(op.entered_at)), how=arrived.how),
        )
    except (Stale, NotConverged) as error:
        raise NotAllowed(str(error)) from error
    return row


def _given(moment: Any) -> Any:
    if moment is None:
        raise NotAllowed("it names no time")
    return moment


def _head(arrived: Arrived, head: Head, counts: CureInspection | None) -> InspectionHead:
    op = arrived.op
    return InspectionHead(
        made_at=op.clock.corrected(_given(op.happened_at)),
        instrument=head.instrument,
        calibration_due_on=head.calibration_due_on,
        verdict=Verdict.OPEN,
        remarks="\n".join(filter(None, (op.reason.strip(), head.remarks))),
        replaces=_replaced(arrived, head, counts),
    )


def _replaced(arrived: Arrived, head: Head, counts: CureInspection | None) -> CureInspection | None:
    """The inspection that this one says it replaces. Who vouches for it at the desk replaces what counts today."""
    if arrived.vouched_by is not None:
        return counts
    if arrived.op.replaces is not None:
        return CureInspection.objects.filter(op_id=arrived.op.replaces).first()
    if head.replaces_id is None:
        return None
    return CureInspection.objects.filter(pk=head.replaces_id, pour=arrived.pour).first()


def _proposed(counts: CureInspection | None, **defaults: Any) -> Rows:
    """Limits as the form of the desk proposes them: those of the inspection before, else the usual ones."""
    before = counts.inputs if counts is not None else {}
    return {name: before.get(name, value) for name, value in defaults.items()}


def _level(body: Mapping[str, Any], pour: Pour, counts: CureInspection | None) -> tuple[Rows, Callable[..., Any]]:
    tolerance = tolerance_of(pour.plan.machine.level_class)
    limits = _proposed(
        counts,
        tilt_limit_mm_m=tolerance.tilt_mm_m,
        coplanarity_limit_mm=tolerance.coplanarity_mm,
        limit_source=tolerance.source,
    )
    return limits | level_rows(body), actions.record_level


def _sounding(body: Mapping[str, Any], pour: Pour, counts: CureInspection | None) -> tuple[Rows, Callable[..., Any]]:
    defaults = calc.SOUNDING_DEFAULTS
    limits = _proposed(
        counts,
        single_void_m2=defaults.single_void_m2,
        total_ratio=defaults.total_share,
        limit_source=defaults.source,
        least_depth_mm=1.0,
        greatest_depth_mm=10.0,
    )
    return limits | {"as_entered": {}} | sounding_rows(body), actions.record_sounding


def _bolts(body: Mapping[str, Any], pour: Pour, counts: CureInspection | None) -> tuple[Rows, Callable[..., Any]]:
    bolts = calc.bolts_of(pour.plan.machine)
    target_mpa, source = calc.default_target(bolts)
    limits = _proposed(counts, target_mpa=target_mpa, target_source=source)
    return limits | bolt_rows(body, calc.order_of(bolts), {bolt["label"] for bolt in bolts}), actions.record_bolts


ROWS = {LEVEL: _level, SOUNDING: _sounding, BOLTS: _bolts}


def words(op: Op, system: str) -> list[tuple[str, str]]:
    """What a phone sent, for the person who decides about it."""
    head = head_of(op.kind, op.body)
    told = [("Instrument", head.instrument), ("Its calibration is due on", head.calibration_due_on.isoformat())]
    if op.kind == LEVEL:
        rows = level_rows(op.body)
        readings = [
            f"{one['label']} {units.shown(one['reading_mm'], 'mm', system, decimals=3)}" for one in rows["points"]
        ]
        told += [("Occasion", calc.OCCASIONS[rows["occasion"]]), ("Readings", ", ".join(readings))]
    elif op.kind == SOUNDING:
        sounds = [tap["sound"] for tap in sounding_rows(op.body)["taps"]]
        told += [(sound.replace("_", " ").capitalize(), str(sounds.count(sound))) for sound in calc.SOUNDS]
    else:
        rows = bolt_rows(op.body, {}, set())
        for one in rows["rounds"]:
            values = [f"{value['label']} {value['entered']['text']}" for value in one["values"]]
            told.append((f"Pass at {one['share_ratio']:.0%}", ", ".join(values) or "nothing entered"))
        told.append(("Final round", "made" if rows["final_round"] else "not made"))
    return told + ([("Remarks", head.remarks)] if head.remarks else [])
