"""Rounds of reminders behind the pages. Each round leaves the task of the next one in the queue."""

import datetime as dt

from django.db.models import Q
from django.utils import timezone
from django_tasks import task, task_backends

from groutjobs.reminders.mailing import run_round
from groutjobs.reminders.models import Mail, MailState, ReminderRound
from groutjobs.reminders.queries import sites_to_remind

EVERY = dt.timedelta(minutes=15)


@task()
def remind() -> str:
    """Write and send what is due; repeating it sends nothing twice."""
    try:
        return run_round(timezone.now())
    finally:
        queue_next()


def queue_next() -> bool:
    """Put the next round into the queue, unless it waits there already or nobody wants any.

    A round that a dying worker took along does not block it: what counts is whether its time has come.
    """
    if not task_backends["default"].supports_defer:
        return False
    if not sites_to_remind().exists() and not Mail.objects.filter(state=MailState.WAITING).exists():
        return False
    now = timezone.now()
    one, _ = ReminderRound.objects.get_or_create(pk=1)
    none_waits = Q(queued_for=None) | Q(queued_for__lte=now) | Q(queued_for__gt=now + EVERY)
    if not ReminderRound.objects.filter(none_waits, pk=one.pk).update(queued_for=now + EVERY):
        return False
    remind.using(run_after=now + EVERY).enqueue()
    return True
