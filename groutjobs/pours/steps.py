"""What to do next on a pour, in one sentence, at a given moment."""

import datetime as dt
from dataclasses import dataclass
from urllib.parse import urlencode

from groutjobs.pours.bodies import title_of
from groutjobs.pours.log import Batch, PourLog
from groutjobs.pours.models import EntryKind, PourState

SOON_MIN = 10.0
"""Working life left from which a batch is urgent [GROUTJOBS]."""


@dataclass(frozen=True, kw_only=True)
class NextStep:
    """The next thing to do. `kind` is the kind of entry that it ends in, empty where none is asked for."""

    sentence: str
    kind: str = ""
    button: str = ""
    about: tuple[tuple[str, str], ...] = ()
    is_urgent: bool = False

    @property
    def query(self) -> str:
        """What the entry page is told, such as batch=3."""
        return urlencode(self.about)


def next_step(log: PourLog, at: dt.datetime) -> NextStep:
    """The next step. Grout that is mixed comes before all else, then what stops work, then the order of the job."""
    for find in (_open_batch, _stoppage, _open_leak, _release, _next_batch, _close_out):
        step = find(log, at)
        if step:
            return step
    left = sum(not point.is_closed for point in log.points)
    later = f"{left} later hold points are open; answer" if left > 1 else "One later hold point is open; answer"
    more = f" {later} each when its step is done." if left else ""
    return NextStep(sentence=f"The record of this pour is complete. Cure readings and inspections follow.{more}")


def _open_batch(log: PourLog, at: dt.datetime) -> NextStep | None:
    if not log.open_batches:
        return None
    return _batch_step(log, min(log.open_batches, key=lambda batch: (batch.clock_from, batch.number)), at)


def _batch_step(log: PourLog, batch: Batch, at: dt.datetime) -> NextStep:
    left_min = batch.left_min(at)
    about = (("batch", str(batch.number)),)
    is_urgent = left_min is not None and left_min < SOON_MIN
    if left_min is not None and left_min <= 0:
        return NextStep(
            kind=EntryKind.DISCARDED,
            sentence=f"Batch {batch.number} is past its working life. Do not place it.",
            button=f"Discard batch {batch.number}",
            about=about,
            is_urgent=True,
        )
    for kind, done_at in ((EntryKind.AGGREGATE_IN, batch.aggregate_at), (EntryKind.WETTED_OUT, batch.wetted_at)):
        if done_at is None:
            title = title_of(kind, log.grout_kind)
            return NextStep(
                kind=kind,
                sentence=f"Batch {batch.number}: say when “{title}” is done.",
                button=f"Batch {batch.number}: {title.lower()}",
                about=about,
                is_urgent=is_urgent,
            )
    place = log.fill_in_hand.name
    return NextStep(
        kind=EntryKind.PLACED,
        sentence=f"Place batch {batch.number}" + (f" in compartment {place}." if log.open_fills else "."),
        button=f"Batch {batch.number} placed",
        about=(*about, ("compartment", place)),
        is_urgent=is_urgent,
    )


def _stoppage(log: PourLog, at: dt.datetime) -> NextStep | None:
    if not log.open_stoppage:
        return None
    return NextStep(
        kind=EntryKind.RESUMED,
        sentence=f"Work is stopped: {log.open_stoppage.why}. Say when it goes on.",
        button="Work goes on",
        is_urgent=True,
    )


def _open_leak(log: PourLog, at: dt.datetime) -> NextStep | None:
    if not log.open_leaks:
        return None
    leak = log.open_leaks[0]
    return NextStep(
        kind=EntryKind.LEAK_CLOSED,
        sentence=f"Close the leak at {leak.where} before more grout goes in.",
        button="Leak closed",
        about=(("leak", str(leak.entry_id)),),
        is_urgent=True,
    )


def _release(log: PourLog, at: dt.datetime) -> NextStep | None:
    open_points = [point for point in log.points if point.holds_the_pour and not point.is_closed]
    if not open_points:
        return None
    point = open_points[0]
    return NextStep(
        kind=EntryKind.POINT_ANSWER,
        sentence=f"{len(open_points)} hold points are open before the pour. Next: {point.position}. {point.step}."
        if len(open_points) > 1
        else f"One hold point is open before the pour: {point.position}. {point.step}.",
        button=f"Answer hold point {point.position}",
        about=(("point", str(point.id)),),
    )


def _next_batch(log: PourLog, at: dt.datetime) -> NextStep | None:
    if not log.open_fills or log.declared_at:
        return None
    fill = log.open_fills[0]
    if fill.missing_l <= fill.sd_l:
        return NextStep(
            kind=EntryKind.COMPARTMENT_FULL,
            sentence=f"Compartment {fill.name} has its volume. Look at every vent: is it full and bleeding?",
            button=f"Compartment {fill.name} is full",
            about=(("compartment", fill.name),),
        )
    number = log.next_batch
    return NextStep(
        kind=EntryKind.LIQUIDS_STARTED,
        sentence=f"Start batch {number} for compartment {fill.name}.",
        button=f"Start batch {number}",
        about=(("batch", str(number)),),
    )


def _close_out(log: PourLog, at: dt.datetime) -> NextStep | None:
    if log.state == PourState.SETTLED:
        return None
    if log.declared_at:
        return NextStep(sentence="The pour was declared complete, but the record is not. See what is missing.")
    if not log.samples:
        return NextStep(
            kind=EntryKind.SAMPLE,
            sentence="No sample was cast yet. Cast one, or go on to “Check and finish”.",
            button="Enter a sample",
        )
    return NextStep(
        kind=EntryKind.DECLARED_COMPLETE,
        sentence="All compartments are full. Check what was entered and declare the pour complete.",
        button="Check and finish",
    )
