"""Fetch the live forecasts that are due. For cron, beside or in place of the worker."""

from typing import Any

from django.core.management.base import BaseCommand

from groutjobs.weather.fetching import Outcome, fetch_if_due
from groutjobs.weather.models import FeedState, ForecastFeed


class Command(BaseCommand):
    help = "Fetch the forecast of every site that chose a service, where it is due; run it every ten minutes or so."

    def handle(self, *args: Any, **options: Any) -> None:
        feeds = ForecastFeed.objects.filter(is_on=True).select_related("site").order_by("site__name")
        if not feeds:
            self.stdout.write("No site has chosen a forecast service.")
        for feed in feeds:
            outcome = fetch_if_due(feed.site_id)
            self.stdout.write(f"{feed.site.name}, {feed.get_service_display()}: {outcome}")
            if outcome is Outcome.FAILED:
                state = FeedState.objects.get(site=feed.site_id, service=feed.service)
                self.stdout.write(f"  {state.fault}")
