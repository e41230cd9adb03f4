"""What the engineering says about a pour: the only file of this stage that calls it. Values in, values out."""

import datetime as dt
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from groutjobs import units
from groutjobs.engineering.batching import GAP_BLOCK_SHARE, GAP_WARNING_SHARE
from groutjobs.engineering.materials import WorkingLifePoint, working_life_min
from groutjobs.engineering.psychrometrics import dew_point_spread_k
from groutjobs.engineering.reconciliation import ALARM_Z, FillReading, compare, reconciliation_findings
from groutjobs.errors import OutOfRange, Unusable
from groutjobs.findings import Finding, Level
from groutjobs.planning.models import DataSheet, PourPlan
from groutjobs.pours.log import Batch, Fill, Reading

DEW_POINT_SPREAD_K = 3.0
SAME_TIME_H = 2.0
"""Readings of air and of a surface are compared when no more than this lies between them [GROUTJOBS]."""


@dataclass(frozen=True)
class PlannedFill:
    """What a compartment takes by the plan, with its share of shoulder and chamfer, and one standard deviation."""

    name: str
    takeoff_l: float
    sd_l: float


@dataclass(frozen=True)
class StoredLot:
    lot_no: str
    expires_on: dt.date


@dataclass(frozen=True)
class Basis:
    """What a pour is judged against: the frozen result of its plan, its data sheet, and the lots in the store."""

    grout_kind: str
    data_sheet: str
    fills: tuple[PlannedFill, ...]
    net_l: float
    net_sd_l: float
    kits_total: int
    kits_per_batch: int
    kit_yield_l: float
    working_life: tuple[WorkingLifePoint, ...]
    planned_grout_c: float
    placing_min_c: float
    placing_max_c: float
    lots: tuple[StoredLot, ...]
    zone: dt.tzinfo

    @property
    def places(self) -> tuple[str, ...]:
        return tuple(fill.name for fill in self.fills)


def basis_of(plan: PourPlan, lots: Sequence[StoredLot]) -> Basis:
    """The basis of an approved plan. Unusable where the plan holds no takeoff by compartment."""
    sheet, result = plan.data_sheet, plan.result
    regions = result.get("compartments") or []
    if not regions or min(region["volume_l"] for region in regions) <= 0:
        raise Unusable("pour plan", "holds no takeoff by compartment; make a new revision", source="GROUTJOBS")
    share = result["net_l"] / sum(region["volume_l"] for region in regions)
    return Basis(
        grout_kind=sheet.grout_system.kind,
        data_sheet=str(sheet),
        fills=tuple(PlannedFill(row["name"], row["volume_l"] * share, row["sd_l"] * share) for row in regions),
        net_l=result["net_l"],
        net_sd_l=result["net_sd_l"],
        kits_total=result["kits_total"],
        kits_per_batch=plan.kits_per_batch,
        kit_yield_l=sheet.kit_yield_l,
        working_life=_working_life_points(sheet),
        planned_grout_c=plan.planned_grout_c,
        placing_min_c=sheet.placing_min_c,
        placing_max_c=sheet.placing_max_c,
        lots=tuple(lots),
        zone=plan.machine.site.tz,
    )


def _working_life_points(sheet: DataSheet) -> tuple[WorkingLifePoint, ...]:
    return tuple(WorkingLifePoint(float(temp_c), float(minutes)) for temp_c, minutes in sheet.working_life)


@dataclass(frozen=True)
class BatchLife:
    """Minutes of working life and the words they rest on; None where the data sheet does not reach."""

    minutes: float | None
    basis: str
    source: str


def batch_life(basis: Basis, grout_c: float | None, *, system: str) -> BatchLife:
    """Working life at the measured temperature, or at the planned one until there is a measurement."""
    temp_c = basis.planned_grout_c if grout_c is None else grout_c
    shown = units.shown(temp_c, "c", system)
    try:
        life = working_life_min(basis.working_life, temp_c)
    except (OutOfRange, Unusable) as error:
        return BatchLife(None, str(error), "DATASHEET")
    measured = f"measured {shown}" if grout_c is not None else f"planned {shown}, until the grout is measured"
    return BatchLife(life.working_life_min, f"{measured}; {life.basis}", f"DATASHEET, {life.source}")


