"""A pour is opened on the approved plan, once at a time, by an engineer or a crew lead."""

import pytest
from django.test import Client

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed, Unusable
from groutjobs.pours.actions import open_pour
from groutjobs.pours.models import Pour
from tests.factories import make_approved_plan, make_person, make_pour

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.CREW_LEAD])
def test_the_right_person_opens_it(client: Client, role: Role) -> None:
    plan = make_approved_plan()
    client.force_login(make_person(site=plan.machine.site, roles=(role,)))
    page = client.get(f"/plans/{plan.pk}/pours/open/")
    assert b"Open the pour log" in page.content
    answer = client.post(f"/plans/{plan.pk}/pours/open/")
    pour = Pour.objects.get()
    assert answer.headers["Location"] == f"/pours/{pour.pk}/"
    assert Event.objects.filter(kind="pour.opened").count() == 1


def test_a_second_press_leads_to_the_same_pour(client: Client) -> None:
    plan = make_approved_plan()
    client.force_login(make_person(site=plan.machine.site, roles=(Role.ENGINEER,)))
    answers = [client.post(f"/plans/{plan.pk}/pours/open/").headers["Location"] for _ in range(2)]
    assert answers[0] == answers[1]
    assert Pour.objects.count() == 1


@pytest.mark.parametrize("role", [Role.CREW, Role.INSPECTOR, Role.AUDITOR, Role.ADMINISTRATOR])
def test_a_colleague_without_the_role_gets_403(client: Client, role: Role) -> None:
    plan = make_approved_plan()
    client.force_login(make_person(site=plan.machine.site, roles=(role,)))
    assert client.get(f"/plans/{plan.pk}/pours/open/").status_code == 403
    assert client.post(f"/plans/{plan.pk}/pours/open/").status_code == 403
    assert Pour.objects.count() == 0


def test_a_stranger_gets_404_and_the_wrong_method_405(client: Client) -> None:
    plan = make_approved_plan()
    client.force_login(make_person(roles=(Role.ENGINEER,)))
    assert client.post(f"/plans/{plan.pk}/pours/open/").status_code == 404
    assert client.delete(f"/plans/{plan.pk}/pours/open/").status_code == 405


def test_nobody_signed_in_is_sent_to_the_sign_in(client: Client) -> None:
    answer = client.post(f"/plans/{make_approved_plan().pk}/pours/open/")
    assert answer.status_code == 302
    assert "sign-in" in answer.headers["Location"]


def test_a_plan_that_is_not_approved_says_so(client: Client) -> None:
    plan = make_approved_plan(state="drafted", approved_by=None, approved_at=None)
    client.force_login(make_person(site=plan.machine.site, roles=(Role.ENGINEER,)))
    assert b"this one is drafted" in client.get(f"/plans/{plan.pk}/pours/open/").content
    answer = client.post(f"/plans/{plan.pk}/pours/open/")
    assert answer.status_code == 409
    assert b"a pour is opened on the approved plan" in answer.content


def test_the_action_refuses_roles_unfinished_pours_and_plans_without_takeoff() -> None:
    pour = make_pour()
    crew = make_person(site=pour.plan.machine.site, roles=(Role.CREW,))
    with pytest.raises(NotAllowed, match="engineer or a crew lead"):
        open_pour(plan=pour.plan, by=crew)
    with pytest.raises(NotAllowed, match="is not finished"):
        open_pour(plan=pour.plan, by=pour.opened_by)
    bare = make_approved_plan(result={"net_l": 0})
    with pytest.raises(Unusable, match="no takeoff"):
        open_pour(plan=bare, by=make_person(site=bare.machine.site, roles=(Role.ENGINEER,)))


def test_pours_of_a_machine_are_numbered_in_order() -> None:
    plan = make_approved_plan()
    make_pour(plan=plan, number=1, state="settled")
    second = open_pour(plan=plan, by=make_person(site=plan.machine.site, roles=(Role.ENGINEER,)))
    assert second.number == 2
