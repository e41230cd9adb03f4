"""Readings or a forecast arrived: the outlook of the cure is asked for, once, behind the page."""

import datetime as dt
from functools import partial
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from groutjobs.curing.tasks import work_out
from groutjobs.curing.watch_models import CureOutlook
from groutjobs.pours.models import Pour
from groutjobs.weather.models import Forecast

WAITS_FOR = dt.timedelta(minutes=10)
"""An outlook asked for longer ago was lost with its worker and is asked for again [GROUTJOBS]."""
WATCHED_FOR = dt.timedelta(days=45)


def ask_outlook(pour_id: int, why: str) -> None:
    """Have the outlook worked out after this transaction, unless that waits in the queue already."""
    now = timezone.now()
    CureOutlook.objects.get_or_create(pour_id=pour_id)
    none_waits = Q(asked_at=None) | Q(asked_at__lt=now - WAITS_FOR)
    if CureOutlook.objects.filter(none_waits, pour_id=pour_id).update(asked_at=now, asked_why=why[:200]):
        transaction.on_commit(partial(work_out.enqueue, pour_id))


def ask_for_site(*, forecast: Forecast, **_: Any) -> int:
    """A forecast arrived: the outlook of each pour of its site that still cures is asked for; how many were."""
    since = timezone.now() - WATCHED_FOR
    pours = Pour.objects.filter(plan__machine__site=forecast.site_id, placed_at__gt=since)
    ids = list(pours.values_list("pk", flat=True))
    for pour_id in ids:
        ask_outlook(pour_id, f"forecast of {forecast.source_name}, issued {forecast.issued_at:%Y-%m-%d %H:%M} UTC")
    return len(ids)
