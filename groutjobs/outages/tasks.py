"""Schedules are computed, and hours searched again, behind the page."""

from django_tasks import task

from groutjobs.outages.again import search_hours_again
from groutjobs.outages.solving import solve_if_waiting


@task()
def solve_schedule(schedule_id: int) -> str:
    """Compute a schedule that waits; repeating it does nothing."""
    return solve_if_waiting(schedule_id)


@task()
def search_again(outage_id: int, forecast_id: int, user_id: int) -> int:
    """Search the hours of every machine of an outage in a forecast; repeating it does nothing."""
    return search_hours_again(outage_id, forecast_id, user_id)
