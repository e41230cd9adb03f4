"""Fetching behind the pages. Each fetch leaves the task of the next one in the queue."""

from django.db.models import F, Q
from django.utils import timezone
from django_tasks import task, task_backends

from groutjobs.weather.fetching import fetch_if_due
from groutjobs.weather.models import FeedState, ForecastFeed


@task()
def fetch_when_due(site_id: int) -> str:
    """Fetch if it is due; repeating it asks the service no more often."""
    try:
        return fetch_if_due(site_id)
    finally:
        queue_next(site_id)


def queue_next(site_id: int) -> None:
    """Put the next fetch of the site into the queue, unless it waits there already.

    A task that a dying worker took along does not block it: what counts is whether its time has come.
    """
    feed = ForecastFeed.objects.filter(site_id=site_id, is_on=True).first()
    if feed is None or not task_backends["default"].supports_defer:
        return
    state = FeedState.objects.filter(site_id=site_id, service=feed.service).exclude(next_try_at=None).first()
    if state is None or state.next_try_at is None:
        return
    none_waits = Q(queued_for=None) | Q(queued_for__lte=timezone.now()) | Q(queued_for__gt=F("next_try_at"))
    if FeedState.objects.filter(none_waits, pk=state.pk).update(queued_for=state.next_try_at):
        fetch_when_due.using(run_after=state.next_try_at).enqueue(site_id)
