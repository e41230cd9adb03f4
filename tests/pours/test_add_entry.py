"""An entry is stored once under the id it came with, and judged afterwards."""

import datetime as dt
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.audit.queries import first_break
from groutjobs.errors import NotAllowed, Unusable
from groutjobs.pours.actions import SameIdOtherContent, add_entry
from groutjobs.pours.models import Pour, PourEntry, PourState
from tests.factories import make_person, make_pour

pytestmark = pytest.mark.django_db
LEAK = {"compartment": "A", "where": "north form"}


def note(pour: Pour, **more: Any) -> PourEntry:
    values: dict[str, Any] = {"pour": pour, "kind": "note", "body": {"text": "dry"}, "by": pour.opened_by}
    return add_entry(**values | more)


def test_it_keeps_three_times_and_the_author() -> None:
    pour, earlier = make_pour(), timezone.now() - dt.timedelta(hours=1)
    entry = note(pour, happened_at=earlier, entered_at=earlier + dt.timedelta(minutes=7), device="phone 4")
    entry.refresh_from_db()
    assert entry.happened_at == earlier
    assert entry.entered_at == earlier + dt.timedelta(minutes=7)
    assert timezone.now() - entry.received_at < dt.timedelta(minutes=1)
    assert (entry.author, entry.device) == (pour.opened_by, "phone 4")


def test_times_not_given_are_the_moment_of_receipt() -> None:
    entry = note(make_pour())
    assert entry.happened_at == entry.entered_at == entry.received_at


def test_the_same_id_again_is_the_same_entry() -> None:
    pour, key = make_pour(), uuid4()
    at = timezone.now() - dt.timedelta(minutes=3)
    for _ in range(3):
        assert note(pour, id=key, happened_at=at).pk == key
    assert pour.entries.count() == 1
    assert Event.objects.filter(kind="pour.entry_added").count() == 1


@pytest.mark.parametrize("change", [{"body": {"text": "wet"}}, {"kind": "stopped", "body": {"why": "rain"}}, {"at": 1}])
def test_the_same_id_with_other_content_is_refused_and_nothing_is_overwritten(change: dict[str, Any]) -> None:
    pour, key, at = make_pour(), uuid4(), timezone.now()
    note(pour, id=key, happened_at=at)
    if "at" in change:
        change = {"happened_at": at + dt.timedelta(minutes=1)}
    with pytest.raises(SameIdOtherContent):
        note(pour, **{"id": key, "happened_at": at} | change)
    assert pour.entries.get().body == {"text": "dry"}


def test_the_same_id_on_another_pour_or_by_another_person_is_refused() -> None:
    pour, key = make_pour(), uuid4()
    note(pour, id=key)
    colleague = make_person(site=pour.plan.machine.site, roles=(Role.CREW,))
    with pytest.raises(SameIdOtherContent):
        note(make_pour(), id=key)
    with pytest.raises(SameIdOtherContent):
        note(pour, id=key, by=colleague)
    assert PourEntry.objects.count() == 1


def test_a_bad_fact_is_stored_all_the_same() -> None:
    """Grout before the release is a deviation, not a reason to lose the entry."""
    pour = make_pour()
    body = {"batch": 1, "compartment": "A", "volume_l": 56.6, "left": "none"}
    add_entry(pour=pour, kind="placed", body=body, by=pour.opened_by)
    assert pour.state == PourState.POURED
    assert pour.entries.count() == 1


def test_the_state_of_the_pour_is_renewed_in_the_same_transaction() -> None:
    pour = make_pour()
    body = {"batch": 1, "compartment": "A", "volume_l": 56.6, "left": "none"}
    entry = add_entry(pour=pour, kind="placed", body=body, by=pour.opened_by)
    pour.refresh_from_db()
    assert (pour.state, pour.poured_at, pour.placed_at) == (PourState.POURED, entry.happened_at, None)
    assert Event.objects.filter(kind="pour.state_changed", object_id=str(pour.pk)).count() == 1


