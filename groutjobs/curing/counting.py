"""Calls counted in the database, so that all processes and hosts count together."""

import datetime as dt
import hashlib

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from groutjobs.curing.logger_models import CallCount

FORGOTTEN_AFTER = dt.timedelta(days=2)


def seconds_to_wait(about: str, most: int, seconds: int, add: int = 1) -> int:
    """Count calls (or rows) about one thing in a stretch of time; seconds until the next stretch where it is over."""
    now = timezone.now()
    number = int(now.timestamp()) // seconds
    begins_at = dt.datetime.fromtimestamp(number * seconds, dt.UTC)
    name = hashlib.sha256(f"{about}|{seconds}".encode()).hexdigest()
    with transaction.atomic():
        rows = CallCount.objects.filter(about=name, begins_at=begins_at)
        if not rows.update(count=F("count") + add):
            CallCount.objects.filter(begins_at__lt=now - FORGOTTEN_AFTER).delete()
            CallCount.objects.bulk_create([CallCount(about=name, begins_at=begins_at)], ignore_conflicts=True)
            rows.update(count=F("count") + add)
        count = rows.values_list("count", flat=True)[0]
    if count <= most:
        return 0
    return max(1, int((begins_at + dt.timedelta(seconds=seconds) - now).total_seconds()) + 1)
