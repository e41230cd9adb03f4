"""Writes about the second factor: setting it up, taking a code, using a recovery code, a reset by the administrator."""

from django.utils import timezone

from groutjobs.accounts import factor
from groutjobs.accounts.models import Membership, Role, SecondFactor, User
from groutjobs.accounts.queries import holds
from groutjobs.audit.actions import action, record, snapshot
from groutjobs.errors import NotAllowed
from groutjobs.keeping import closed, opened
from groutjobs.reasons import require_reason


@action
def begin_second_factor(*, by: User) -> SecondFactor:
    """Make a secret that waits for its first code. One that was in use ends with it, with its recovery codes."""
    known = SecondFactor.objects.select_for_update().filter(person=by).first()
    before = snapshot(known) if known else None
    row = known or SecondFactor(person=by)
    row.secret, row.made_at = closed(factor.new_secret(), purpose=factor.PURPOSE), timezone.now()
    row.confirmed_at, row.last_step, row.recovery = None, 0, []
    row.save()
    record(row, by=by, kind="person.second_factor_begun", before=before)
    return row


def secret_of(row: SecondFactor) -> str:
    return opened(row.secret, purpose=factor.PURPOSE)


@action
def confirm_second_factor(*, by: User, code: str) -> list[str]:
    """Take the first code; returns the recovery codes, which are stored nowhere."""
    row = SecondFactor.objects.select_for_update().filter(person=by, confirmed_at=None).first()
    if row is None:
        raise NotAllowed("There is no new secret to confirm. Begin again.")
    step = factor.step_of(secret_of(row), factor.plain_code(code), timezone.now())
    if step is None:
        raise NotAllowed("The code is not the one that a phone with this secret shows now. Type the next one.")
    before, codes = snapshot(row), factor.new_recovery_codes()
    row.confirmed_at, row.last_step, row.recovery = timezone.now(), step, [factor.hash_of(one) for one in codes]
    row.save()
    record(row, by=by, kind="person.second_factor_set", before=before)
    return codes


def take_code(*, person: User, typed: str) -> bool:
    """Whether this is a code of the person that was not used before. It is used up with the answer.

    Of two requests with one code the database lets one through: the step only ever rises.
    """
    row = SecondFactor.objects.filter(person=person, confirmed_at__isnull=False).first()
    code = factor.plain_code(typed)
    if row is None or not code:
        return False
    step = factor.step_of(secret_of(row), code, timezone.now())
    if step is not None:
        return bool(SecondFactor.objects.filter(pk=row.pk, last_step__lt=step).update(last_step=step))
    return factor.hash_of(code) in row.recovery and _use_recovery_code(person=person, code=code)


@action
def _use_recovery_code(*, person: User, code: str) -> bool:
    row = SecondFactor.objects.select_for_update().get(person=person)
    before, used = snapshot(row), factor.hash_of(code)
    is_there = used in row.recovery
    row.recovery = [one for one in row.recovery if one != used]
    row.save(update_fields=["recovery"])
    left = {"recovery_codes_left": len(row.recovery)}
    record(row, by=person, kind="person.recovery_code_used", before=before, extra=left)
    return is_there


@action
def reset_second_factor(*, person: User, site_id: int, reason: str, by: User) -> None:
    """Take the second factor of a colleague away, after a lost phone; a new one is set up at the next sign-in."""
    if by.pk == person.pk or not holds(by, site_id, {Role.ADMINISTRATOR}):
        raise NotAllowed("Another person, the administrator of the site, resets a second factor; ask him.")
    row = SecondFactor.objects.select_for_update().filter(person=person).first()
    if row is None or not Membership.objects.filter(user=person, site=site_id).exists():
        raise NotAllowed("There is no second factor of this person to reset.")
    require_reason(reason)
    record(row, by=by, kind="person.second_factor_reset", reason=reason.strip(), extra={"site": site_id})
    row.delete()
