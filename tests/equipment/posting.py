"""What a browser posts for the equipment forms, and who asks."""

from typing import Any

import pytest
from django.test import Client

from groutjobs.accounts.models import Role
from groutjobs.equipment.models import Site
from tests.factories import make_person, make_site

Typed = tuple[str, str] | str
HUGE = "9" * 10_000_000
BAD_NUMBERS = [
    pytest.param("", id="empty"),
    pytest.param("about three", id="text"),
    pytest.param("-12", id="negative"),
    pytest.param("nan", id="nan"),
    pytest.param("1e3", id="exponent"),
    pytest.param("99999999", id="far out"),
    pytest.param(HUGE, id="10 MB"),
]


def posted(fields: dict[str, Any], *, tables: tuple[str, ...] = ()) -> dict[str, Any]:
    """A tuple is a number with its unit; names in `tables` are tables in millimetres."""
    data: dict[str, Any] = {}
    for name, value in fields.items():
        if isinstance(value, tuple):
            data[name], data[f"{name}_unit"] = value
        else:
            data[name] = value
        if name in tables:
            data[f"{name}_unit"] = "metric"
    return data


def signed_in(site: Site, *roles: Role, system: str = "metric") -> Client:
    client = Client()
    client.force_login(make_person(site=site, roles=roles, unit_system=system))
    return client


def stranger() -> Client:
    return signed_in(make_site(), *Role)


def errors_of(response: Any, field: str) -> str:
    """The errors of one field of the form that came back, as one text."""
    form: Any = response.context["form"]
    return " ".join(form.errors.get(field, []))


def assert_refused(response: Any, field: str, label: str, typed: str) -> None:
    """The form came back with a sentence that names the field and a source, and with what was typed."""
    assert response.status_code == 422
    said = errors_of(response, field)
    assert label.lower() in said.lower()
    assert "[" in said
    form: Any = response.context["form"]
    shown = form[field].value()
    assert (shown[0] if isinstance(shown, list) else shown) == typed
    assert len(said) < 1500
