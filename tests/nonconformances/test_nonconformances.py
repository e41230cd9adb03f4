"""Nonconformances: raised, decided, proven, closed, opened again; who may; what the database refuses."""

import uuid

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.urls import reverse

from groutjobs.accounts.models import Role, User
from groutjobs.errors import NotAllowed
from groutjobs.nonconformances import actions
from groutjobs.nonconformances.models import Nonconformance, NonconformanceStep
from groutjobs.pours.models import Pour
from tests.curing.asking import RECORDING, errors_of, fresh_pour, signed_in, site_of, statuses, stranger
from tests.factories import make_entry, make_person

pytestmark = pytest.mark.django_db
FOUND = "Honeycomb at the shoulder, 60 mm by 20 mm."
WORDS = "Looked at it with a light, sound now."


def person(pour: Pour, role: Role = Role.ENGINEER) -> User:
    return make_person(site=site_of(pour), roles=(role,))


def raised(pour: Pour | None = None) -> Nonconformance:
    pour = pour or fresh_pour()
    return actions.raise_nonconformance(pour=pour, found=FOUND, by=person(pour, Role.CREW))


def decided(row: Nonconformance, disposition: str = "repair") -> Nonconformance:
    because = "The shoulder carries no load there."
    by = person(row.pour)
    return actions.decide(row=row, disposition=disposition, because=because, source="drawing 7", by=by)


def proven(row: Nonconformance, by: User) -> Nonconformance:
    entry = make_entry(pour=row.pour, kind="note", body={"text": "patched"})
    return actions.give_proof(row=row, words="Cut out and patched.", dealt_by=by, by=by, entry=entry)


def test_the_crew_raises_one_from_an_entry_with_its_spot() -> None:
    pour = fresh_pour()
    entry = make_entry(pour=pour, kind="leak", body={"compartment": "A", "where": "corner"})
    address = reverse("nonconformances:nonconformance_add", args=[pour.pk]) + f"?entry={entry.pk}"
    data = {"found": FOUND, "x_mm": "600", "x_mm_unit": "mm", "y_mm": "0", "y_mm_unit": "mm"}
    response = signed_in(site_of(pour), Role.CREW).post(address, data)
    row = Nonconformance.objects.get()
    assert response["Location"] == reverse("nonconformances:nonconformance_detail", args=[row.pk])
    assert (row.number, row.entry, row.x_mm, row.state) == (1, entry, 600.0, "raised")
    assert row.steps.get().words == FOUND


def test_numbers_run_through_the_site() -> None:
    first = raised()
    assert raised(first.pour).number == 2
    assert raised().number == 1


def test_repair_from_raising_to_closing() -> None:
    row = decided(raised())
    lead, engineer = person(row.pour, Role.CREW_LEAD), person(row.pour)
    proven(row, lead)
    actions.close(row=row, words=WORDS, by=engineer)
    row.refresh_from_db()
    assert (row.state, row.dealt_by, row.closed_by) == ("closed", lead, engineer)
    assert [step.kind for step in row.steps.all()] == ["raised", "decided", "proven", "closed"]


def test_who_did_the_repair_or_proved_it_does_not_close_it() -> None:
    row = decided(raised())
    engineer = person(row.pour)
    proven(row, engineer)
    with pytest.raises(NotAllowed, match="another engineer"):
        actions.close(row=row, words=WORDS, by=engineer)


def test_use_as_is_is_closed_without_proof_and_a_repair_is_not() -> None:
    row = decided(raised(), "use_as_is")
    with pytest.raises(NotAllowed, match="needs no proof"):
        proven(row, person(row.pour))
    actions.close(row=row, words=WORDS, by=person(row.pour))
    with pytest.raises(NotAllowed, match="cannot be closed"):
        actions.close(row=decided(raised()), words=WORDS, by=person(row.pour))


def test_proof_needs_something_to_look_at() -> None:
    row = decided(raised())
    with pytest.raises(NotAllowed, match="photograph"):
        actions.give_proof(row=row, words="Done as told.", dealt_by=person(row.pour), by=person(row.pour))


def test_proof_is_sent_back_and_a_closed_one_is_opened_again() -> None:
    row = decided(raised())
    proven(row, person(row.pour))
    actions.send_back(row=row, words="The photograph shows another corner.", by=person(row.pour))
    proven(row, person(row.pour))
    actions.close(row=row, words=WORDS, by=person(row.pour))
    actions.reopen(row=row, words="Rings hollow again at the patch.", by=person(row.pour))
    row.refresh_from_db()
    assert (row.state, row.disposition, row.closed_by) == ("raised", "", None)
    assert row.steps.count() == 7


def test_the_database_refuses_what_the_actions_would() -> None:
    row = raised()
    rows = Nonconformance.objects.filter(pk=row.pk)
    for wrong in ({"state": "closed"}, {"state": "decided"}, {"x_mm": 1.0}, {"found": ""}):
        with pytest.raises(IntegrityError), transaction.atomic():
            rows.update(**wrong)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        NonconformanceStep.objects.update(words="other")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        NonconformanceStep.objects.all().delete()


def test_the_database_refuses_that_the_repairer_closes() -> None:
    row = decided(raised())
    lead = person(row.pour, Role.CREW_LEAD)
    proven(row, lead)
    actions.close(row=row, words=WORDS, by=person(row.pour))
    with pytest.raises(IntegrityError), transaction.atomic():
        Nonconformance.objects.update(closed_by=lead)


def test_only_an_engineer_decides_and_a_stranger_sees_nothing() -> None:
    row = raised()
    site = site_of(row.pour)
    address = reverse("nonconformances:decide", args=[row.pk])
    data = {"disposition": "repair", "because": "It is below the edge only.", "source": "drawing 7"}
    assert {role for role, status in statuses("post", address, site, data).items() if status != 403} == {Role.ENGINEER}
    add = reverse("nonconformances:nonconformance_add", args=[row.pour_id])
    assert {role for role, status in statuses("get", add, site, {}).items() if status == 200} == set(RECORDING)
    assert stranger().get(reverse("nonconformances:nonconformance_detail", args=[row.pk])).status_code == 404
    assert signed_in(site, Role.ENGINEER).put(address).status_code == 405


def test_an_entry_of_another_pour_and_a_spot_with_one_number_are_refused() -> None:
    pour = fresh_pour()
    client, address = signed_in(site_of(pour), Role.CREW), reverse("nonconformances:nonconformance_add", args=[pour.pk])
    assert client.get(f"{address}?entry={uuid.uuid4()}").status_code == 404
    assert client.get(f"{address}?entry=x").status_code == 404
    response = client.post(address, {"found": FOUND, "x_mm": "600", "x_mm_unit": "mm", "y_mm": "", "y_mm_unit": "mm"})
    assert response.status_code == 422
    assert "both x and y" in errors_of(response, "y_mm")


def test_the_list_of_the_site_is_narrowed_by_state_and_words() -> None:
    row = decided(raised())
    raised(row.pour)
    client = signed_in(site_of(row.pour), Role.AUDITOR)
    address = reverse("nonconformances:site_list", args=[row.site_id])
    found = client.get(address, {"state": "decided"}).context["page"].object_list
    assert [one.pk for one in found] == [row.pk]
    assert [one.number for one in client.get(address, {"words": "NC-2"}).context["page"].object_list] == [2]
