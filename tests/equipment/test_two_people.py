"""Two engineers have one sheet open; the second to save is told so once, and loses nothing."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.equipment.models import Machine
from tests.equipment.posting import errors_of, posted, signed_in
from tests.equipment.test_machine_form import GOOD
from tests.factories import make_machine

pytestmark = pytest.mark.django_db


def hidden(response: Any) -> str:
    return str(response.context["form"]["seen"].value())


def opened(machine: Machine, name: str = "machine_change") -> tuple[Client, str, str]:
    client = signed_in(machine.site, Role.ENGINEER)
    address = reverse(f"equipment:{name}", args=[machine.pk])
    return client, address, hidden(client.get(address))


def test_the_second_is_told_once_and_keeps_what_was_typed() -> None:
    machine = make_machine(bare=True)
    first, address, shown_first = opened(machine)
    second, _, shown_second = opened(machine)
    assert first.post(address, posted(GOOD | {"seen": shown_first, "service": "brine lift"})).status_code == 302
    refused = second.post(address, posted(GOOD | {"seen": shown_second, "service": "brine booster"}))
    assert refused.status_code == 422
    assert "saved this while you had it open" in errors_of(refused, "__all__")
    assert refused.context["form"]["service"].value() == "brine booster"
    machine.refresh_from_db()
    assert machine.service == "brine lift"
    again = posted(GOOD | {"seen": hidden(refused), "service": "brine booster"})
    assert second.post(address, again).status_code == 302
    machine.refresh_from_db()
    assert machine.service == "brine booster"


def test_an_untouched_sheet_is_saved_at_once() -> None:
    machine = make_machine(bare=True)
    client, address, shown = opened(machine)
    assert client.post(address, posted(GOOD | {"seen": shown})).status_code == 302


@pytest.mark.parametrize("name", ["foundation_change", "plate_change"])
def test_a_row_of_a_table_counts_too(name: str) -> None:
    machine = make_machine()
    client, address, shown = opened(machine, name)
    point = machine.foundation.survey_points.first()
    assert point is not None
    if name == "foundation_change":
        point.elevation_mm += 1
        point.save()
    else:
        part = machine.baseplate.parts.first()
        assert part is not None
        part.x_mm += 1
        part.save()
    assert hidden(client.get(address)) != shown
