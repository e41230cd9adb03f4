"""All rows and results that stand behind one turnover, read once and handed around."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from groutjobs import units
from groutjobs.curing.models import CureInspection, ReadingImport
from groutjobs.curing.queries import cure_of, effective_inspections, readings_of
from groutjobs.equipment.drawing import MachineDrawing, drawing_of
from groutjobs.equipment.models import Machine
from groutjobs.outages.models import ScheduledPour
from groutjobs.planning.models import GroutLot, PourPlan
from groutjobs.planning.queries import plan_whole
from groutjobs.pours.log import PourLog
from groutjobs.pours.models import Photo, Pour
from groutjobs.pours.queries import log_of, pour_whole
from groutjobs.windows.models import PourHours


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """One pour with everything it rests on."""

    pour: Pour
    plan: PourPlan
    machine: Machine
    drawing: MachineDrawing
    log: PourLog
    photos: tuple[Photo, ...]
    lots: tuple[GroutLot, ...]
    cure: dict[str, Any]
    inspections: tuple[CureInspection, ...]
    reading_imports: tuple[ReadingImport, ...]
    readings: dict[str, list[tuple[dt.datetime, float]]]
    scheduled: ScheduledPour | None
    pour_hours: PourHours | None


def gather(pour: Pour, *, system: str = units.METRIC) -> Gathered:
    """Read it all in a fixed number of queries."""
    whole = pour_whole().get(pk=pour.pk)
    plan = plan_whole().get(pk=whole.plan_id)
    log = log_of(whole, system=system)
    scheduled = (
        ScheduledPour.objects.filter(plan=plan, is_current=True)
        .select_related("chosen_by", "outage", "pour_hours__forecast", "pour_hours__made_by")
        .first()
    )
    used = {batch.lot for batch in log.batches if batch.lot} | ({plan.lot.lot_no} if plan.lot else set())
    return Gathered(
        pour=whole,
        plan=plan,
        machine=plan.machine,
        drawing=drawing_of(plan.machine),
        log=log,
        photos=tuple(Photo.objects.filter(pour=pour).select_related("added_by")),
        lots=tuple(GroutLot.objects.filter(grout_system=plan.data_sheet.grout_system, lot_no__in=used)),
        cure=cure_of(whole, system=system),
        inspections=tuple(effective_inspections(whole).values()),
        reading_imports=tuple(ReadingImport.objects.filter(pour=pour).select_related("brought_by").order_by("pk")),
        readings=readings_of(whole),
        scheduled=scheduled,
        pour_hours=scheduled.pour_hours if scheduled else _latest_pour_hours(plan),
    )


def _latest_pour_hours(plan: PourPlan) -> PourHours | None:
    return PourHours.objects.filter(plan=plan).select_related("forecast", "made_by").first()
