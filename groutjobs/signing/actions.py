"""Steps of a pour record: declared complete, ready, signed, locked, sent back, void, and what follows a lock."""

import hashlib
from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.audit.anchors import latest_anchor, make_anchor
from groutjobs.audit.chain import canonical
from groutjobs.errors import NotAllowed, Stale
from groutjobs.pours.models import Pour, PourEntry
from groutjobs.pours.queries import pour_whole
from groutjobs.reasons import require_reason
from groutjobs.signing import queries
from groutjobs.signing.models import (
    STATES_FINAL,
    Addendum,
    LateDecision,
    PourRecord,
    RecordMeaning,
    RecordSignature,
    RecordState,
    SignatureVoid,
)
from groutjobs.signing.rules import ENGINEERS, MAKERS, SENTENCES, STATE_BEFORE, refusal

BOTH = (RecordState.READY, RecordState.PERFORMED)


@action
def follow_entries(*, pour: Pour, by: User, entry: PourEntry | None = None) -> PourRecord | None:
    """Let the record follow what was just entered: complete, open again, names void, or stored late."""
    row = PourRecord.objects.select_for_update().filter(pour=pour).first()
    is_declared = queries.is_declared(pour)
    if row is None:
        if not is_declared:
            unchanged()
            return None
        row = PourRecord.objects.create(pour=pour, state=RecordState.CLOSED)
        record(row, by=by, kind="record.closed")
        return row
    if row.state == RecordState.LOCKED:
        words = {"entry": str(entry.pk) if entry else "photograph"}
        record(row, by=by, kind="late.stored", before=snapshot(row), extra=words)
    if row.state in BOTH:
        _fall_back(row, by=by, reason="An entry or a photograph was added after it was made ready.")
    if row.state == RecordState.CLOSED and not is_declared:
        _go(row, RecordState.OPEN, by=by, kind="record.reopened", reason=entry.reason if entry else "")
    elif row.state == RecordState.OPEN and is_declared:
        _go(row, RecordState.CLOSED, by=by, kind="record.closed")
    else:
        unchanged()
    return row


@action
def make_ready(*, pour: Pour, by: User, reasons: Mapping[str, str] | None = None) -> PourRecord:
    """Check that nothing is missing and fix the content that is signed. `reasons`: why what is missing goes ahead."""
    whole, row = _locked_row(pour)
    _require_role(whole, by, MAKERS)
    if row.state != RecordState.CLOSED:
        raise NotAllowed(f"The record is {_word(row)}; it is made ready when it is declared complete.")
    hard, soft = queries.in_the_way(whole, system=by.unit_system)
    if hard:
        raise NotAllowed(f"{hard[0].message} No reason helps here. {hard[0].hint}")
    given = reasons or {}
    for item in soft:
        require_reason(given.get(item.code, ""), first=f"{item.message} It is closed, or goes ahead with a reason. ")
    row.explained = [item.as_json() | {"reason": given[item.code].strip(), "by": by.name} for item in soft]
    row.last_rev, row.ready_by, row.ready_at = queries.last_rev(whole), by, timezone.now()
    row.content_sha256 = queries.content_sha256(whole, row.last_rev, row.ready_at)
    _go(row, RecordState.READY, by=by, kind="record.ready", extra={"time_grades": queries.grades_of(whole)})
    return row


@action
def sign_record(*, pour: Pour, meaning: RecordMeaning, by: User, seen_sha256: str, proved_by: str) -> RecordSignature:
    """Put a name under the record. The caller has asked for password and code again; `seen_sha256` is what was read.

    The review locks the record and anchors it, all in this transaction.
    """
    whole, row = _locked_row(pour)
    if row.state != STATE_BEFORE[meaning]:
        raise NotAllowed(f"The record is {_word(row)}; “{meaning.label}” is not due.")
    if seen_sha256 != row.content_sha256:
        raise Stale("The record is not the one that you read. Open it again, read it, and sign then.")
    refused = refusal(meaning, queries.signer_for(by, whole), _signed_by(row))
    if refused:
        raise NotAllowed(refused)
    signature = _sign(row, meaning, by, row.content_sha256, proved_by)
    if meaning is RecordMeaning.PERFORMED:
        _go(row, RecordState.PERFORMED, by=by, kind="record.performed")
    else:
        _go(row, RecordState.REVIEWED, by=by, kind="record.reviewed")
        _lock(row, by)
    return signature


