"""All rows and results that stand behind one turnover, read once and handed around."""

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Count, Exists, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from groutjobs import units
from groutjobs.accounts.queries import roles_at
from groutjobs.curing.evidence import releases_of, results_of
from groutjobs.curing.models import CureInspection, ReadingImport
from groutjobs.curing.queries import ReadWith, cure_of, effective_inspections, read_with_of, readings_of
from groutjobs.curing.release_models import MilestoneRelease
from groutjobs.curing.sample_models import SampleResult
from groutjobs.curing.watch_models import ReadingAside
from groutjobs.equipment.drawing import MachineDrawing, drawing_of
from groutjobs.nonconformances.models import Nonconformance
from groutjobs.nonconformances.queries import nonconformances
from groutjobs.outages.models import ScheduledPour
from groutjobs.planning.models import GroutLot, PourPlan
from groutjobs.planning.queries import plan_whole
from groutjobs.pours.log import PourLog
from groutjobs.pours.models import Photo, Pour, PourEntry
from groutjobs.pours.queries import log_of
from groutjobs.signing.models import PourRecord
from groutjobs.sync.models import PhoneOp
from groutjobs.sync.queries import waiting_ops
from groutjobs.windows.models import PourHours


@dataclass(frozen=True)
class Owed:
    """What other tables hold about a pour that its log does not show, read in one query."""

    record: PourRecord | None
    undecided: int
    waiting: int
    has_instruments: bool


def with_owed(pours: QuerySet[Pour]) -> QuerySet[Any]:
    """Pours with their record and with counts of what waits, for `owed_by`."""
    late = PourEntry.objects.filter(pour=OuterRef("pk"), rev__gt=OuterRef("record__last_rev"), late_decision=None)
    ops = waiting_ops(PhoneOp.objects.filter(pour=OuterRef("pk"))).select_related(None)
    read_with = ReadingImport.objects.filter(pour=OuterRef("pk"), read_with__isnull=False)
    return pours.select_related("record").annotate(
        undecided=_count_of(late), waiting=_count_of(ops), has_instruments=Exists(read_with)
    )


def owed_by(pour: Any) -> Owed:
    """No query for a pour of `with_owed`, one for another."""
    row = pour if hasattr(pour, "has_instruments") else with_owed(Pour.objects.all()).get(pk=pour.pk)
    return Owed(getattr(row, "record", None), row.undecided, row.waiting, row.has_instruments)


def _count_of(rows: QuerySet[Any]) -> Coalesce:
    """How many rows there are of the pour that is asked about, inside another query."""
    counted = rows.order_by().values("pour").annotate(count=Count("pk")).values("count")
    return Coalesce(Subquery(counted), 0)


@dataclass(frozen=True, kw_only=True)
class Standing:
    """What the readiness list looks at."""

    pour: Pour
    system: str
    log: PourLog
    photos: tuple[Photo, ...]
    cure: dict[str, Any]
    inspections: tuple[CureInspection, ...]
    roles: dict[int, tuple[str, ...]]
    nonconformances: tuple[Nonconformance, ...] = ()
    releases: tuple[MilestoneRelease, ...] = ()
    samples: tuple[SampleResult, ...] = ()

    @cached_property
    def reading_imports(self) -> tuple[ReadingImport, ...]:
        rows = ReadingImport.objects.filter(pour=self.pour).select_related("brought_by")
        return tuple(rows.order_by("pk"))

    @cached_property
    def read_with(self) -> dict[int, ReadWith]:
        return read_with_of(self.pour, self.reading_imports)

    @cached_property
    def owed(self) -> "Owed":
        return owed_by(self.pour)


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """One pour with everything it rests on, for the manifest."""

    standing: Standing
    plan: PourPlan
    drawing: MachineDrawing
    lots: tuple[GroutLot, ...]
    reading_imports: tuple[ReadingImport, ...]
    readings_aside: tuple[ReadingAside, ...]
    readings: dict[str, list[tuple[dt.datetime, float]]]
    scheduled: ScheduledPour | None
    pour_hours: PourHours | None


def standing_of(pour: Pour, *, system: str = units.METRIC) -> Standing:
    """Log, photos, cure, inspections and who holds which role, of a pour from pours.queries.pour_whole()."""
    return Standing(
        pour=pour,
        system=system,
        log=log_of(pour, system=system),
        photos=tuple(Photo.objects.filter(pour=pour).select_related("added_by")),
        cure=cure_of(pour, system=system),
        inspections=tuple(effective_inspections(pour).values()),
        roles=roles_at(pour.plan.machine.site_id),
        nonconformances=tuple(nonconformances().filter(pour=pour).order_by("number")),
        releases=tuple(releases_of(pour)),
        samples=tuple(results_of(pour)),
    )


def gather(pour: Pour, *, system: str = units.METRIC) -> Gathered:
    """Read it all in a fixed number of queries."""
    standing = standing_of(pour, system=system)
    plan = plan_whole().get(pk=pour.plan_id)
    scheduled = (
        ScheduledPour.objects.filter(plan=plan, is_current=True)
        .select_related("chosen_by", "outage", "pour_hours__forecast", "pour_hours__made_by")
        .first()
    )
    used = {batch.lot for batch in standing.log.batches if batch.lot} | ({plan.lot.lot_no} if plan.lot else set())
    return Gathered(
        standing=standing,
        plan=plan,
        drawing=drawing_of(plan.machine),
        lots=tuple(GroutLot.objects.filter(grout_system=plan.data_sheet.grout_system, lot_no__in=used)),
        reading_imports=standing.reading_imports,
        readings_aside=tuple(ReadingAside.objects.filter(pour=pour).select_related("set_by", "back_by").order_by("pk")),
        readings=readings_of(pour),
        scheduled=scheduled,
        pour_hours=scheduled.pour_hours if scheduled else _latest_pour_hours(plan),
    )


def _latest_pour_hours(plan: PourPlan) -> PourHours | None:
    return PourHours.objects.filter(plan=plan, is_trial=False).select_related("forecast", "made_by").first()
