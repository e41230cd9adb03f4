"""The breaker of a service: after failures in a row, at whatever site, nobody asks it for a while [GROUTJOBS]."""

import datetime as dt

from django.db import transaction
from django.db.models import Q

from groutjobs.weather.models import ServiceState

OPENS_AFTER = 5
SHORTEST = dt.timedelta(minutes=15)
LONGEST = dt.timedelta(hours=6)
TRIAL = dt.timedelta(minutes=3)


def left_alone_until(service: str, now: dt.datetime) -> dt.datetime | None:
    """None where the service may be asked. When the breaker's time is over, the first caller gets the one trial."""
    state, _ = ServiceState.objects.get_or_create(service=service)
    if state.open_until is None:
        return None
    if state.open_until > now:
        return state.open_until
    free = Q(trial_until=None) | Q(trial_until__lte=now)
    taken = ServiceState.objects.filter(free, pk=state.pk, open_until__lte=now).update(trial_until=now + TRIAL)
    return None if taken else now + TRIAL


def note_good(service: str) -> None:
    """Close the breaker."""
    ServiceState.objects.filter(service=service).update(failures=0, open_until=None, trial_until=None)


def note_bad(service: str, now: dt.datetime) -> None:
    """Count a failure; from the fifth in a row on leave the service alone, twice as long each time."""
    with transaction.atomic():
        state, _ = ServiceState.objects.select_for_update().get_or_create(service=service)
        state.failures += 1
        if state.failures >= OPENS_AFTER:
            doublings = min(state.failures - OPENS_AFTER, 10)
            state.open_until = now + min(SHORTEST * 2**doublings, LONGEST)
        state.trial_until = None
        state.save()
