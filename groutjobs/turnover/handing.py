"""Writes after the seal: issuing to recipients, their links, acceptance, and taking a report back by two people."""

import datetime as dt
import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib.auth.hashers import check_password, make_password
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.errors import NotAllowed
from groutjobs.reasons import require_reason
from groutjobs.turnover.actions import unlock_pour, whole_for_update
from groutjobs.turnover.models import (
    STATES_IN_FORCE,
    Acceptance,
    LinkUse,
    ReaderLink,
    Recipient,
    ReportState,
    TurnoverReport,
    Withdrawal,
)
from groutjobs.turnover.queries import in_force
from groutjobs.turnover.store import fetch, keep

TOKEN_BYTES = 32
CODE_DIGITS = 8
MOST_WRONG_CODES = 5
SAME_USE_WITHIN = dt.timedelta(minutes=1)
ACCEPTED = (
    "I take over this turnover report for the client. I have read it; what nobody can see any more I have not checked."
)


@dataclass(frozen=True)
class Handed:
    """What is shown once: the link of a recipient with the secret part of its address and its code."""

    link: ReaderLink
    token: str
    code: str


def hash_of_token(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


@action
def issue_report(*, report: TurnoverReport, recipients: Sequence[dict[str, str]], days: int, by: User) -> list[Handed]:
    """Issue a sealed report to these people, each with a link; the revision in force before is superseded."""
    locked = whole_for_update(report)
    if locked.state != ReportState.SEALED:
        raise NotAllowed(f"{locked} is {ReportState(locked.state).label.lower()}; only a sealed report is issued.")
    if not recipients:
        raise NotAllowed("A report is issued to somebody: name at least one recipient.")
    fetch(locked.pdf_sha256)
    handed = [add_recipient(report=locked, recipient=row, days=days, by=by) for row in recipients]
    earlier = in_force(locked.pour)
    if earlier:
        _supersede(earlier, locked, by)
    before = snapshot(locked)
    locked.state, locked.issued_at = ReportState.ISSUED, timezone.now()
    locked.save(update_fields=["state", "issued_at"])
    record(locked, by=by, kind="report.issued", before=before, extra={"recipients": len(handed)})
    return handed


def _supersede(earlier: TurnoverReport, later: TurnoverReport, by: User) -> None:
    before = snapshot(earlier)
    earlier.state = ReportState.SUPERSEDED
    earlier.save(update_fields=["state"])
    reason = f"{later} was issued: {later.revises_because}" if later.revises_because else f"{later} was issued"
    record(earlier, by=by, kind="report.superseded", before=before, reason=reason)


@action
def add_recipient(*, report: TurnoverReport, recipient: dict[str, str], days: int, by: User) -> Handed:
    """One more reader of a sealed or issued report, with a link of so many days."""
    if report.state not in STATES_IN_FORCE | {ReportState.SEALED}:
        raise NotAllowed(f"{report} is {ReportState(report.state).label.lower()}; it gets no further readers.")
    row = Recipient.objects.create(report=report, added_by=by, **recipient)
    record(row, by=by, kind="report.recipient_added")
    return renew_link(recipient=row, days=days, by=by)


@action
def renew_link(*, recipient: Recipient, days: int, by: User) -> Handed:
    """A fresh link with a fresh code for this reader; an earlier one that is open ends."""
    for earlier in recipient.links.filter(revoked_at=None, expires_at__gt=timezone.now()):
        revoke_link(link=earlier, reason="another link took its place", by=by)
    token, code = secrets.token_urlsafe(TOKEN_BYTES), f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
    link = ReaderLink.objects.create(
        recipient=recipient,
        token_sha256=hash_of_token(token),
        code_hash=make_password(code),
        made_by=by,
        expires_at=timezone.now() + dt.timedelta(days=days),
    )
    record(link, by=by, kind="reader_link.made")
    return Handed(link, token, code)


@action
def revoke_link(*, link: ReaderLink, reason: str, by: User) -> ReaderLink:
    """End a link now; opening it from then on tells that it was revoked, and that try is noted."""
    locked = ReaderLink.objects.select_for_update().get(pk=link.pk)
    if locked.revoked_at:
        raise NotAllowed("This link was revoked already.")
    require_reason(reason)
    before = snapshot(locked)
    locked.revoked_at, locked.revoked_because = timezone.now(), reason.strip()
    locked.save(update_fields=["revoked_at", "revoked_because"])
    record(locked, by=by, kind="reader_link.revoked", before=before, reason=reason.strip())
    return locked


@action
def note_use(*, link: ReaderLink, what: str) -> LinkUse | None:
    """Note that a link was used or tried; the same thing within a minute is noted once."""
    since = timezone.now() - SAME_USE_WITHIN
    if link.uses.filter(what=what, at__gte=since).exists():
        unchanged()
        return None
    use = LinkUse.objects.create(link=link, what=what)
    record(use, by=None, kind="reader_link.used", extra={"what": what})
    return use


@action
def try_code(*, link: ReaderLink, code: str) -> bool:
    """Whether this is the code of the link. A wrong one is counted and noted; after five none is taken any more."""
    locked = ReaderLink.objects.select_for_update().get(pk=link.pk)
    if locked.wrong_codes < MOST_WRONG_CODES and check_password(code, locked.code_hash):
        unchanged()
        return True
    before = snapshot(locked)
    locked.wrong_codes = min(locked.wrong_codes + 1, MOST_WRONG_CODES + 1)
    locked.save(update_fields=["wrong_codes"])
    record(locked, by=None, kind="reader_link.wrong_code", before=before, extra={"wrong_codes": locked.wrong_codes})
    return False


@action
def accept_by_link(*, link: ReaderLink, name: str, organisation: str, accepted_on: dt.date) -> Acceptance:
    """The client takes the report over; the caller has asked for the code of the link."""
    report = whole_for_update(link.recipient.report)
    if link.word != "valid":
        raise NotAllowed(f"This link is {link.word}; ask for another.")
    row = Acceptance(name=name, organisation=organisation, accepted_on=accepted_on, link=link)
    return _accept(report, row, by=None)


@action
def accept_on_paper(
    *, report: TurnoverReport, name: str, organisation: str, accepted_on: dt.date, paper: tuple[bytes, str], by: User
) -> Acceptance:
    """The client signed on paper; its scan is kept by its hash. `paper` is content and "pdf" or "jpg"."""
    content, kind = paper
    row = Acceptance(
        name=name, organisation=organisation, accepted_on=accepted_on, entered_by=by, paper_kind=kind,
        paper_sha256=keep(content, kind),
    )  # fmt: skip
    return _accept(whole_for_update(report), row, by=by)


def _accept(report: TurnoverReport, row: Acceptance, *, by: User | None) -> Acceptance:
    if report.state != ReportState.ISSUED:
        raise NotAllowed(f"{report} is {ReportState(report.state).label.lower()}; only an issued report is accepted.")
    issued_on = (report.issued_at or timezone.now()).astimezone(report.pour.plan.machine.site.tz).date()
    today = timezone.now().astimezone(report.pour.plan.machine.site.tz).date()
    if not issued_on <= row.accepted_on <= today:
        raise NotAllowed(f"The day {row.accepted_on} is not between the issue on {issued_on} and today, {today}.")
    row.report, row.sentence, row.pdf_sha256 = report, ACCEPTED, report.pdf_sha256
    row.save(force_insert=True)
    record(row, by=by, kind="report.signed_accepted")
    before = snapshot(report)
    report.state = ReportState.ACCEPTED
    report.save(update_fields=["state"])
    record(report, by=by, kind="report.accepted", before=before)
    return row


@action
def propose_withdrawal(*, report: TurnoverReport, reason: str, by: User) -> Withdrawal:
    """Say why a sealed or issued report is to be taken back; it stands until a second person agrees."""
    locked = whole_for_update(report)
    if locked.state not in {ReportState.SEALED, ReportState.ISSUED}:
        raise NotAllowed(
            f"{locked} is {ReportState(locked.state).label.lower()}; only a sealed or issued report is withdrawn. "
            "A report that the client accepted is superseded by another revision."
        )
    require_reason(reason, "the register shows it")
    if Withdrawal.objects.filter(report=locked).exists():
        raise NotAllowed("Somebody has asked for this already; another person agrees to it.")
    row = Withdrawal.objects.create(report=locked, reason=reason.strip(), proposed_by=by)
    record(row, by=by, kind="report.withdrawal_proposed", reason=row.reason)
    return row


@action
def agree_withdrawal(*, report: TurnoverReport, by: User) -> TurnoverReport:
    """The second person: the report is withdrawn. It stays in the register with its reason and its bytes."""
    locked = whole_for_update(report)
    row = Withdrawal.objects.select_for_update().filter(report=locked, agreed_by=None).first()
    if row is None:
        raise NotAllowed("Nobody has asked to withdraw this report.")
    if row.proposed_by_id == by.pk:
        raise NotAllowed("You asked for it yourself; another engineer or the site administrator agrees.")
    before = snapshot(row)
    row.agreed_by, row.agreed_at = by, timezone.now()
    row.save(update_fields=["agreed_by", "agreed_at"])
    record(row, by=by, kind="report.withdrawal_agreed", before=before)
    before = snapshot(locked)
    locked.state = ReportState.WITHDRAWN
    locked.save(update_fields=["state"])
    record(locked, by=by, kind="report.withdrawn", before=before, reason=row.reason)
    unlock_pour(locked, by)
    return locked
