"""Write and send the reminders that are due. For cron, beside or in place of the worker."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from groutjobs.reminders.mailing import run_round


class Command(BaseCommand):
    help = "Write and send the reminders that are due; run it every fifteen minutes or so."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(run_round(timezone.now()))
