"""What the facts of a pour mean: findings, what is missing, and the state. Entries are stored first and judged here."""

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from groutjobs import units
from groutjobs.findings import Finding, Level
from groutjobs.pours import calc
from groutjobs.pours.bodies import FROM_PAPER, READ_ON, title_of
from groutjobs.pours.log import Batch, Fact, HoldPoint, PourLog
from groutjobs.pours.merge import ONCE_IN_A_BATCH, SAME_MOMENT_S
from groutjobs.pours.models import EntryKind, PourState

MORE_THAN_A_BATCH = 1.05
"""Share of its yield from which the volume placed of one batch is asked about [GROUTJOBS]."""
AFTER_THE_END = frozenset(
    {EntryKind.POINT_ANSWER, EntryKind.READING, EntryKind.NOTE, EntryKind.DECLARED_COMPLETE, EntryKind.RESOLVED}
)
SURFACES = ("plate", "concrete", "material")


def judged(log: PourLog, basis: calc.Basis, effective: Sequence[Fact], *, system: str) -> PourLog:
    """The log with its findings, what is missing before release and before completion, its state and its end."""
    findings = [
        *_before_release(log),
        *_batch_findings(log, basis, system),
        *_store_findings(log, basis),
        *calc.gap_findings(log.batches),
        *(found for fill in log.fills for found in calc.fill_findings(fill, log.batches, system=system)),
        *_surface_findings(log, basis, system),
        *calc.dew_point_findings(log.readings, system=system),
        *_conflicts(log),
        *_double_entries(log, basis, effective),
        *_likely_doubles(log),
        *_unsure_times(log),
        *_late_entries(log, basis, effective),
    ]
    order = list(Level)
    findings.sort(key=lambda finding: order.index(finding.level))
    before_release = tuple(_open_points(log.points))
    before_complete = (*before_release, *_open_work(log), *_sheets_missing(effective), *_asked_before_complete(log))
    is_over = log.declared_at is not None or not (log.open_fills or log.open_batches)
    judged_log = replace(
        log,
        findings=tuple(findings),
        missing_before_release=before_release,
        missing_before_complete=before_complete,
        placed_at=_last_placed(log) if log.poured_at and is_over else None,
    )
    return replace(judged_log, state=_state(judged_log))


def _state(log: PourLog) -> PourState:
    if log.declared_at and log.poured_at and not log.what_stands_in_the_way:
        return PourState.SETTLED
    if log.placed_at:
        return PourState.PLACED
    if log.poured_at:
        return PourState.POURED
    return PourState.RELEASED if log.is_released else PourState.PREPARED


def _last_placed(log: PourLog) -> dt.datetime | None:
    return max((portion.at for batch in log.batches for portion in batch.portions), default=None)


def _blocker(code: str, message: str, hint: str, *, source: str = "GROUTJOBS", about: str = "") -> Finding:
    return Finding(level=Level.BLOCKER, code=code, message=message, hint=hint, source=source, about=about)


def _warning(code: str, message: str, hint: str, *, source: str = "GROUTJOBS", about: str = "") -> Finding:
    return Finding(level=Level.WARNING, code=code, message=message, hint=hint, source=source, about=about)


def _open_points(points: Sequence[HoldPoint]) -> Iterator[Finding]:
    for point in points:
        if point.holds_the_pour and not point.is_closed:
            yield _blocker(
                "point.open",
                f"Hold point {point.position}, {point.step}: {point.what_is_open}.",
                f"Acceptable is: {point.acceptance}. A second person must have seen it.",
                source=point.source,
                about=f"point {point.position}",
            )


def _before_release(log: PourLog) -> Iterator[Finding]:
    held = [point for point in log.points if point.holds_the_pour]
    for batch in log.batches:
        still_open = [str(point.position) for point in held if not point.was_closed(batch.clock_from)]
        if still_open:
            yield _blocker(
                "batch.before_release",
                f"Batch {batch.number} was started while hold points were open: {', '.join(still_open)}.",
                "Tell the engineer; the entry is kept, and the report names it as a deviation.",
                about=f"batch {batch.number}",
            )


def _batch_findings(log: PourLog, basis: calc.Basis, system: str) -> Iterator[Finding]:
    for batch in log.batches:
        about = f"batch {batch.number}"
        late = [portion for portion in batch.portions if batch.ends_at and portion.at > batch.ends_at]
        if late and batch.ends_at:
            over_min = (late[-1].at - batch.ends_at).total_seconds() / 60
            yield _blocker(
                "batch.past_life",
                f"Batch {batch.number} was placed {over_min:.0f} min after its working life of "
                f"{batch.working_life_min:.0f} min had ended.",
                "Tell the engineer: such grout flows and bonds badly. Sound that place with care.",
                source=batch.working_life_source,
                about=about,
            )
        if batch.working_life_min is None:
            yield _warning(
                "batch.life_unknown",
                f"Batch {batch.number}: {batch.working_life_basis}.",
                "Ask the engineer how long it may be placed.",
                source="DATASHEET",
                about=about,
            )
        yield from _grout_temperature(batch, basis, system)
        yield from _volumes(batch, basis, system)


