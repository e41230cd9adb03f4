"""A live forecast arrived: machines of accepted schedules are judged by it, and their pages tell what moved."""

import datetime as dt
from typing import Any

from django.utils import timezone

from groutjobs.errors import GroutJobsError
from groutjobs.outages.models import HoursNews, OutageSchedule, ScheduleState
from groutjobs.outages.schedule_actions import ask_hours_again
from groutjobs.weather.models import Forecast

APART = dt.timedelta(hours=12)
"""Not after each fetch: a search is kept for good, and six machines would keep fifty of them a day [GROUTJOBS]."""


def judge_accepted(*, forecast: Forecast, **_: Any) -> int:
    """Ask for it in the name of who accepted; how many outages were. Those that the forecast does not reach are not."""
    now, asked = timezone.now(), 0
    rows = OutageSchedule.objects.filter(
        state=ScheduleState.ACCEPTED,
        outage__site=forecast.site_id,
        outage__ends_at__gt=now,
        outage__starts_at__lt=forecast.ends_at,
    )
    for schedule in rows.select_related("outage__site", "accepted_by").defer("result"):
        just_now = HoursNews.objects.filter(outage=schedule.outage_id, asked_at__gt=now - APART)
        if schedule.accepted_by is None or just_now.exists():
            continue
        try:
            ask_hours_again(outage=schedule.outage, forecast=forecast, by=schedule.accepted_by)
        except GroutJobsError:
            continue
        asked += 1
    return asked
