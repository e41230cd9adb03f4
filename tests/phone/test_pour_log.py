"""The pour on the phone: the next thing first, the batch clock, and only true words about what was sent."""

import datetime as dt
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.pours.actions import add_entry
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import log_of, pour_whole
from tests.factories import make_approved_plan, make_entry, make_machine, make_person, make_pour, make_site

pytestmark = pytest.mark.django_db
PAGES = ["", "points/", "missing/", "entries/"]


def queries_of(call: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as captured:
        call()
    return len(captured)


@pytest.mark.parametrize("part", PAGES)
@pytest.mark.parametrize("role", list(Role))
def test_everyone_of_the_site_reads_it(client: Client, part: str, role: Role) -> None:
    pour = make_pour()
    client.force_login(make_person(site=pour.plan.machine.site, roles=(role,)))
    assert client.get(f"/phone/pours/{pour.pk}/{part}").status_code == 200


@pytest.mark.parametrize("part", PAGES)
def test_a_stranger_gets_404_and_the_wrong_method_405(client: Client, part: str) -> None:
    pour = make_pour()
    client.force_login(make_person(roles=(Role.CREW,)))
    assert client.get(f"/phone/pours/{pour.pk}/{part}").status_code == 404
    assert client.post(f"/phone/pours/{pour.pk}/{part}").status_code == 405


def test_the_next_thing_is_one_press_away_for_those_who_record(client: Client) -> None:
    pour = make_pour()
    point = pour.plan.points.get(position=1)
    client.force_login(pour.opened_by)
    text = client.get(f"/phone/pours/{pour.pk}/").content.decode()
    assert f'href="/phone/pours/{pour.pk}/enter/point_answer/?point={point.pk}">Answer hold point 1' in text
    client.force_login(make_person(site=pour.plan.machine.site, roles=(Role.AUDITOR,)))
    assert "/enter/" not in client.get(f"/phone/pours/{pour.pk}/").content.decode()


def test_the_status_line_counts_what_this_person_sent_and_says_nothing_before(client: Client) -> None:
    pour = make_pour()
    client.force_login(pour.opened_by)
    assert "Sent -" not in client.get(f"/phone/pours/{pour.pk}/").content.decode()
    make_entry(pour=pour, kind="note", body={"text": "x"})
    make_entry(pour=pour, kind="note", body={"text": "y"}, author=make_person())
    assert "Sent - all 1 received" in client.get(f"/phone/pours/{pour.pk}/").content.decode()


def test_the_batch_clock_carries_its_end_and_the_time_of_the_server(client: Client) -> None:
    pour = make_pour()
    started = timezone.now() - dt.timedelta(minutes=20)
    body = {"batch": 3, "kits": 1, "lot": "L1"}
    add_entry(pour=pour, kind="liquids_started", body=body, by=pour.opened_by, happened_at=started)
    client.force_login(pour.opened_by)
    text = client.get(f"/phone/pours/{pour.pk}/").content.decode()
    batch = log_of(pour_whole().get(pk=pour.pk)).batches[0]
    assert batch.ends_at
    assert f'data-ends-at="{batch.ends_at.replace(microsecond=0).isoformat()[:19]}' in text
    assert "data-now=" in text
    assert "Batch 3" in text
    there = batch.ends_at.astimezone(pour.plan.machine.site.tz)
    assert f"Working life ends at <strong>{there:%H:%M}</strong>" in text


def test_the_page_has_no_script_or_style_of_its_own(client: Client) -> None:
    """Content Security Policy Level 3 (W3C): inline script and style would be refused by the browser."""
    pour = make_pour()
    client.force_login(pour.opened_by)
    text = client.get(f"/phone/pours/{pour.pk}/").content.decode()
    assert " style=" not in text
    assert "<style" not in text
    assert "<script>" not in text
    assert " onclick=" not in text


def test_entries_can_be_corrected_on_the_phone(client: Client) -> None:
    pour = make_pour()
    entry = add_entry(pour=pour, kind="note", body={"text": "dry"}, by=pour.opened_by)
    client.force_login(pour.opened_by)
    page = f"/phone/pours/{pour.pk}/entries/{entry.pk}/correct/"
    assert page in client.get(f"/phone/pours/{pour.pk}/entries/").content.decode()
    assert client.get(page).status_code == 200
    body = {"entry_id": "11111111-2222-4333-8444-555555555555", "text": "damp"}
    assert client.post(page, body).status_code == 422
    assert client.post(page, {**body, "reason": "looked again"}).status_code == 302
    assert [line.is_struck for line in log_of(pour_whole().get(pk=pour.pk)).lines] == [True, False]
    client.force_login(make_person(site=pour.plan.machine.site, roles=(Role.AUDITOR,)))
    assert client.get(page).status_code == 403
    client.force_login(make_person(roles=(Role.CREW,)))
    assert client.post(page, body).status_code == 404
    assert client.put(page).status_code == 405


def test_the_list_shows_open_pours_of_ones_own_sites(client: Client) -> None:
    pour, foreign = make_pour(), make_pour()
    site, now = pour.plan.machine.site, timezone.now()
    curing, done = (
        make_pour(
            plan=make_approved_plan(machine=make_machine(site=site)),
            state="settled",
            opened_at=now - dt.timedelta(days),
        )
        for days in (21, 60)
    )
    client.force_login(pour.opened_by)
    text = client.get("/phone/").content.decode()
    assert f"/phone/pours/{pour.pk}/" in text
    assert f"/phone/pours/{curing.pk}/" in text
    assert f"/phone/pours/{foreign.pk}/" not in text
    assert f"/phone/pours/{done.pk}/" not in text
    assert client.post("/phone/").status_code == 405


def test_a_person_without_a_site_gets_403(client: Client) -> None:
    client.force_login(make_person())
    assert client.get("/phone/").status_code == 403


def test_queries_do_not_grow_with_pours(client: Client) -> None:
    site = make_site()
    person = make_person(site=site, roles=(Role.CREW,))
    client.force_login(person)

    def add() -> None:
        pour = make_pour(plan=make_approved_plan(machine=make_machine(site=site)))
        make_entry(pour=pour, kind="note", body={"text": "x"}, author=person)

    add()
    few = queries_of(lambda: client.get("/phone/"))
    for _ in range(9):
        add()
    assert queries_of(lambda: client.get("/phone/")) == few <= 20


@pytest.mark.parametrize("part", PAGES)
def test_queries_do_not_grow_with_entries(client: Client, part: str) -> None:
    pour: Pour = make_pour()
    client.force_login(pour.opened_by)
    make_entry(pour=pour, kind="leak", body={"compartment": "A", "where": "x"}, author=make_person())
    few = queries_of(lambda: client.get(f"/phone/pours/{pour.pk}/{part}"))
    for _ in range(9):
        make_entry(pour=pour, kind="leak", body={"compartment": "A", "where": "x"}, author=make_person())
    assert queries_of(lambda: client.get(f"/phone/pours/{pour.pk}/{part}")) == few <= 20
