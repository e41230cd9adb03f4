"""Writes of nonconformances: raising, deciding, proving, sending back, closing, opening again."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Max
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.curing.models import CureInspection
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.nonconformances.models import (
    DISPOSITIONS_WITH_PROOF,
    Disposition,
    Nonconformance,
    NonconformanceState,
    NonconformanceStep,
    StepKind,
)
from groutjobs.pours.models import Pour, PourEntry

WORDS_LEAST = 10
State = NonconformanceState


@action
def raise_nonconformance(
    *,
    pour: Pour,
    found: str,
    by: User,
    place: str = "",
    spot: tuple[float, float] | None = None,
    origin: Mapping[str, Any] | None = None,
    photos: Iterable[int] = (),
) -> Nonconformance:
    """Put on record that something is not as it should be. `origin` names the entry, inspection or reading."""
    words = _words(found, "what was found")
    site = Site.objects.select_for_update().get(pk=pour.plan.machine.site_id)
    last = Nonconformance.objects.filter(site=site).aggregate(last=Max("number"))["last"] or 0
    x_mm, y_mm = spot or (None, None)
    row = Nonconformance.objects.create(
        site=site,
        number=last + 1,
        pour=pour,
        found=words,
        place=place.strip(),
        x_mm=x_mm,
        y_mm=y_mm,
        raised_by=by,
        **(origin or {}),
    )
    _step(row, StepKind.RAISED, words, by, photos=photos)
    record(row, by=by, kind="nonconformance.raised")
    return row


@action
def decide(*, row: Nonconformance, disposition: str, because: str, source: str, by: User) -> Nonconformance:
    """The engineer's disposition, with reason and with the source of the acceptance. It may be decided anew."""
    locked = _locked(row, {State.RAISED, State.DECIDED}, "decided")
    words = _words(because, "the reason")
    if disposition not in Disposition.values:
        raise NotAllowed(f"“{disposition}” is none of: {', '.join(Disposition.labels)} [GROUTJOBS].")
    if not source.strip():
        raise NotAllowed("Name the source of the acceptance: drawing, specification, data sheet or standard.")
    step = {"disposition": disposition, "source": source.strip()}
    changes = {
        "state": State.DECIDED,
        "disposition": disposition,
        "decided_by": by,
        "decided_because": words,
        "acceptance_source": source.strip(),
    }
    return _moved(locked, changes, StepKind.DECIDED, words, by, **step)


@action
def give_proof(
    *,
    row: Nonconformance,
    words: str,
    dealt_by: User,
    by: User,
    entry: PourEntry | None = None,
    inspection: CureInspection | None = None,
    photos: Iterable[int] = (),
) -> Nonconformance:
    """Show that the repair was made, or the work redone: words with a photograph, an entry or a new inspection."""
    locked = _locked(row, {State.DECIDED}, "proven")
    if locked.disposition not in DISPOSITIONS_WITH_PROOF:
        raise NotAllowed("“Use as is” needs no proof of a repair; an engineer closes it.")
    shown = list(photos)
    if not shown and entry is None and inspection is None:
        raise NotAllowed("Proof is a photograph, an entry of the log or an inspection; give at least one of them.")
    text = _words(words, "what was done")
    changes = {"state": State.PROVEN, "dealt_by": dealt_by}
    step = {"photos": shown, "entry": entry, "inspection": inspection}
    return _moved(locked, changes, StepKind.PROVEN, text, by, **step)


@action
def send_back(*, row: Nonconformance, words: str, by: User) -> Nonconformance:
    """The proof does not show it: the work goes on."""
    locked = _locked(row, {State.PROVEN}, "sent back")
    text = _words(words, "the reason")
    return _moved(locked, {"state": State.DECIDED, "dealt_by": None}, StepKind.SENT_BACK, text, by)


@action
def close(*, row: Nonconformance, words: str, by: User) -> Nonconformance:
    """Close it. Not by the one who made the repair, nor by the one who gave the proof."""
    locked = _locked(row, {State.DECIDED, State.PROVEN}, "closed")
    if locked.state == State.DECIDED and locked.disposition in DISPOSITIONS_WITH_PROOF:
        raise NotAllowed(
            f"{locked} cannot be closed: the proof of its {locked.get_disposition_display().lower()} lacks."
        )
    text = _words(words, "what was seen")
    refused = why_not_close(locked, by)
    if refused:
        raise NotAllowed(refused)
    changes = {"state": State.CLOSED, "closed_by": by, "closed_at": timezone.now()}
    return _moved(locked, changes, StepKind.CLOSED, text, by)


def why_not_close(row: Nonconformance, by: User) -> str:
    """Why this person may not close it; empty where the person may."""
    proof = [step for step in row.steps.all() if step.kind == StepKind.PROVEN]
    if row.dealt_by_id == by.pk or (row.dealt_by_id and proof and proof[-1].by_id == by.pk):
        return "You made this repair or gave its proof; another engineer looks at it and closes it."
    return ""


@action
def reopen(*, row: Nonconformance, words: str, by: User) -> Nonconformance:
    """Open a closed one again: it is to be decided anew. All that was said stays."""
    locked = _locked(row, {State.CLOSED}, "opened again")
    text = _words(words, "the reason")
    changes = {
        "state": State.RAISED, "disposition": "", "decided_by": None, "decided_because": "", "acceptance_source": "",
        "dealt_by": None, "closed_by": None, "closed_at": None,
    }  # fmt: skip
    return _moved(locked, changes, StepKind.REOPENED, text, by)


def _locked(row: Nonconformance, states: set[State], what: str) -> Nonconformance:
    locked = Nonconformance.objects.select_for_update(of=("self",)).prefetch_related("steps").get(pk=row.pk)
    if locked.state not in states:
        raise NotAllowed(f"{locked} is “{locked.get_state_display().lower()}” and cannot be {what} now.")
    return locked


def _moved(
    row: Nonconformance, changes: dict[str, Any], kind: StepKind, words: str, by: User, **step: Any
) -> Nonconformance:
    before = snapshot(row)
    for name, value in changes.items():
        setattr(row, name, value)
    row.save(update_fields=list(changes))
    _step(row, kind, words, by, **step)
    record(row, by=by, kind=f"nonconformance.{kind.value}", before=before, reason=words[:300])
    return row


def _step(row: Nonconformance, kind: StepKind, words: str, by: User, **columns: Any) -> None:
    columns["photos"] = list(columns.get("photos", ()))
    step = NonconformanceStep.objects.create(nonconformance=row, kind=kind, words=words, by=by, **columns)
    record(step, by=by, kind="nonconformance.step")


def _words(text: str, what: str) -> str:
    words = text.strip()
    if len(words) < WORDS_LEAST:
        raise NotAllowed(f"Say {what} in at least {WORDS_LEAST} characters; it stays on record [GROUTJOBS].")
    return words
