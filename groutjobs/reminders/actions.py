"""What people say about their reminders: a duty is in hand, mail on or off, a calendar address made or ended."""

import hashlib
import secrets
from functools import partial

from django.db import transaction
from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.equipment.models import Site
from groutjobs.errors import NotAllowed
from groutjobs.outages.models import ScheduledPour
from groutjobs.reminders.models import DutyInHand, PersonalCalendar, ReminderChoice
from groutjobs.reminders.queries import accepted_steps, duties_of, own_calendar, pours_with_duties
from groutjobs.reminders.tasks import queue_next

CODE_BYTES = 32


def hash_of_code(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


@action
def take_duty(*, scheduled_pour: ScheduledPour, code: str, by: User) -> DutyInHand:
    """Say that a duty is begun or done; saying it twice keeps the first."""
    if not scheduled_pour.is_current:
        raise NotAllowed("Another hour was chosen since; say it on the list of that hour.")
    site = scheduled_pour.plan.machine.site
    rows = pours_with_duties(site, scheduled_pour.starts_at).filter(pk=scheduled_pour.pk)
    known = {duty.code for row in rows for duty in duties_of(row, accepted_steps(site))}
    if code not in known:
        raise NotAllowed(f"“{code[:40]}” is no duty of this pour; take one of its list.")
    said, is_new = DutyInHand.objects.get_or_create(scheduled_pour=scheduled_pour, code=code, defaults={"said_by": by})
    if is_new:
        record(said, by=by, kind="duty.in_hand")
    else:
        unchanged()
    return said


@action
def give_duty_back(*, scheduled_pour: ScheduledPour, code: str, by: User) -> None:
    """Take back that a duty is in hand."""
    said = DutyInHand.objects.filter(scheduled_pour=scheduled_pour, code=code).first()
    if said is None:
        unchanged()
        return
    record(said, by=by, kind="duty.given_back", extra={"code": code, "said_by": said.said_by_id})
    said.delete()


@action
def choose_mail(*, site: Site, by_mail: bool, by: User) -> ReminderChoice:
    """Switch a person's own mail about a site on or off; the first who wants any sets the rounds going."""
    choice, _ = ReminderChoice.objects.get_or_create(site=site, person=by)
    if by_mail:
        transaction.on_commit(partial(queue_next))
    if choice.by_mail == by_mail:
        unchanged()
        return choice
    before = snapshot(choice)
    choice.by_mail = by_mail
    choice.save(update_fields=["by_mail"])
    record(choice, by=by, kind="reminders.chosen", before=before)
    return choice


@action
def make_calendar(*, site: Site, by: User) -> tuple[PersonalCalendar, str]:
    """A new address for the person at the site, with its code, which is shown once; the earlier one ends."""
    _revoke(own_calendar(site, by), by)
    code = secrets.token_urlsafe(CODE_BYTES)
    made = PersonalCalendar.objects.create(site=site, person=by, code_sha256=hash_of_code(code))
    record(made, by=by, kind="personal_calendar.made")
    return made, code


@action
def end_calendar(*, site: Site, by: User) -> bool:
    """End the person's address at the site; whether there was one."""
    held = own_calendar(site, by)
    if held is None:
        unchanged()
    _revoke(held, by)
    return held is not None


def _revoke(held: PersonalCalendar | None, by: User) -> None:
    if held is None:
        return
    before = snapshot(held)
    held.revoked_at = timezone.now()
    held.save(update_fields=["revoked_at"])
    record(held, by=by, kind="personal_calendar.revoked", before=before)
