"""Writes of releases: an engineer releases a milestone on the evidence that was read, or takes a release back."""

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record
from groutjobs.curing.evidence import all_evidence, sentence_of, standing_releases, text_and_hash
from groutjobs.curing.release_models import MilestoneRelease, ReleaseWithdrawal
from groutjobs.errors import NotAllowed, Stale
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.reasons import REASON_LEAST, is_reason, require_reason


@action
def release_milestone(*, pour: Pour, code: str, evidence_sha256: str, reason: str, by: User) -> MilestoneRelease:
    """Release one milestone. `evidence_sha256` is the hash of what the person has read.

    The caller has asked for the password again. Against the evidence a reason is needed.
    """
    locked = pour_whole().select_for_update(of=("self",)).get(pk=pour.pk)
    evidence = all_evidence(locked).get(code)
    if evidence is None:
        raise NotAllowed("The cure has no such milestone yet: the clock starts when the last grout is placed.")
    if code in standing_releases(locked):
        raise NotAllowed(f"“{evidence['milestone']['label']}” is released already; nothing was signed.")
    text, digest = text_and_hash(evidence)
    if digest != evidence_sha256:
        raise Stale("The evidence is not what you read: readings, samples or a forecast came. Read it again.")
    against = bool(evidence["against"])
    if against and not is_reason(reason):
        raise NotAllowed(
            f"The evidence does not carry this release. To release it all the same, give a reason of at least "
            f"{REASON_LEAST} characters; it is printed in the report [GROUTJOBS]."
        )
    row = MilestoneRelease.objects.create(
        pour=locked,
        milestone=code,
        label=evidence["milestone"]["label"],
        sentence=sentence_of(evidence),
        evidence_text=text,
        evidence_sha256=digest,
        is_against=against,
        reason=reason.strip(),
        released_by=by,
        printed_name=by.name,
    )
    record(row, by=by, kind="milestone.released", reason=row.reason)
    return row


@action
def withdraw_release(*, release: MilestoneRelease, reason: str, by: User) -> ReleaseWithdrawal:
    """Take a release back. It stays on record with the reason, and the milestone can be released anew."""
    pour_whole().select_for_update(of=("self",)).get(pk=release.pour_id)
    if ReleaseWithdrawal.objects.filter(release=release).exists():
        raise NotAllowed("This release was withdrawn before; nothing was changed.")
    require_reason(reason, "the crew reads it [GROUTJOBS]")
    row = ReleaseWithdrawal.objects.create(release=release, reason=reason.strip(), withdrawn_by=by)
    record(row, by=by, kind="release.withdrawn", reason=row.reason)
    return row
