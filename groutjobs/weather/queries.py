"""Reads of the weather that other stages use."""

from django.db.models import QuerySet

from groutjobs.equipment.models import Site
from groutjobs.weather.models import Forecast


def forecasts_of(site: Site) -> QuerySet[Forecast]:
    """Forecasts of the site, newest issue first, without their hours."""
    return Forecast.objects.filter(site=site).select_related("made_by", "site").defer("hours", "note")


def latest_forecast(site: Site) -> Forecast | None:
    """The newest by issue time; a correction comes before what it corrects."""
    return Forecast.objects.filter(site=site).select_related("site").first()
