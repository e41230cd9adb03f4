"""What a morning's mail tells beside the duties: releases that are near, calibrations, nonconformances."""

import datetime as dt
from collections.abc import Iterable

from groutjobs.curing.release_models import MilestoneRelease
from groutjobs.curing.watch_models import MilestoneMove
from groutjobs.equipment.models import Site
from groutjobs.instruments.queries import calibrations_due
from groutjobs.nonconformances.queries import open_ones
from groutjobs.outages.duties import DutyKind
from groutjobs.reminders.nearing import nearing
from groutjobs.reminders.queries import DutyRow

NEAR = dt.timedelta(hours=48)
MOST = 20


def watched_parts(
    site: Site, rows: Iterable[DutyRow], moves: Iterable[MilestoneMove], now: dt.datetime
) -> dict[str, list[str]]:
    """Lines under their headings; eight queries at the most."""
    day = now.astimezone(site.tz).date()
    return {
        "Milestones that wait for the release of an engineer": [
            *(f"{near.title(now)}: {near.dates}" for near in nearing(moves, now, NEAR) if near.middle_at >= now - NEAR),
            *_releases(site, rows, now),
        ],
        "Instruments to calibrate": [f"{row.instrument}: {row.word}" for row in calibrations_due(site, day)[:MOST]],
        "Nonconformances that are not closed": [
            f"{row}, {row.pour.plan.machine.tag}: {row.get_state_display().lower()}" for row in open_ones(site, MOST)
        ],
    }


def _releases(site: Site, rows: Iterable[DutyRow], now: dt.datetime) -> list[str]:
    """Milestones of pours under way, predicted within 48 hours before or after now, that nobody released; of cures
    of which no readings gave better dates."""
    near = [
        row
        for row in rows
        if row.duty.kind is DutyKind.CURE
        and -NEAR <= row.duty.begins_at - now <= NEAR
        and row.standing.word != "waits for the pour"
    ]
    if not near:
        return []
    given = MilestoneRelease.objects.filter(pour__plan__in=[row.pour.plan_id for row in near], withdrawal=None)
    released = set(given.values_list("pour__plan_id", "milestone"))
    return [
        f"{row.duty.begins_at.astimezone(site.tz):%a %d %b %H:%M}  {row.pour.plan.machine.tag}: {row.duty.label}"
        for row in near
        if (row.pour.plan_id, row.duty.code.removeprefix("cure_")) not in released
    ]