def _lock(row: PourRecord, by: User) -> None:
    row.locked_at = timezone.now()
    row.anchor = latest_anchor()
    _go(row, RecordState.LOCKED, by=by, kind="record.locked", extra={"content_sha256": row.content_sha256})


@action
def send_back(*, pour: Pour, reason: str, by: User) -> PourRecord:
    """The reviewer found something: names become void, stay visible, and the crew mends the log."""
    whole, row = _locked_row(pour)
    _require_role(whole, by, ENGINEERS)
    if row.state not in BOTH:
        raise NotAllowed(f"The record is {_word(row)} and cannot go back.")
    require_reason(reason)
    _fall_back(row, by=by, reason=reason.strip())
    return row


def _fall_back(row: PourRecord, *, by: User, reason: str) -> None:
    for signature in row.signatures.filter(round=row.round, addendum=None, void=None):
        void = SignatureVoid.objects.create(signature=signature, reason=reason[:300], by=by)
        record(void, by=by, kind="signature.voided", reason=reason)
    row.content_sha256, row.ready_at, row.ready_by, row.explained, row.last_rev = "", None, None, [], 0
    row.round += 1
    _go(row, RecordState.CLOSED, by=by, kind="record.returned", reason=reason)


@action
def ask_void(*, pour: Pour, reason: str, by: User) -> PourRecord:
    """The first of two people who say that this record is not to be used."""
    whole = pour_whole().select_for_update(of=("self",)).get(pk=pour.pk)
    row = PourRecord.objects.select_for_update().filter(pour=whole).first() or PourRecord.objects.create(pour=whole)
    _require_role(whole, by, MAKERS)
    _refuse_final(row)
    require_reason(reason)
    before = snapshot(row)
    row.void_reason, row.void_asked_by, row.void_asked_at = reason.strip(), by, timezone.now()
    row.save(update_fields=["void_reason", "void_asked_by", "void_asked_at"])
    record(row, by=by, kind="record.void_asked", before=before, reason=row.void_reason)
    return row


@action
def void_record(*, pour: Pour, by: User) -> PourRecord:
    """The second person agrees: the record is void, stays readable, and another pour can be opened."""
    whole, row = _locked_row(pour)
    _require_role(whole, by, MAKERS)
    _refuse_final(row)
    if row.void_asked_by_id is None:
        raise NotAllowed("Nobody has asked for it yet. Give the reason first; a second person agrees.")
    if row.void_asked_by_id == by.pk:
        raise NotAllowed("You asked for it yourself. A second person, crew lead or engineer, agrees.")
    row.voided_by, row.voided_at = by, timezone.now()
    _go(row, RecordState.VOID, by=by, kind="record.void", reason=row.void_reason)
    before = snapshot(whole)
    whole.voided_at = row.voided_at
    whole.save(update_fields=["voided_at"])
    record(whole, by=by, kind="pour.void", before=before, reason=row.void_reason)
    return row


@action
def state_addendum(
    *, pour: Pour, by: User, wrong: str, right: str, evidence: str, reason: str, proved_by: str,
    late: PourEntry | None = None,
) -> Addendum:  # fmt: skip
    """Say beside a locked record what is wrong in it and what is right, and sign that; a second person agrees."""
    whole, row = _locked_row(pour)
    _require_role(whole, by, ENGINEERS)
    if row.state != RecordState.LOCKED:
        raise NotAllowed(f"The record is {_word(row)}; correct the entry itself. An addendum follows a lock.")
    require_reason(reason)
    texts = {"wrong": wrong.strip(), "right": right.strip(), "evidence": evidence.strip(), "reason": reason.strip()}
    number = row.addenda.count() + 1
    sealed = canonical(texts | {"number": str(number), "record_sha256": row.content_sha256})
    addendum = Addendum.objects.create(
        record=row, number=number, record_sha256=row.content_sha256, made_by=by, **texts,
        content_sha256=hashlib.sha256(sealed.encode()).hexdigest(),
    )  # fmt: skip
    record(addendum, by=by, kind="addendum.opened", reason=reason.strip())
    _sign(row, RecordMeaning.STATED, by, addendum.content_sha256, proved_by, addendum)
    if late is not None:
        decide_late(pour=whole, entry=late, by=by, addendum=addendum)
    return addendum


