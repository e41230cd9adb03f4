"""The verdict on an inspection from a phone, and the engineer's decision about hollow places."""

import pytest
from django.db import DatabaseError, connection, transaction

from groutjobs.accounts.models import Role
from groutjobs.curing.actions import judge_inspection, record_level, record_sounding
from groutjobs.curing.models import CureInspection, InspectionDecision
from tests.curing.asking import errors_of, fresh_pour, signed_in, site_of, statuses, stranger
from tests.curing.rows import head, level_rows, sounding_rows
from tests.factories import make_person

pytestmark = pytest.mark.django_db


def sounded(*hollow: str) -> CureInspection:

    pour = fresh_pour()
    by = make_person(site=site_of(pour), roles=(Role.INSPECTOR,))
    rows = sounding_rows(pour, hollow=hollow)
    return record_sounding(pour=pour, head=head(verdict="open", made_at=pour.placed_at), rows=rows, by=by)


def test_an_engineer_decides_about_hollow_places() -> None:
    row = sounded("A1.1", "A1.2")
    client = signed_in(site_of(row.pour), Role.ENGINEER)
    url = f"/inspections/{row.pk}/judge/"
    given = {"verdict": "refused", "course": "inject", "grounds": "0.045 m² in the corner"}
    assert client.post(url, given).status_code == 302
    decision = InspectionDecision.objects.get()
    assert decision.plan["voids"][0]["holes"]
    assert row.standing_verdict == "refused"
    page = client.get(f"/inspections/{row.pk}/").content.decode()
    assert "inject resin and sound again" in page
    assert "Holes of an injection" in page


@pytest.mark.parametrize(
    ("role", "change", "words"),
    [
        (Role.INSPECTOR, {}, "an engineer decides"),
        (Role.ENGINEER, {"course": ""}, "say whether to leave"),
        (Role.ENGINEER, {"verdict": "accepted"}, "accepted by the sounding after it"),
        (Role.ENGINEER, {"grounds": ""}, "Grounds"),
    ],
)
def test_it_refuses(role: Role, change: dict[str, str], words: str) -> None:
    row = sounded("A1.1")
    given = {"verdict": "refused", "course": "inject", "grounds": "seen"} | change
    response = signed_in(site_of(row.pour), role).post(f"/inspections/{row.pk}/judge/", given)
    assert response.status_code == 422
    assert words in errors_of(response)
    assert not InspectionDecision.objects.exists()


def test_who_may_judge() -> None:
    row = sounded()
    url = f"/inspections/{row.pk}/judge/"
    found = statuses("get", url, site_of(row.pour), {})
    assert {role for role, status in found.items() if status == 200} == {Role.INSPECTOR, Role.ENGINEER, Role.CREW_LEAD}
    assert stranger().get(url).status_code == 404


def test_a_level_survey_has_no_course() -> None:

    pour = fresh_pour()
    by = make_person(site=site_of(pour), roles=(Role.INSPECTOR,))
    row = record_level(pour=pour, head=head(verdict="open", made_at=pour.placed_at), rows=level_rows(), by=by)
    client = signed_in(site_of(pour), Role.CREW_LEAD)
    given = {"verdict": "accepted", "grounds": "level within the limit"}
    assert client.post(f"/inspections/{row.pk}/judge/", given).status_code == 302
    assert row.standing_verdict == "accepted"


@pytest.mark.parametrize(
    "statement", ["UPDATE groutjobs_inspectiondecision SET grounds = 'x'", "DELETE FROM groutjobs_inspectiondecision"]
)
def test_the_database_refuses_to_change_a_decision(statement: str) -> None:
    row = sounded()
    engineer = make_person(site=site_of(row.pour), roles=(Role.ENGINEER,))
    judge_inspection(inspection=row, verdict="accepted", grounds="all solid", by=engineer)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