@pytest.mark.parametrize("role", [Role.CREW, Role.CREW_LEAD, Role.INSPECTOR, Role.ENGINEER])
def test_people_who_record_may_write(role: Role) -> None:
    pour = make_pour()
    note(pour, by=make_person(site=pour.plan.machine.site, roles=(role,)))
    assert pour.entries.count() == 1


@pytest.mark.parametrize("role", [Role.AUDITOR, Role.ADMINISTRATOR])
def test_people_who_read_may_not_write(role: Role) -> None:
    pour = make_pour()
    with pytest.raises(NotAllowed, match="no role at this site"):
        note(pour, by=make_person(site=pour.plan.machine.site, roles=(role,)))


def test_a_stranger_may_not_write() -> None:
    with pytest.raises(NotAllowed, match="no role at this site"):
        note(make_pour(), by=make_person(roles=(Role.ENGINEER,)))


def test_crew_does_not_declare_the_pour_complete() -> None:
    pour = make_pour()
    crew = make_person(site=pour.plan.machine.site, roles=(Role.CREW,))
    with pytest.raises(NotAllowed, match="crew lead or an engineer"):
        add_entry(pour=pour, kind="declared_complete", body={}, by=crew)
    add_entry(pour=pour, kind="declared_complete", body={}, by=pour.opened_by)
    assert pour.entries.count() == 1


def test_references_must_belong_to_the_pour_its_plan_and_its_site() -> None:
    pour, other = make_pour(), make_pour()
    stranger, own = make_person(roles=(Role.ENGINEER,)), pour.plan.points.first()
    foreign = other.plan.points.first()
    assert own
    assert foreign
    for body, name in (
        ({"point_id": foreign.pk, "answer": "accepted"}, "Hold point"),
        ({"point_id": own.pk, "answer": "accepted", "witness_id": stranger.pk}, "Witness"),
        ({"point_id": own.pk, "answer": "accepted", "photos": [999]}, "Photo"),
    ):
        with pytest.raises(Unusable, match=name):
            add_entry(pour=pour, kind="point_answer", body=body, by=pour.opened_by)
    with pytest.raises(Unusable, match="Leak"):
        add_entry(pour=pour, kind="leak_closed", body={"leak": str(uuid4()), "how": "clay"}, by=pour.opened_by)
    assert pour.entries.count() == 0


def test_a_correction_needs_a_reason_an_entry_of_this_pour_and_the_same_kind() -> None:
    pour = make_pour()
    first, foreign = note(pour), note(make_pour())
    for more, said in (
        ({"replaces": first}, "reason of the correction"),
        ({"replaces": first, "reason": "x" * 301}, "301 characters"),
        ({"replaces": foreign, "reason": "spelling"}, "another pour"),
        ({"replaces": first, "reason": "leak", "kind": "leak", "body": LEAK}, "cannot take the place"),
        ({"kind": "struck", "body": {}}, "names no entry"),
        ({"reason": "spelling"}, "corrects nothing"),
    ):
        with pytest.raises(Unusable, match=said):
            note(pour, **more)
    assert pour.entries.count() == 1


def test_a_correction_is_another_entry_and_can_be_struck_out() -> None:
    pour = make_pour()
    first = note(pour)
    second = note(pour, body={"text": "damp"}, replaces=first, reason="misread")
    note(pour, kind="struck", body={}, replaces=second, reason="not on this pour")
    assert pour.entries.count() == 3
    assert first_break() is None


def test_the_database_refuses_to_change_or_delete_an_entry() -> None:
    entry = note(make_pour())
    with pytest.raises(NotAllowed):
        entry.save()
    with pytest.raises(NotAllowed):
        entry.delete()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        PourEntry.objects.update(reason="rewritten")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        PourEntry.objects.filter(pk=entry.pk).delete()
    assert PourEntry.objects.get().body == {"text": "dry"}
