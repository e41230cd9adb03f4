"""Searching the pour hours of all machines of an outage again in another forecast, with what each was asked before."""

from django.utils import timezone

from groutjobs.accounts.models import User
from groutjobs.errors import GroutJobsError
from groutjobs.outages.models import HoursNews, Outage
from groutjobs.outages.queries import jobs_of
from groutjobs.planning.queries import plan_whole
from groutjobs.weather.models import Forecast
from groutjobs.windows.actions import search_pour_hours
from groutjobs.windows.models import PourHours
from groutjobs.windows.question import asked_before


def search_hours_again(outage_id: int, forecast_id: int, user_id: int) -> int:
    """Judge the hours of every machine by a forecast; how many were. One that was judged by it before is left alone.

    What could not be judged is kept for the page, with the reason.
    """
    outage = Outage.objects.select_related("site").get(pk=outage_id)
    forecast, by = Forecast.objects.get(pk=forecast_id), User.objects.get(pk=user_id)
    done, refused = 0, []
    for facts in jobs_of(outage):
        earlier = facts.search
        if earlier is None or earlier.forecast_id == forecast_id:
            continue
        try:
            _again(earlier, forecast, by)
        except GroutJobsError as error:
            refused.append({"tag": facts.tag, "reason": str(error)})
        else:
            done += 1
    news = HoursNews.objects.filter(outage=outage, forecast=forecast, done_at=None)
    news.update(done_at=timezone.now(), judged=done, refused=refused)
    return done


def _again(earlier: PourHours, forecast: Forecast, by: User) -> PourHours:
    """The question of an earlier search put to another forecast."""
    plan = plan_whole().get(pk=earlier.plan_id)
    return search_pour_hours(plan=plan, forecast=forecast, by=by, **asked_before(earlier, forecast))
