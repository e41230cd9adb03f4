"""Computing a schedule behind the page: leased, told while it runs, stopped on request, kept once."""

import datetime as dt
from typing import Any

from django.db.models import Q
from django.utils import timezone

from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.errors import GroutJobsError
from groutjobs.outages.calc import Watched, computed
from groutjobs.outages.models import STATES_UNDER_WAY, OutageSchedule, ScheduleState, SolveState
from groutjobs.outages.queries import asked_for

LEASE = dt.timedelta(seconds=60)
STATE_OF_KIND = {
    "solved": ScheduleState.SOLVED,
    "infeasible": ScheduleState.INFEASIBLE,
    "out of time": ScheduleState.OUT_OF_TIME,
}


def solve_if_waiting(schedule_id: int) -> str:
    """Compute a schedule that waits, or one whose worker died. Asking twice computes it once."""
    if not _leased(schedule_id):
        return "not waiting"
    schedule = OutageSchedule.objects.select_related("outage__site").get(pk=schedule_id)
    _begin(schedule=schedule)
    try:
        result = computed(asked_for(schedule), lambda watched: _told(schedule_id, watched))
    except GroutJobsError as error:
        _keep(schedule=schedule, state=ScheduleState.FAILED, result={}, reason=str(error))
    else:
        _keep(schedule=schedule, state=STATE_OF_KIND[result["kind"]], result=result, reason="")
    return str(schedule.state)


def _leased(schedule_id: int) -> bool:
    now = timezone.now()
    free = Q(working_until=None) | Q(working_until__lte=now)
    waiting = SolveState.objects.filter(free, schedule_id=schedule_id, schedule__state__in=STATES_UNDER_WAY)
    return bool(waiting.update(working_until=now + LEASE))


def _told(schedule_id: int, watched: Watched) -> bool:
    """Keep the news and the lease; whether to stop."""
    mine = SolveState.objects.filter(schedule_id=schedule_id)
    mine.update(progress=watched.as_json(), working_until=timezone.now() + LEASE)
    return bool(mine.values_list("stop_asked", flat=True).first())


@action
def _begin(*, schedule: OutageSchedule) -> None:
    if schedule.state == ScheduleState.SOLVING:
        unchanged()  # taken over from a worker that died
        return
    before = snapshot(schedule)
    schedule.state = ScheduleState.SOLVING
    schedule.save(update_fields=["state"])
    record(schedule, by=None, kind="outage_schedule.begun", before=before)


@action
def _keep(*, schedule: OutageSchedule, state: ScheduleState, result: dict[str, Any], reason: str) -> None:
    before = snapshot(schedule)
    schedule.state, schedule.result, schedule.reason = state, result, reason[:300]
    schedule.save(update_fields=["state", "result", "reason"])
    SolveState.objects.filter(schedule=schedule).update(working_until=None, progress={})
    record(schedule, by=None, kind="outage_schedule.computed", before=before)
