"""What the pages of a pour record show."""

import re
from typing import Any
from uuid import UUID

from groutjobs.accounts.models import User
from groutjobs.audit.anchors import anchor_words
from groutjobs.pours.log import Line
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.pours.queries import log_of
from groutjobs.signing.models import STATES_FINAL, PourRecord, RecordMeaning, RecordState
from groutjobs.signing.queries import grades_of, late_entries, names_of, record_of, signer_for
from groutjobs.signing.rules import ENGINEERS, MAKERS, SENTENCES, STATE_BEFORE, refusal, role_words
from groutjobs.signing.rules import ROLES_FOR as ROLES

STEPS = (
    (RecordState.OPEN, "The crew writes the log."),
    (RecordState.CLOSED, "The crew lead has declared it complete, also without signal."),
    (RecordState.READY, "Phones, pictures and decisions are in; the content is fixed by its hash."),
    (RecordState.PERFORMED, "The crew lead has signed."),
    (RecordState.LOCKED, "An engineer who recorded nothing has reviewed it; it is anchored and never changes."),
)
DUE = {state: meaning for meaning, state in STATE_BEFORE.items()}


def base_of(pour: Pour) -> dict[str, Any]:
    return {"pour": pour, "site": pour.plan.machine.site}


def due_of(row: PourRecord | None) -> RecordMeaning | None:
    """Which name is due under the record."""
    return DUE.get(RecordState(row.state)) if row else None


def context_of(pour: Pour, reader: User) -> dict[str, Any]:
    """The record with names, addenda and late entries, and what this reader may do next."""
    row = record_of(pour)
    state = RecordState(row.state) if row else RecordState.OPEN
    names = names_of(row) if row else []
    due, signer = due_of(row), signer_for(reader, pour)
    signed_by = {one.signer_id for one in names if row and one.round == row.round and one.addendum_id is None}
    return base_of(pour) | {
        "row": row,
        "state": state,
        "steps": [(step, words, step == state) for step, words in STEPS],
        "names": [one for one in names if one.addendum_id is None],
        "due": due,
        "due_words": role_words(ROLES[due]) if due else "",
        "due_sentence": SENTENCES[due] if due else "",
        "refusal": refusal(due, signer, signed_by) if due else "",
        "may_make": bool(signer.roles & MAKERS),
        "may_review": bool(signer.roles & ENGINEERS),
        "is_final": state in STATES_FINAL,
        "hash_words": re.findall("." * 8, row.content_sha256) if row else [],
        "anchor_words": anchor_words(row.anchor) if row and row.anchor else "",
        "grades": grades_of(pour),
        "addenda": list(row.addenda.select_related("made_by").prefetch_related("signatures")) if row else [],
        "late": late_entries(row) if row else [],
    }


def words_of(pour: Pour, entry: PourEntry, reader: User) -> Line | None:
    """An entry as the log shows it."""
    log = log_of(pour, system=reader.unit_system)
    return next((line for line in log.lines if line.fact.id == entry.pk), None)


def uuids_of(text: str | None) -> list[UUID]:
    """The id in an address, or none where it is no id."""
    try:
        return [UUID(text or "")]
    except ValueError:
        return []