def _grout_temperature(batch: Batch, basis: calc.Basis, system: str) -> Iterator[Finding]:
    about, low, high = f"batch {batch.number}", basis.placing_min_c, basis.placing_max_c
    if batch.grout_c is None:
        if batch.portions:
            yield _warning(
                "batch.not_measured",
                f"Batch {batch.number} was placed without a temperature of the grout.",
                "Measure each batch when it is mixed; its working life depends on it.",
                about=about,
            )
    elif not low <= batch.grout_c <= high:
        shown_low, shown_high = (units.shown(limit, "c", system) for limit in (low, high))
        yield _warning(
            "batch.temperature",
            f"Grout of batch {batch.number} had {units.shown(batch.grout_c, 'c', system)}, outside {shown_low} to "
            f"{shown_high} of {basis.data_sheet}.",
            "Tell the engineer before more is mixed; condition the material.",
            source="DATASHEET",
            about=about,
        )


def _volumes(batch: Batch, basis: calc.Basis, system: str) -> Iterator[Finding]:
    about = f"batch {batch.number}"
    if batch.placed_l > MORE_THAN_A_BATCH * batch.volume_l:
        yield _warning(
            "batch.volume",
            f"{units.shown(batch.placed_l, 'l', system)} of batch {batch.number} were placed; its kits yield "
            f"{units.shown(batch.volume_l, 'l', system)}.",
            "Look for an entry made twice, and strike it out.",
            source="DATASHEET",
            about=about,
        )
    for portion in batch.portions:
        if portion.compartment not in basis.places:
            yield _warning(
                "fill.unknown_place",
                f"Batch {batch.number} was placed in {portion.compartment}, which the plan does not have.",
                "Correct the entry; its volume counts nowhere until then.",
                about=about,
            )


def _store_findings(log: PourLog, basis: calc.Basis) -> Iterator[Finding]:
    expiry = {lot.lot_no: lot.expires_on for lot in basis.lots}
    used: dict[str, dt.datetime] = {}
    for batch in log.batches:
        if batch.lot:
            used[batch.lot] = max(batch.clock_from, used.get(batch.lot, batch.clock_from))
    for lot, at in sorted(used.items()):
        if lot not in expiry:
            yield _warning(
                "lot.unknown",
                f"Lot {lot} is not among the lots of this grout in the store.",
                "Check the label, or add the lot to the data sheet page.",
                about=lot,
            )
        elif at.astimezone(basis.zone).date() > expiry[lot]:
            yield _blocker(
                "lot.expired",
                f"Lot {lot} was used after its shelf life ended on {expiry[lot]:%Y-%m-%d}.",
                "Tell the engineer; the supplier decides whether it may stay.",
                source="DATASHEET",
                about=lot,
            )
    if log.kits_left < 0:
        yield Finding(
            level=Level.NOTE,
            code="kits.more",
            source="GROUTJOBS",
            message=f"{log.kits_used} kits were mixed; the plan has {log.kits_total}.",
        )


def _surface_findings(log: PourLog, basis: calc.Basis, system: str) -> Iterator[Finding]:
    low, high, words = basis.placing_min_c, basis.placing_max_c, dict(READ_ON)
    for what in SURFACES:
        last = next((reading for reading in reversed(log.readings) if reading.what == what), None)
        if last and not low <= last.temp_c <= high:
            shown_low, shown_high = (units.shown(limit, "c", system) for limit in (low, high))
            yield _warning(
                "reading.temperature",
                f"{words[what]}: {units.shown(last.temp_c, 'c', system)} at the last reading, outside {shown_low} to "
                f"{shown_high} of {basis.data_sheet}.",
                "Warm, cool or shade it, and read again.",
                source="DATASHEET",
                about=what,
            )


def _double_entries(log: PourLog, basis: calc.Basis, effective: Sequence[Fact]) -> Iterator[Finding]:
    """Single values that were entered more than once. All are kept; the first counts until a person strikes one out."""
    steps = Counter((fact.body["batch"], fact.kind) for fact in effective if fact.kind in ONCE_IN_A_BATCH)
    for (batch, kind), count in sorted(steps.items()):
        if count > 1:
            yield _warning(
                "entry.double",
                f"{title_of(kind, basis.grout_kind)} stands {count} times for batch {batch}; the first counts.",
                "Strike out what is wrong.",
                about=f"batch {batch}",
            )
    corrections = Counter(line.fact.replaces_id for line in log.lines if line.fact.replaces_id and not line.is_struck)
    for line in log.lines:
        if corrections[line.fact.id] > 1:
            yield _warning(
                "entry.corrected_twice",
                f"{line.title} was corrected by {corrections[line.fact.id]} entries that both stand.",
                "Strike out the one that is wrong.",
                about=line.title,
            )


