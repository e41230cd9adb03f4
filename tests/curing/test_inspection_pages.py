"""The list of inspections and one inspection: who reads them, what they show, how many queries they take."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.curing.actions import record_bolts, record_level, record_sounding
from groutjobs.curing.models import CureInspection
from groutjobs.pours.models import Pour
from tests.curing.asking import signed_in, site_of, statuses, stranger
from tests.curing.rows import bolt_rows, head, level_rows, sounding_rows
from tests.factories import make_placed_pour

pytestmark = pytest.mark.django_db


def listed(pour: Pour) -> str:
    return reverse("curing:inspection_list", args=[pour.pk])


def detail(row: CureInspection) -> str:
    return reverse("curing:inspection_detail", args=[row.pk])


def inspected() -> tuple[Pour, list[CureInspection]]:
    pour = make_placed_pour()
    by = pour.opened_by
    return pour, [
        record_level(pour=pour, head=head(), rows=level_rows(), by=by),
        record_sounding(pour=pour, head=head(verdict="refused"), rows=sounding_rows(pour, hollow=("A2.3",)), by=by),
        record_bolts(pour=pour, head=head(), rows=bolt_rows(pour, torque_nm=208.0), by=by),
    ]


def test_every_role_reads_them_and_a_stranger_does_not() -> None:
    pour, rows = inspected()
    for where in (listed(pour), *(detail(row) for row in rows)):
        assert set(statuses("get", where, site_of(pour), {}).values()) == {200}
        assert stranger().get(where).status_code == 404
        assert signed_in(site_of(pour), Role.ENGINEER).post(where).status_code == 405


def test_only_those_who_inspect_are_offered_to() -> None:
    pour, _ = inspected()
    assert "Inspect again" in signed_in(site_of(pour), Role.INSPECTOR).get(listed(pour)).content.decode()
    assert "Inspect again" not in signed_in(site_of(pour), Role.CREW).get(listed(pour)).content.decode()


def test_a_replaced_inspection_is_struck_and_points_to_the_newer_one() -> None:
    pour = make_placed_pour()
    first = record_level(pour=pour, head=head(), rows=level_rows(), by=pour.opened_by)
    second = record_level(
        pour=pour, head=head(replaces=first, remarks="after tension"), rows=level_rows(), by=pour.opened_by
    )
    client = signed_in(site_of(pour), Role.AUDITOR)
    text = client.get(listed(pour)).content.decode()
    assert "replaced because: after tension" in text
    old = client.get(detail(first)).content.decode()
    assert "no longer counts" in old
    assert detail(second) in old


def test_a_us_reader_sees_inches_feet_and_pounds() -> None:
    pour, rows = inspected()
    client = signed_in(site_of(pour), Role.ENGINEER, system="us")
    texts = [client.get(detail(row)).content.decode() for row in rows]
    assert "in/ft" in texts[0]
    assert "ft²" in texts[1]
    assert "ft·lb" in texts[2]
    assert "Compartment A: a hollow place of 0.24 ft²" in texts[1]


def test_the_drawing_stays_as_it_was_when_the_machine_changes() -> None:
    pour, rows = inspected()
    bolt = pour.plan.machine.foundation.bolts.get(label="B1")
    bolt.label = "MOVED"
    bolt.save()
    text = signed_in(site_of(pour), Role.AUDITOR).get(detail(rows[2])).content.decode()
    assert "MOVED" not in text
    assert ">B1<" in text


def test_hostile_text_stays_text() -> None:
    pour = make_placed_pour()
    evil = '<script>alert("x")</script>'
    row = record_level(
        pour=pour,
        head=head(instrument=evil, remarks=evil),
        rows=level_rows(limit_source=evil),
        by=pour.opened_by,
    )
    client = signed_in(site_of(pour), Role.AUDITOR)
    for where in (listed(pour), detail(row)):
        text = client.get(where).content.decode()
        assert evil not in text
        assert "&lt;script&gt;" in text


def test_queries_do_not_grow_with_replaced_inspections() -> None:
    counts = []
    for links in (1, 10):
        pour = make_placed_pour()
        row = None
        for number in range(links):
            given = head(replaces=row, remarks=f"round {number}")
            row = record_level(pour=pour, head=given, rows=level_rows(), by=pour.opened_by)
        client = signed_in(site_of(pour), Role.ENGINEER)
        for where in (listed(pour), detail(row)) if row else ():
            with CaptureQueriesContext(connection) as queries:
                assert client.get(where).status_code == 200
            counts.append(len(queries))
    assert counts[:2] == counts[2:]
    assert max(counts) <= 20


@pytest.mark.parametrize("name", ["level_add", "sounding_add", "bolts_add"])
def test_the_forms_stay_within_their_budget(name: str) -> None:
    pour, _ = inspected()
    client = signed_in(site_of(pour), Role.ENGINEER)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(reverse(f"curing:{name}", args=[pour.pk])).status_code == 200
    assert len(queries) <= 20
