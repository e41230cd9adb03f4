"""The pour at the desk: the whole log, live while it grows, readable by everyone of the site."""

import datetime as dt

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from groutjobs.accounts.models import Role, User
from groutjobs.pours.actions import add_entry
from groutjobs.pours.models import Pour
from tests.factories import make_entry, make_person, make_pour

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def reader(pour: Pour, role: Role = Role.AUDITOR) -> User:
    return make_person(site=pour.plan.machine.site, roles=(role,))


@pytest.mark.parametrize("role", list(Role))
def test_everyone_of_the_site_reads_it(client: Client, role: Role) -> None:
    pour = make_pour()
    client.force_login(reader(pour, role))
    page = client.get(f"/pours/{pour.pk}/")
    assert page.status_code == 200
    assert b"Set plate, level" in page.content


def test_a_stranger_gets_404_and_the_wrong_method_405(client: Client) -> None:
    pour = make_pour()
    client.force_login(make_person(roles=(Role.ENGINEER,)))
    assert client.get(f"/pours/{pour.pk}/").status_code == 404
    assert client.post(f"/pours/{pour.pk}/").status_code == 405


def test_a_corrected_entry_stands_struck_through_with_its_reason(client: Client) -> None:
    pour = make_pour()
    first = add_entry(pour=pour, kind="note", body={"text": "dry as dust"}, by=pour.opened_by)
    add_entry(pour=pour, kind="note", body={"text": "damp"}, by=pour.opened_by, replaces=first, reason="looked again")
    client.force_login(reader(pour))
    text = client.get(f"/pours/{pour.pk}/").content.decode()
    assert "<s>Note: dry as dust</s>" in text
    assert "looked again" in text


def test_what_people_type_stays_text(client: Client) -> None:
    pour = make_pour()
    hostile = "<script>alert(1)</script>{{ settings.SECRET_KEY }}"
    add_entry(pour=pour, kind="leak", body={"compartment": "A", "where": hostile}, by=pour.opened_by)
    client.force_login(reader(pour))
    text = client.get(f"/pours/{pour.pk}/").content.decode()
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;{{ settings.SECRET_KEY }}" in text


def test_only_those_who_record_are_offered_corrections(client: Client) -> None:
    pour = make_pour()
    add_entry(pour=pour, kind="note", body={"text": "dry"}, by=pour.opened_by)
    for role, count in ((Role.AUDITOR, 0), (Role.CREW, 1)):
        client.force_login(reader(pour, role))
        assert client.get(f"/pours/{pour.pk}/").content.count(b"/correct/") == count


def test_the_live_part_comes_alone_and_only_when_something_is_new(client: Client) -> None:
    pour = make_pour()
    client.force_login(reader(pour))
    add_entry(pour=pour, kind="note", body={"text": "dry"}, by=pour.opened_by)
    first = client.get(f"/pours/{pour.pk}/?seen=x", headers=HTMX)
    known = HTMX | {"If-None-Match": first["ETag"]}
    assert client.get(f"/pours/{pour.pk}/?seen=x", headers=known).status_code == 304
    add_entry(pour=pour, kind="note", body={"text": "damp"}, by=pour.opened_by)
    later = client.get(f"/pours/{pour.pk}/?seen=x", headers=known)
    assert later.status_code == 200
    part = later.content.decode()
    assert part.strip().startswith('<div id="pour-live"')
    assert "<html" not in part
    assert client.get(f"/pours/{pour.pk}/?seen=1").content.decode().lstrip().startswith("<!doctype html>")


def test_a_us_reader_sees_us_units(client: Client) -> None:
    pour = make_pour()
    body = {"batch": 1, "grout_c": 23.5}
    add_entry(pour=pour, kind="wetted_out", body=body, by=pour.opened_by)
    client.force_login(make_person(site=pour.plan.machine.site, roles=(Role.AUDITOR,), unit_system="us"))
    assert "74.3 °F" in client.get(f"/pours/{pour.pk}/").content.decode()


def test_times_are_those_of_the_site(client: Client) -> None:
    """New York keeps UTC-4 on 30 April (IANA time zone database)."""
    pour = make_pour()
    make_entry(pour=pour, kind="note", body={"text": "x"}, happened_at=dt.datetime(2026, 4, 30, 12, 0, tzinfo=dt.UTC))
    client.force_login(reader(pour))
    assert "2026-04-30 08:00 UTC−04:00" in client.get(f"/pours/{pour.pk}/").content.decode()


def test_queries_do_not_grow_with_entries(client: Client) -> None:
    pour = make_pour()
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    client.force_login(reader(pour, Role.CREW))
    point = pour.plan.points.all()[0]

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as captured:
            client.get(f"/pours/{pour.pk}/")
        return len(captured)

    def add(author: User) -> None:
        body = {"point_id": point.pk, "answer": "accepted", "witness_id": engineer.pk}
        make_entry(pour=pour, kind="point_answer", body=body, author=author)

    add(reader(pour, Role.CREW))
    few = queries()
    for _ in range(9):
        add(reader(pour, Role.CREW))
    assert queries() == few <= 20
