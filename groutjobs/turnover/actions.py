"""Writes of the turnover: freezing, signing, sending back, drawing again."""

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from django.db import transaction
from django.utils import timezone

from groutjobs.accounts.models import Role, User
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.audit.anchors import make_anchor
from groutjobs.audit.chain import canonical
from groutjobs.errors import NotAllowed, Stale
from groutjobs.findings import Finding
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.reasons import REASON_LEAST, is_reason, require_reason
from groutjobs.signing.rules import Signer
from groutjobs.turnover.manifest import build_manifest, key_facts, words_to_search
from groutjobs.turnover.models import Meaning, ReportState, Signature, TurnoverReport
from groutjobs.turnover.queries import in_force, signer_for, under_way
from groutjobs.turnover.readiness import NEVER_ACCEPTED, blockers_of, readiness
from groutjobs.turnover.signing import ROLES_FOR, SENTENCES, next_meaning, refusal, role_words
from groutjobs.turnover.tasks import draw_report


@action
def freeze_report(
    *, pour: Pour, by: User, deviations: Mapping[str, str] | None = None, revises_because: str = ""
) -> TurnoverReport:
    """Freeze all facts of the pour into a manifest for signing.

    `deviations` gives a reason for the code of each blocker that is accepted; a blocker without one refuses. Where a
    revision is in force, `revises_because` says why another takes its place once it is issued.
    """
    locked = pour_whole().select_for_update(of=("self",)).get(pk=pour.pk)
    _refuse_second(locked)
    _refuse_silent_revision(locked, revises_because)
    findings = readiness(locked, system=by.unit_system)
    accepted = _accepted(findings, deviations or {}, by=by)
    revision = (TurnoverReport.objects.filter(pour=locked).order_by("-revision").values_list("revision", flat=True))[:1]
    report = TurnoverReport(
        pour=locked,
        number=number_of(locked),
        revision=(next(iter(revision), 0)) + 1,
        frozen_by=by,
        frozen_at=timezone.now(),
        revises_because=revises_because.strip(),
    )
    manifest = build_manifest(report=report, findings=findings, deviations=accepted)
    report.manifest_text = canonical(manifest)
    report.manifest_sha256 = hashlib.sha256(report.manifest_text.encode()).hexdigest()
    report.facts = key_facts(manifest)
    report.search_text = words_to_search(manifest)
    report.save(force_insert=True)
    _lock(locked, report.frozen_at, by)
    record(report, by=by, kind="report.frozen", extra={"accepted": accepted} if accepted else None)
    return report


def _lock(pour: Pour, at: dt.datetime | None, by: User) -> None:
    """Say on the pour since when a report holds its record; an entry of a phone that comes later is marked late."""
    before = snapshot(pour)
    pour.locked_at = at
    pour.save(update_fields=["locked_at"])
    record(pour, by=by, kind="pour.locked" if at else "pour.unlocked", before=before)


def number_of(pour: Pour) -> str:
    """The number of the report of a pour; all its revisions carry it."""
    return f"T-{pour.pk:05d}"


def _refuse_second(pour: Pour) -> None:
    other = under_way(pour)
    if other:
        raise NotAllowed(
            f"{other} is {ReportState(other.state).label.lower()}. Sign it, or send it back with a reason, "
            "before you freeze another revision."
        )


def _refuse_silent_revision(pour: Pour, reason: str) -> None:
    standing = in_force(pour)
    if standing and not is_reason(reason):
        raise NotAllowed(
            f"{standing} is {ReportState(standing.state).label.lower()}. Say in at least {REASON_LEAST} characters why "
            "another revision takes its place; the sentence is printed in the new one and shown with the old one."
        )


def _accepted(findings: Sequence[Finding], deviations: Mapping[str, str], *, by: User) -> list[dict[str, Any]]:
    """Each blocker with the reason why it is accepted; NotAllowed where one has none or can have none."""
    blockers = blockers_of(findings)
    unknown = sorted(set(deviations) - {blocker.code for blocker in blockers})
    if unknown:
        raise NotAllowed(f"“{unknown[0]}” stands in nobody's way any more; look at the readiness list again.")
    for blocker in blockers:
        if blocker.code.startswith(NEVER_ACCEPTED):
            raise NotAllowed(f"{blocker.message} This cannot be accepted as a deviation. {blocker.hint}")
        if not is_reason(deviations.get(blocker.code, "")):
            raise NotAllowed(
                f"{blocker.message} Close it, or accept it as a deviation with a reason of at least "
                f"{REASON_LEAST} characters."
            )
    return [
        blocker.as_json()
        | {"reason": deviations[blocker.code].strip(), "accepted_by_id": by.pk, "accepted_by": by.name}
        for blocker in blockers
    ]


