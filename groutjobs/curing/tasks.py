"""The outlook of a cure is worked out behind the page."""

from django_tasks import task

from groutjobs.curing.outlooks import work_out_outlook


@task()
def work_out(pour_id: int) -> str:
    """Work out the outlook of a pour; repeating it does nothing."""
    return work_out_outlook(pour_id)
