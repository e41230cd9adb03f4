"""Approving freezes a plan; a change after that is a new revision."""

import json
from typing import Any

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.errors import NotAllowed
from groutjobs.planning import actions
from groutjobs.planning.models import PlanState
from groutjobs.planning.queries import current_plan
from tests.factories import make_machine, make_person
from tests.planning.sheets import engineer_of, planned, signed_in

pytestmark = pytest.mark.django_db
AUTHORITY = "Letter of the supplier of 3 May, signed by the owner's engineer"


def test_an_engineer_approves_and_inputs_result_and_sources_are_frozen() -> None:
    plan = planned()
    by = engineer_of(plan.machine.site)
    answer = signed_in(by).post(reverse("planning:plan_approve", args=[plan.pk]))
    assert answer.status_code == 302
    plan.refresh_from_db()
    assert (plan.state, plan.approved_by) == (PlanState.APPROVED, by)
    assert plan.approved_at is not None
    assert {"engine_version", "inputs", "numbers", "sources", "findings"} <= plan.result.keys()
    event = Event.objects.get(kind="plan.approved")
    assert len(json.loads(event.body)["extra"]["points"]) == 25


def test_the_machine_may_change_and_the_approved_plan_does_not() -> None:
    plan = planned()
    by = engineer_of(plan.machine.site)
    frozen = actions.approve_plan(plan=plan, by=by).result
    untouched = signed_in(by).get(reverse("planning:plan_detail", args=[plan.pk]))
    assert "were changed after this plan was approved" not in untouched.content.decode()
    plate = plan.machine.baseplate
    plate.underside_elevation_mm += 20.0
    plate.save()
    page = signed_in(by).get(reverse("planning:plan_detail", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.result == json.loads(json.dumps(frozen))
    assert "were changed after this plan was approved" in page.content.decode()
    assert page.context["result"]["net_l"] == frozen["net_l"]


def test_a_drafted_plan_follows_the_machine_until_it_is_approved() -> None:
    plan = planned()
    before = plan.result["net_l"]
    plate = plan.machine.baseplate
    plate.underside_elevation_mm += 20.0
    plate.save()
    approved = actions.approve_plan(plan=plan, by=engineer_of(plan.machine.site))
    assert approved.result["net_l"] > before + 90.0


def test_what_stands_in_the_way_refuses_the_approval() -> None:
    plan = planned(snug_kn=0.0)
    client = signed_in(engineer_of(plan.machine.site))
    answer = client.post(reverse("planning:plan_approve", args=[plan.pk]), {"note": "fine by me"})
    assert answer.status_code == 200
    assert "A grout head of" in answer.content.decode()
    assert "fine by me" in answer.content.decode()
    plan.refresh_from_db()
    assert plan.state == PlanState.DRAFTED


def test_it_is_accepted_on_a_written_authority_that_the_page_and_the_record_show() -> None:
    plan = planned(snug_kn=0.0)
    client = signed_in(engineer_of(plan.machine.site))
    client.post(reverse("planning:plan_approve", args=[plan.pk]), {"note": AUTHORITY})
    plan.refresh_from_db()
    assert (plan.state, plan.approval_note) == (PlanState.APPROVED, AUTHORITY)
    assert Event.objects.get(kind="plan.approved").reason == AUTHORITY
    assert "Letter of the supplier" in client.get(reverse("planning:plan_detail", args=[plan.pk])).content.decode()


@pytest.mark.parametrize("step", [actions.change_plan, actions.approve_plan])
def test_an_approved_plan_is_neither_changed_nor_approved_again(step: Any) -> None:
    plan = planned()
    by = engineer_of(plan.machine.site)
    actions.approve_plan(plan=plan, by=by)
    with pytest.raises(NotAllowed, match="is approved and cannot be changed"):
        step(plan=plan, by=by)


def test_a_new_revision_copies_plan_and_points_and_supersedes_when_approved() -> None:
    first = planned(head_mm=300.0, snug_kn=90.0)
    by = engineer_of(first.machine.site)
    actions.change_point(point=first.points.get(position=5), by=by, acceptance="Profile 20 mm", source="Owner 7")
    first = actions.approve_plan(plan=first, by=by)
    client = signed_in(by)
    answer = client.post(reverse("planning:plan_revise", args=[first.pk]), {"reason": "head box was built lower"})
    second = first.machine.plans.get(revision=2)
    assert answer["Location"] == reverse("planning:plan_detail", args=[second.pk])
    assert (second.state, second.head_mm) == (PlanState.DRAFTED, 300.0)
    assert second.points.get(position=5).acceptance == "Profile 20 mm"
    assert current_plan(first.machine) == first
    actions.approve_plan(plan=second, by=by)
    first.refresh_from_db()
    assert first.state == PlanState.SUPERSEDED
    assert current_plan(first.machine) == second


def test_only_one_revision_is_drafted_at_a_time_and_only_from_the_approved_one() -> None:
    plan = planned()
    by = engineer_of(plan.machine.site)
    with pytest.raises(NotAllowed, match="Revision 1 is drafted; revise the approved one"):
        actions.revise_plan(plan=plan, by=by, reason="too early")
    plan = actions.approve_plan(plan=plan, by=by)
    actions.revise_plan(plan=plan, by=by, reason="once")
    with pytest.raises(NotAllowed, match="Revision 2 is already drafted"):
        actions.revise_plan(plan=plan, by=by, reason="twice")


def test_a_revision_needs_a_reason() -> None:
    plan = planned()
    by = engineer_of(plan.machine.site)
    actions.approve_plan(plan=plan, by=by)
    answer = signed_in(by).post(reverse("planning:plan_revise", args=[plan.pk]), {"reason": ""})
    assert "Why a new revision is made is empty" in answer.content.decode()


def test_the_current_plan_is_the_approved_one_else_the_newest_else_none() -> None:
    assert current_plan(make_machine(bare=True)) is None
    plan = planned()
    assert current_plan(plan.machine) == plan


@pytest.mark.parametrize("name", ["plan_approve", "plan_revise"])
def test_a_colleague_is_refused_a_stranger_finds_nothing_and_get_is_no_way(name: str) -> None:
    plan = planned()
    address = reverse(f"planning:{name}", args=[plan.pk])
    colleague = make_person(site=plan.machine.site, roles=(Role.CREW_LEAD, Role.INSPECTOR))
    stranger = make_person(roles=(Role.ENGINEER,))
    assert signed_in(colleague).post(address).status_code == 403
    assert signed_in(stranger).post(address).status_code == 404
    assert signed_in(engineer_of(plan.machine.site)).get(address).status_code == 405
