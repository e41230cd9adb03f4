"""The paper sheet of a pour: one table for each kind of entry, its columns in the order of the screens."""

from dataclasses import dataclass

from groutjobs import units
from groutjobs.limits import LIMITS
from groutjobs.pours.bodies import BODIES, Slot, SlotKind, title_of
from groutjobs.pours.cautions import CAUTION_END, CAUTIONS
from groutjobs.pours.log import PourLog
from groutjobs.pours.models import EntryKind

SPARE_BATCHES = 3
"""Empty batch rows beyond the plan, so that a spare kit or a re-mixed batch has its line [GROUTJOBS]."""
# kind, empty rows; steps of a batch take one row for each batch
TABLES = (
    (EntryKind.READING, 8),
    (EntryKind.LIQUIDS_STARTED, 0),
    (EntryKind.AGGREGATE_IN, 0),
    (EntryKind.WETTED_OUT, 0),
    (EntryKind.PLACED, 0),
    (EntryKind.DISCARDED, 2),
    (EntryKind.COMPARTMENT_FULL, 0),
    (EntryKind.LEAK, 3),
    (EntryKind.LEAK_CLOSED, 3),
    (EntryKind.STOPPED, 2),
    (EntryKind.RESUMED, 2),
    (EntryKind.SAMPLE, 3),
    (EntryKind.NOTE, 4),
    (EntryKind.DECLARED_COMPLETE, 1),
)
OF_A_BATCH = {EntryKind.LIQUIDS_STARTED, EntryKind.AGGREGATE_IN, EntryKind.WETTED_OUT, EntryKind.PLACED}


@dataclass(frozen=True)
class PaperPart:
    """One table: its words, what can hurt, the heads of its columns, and the first cell of each row."""

    title: str
    caution: str
    heads: tuple[str, ...]
    rows: tuple[str, ...]

    @property
    def blanks(self) -> tuple[str, ...]:
        """The cells after the first, which are left to the pen."""
        return self.heads[1:]


def paper_parts(log: PourLog) -> list[PaperPart]:
    return [_part(log, kind, count) for kind, count in TABLES]


def _part(log: PourLog, kind: EntryKind, count: int) -> PaperPart:
    with_epoxy, with_cement = CAUTIONS.get(kind, ("", ""))
    caution = with_epoxy if log.grout_kind == "epoxy" else with_cement
    slots = [slot for slot in BODIES[kind] if not slot.cement_only or log.grout_kind == "cement"]
    return PaperPart(
        title=title_of(kind, log.grout_kind),
        caution=f"{caution} {CAUTION_END}" if caution else "",
        heads=(*(_head(slot) for slot in slots), "Time", "Name"),
        rows=_rows(log, kind, count),
    )


def _rows(log: PourLog, kind: EntryKind, count: int) -> tuple[str, ...]:
    if kind in OF_A_BATCH:
        batches = -(-log.kits_total // max(log.kits_per_batch, 1)) + SPARE_BATCHES
        return tuple(str(number) for number in range(1, batches + 1))
    if kind == EntryKind.COMPARTMENT_FULL:
        return tuple(fill.name for fill in log.fills)
    return ("",) * count


def _head(slot: Slot) -> str:
    if slot.kind is SlotKind.NUMBER and LIMITS[slot.limit_key].suffix:
        return f"{slot.label}, {units.UNITS_OF[LIMITS[slot.limit_key].suffix][0].label} or write the unit"
    if slot.kind is SlotKind.CHOICE:
        return f"{slot.label}: {' / '.join(words for _, words in slot.choices)}"
    return slot.label
