"""The record takes every change, keeps its chain, and cannot be rewritten."""

import pytest
from django.db import DatabaseError, connection, transaction

from groutjobs.audit.actions import NothingRecorded, action, record, snapshot
from groutjobs.audit.models import Event
from groutjobs.audit.queries import Break, changes_in, first_break
from groutjobs.equipment.models import Machine
from tests.factories import make_machine, make_person

pytestmark = pytest.mark.django_db


@action
def rename(*, machine: Machine, service: str) -> Machine:
    before = snapshot(machine)
    machine.service = service
    machine.save()
    record(machine, by=None, kind="machine.changed", before=before, reason="test")
    return machine


@action
def forgetful(*, machine: Machine) -> None:
    machine.service = "changed in silence"
    machine.save()


def test_it_notes_old_and_new_value_of_what_changed() -> None:
    machine = make_machine(bare=True, service="old duty")
    rename(machine=machine, service="new duty")
    event = Event.objects.get(kind="machine.changed")
    assert changes_in(event) == [("service", "old duty", "new duty")]
    assert event.site_id == machine.site_id


def test_it_writes_nothing_where_nothing_changed() -> None:
    machine = make_machine(bare=True, service="same")
    rename(machine=machine, service="same")
    assert not Event.objects.filter(kind="machine.changed").exists()


def test_it_rolls_back_an_action_that_noted_nothing() -> None:
    machine = make_machine(bare=True, service="kept")
    with pytest.raises(NothingRecorded), transaction.atomic():
        forgetful(machine=machine)
    machine.refresh_from_db()
    assert machine.service == "kept"


def test_it_chains_events_and_finds_them_whole() -> None:
    machine = make_machine(bare=True)
    for duty in ("a", "b", "c"):
        rename(machine=machine, service=duty)
    assert first_break() is None
    assert Event.objects.count() == 3


@pytest.mark.parametrize("verb", ["UPDATE groutjobs_event SET kind = 'x'", "DELETE FROM groutjobs_event"])
def test_the_database_refuses_to_rewrite_it(verb: str) -> None:
    rename(machine=make_machine(bare=True), service="x")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(verb)
    assert Event.objects.count() == 1


def test_a_forged_event_is_found_at_its_place() -> None:
    machine = make_machine(bare=True)
    rename(machine=machine, service="a")
    forged = Event.objects.get()
    forged.pk = forged.seq = 2
    forged.event_hash = "f" * 64
    forged.save(force_insert=True)
    assert first_break() == Break(2, "does not follow the event before it")


def test_a_name_enters_the_record_as_a_commitment_only() -> None:
    person = make_person(name="Ada Quillfeather")
    record(person, by=None, kind="person.joined")
    body = Event.objects.get(kind="person.joined").body
    assert "Quillfeather" not in body
    assert "sha256:" in body