@action
def sign_report(*, report: TurnoverReport, meaning: Meaning, by: User, manifest_sha256: str) -> Signature:
    """Put a person's name under the report. `manifest_sha256` is the hash of what the person has read.

    The caller has asked for the password again. The third signature hands the report to the drawing task.
    """
    locked = whole_for_update(report)
    if locked.state != ReportState.FROZEN:
        raise NotAllowed(f"{locked} is {ReportState(locked.state).label.lower()}; only a frozen report is signed.")
    if manifest_sha256 != locked.manifest_sha256:
        raise Stale("The report is not the one that you read. Open it again, read it, and sign then.")
    signatures = list(locked.signatures.all())
    due = next_meaning(signature.meaning for signature in signatures)
    if due != meaning:
        word = due.label.lower() if due else "none"
        raise NotAllowed(f"“{Meaning(meaning).label}” is not the signature that is due now; due is: {word}.")
    reason = refusal(due, signer_for(by, locked.pour), {signature.signer_id for signature in signatures})
    if reason:
        raise NotAllowed(reason)
    signature = Signature.objects.create(
        report=locked,
        meaning=due,
        sentence=SENTENCES[due],
        signer=by,
        printed_name=by.name,
        manifest_sha256=locked.manifest_sha256,
    )
    record(signature, by=by, kind=f"report.signed_{due.value}")
    make_anchor(occasion=f"{due.value}, {locked.number}")
    if next_meaning([*(other.meaning for other in signatures), due]) is None:
        _approve(locked, by=by)
    return signature


def _approve(report: TurnoverReport, *, by: User) -> None:
    before = snapshot(report)
    report.state = ReportState.APPROVED
    report.save(update_fields=["state"])
    record(report, by=by, kind="report.approved", before=before)
    transaction.on_commit(partial(draw_report.enqueue, report.pk, report.tries))


@action
def return_report(*, report: TurnoverReport, reason: str, by: User) -> TurnoverReport:
    """Send a report back before it is sealed, so that the record can be mended and frozen again.

    Names already under it stay visible and count no more. A report that all have signed goes back only where it cannot
    be drawn or sealed.
    """
    locked = whole_for_update(report)
    if locked.state != ReportState.FROZEN and not (locked.state == ReportState.APPROVED and locked.fault):
        raise NotAllowed(
            f"{locked} is {ReportState(locked.state).label.lower()} and cannot go back. "
            "Freeze a new revision instead; it supersedes this one when it is issued."
        )
    refused = why_not_back(locked, signer_for(by, locked.pour))
    if refused:
        raise NotAllowed(refused)
    require_reason(reason, "the crew reads it")
    before = snapshot(locked)
    locked.state = ReportState.RETURNED
    locked.returned_because = reason.strip()
    locked.save(update_fields=["state", "returned_because"])
    record(locked, by=by, kind="report.returned", before=before, reason=reason.strip())
    unlock_pour(locked, by)
    return locked


def unlock_pour(report: TurnoverReport, by: User) -> None:
    """Let the pour be held by the report that is still in force, or by none."""
    standing = in_force(report.pour)
    _lock(report.pour, standing.frozen_at if standing else None, by)


def whole_for_update(report: TurnoverReport) -> TurnoverReport:
    """The row of the report, locked until the transaction ends."""
    rows = TurnoverReport.objects.select_for_update(of=("self",)).select_related("pour__plan__machine__site")
    return rows.get(pk=report.pk)


def why_not_back(report: TurnoverReport, signer: Signer) -> str:
    """Why this person may not send the report back; empty where the person may.

    Before the first name an engineer unfreezes it; later those do who could put the next name under it.
    """
    signatures = list(report.signatures.all())
    if report.state == ReportState.FROZEN and signer.person_id in {one.signer_id for one in signatures}:
        return "You have signed this report. Somebody who still has to sign it can send it back."
    due = next_meaning(signature.meaning for signature in signatures)
    allowed = ROLES_FOR[due] if due else frozenset()
    if not signer.roles & (allowed | {Role.ENGINEER}):
        return f"A report goes back through {role_words(allowed | {Role.ENGINEER})} of this site."
    return ""


@action
def draw_again(*, report: TurnoverReport, by: User) -> TurnoverReport:
    """Hand an approved report to the drawing task once more, after a failure or a lost worker."""
    locked = TurnoverReport.objects.select_for_update().get(pk=report.pk)
    if locked.state != ReportState.APPROVED:
        raise NotAllowed(
            f"{locked} is {ReportState(locked.state).label.lower()}; only an approved report is drawn and sealed."
        )
    record(locked, by=by, kind="report.drawing_asked", before=snapshot(locked), extra={"fault_before": locked.fault})
    transaction.on_commit(partial(draw_report.enqueue, locked.pk, locked.tries))
    return locked
