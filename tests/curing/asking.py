"""Who asks for the pages of the cure, and what a browser posts."""

import datetime as dt
from typing import Any

from django.test import Client
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.equipment.models import Site
from groutjobs.pours.models import Pour
from tests.factories import make_approved_plan, make_machine, make_person, make_placed_pour, make_site

RECORDING = (Role.ENGINEER, Role.CREW_LEAD, Role.CREW, Role.INSPECTOR)
INSPECTING = (Role.ENGINEER, Role.CREW_LEAD, Role.INSPECTOR)


def fresh_pour(hours_ago: float = 60.0) -> Pour:
    """A pour placed so many hours before now, so that forms that refuse the future take its readings."""
    placed_at = timezone.now().replace(second=0, microsecond=0) - dt.timedelta(hours=hours_ago)
    return make_placed_pour(plan=make_approved_plan(machine=make_machine()), placed_at=placed_at)


def site_of(pour: Pour) -> Site:
    return pour.plan.machine.site


def signed_in(site: Site, *roles: Role, system: str = "metric") -> Client:
    client = Client()
    client.force_login(make_person(site=site, roles=roles, unit_system=system))
    return client


def stranger() -> Client:
    return signed_in(make_site(), *Role)


def site_time(pour: Pour, moment: dt.datetime) -> str:
    """A moment as a browser posts it: the clock of the site without its offset."""
    return f"{moment.astimezone(site_of(pour).tz):%Y-%m-%dT%H:%M}"


def head_fields(pour: Pour, **given: Any) -> dict[str, Any]:
    """The head of an inspection as posted."""
    made_at = site_time(pour, timezone.now() - dt.timedelta(minutes=30))
    defaults = {
        "made_at": made_at,
        "instrument": "level no. 4711 (invented)",
        "calibration_due_on": "2199-01-31",
        "verdict": "accepted",
        "remarks": "",
        "replaces": "",
    }
    return defaults | given


def errors_of(response: Any, field: str | None = None) -> str:
    """The errors of one field, or of the whole form, of the form that came back."""
    form = response.context["form"]
    if field is None:
        return " ".join(message for messages in form.errors.values() for message in messages)
    return " ".join(form.errors.get(field, []))


def statuses(method: str, address: str, site: Site, data: dict[str, Any]) -> dict[Role, int]:
    """The answer that each role of the site gets."""
    return {role: getattr(signed_in(site, role), method)(address, data).status_code for role in Role}
