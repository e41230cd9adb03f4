"""Short times for wide tables."""

import datetime as dt
from zoneinfo import ZoneInfo

from django import template

register = template.Library()


@register.filter
def short(moment: dt.datetime | None, zone: str) -> str:
    """Day and clock in the zone of the site where year and offset stand elsewhere on the page: Wed 7 Apr 08:00."""
    if moment is None:
        return "–"
    there = moment.astimezone(ZoneInfo(zone))
    return f"{there:%a} {there.day} {there:%b} {there:%H:%M}"
