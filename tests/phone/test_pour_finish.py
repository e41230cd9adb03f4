"""Check what was entered, then declare the pour complete, on purpose."""

from uuid import uuid4

import pytest
from django.test import Client

from groutjobs.accounts.models import Role
from groutjobs.pours.actions import add_entry
from groutjobs.pours.models import Pour, PourState
from tests.factories import make_person, make_pour
from tests.phone.sent import enter, sent

pytestmark = pytest.mark.django_db


def declare(client: Client, pour: Pour, *ticks: str) -> int:
    body = {"entry_id": str(uuid4()), **dict.fromkeys(ticks, "on")}
    return client.post(f"/phone/pours/{pour.pk}/finish/", body).status_code


@pytest.fixture
def placed(client: Client) -> Pour:
    """A pour entered on the phone, step by step, up to the declaration."""
    pour = make_pour()
    client.force_login(pour.opened_by)
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    client.post(enter(pour, "point_answer"), sent(pour, "point_answer", witness_id=engineer.pk))
    for number, compartment in ((1, "A"), (2, "A"), (3, "B"), (4, "B")):
        for kind in ("liquids_started", "aggregate_in", "wetted_out"):
            assert client.post(enter(pour, kind), sent(pour, kind, batch=number)).status_code == 302
        where = {"batch": number, "compartment": compartment, "volume_l": "60"}
        assert client.post(enter(pour, "placed"), sent(pour, "placed", **where)).status_code == 302
        if number in {2, 4}:
            full = sent(pour, "compartment_full", compartment=compartment)
            assert client.post(enter(pour, "compartment_full"), full).status_code == 302
    return pour


def test_a_whole_pour_is_entered_and_declared_on_the_phone(client: Client, placed: Pour) -> None:
    placed.refresh_from_db()
    assert placed.state == PourState.PLACED
    page = client.get(f"/phone/pours/{placed.pk}/finish/").content.decode()
    assert "No sample was cast" in page
    assert "120.0 L of 120.0 L, full at" in page
    assert declare(client, placed, "checked") == 302
    placed.refresh_from_db()
    assert placed.state == PourState.SETTLED
    assert placed.placed_at


def test_it_is_not_declared_without_the_tick(client: Client, placed: Pour) -> None:
    assert declare(client, placed) == 422
    assert not placed.entries.filter(kind="declared_complete").exists()


def test_with_something_missing_a_second_tick_is_asked_for_and_the_record_stays_open(
    client: Client, placed: Pour
) -> None:
    add_entry(pour=placed, kind="leak", body={"compartment": "B", "where": "form"}, by=placed.opened_by)
    assert declare(client, placed, "checked") == 422
    assert declare(client, placed, "checked", "incomplete") == 302
    placed.refresh_from_db()
    assert placed.state == PourState.PLACED


@pytest.mark.parametrize("role", [Role.CREW, Role.INSPECTOR, Role.AUDITOR, Role.ADMINISTRATOR])
def test_a_colleague_without_the_role_gets_403(client: Client, role: Role) -> None:
    pour = make_pour()
    client.force_login(make_person(site=pour.plan.machine.site, roles=(role,)))
    assert client.get(f"/phone/pours/{pour.pk}/finish/").status_code == 403
    assert declare(client, pour, "checked", "incomplete") == 403


def test_a_stranger_gets_404_and_the_wrong_method_405(client: Client) -> None:
    pour = make_pour()
    client.force_login(make_person(roles=(Role.CREW_LEAD,)))
    assert declare(client, pour, "checked", "incomplete") == 404
    assert client.put(f"/phone/pours/{pour.pk}/finish/").status_code == 405