@action
def agree_addendum(*, addendum: Addendum, by: User, seen_sha256: str, proved_by: str) -> RecordSignature:
    """The second name under an addendum."""
    whole, row = _locked_row(addendum.record.pour)
    if seen_sha256 != addendum.content_sha256:
        raise Stale("The addendum is not the one that you read. Open it again.")
    signed = {one.meaning: one.signer_id for one in addendum.signatures.all()}
    if RecordMeaning.AGREED in signed:
        raise NotAllowed(f"Addendum {addendum.number} has both names already.")
    refused = refusal(RecordMeaning.AGREED, queries.signer_for(by, whole), set(signed.values()))
    if refused:
        raise NotAllowed(refused)
    return _sign(row, RecordMeaning.AGREED, by, addendum.content_sha256, proved_by, addendum)


@action
def decide_late(
    *, pour: Pour, entry: PourEntry, by: User, reason: str = "", addendum: Addendum | None = None
) -> LateDecision:
    """Decide about an entry that came after the lock: it leads to an addendum, or it has no effect, with a reason."""
    whole, row = _locked_row(pour)
    _require_role(whole, by, ENGINEERS)
    if entry.pk not in {one.pk for one in queries.undecided(row)}:
        raise NotAllowed("This entry waits for no decision.")
    if addendum is None:
        require_reason(reason)
    decision = LateDecision.objects.create(record=row, entry=entry, addendum=addendum, reason=reason.strip(), by=by)
    record(decision, by=by, kind="late.decided", reason=reason.strip())
    return decision


def _sign(
    row: PourRecord, meaning: RecordMeaning, by: User, sha256: str, proved_by: str, addendum: Addendum | None = None
) -> RecordSignature:
    signature = RecordSignature.objects.create(
        record=row, round=row.round, addendum=addendum, meaning=meaning, sentence=SENTENCES[meaning], signer=by,
        printed_name=by.name, content_sha256=sha256, proved_by=proved_by,
    )  # fmt: skip
    record(signature, by=by, kind=f"sign.{meaning.value}")
    make_anchor(occasion=f"{meaning.value}, pour {row.pour_id}")
    return signature


def _signed_by(row: PourRecord) -> set[int]:
    return set(row.signatures.filter(round=row.round, addendum=None).values_list("signer_id", flat=True))


def _go(row: PourRecord, state: RecordState, *, by: User, kind: str, reason: str = "", **more: Any) -> None:
    before = snapshot(PourRecord.objects.get(pk=row.pk))
    row.state = state
    row.save()
    record(row, by=by, kind=kind, before=before, reason=reason, **more)


def _locked_row(pour: Pour) -> tuple[Pour, PourRecord]:
    """Pour and record, both locked against others until the transaction ends."""
    whole = pour_whole().select_for_update(of=("self",)).get(pk=pour.pk)
    row = PourRecord.objects.select_for_update().filter(pour=whole).first()
    if row is None:
        raise NotAllowed("The pour is not declared complete; the crew lead does it on the phone.")
    return whole, row


def _require_role(pour: Pour, by: User, roles: frozenset[Any]) -> None:
    if not queries.signer_for(by, pour).roles & roles:
        names = " or an ".join(sorted(role.label.lower() for role in roles))
        raise NotAllowed(f"A {names} of this site does that.".replace("A engineer", "An engineer"))


def _refuse_final(row: PourRecord) -> None:
    if row.state in STATES_FINAL:
        raise NotAllowed(f"The record is {_word(row)}; nothing makes it void any more.")


def _word(row: PourRecord) -> str:
    return RecordState(row.state).label.lower()
