"""Who asks, and what a browser posts for the forms of hours."""

import datetime as dt
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from groutjobs.accounts.models import Role
from groutjobs.equipment.models import Site
from tests.factories import make_person, make_site

HUGE = "9" * 10_000_000
LINES = "\n".join(f"2026-05-04 {hour:02d}:00;20;50;8;40;0;10" for hour in range(12))


def signed_in(site: Site, *roles: Role, system: str = "metric") -> Client:
    client = Client()
    client.force_login(make_person(site=site, roles=roles, unit_system=system))
    return client


def stranger() -> Client:
    return signed_in(make_site(), *Role)


def upload(content: bytes, name: str = "hours.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def csv_post(**fields: Any) -> dict[str, Any]:
    content = fields.pop("content", None)
    lines = "time,temp_c,humidity_percent,wind_km_h,cloud_percent\n" + "\n".join(
        f"2026-05-04 {hour:02d}:00,20,50,8,40" for hour in range(24)
    )
    given = {"file": upload(content if content is not None else lines.encode())}
    return given | {"source_name": "Test weather service", "issued_at": "2026-05-04T03:00", "note": ""} | fields


def hand_post(**fields: Any) -> dict[str, Any]:
    given = {"source_name": "Gate thermometer", "issued_at": "2026-05-04T00:00", "table": LINES, "table_unit": "metric"}
    return given | {"note": ""} | fields


def errors_in(response: Any) -> str:
    """All errors of the form that came back, as one text."""
    form = response.context["form"]
    return " ".join(error for errors in form.errors.values() for error in errors)


def utc(day: int, hour: int) -> dt.datetime:
    return dt.datetime(2026, 5, day, hour, tzinfo=dt.UTC)