def _conflicts(log: PourLog) -> Iterator[Finding]:
    for conflict in log.conflicts:
        yield _blocker(
            "entry.conflict",
            f"{conflict.what}: {len(conflict.sides)} entries differ, by people who did not see each other's.",
            "All are kept. A crew lead or an engineer says which one counts, with a reason.",
            about=conflict.key,
        )


def _likely_doubles(log: PourLog) -> Iterator[Finding]:
    for double in log.doubles:
        yield _warning(
            "entry.likely_double",
            f"{double.what} stands twice within {SAME_MOMENT_S / 60:.0f} min with nearly the same values.",
            "Strike one out if it was one thing; both count until then.",
            about=str(double.entries[1]),
        )


def _unsure_times(log: PourLog) -> Iterator[Finding]:
    unsure = [line for line in log.lines if line.fact.clock_grade == "C" and not line.is_struck]
    if unsure:
        yield _warning(
            "entry.clock",
            f"{len(unsure)} entries have times by a phone clock that nobody had compared within a day (grade C).",
            "Compare with what others entered; correct a time that is wrong.",
        )
    late = [line for line in log.lines if line.fact.is_late]
    if late:
        yield _warning(
            "entry.late",
            f"{len(late)} entries came after a report had frozen this record.",
            "Freeze a new revision, so that it holds them.",
        )


def _late_entries(log: PourLog, basis: calc.Basis, effective: Sequence[Fact]) -> Iterator[Finding]:
    if log.declared_at is None:
        return
    late = [fact for fact in effective if fact.kind not in AFTER_THE_END and fact.happened_at > log.declared_at]
    for fact in late:
        yield _warning(
            "entry.after_end",
            f"{title_of(fact.kind, basis.grout_kind)} happened after the pour was declared complete.",
            "Strike out the declaration and declare again, or correct the time.",
        )


def _open_work(log: PourLog) -> Iterator[Finding]:
    """What keeps the record open, the hold points apart."""
    if log.missing_blobs:
        yield _blocker(
            "photo.missing",
            f"{len(log.missing_blobs)} photographs that entries name have not come, or cannot be read.",
            "Open the app on that phone where there is signal; if the picture is gone, correct the entry.",
        )
    if not log.poured_at:
        yield _blocker("pour.nothing_placed", "No batch has been placed.", "Enter where each batch was placed.")
    for batch in log.open_batches:
        yield _blocker(
            "batch.open",
            f"Batch {batch.number} is neither placed to the end nor discarded.",
            "Say where it went.",
            about=f"batch {batch.number}",
        )
    for fill in log.open_fills:
        yield _blocker(
            "fill.not_full",
            f"Compartment {fill.name} has not been seen full.",
            "Look at every vent; when grout bleeds from it, say so.",
            source="PRACTICE",
            about=fill.name,
        )
    for leak in log.open_leaks:
        yield _blocker(
            "leak.open",
            f"The leak at {leak.where} (compartment {leak.compartment}) is not closed.",
            "Leaks do not seal themselves, and each leaves a void.",
            source="BLOCH-MPE",
            about=leak.compartment,
        )
    if log.open_stoppage:
        yield _blocker("pour.stopped", f"Work is stopped: {log.open_stoppage.why}.", "Say when work goes on.")


def _sheets_missing(effective: Sequence[Fact]) -> Iterator[Finding]:
    """Entries that were copied from paper without a photograph of the sheet."""
    count = sum(
        bool(fact.body.get(FROM_PAPER)) and not (fact.body.get("blobs") or fact.body.get("photos"))
        for fact in effective
    )
    if count:
        yield _blocker(
            "entry.sheet_missing",
            f"Transcribed from paper without a photo of the sheet: {count} {'entry' if count == 1 else 'entries'}.",
            "Correct each of them and add the photo; the paper is the first record.",
        )


def _asked_before_complete(log: PourLog) -> Iterator[Finding]:
    """What is usual; a record without it is complete, and says so."""
    if not log.samples:
        yield _warning(
            "sample.none",
            "No sample was cast.",
            "A set of cubes for each pour is usual; the plan or the owner may ask for more.",
            source="ASTMC579" if log.grout_kind == "epoxy" else "ASTMC1107",
        )
    for point in log.points:
        if point.before_pour and point.code == "W" and point.latest is None:
            yield _warning(
                "point.witness_open",
                f"Witness point {point.position}, {point.step}: not answered.",
                "Answer it, or say why it does not apply.",
                source=point.source,
            )
