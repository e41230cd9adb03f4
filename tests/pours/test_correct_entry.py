"""Correcting and striking out at the desk: with a reason, by people who record."""

from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client

from groutjobs.accounts.models import Role
from groutjobs.pours.actions import add_entry
from groutjobs.pours.models import PourEntry
from groutjobs.pours.queries import log_of, pour_whole
from tests.factories import make_person, make_pour

pytestmark = pytest.mark.django_db


@pytest.fixture
def wetted() -> PourEntry:
    pour = make_pour()
    body = {"batch": 1, "grout_c": 23.5, "as_entered": {"grout_c": {"text": "23,5", "unit": "degC"}}}
    return add_entry(pour=pour, kind="wetted_out", body=body, by=pour.opened_by)


def sent(entry: PourEntry, **changes: Any) -> dict[str, Any]:
    values = {"entry_id": str(uuid4()), "batch": "1", "batch_unit": "", "grout_c": "24.5", "grout_c_unit": "degC"}
    return values | {"reason": "wrong probe", "happened_at": entry.happened_at.isoformat()[:16] + "+00:00"} | changes


def page(entry: PourEntry, verb: str = "correct", key: UUID | None = None) -> str:
    return f"/pours/{entry.pour_id}/entries/{key or entry.pk}/{verb}/"


def test_the_form_shows_what_was_typed(client: Client, wetted: PourEntry) -> None:
    client.force_login(wetted.author)
    assert b'value="23,5"' in client.get(page(wetted)).content


def test_a_correction_takes_its_place_at_the_same_moment(client: Client, wetted: PourEntry) -> None:
    client.force_login(wetted.author)
    answer = client.post(page(wetted), sent(wetted))
    assert answer.headers["Location"] == f"/pours/{wetted.pour_id}/"
    newer = PourEntry.objects.get(replaces=wetted)
    assert (newer.body["grout_c"], newer.reason, newer.happened_at) == (24.5, "wrong probe", wetted.happened_at)
    log = log_of(pour_whole().get(pk=wetted.pour_id))
    assert log.batches[0].grout_c == 24.5


def test_a_double_press_stores_one_correction(client: Client, wetted: PourEntry) -> None:
    client.force_login(wetted.author)
    body = sent(wetted)
    assert [client.post(page(wetted), body).status_code for _ in range(2)] == [302, 302]
    assert PourEntry.objects.filter(replaces=wetted).count() == 1


def test_without_a_reason_nothing_is_stored(client: Client, wetted: PourEntry) -> None:
    client.force_login(wetted.author)
    answer = client.post(page(wetted), sent(wetted, reason=""))
    assert answer.status_code == 422
    assert "Reason for the correction is empty" in answer.content.decode()
    assert b'value="24.5"' in answer.content
    assert PourEntry.objects.count() == 1


def test_a_bad_number_comes_back_with_what_was_typed(client: Client, wetted: PourEntry) -> None:
    client.force_login(wetted.author)
    answer = client.post(page(wetted), sent(wetted, grout_c="75"))
    assert answer.status_code == 422
    assert "above 60.0 °C, the highest value taken [BLOCH-MCM]" in answer.content.decode()


def test_striking_out_needs_a_reason_too(client: Client, wetted: PourEntry) -> None:
    client.force_login(wetted.author)
    assert client.get(page(wetted, "strike")).status_code == 200
    assert client.post(page(wetted, "strike"), {"entry_id": str(uuid4()), "reason": ""}).status_code == 422
    answer = client.post(page(wetted, "strike"), {"entry_id": str(uuid4()), "reason": "wrong pour"})
    assert answer.status_code == 302
    assert log_of(pour_whole().get(pk=wetted.pour_id)).batches == ()


def test_a_corrected_entry_is_not_offered_again(client: Client, wetted: PourEntry) -> None:
    client.force_login(wetted.author)
    client.post(page(wetted), sent(wetted))
    assert b"was corrected already" in client.get(page(wetted)).content


@pytest.mark.parametrize("verb", ["correct", "strike"])
def test_readers_get_403_strangers_404_and_wrong_methods_405(client: Client, wetted: PourEntry, verb: str) -> None:
    client.force_login(make_person(site=wetted.pour.plan.machine.site, roles=(Role.AUDITOR,)))
    assert client.get(page(wetted, verb)).status_code == 403
    client.force_login(make_person(roles=(Role.ENGINEER,)))
    assert client.post(page(wetted, verb), sent(wetted)).status_code == 404
    client.force_login(wetted.author)
    assert client.put(page(wetted, verb)).status_code == 405
    assert client.get(page(wetted, verb, uuid4())).status_code == 404


def test_an_entry_of_another_pour_is_not_found(client: Client, wetted: PourEntry) -> None:
    other = make_pour(plan=wetted.pour.plan, number=2)
    client.force_login(wetted.author)
    assert client.get(f"/pours/{other.pk}/entries/{wetted.pk}/correct/").status_code == 404
