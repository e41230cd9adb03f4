"""Searching the pour hours of all machines of an outage again in another forecast, with what each was asked before."""

import logging

from groutjobs.accounts.models import User
from groutjobs.errors import GroutJobsError
from groutjobs.outages.models import Outage
from groutjobs.outages.queries import jobs_of
from groutjobs.planning.queries import plan_whole
from groutjobs.weather.models import Forecast
from groutjobs.windows.actions import search_pour_hours
from groutjobs.windows.models import PourHours
from groutjobs.windows.question import cover_again

log = logging.getLogger(__name__)


def search_hours_again(outage_id: int, forecast_id: int, user_id: int) -> int:
    """Judge the hours of every machine by a forecast; how many were. One that was judged by it before is left alone."""
    outage = Outage.objects.select_related("site").get(pk=outage_id)
    forecast, by = Forecast.objects.get(pk=forecast_id), User.objects.get(pk=user_id)
    done = 0
    for facts in jobs_of(outage):
        earlier = facts.search
        if earlier is None or earlier.forecast_id == forecast_id:
            continue
        try:
            _again(earlier, forecast, by)
        except GroutJobsError as error:
            log.warning("pour hours of %s were not searched again: %s", facts.tag, error)
        else:
            done += 1
    return done


def _again(earlier: PourHours, forecast: Forecast, by: User) -> PourHours:
    """The question of an earlier search put to another forecast; a measurement outside its hours is left out."""
    asked = earlier.result["inputs"]
    measured_at = earlier.measured_at
    inside = measured_at is not None and forecast.starts_at <= measured_at <= forecast.ends_at
    return search_pour_hours(
        plan=plan_whole().get(pk=earlier.plan_id),
        forecast=forecast,
        material_c=earlier.material_c,
        by=by,
        measured_concrete_c=earlier.measured_concrete_c if inside else None,
        measured_at=measured_at if inside else None,
        align_by_at=earlier.align_by_at,
        protection_h=asked["protection_h"],
        shift=asked["shift"],
        daylight=asked["daylight"],
        cover=cover_again(asked.get("cover"), forecast),
        limits={limit["code"]: (limit["value"], limit["source"]) for limit in earlier.result["limits"]},
        as_entered={name: text for name, text in earlier.as_entered.items() if inside or "measured" not in name},
    )
