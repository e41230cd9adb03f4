"""Work that runs behind the pages."""

from django_tasks import task

from groutjobs.turnover.issuing import issue_report


@task()
def draw_report(report_id: int) -> str:
    """Draw and issue the report; repeating it changes nothing once it is issued."""
    return issue_report(report_id)