def fill_findings(fill: Fill, batches: Sequence[Batch], *, system: str) -> list[Finding]:
    """Leak and trapped air by the levels seen, and more grout in a compartment than it can hold."""
    portions = sorted(
        (portion for batch in batches for portion in batch.portions if portion.compartment == fill.name),
        key=lambda portion: (portion.at, str(portion.entry_id)),
    )
    if not portions:
        return []
    placed_l, levels = 0.0, []
    for count, portion in enumerate(portions, 1):
        placed_l += portion.volume_l
        if portion.filled_ratio is not None:
            levels.append(FillReading(placed_l=placed_l, batches=count, filled_ratio=portion.filled_ratio))
    if fill.full_at is not None:
        levels.append(FillReading(placed_l=placed_l, batches=len(portions), filled_ratio=1.0))
    found = reconciliation_findings(fill.name, levels, fill.takeoff_l, system=system)
    return found or _overfull(fill, len(portions), system)


def _overfull(fill: Fill, count: int, system: str) -> list[Finding]:
    against_full = compare(FillReading(placed_l=fill.placed_l, batches=count, filled_ratio=1.0), fill.takeoff_l)
    if against_full.z <= ALARM_Z:
        return []
    more = units.shown(against_full.difference_l, "l", system)
    return [
        Finding(
            level=Level.WARNING,
            code="fill.over_takeoff",
            message=f"Compartment {fill.name} has taken {more} more than its takeoff of "
            f"{units.shown(fill.takeoff_l, 'l', system)}, beyond {ALARM_Z:g} standard deviations.",
            hint="Look for a leak in forms, sleeves and neighbouring compartments before the next batch.",
            source="GROUTJOBS",
            about=fill.name,
            margin=ALARM_Z - against_full.z,
        )
    ]


def gap_findings(batches: Sequence[Batch]) -> list[Finding]:
    """Pauses between batches placed, against the working life of the grout that lies open."""
    placed = sorted((batch.placed_at, batch.number, batch) for batch in batches if batch.placed_at)
    found = []
    for (earlier_at, _, earlier), (later_at, _, later) in itertools.pairwise(placed):
        gap_min = (later_at - earlier_at).total_seconds() / 60
        if earlier.working_life_min and gap_min > GAP_WARNING_SHARE * earlier.working_life_min:
            found.append(_gap(earlier.number, later.number, gap_min, earlier.working_life_min))
    return found


def _gap(earlier: int, later: int, gap_min: float, life_min: float) -> Finding:
    share = gap_min / life_min
    limit = GAP_BLOCK_SHARE if share > GAP_BLOCK_SHARE else GAP_WARNING_SHARE
    return Finding(
        level=Level.WARNING,
        code="batch.gap",
        message=f"{gap_min:.0f} min passed between placing batch {earlier} and batch {later}, {share:.0%} of the "
        f"working life of {life_min:.0f} min; more than {limit:.0%}.",
        hint="Look for a cold joint there, and sound this place with care.",
        source="GROUTJOBS",
        about=f"batch {later}",
        margin=limit - share,
    )


def dew_point_findings(readings: Sequence[Reading], *, system: str) -> list[Finding]:
    """The latest surface readings against the dew point of the latest air reading near them in time."""
    airs = [
        (reading, reading.humidity_ratio) for reading in readings if reading.what == "air" and reading.humidity_ratio
    ]
    if not airs:
        return []
    air, humidity_ratio = airs[-1]
    found = []
    for what in ("plate", "concrete"):
        surface = next((reading for reading in reversed(readings) if reading.what == what), None)
        if surface is None or abs((surface.at - air.at).total_seconds()) > SAME_TIME_H * 3600:
            continue
        spread_k = dew_point_spread_k(surface.temp_c, air.temp_c, humidity_ratio)
        if spread_k < DEW_POINT_SPREAD_K:
            found.append(_too_near_dew_point(what, spread_k, system))
    return found


def _too_near_dew_point(what: str, spread_k: float, system: str) -> Finding:
    return Finding(
        level=Level.WARNING,
        code="reading.dew_point",
        message=f"The {what} is {units.shown(spread_k, 'k', system)} above the dew point, less than "
        f"{units.shown(DEW_POINT_SPREAD_K, 'k', system)}; water may stand on it.",
        hint="Wipe the surface, warm it or wait, and read again.",
        source="ISO8502-4",
        about=what,
        margin=spread_k - DEW_POINT_SPREAD_K,
    )
