"""How templates print quantities, times, states and sources."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.template import Context
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from groutjobs import units
from groutjobs.sources import sources

register = template.Library()

# state → how its word is drawn; the word itself carries the meaning
STATE_MANNER = {
    "approved": "good", "issued": "good", "settled": "good", "accepted": "good", "placed": "good", "released": "good",
    "solved": "good", "open": "ask", "out_of_time": "ask", "solving": "ask", "queued": "ask",
    "refused": "stop", "withdrawn": "stop", "blocker": "stop", "infeasible": "stop", "failed": "stop",
    "sealed": "ask", "returned": "stop", "valid": "good", "expired": "waiting", "revoked": "stop",
    "frozen": "ask", "warning": "ask", "poured": "ask",
    "locked": "good", "ready": "ask", "performed": "ask", "void": "stop", "closed": "ask",
    "drafted": "waiting", "prepared": "waiting", "superseded": "waiting",
}  # fmt: skip


@register.simple_tag(takes_context=True)
def quantity(context: Context, value: float | None, suffix: str, decimals: int | None = None) -> str:
    """A stored number in the reader's unit, with the unit: {% quantity reading.temp_c "c" %}."""
    return units.shown(value, suffix, str(context.get("unit_system", units.METRIC)), decimals=decimals)


@register.simple_tag
def typed(row: Any, name: str) -> str:
    """The text and unit as they were typed: {% typed machine "mass_kg" %}; empty where the value was computed."""
    entered = getattr(row, "as_entered", {}).get(name)
    if not entered:
        return ""
    suffix = units.suffix_of(name)
    return f"{entered['text']} {units.unit_for(suffix, entered['unit']).label}"


@register.filter
def local(moment: dt.datetime | str | None, zone: str) -> str:
    """A moment in the zone of the site with its offset: {{ pour.poured_at|local:site.zone }}."""
    if not moment:
        return "–"
    when = dt.datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    there = when.astimezone(ZoneInfo(zone))
    return f"{there:%Y-%m-%d %H:%M} {offset_words(there)}"


@register.simple_tag(takes_context=True)
def read_at(context: Context) -> str:
    """Now, in the zone of the site that the page is about; in UTC where it is about none or about several."""
    zone = getattr(context.get("site"), "zone", "")
    return local(timezone.now(), zone) if zone else f"{timezone.now():%Y-%m-%d %H:%M} UTC"


@register.filter
def clock(moment: dt.datetime | str | None, zone: str) -> str:
    """Hour and minute in the zone of the site, where the day stands beside it."""
    if not moment:
        return "–"
    when = dt.datetime.fromisoformat(moment) if isinstance(moment, str) else moment
    return f"{when.astimezone(ZoneInfo(zone)):%H:%M}"


def offset_words(moment: dt.datetime) -> str:
    """The offset from UTC in print, such as UTC−05:00."""
    text = f"{moment:%z}"
    return f"UTC{text[0].replace('-', '−')}{text[1:3]}:{text[3:5]}"


@register.filter
def manner(state: str) -> str:
    """The class that draws a state."""
    return STATE_MANNER.get(str(state), "waiting")


@register.filter
def source(keys: str) -> SafeString | str:
    """A source key, or several apart by comma, linked to the bibliography."""
    if not keys:
        return ""
    first = keys.split(",", maxsplit=1)[0].split(" ", maxsplit=1)[0].strip()
    known = sources().get(first)
    title = known.reference if known else ""
    return format_html(
        '<a class="source" href="{}#{}" title="{}">[{}]</a>', reverse("board:sources"), first, title, keys
    )


@register.inclusion_tag("components/sheet_links.html", takes_context=True)
def sheet_links(context: Context) -> dict[str, Any]:
    request = context.get("request")
    path = request.path if request else ""
    return {"user": context.get("user"), "path": path, "roles": context.get("roles_anywhere", frozenset())}


@register.inclusion_tag("components/demo_line.html", takes_context=True)
def demo_line(context: Context) -> dict[str, Any]:
    site = context.get("site")
    return {"is_demo": site.is_demo if site else context.get("demo_anywhere", False)}
