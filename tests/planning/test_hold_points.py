"""The standard inspection and test plan, and changing a line of it for one job."""

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.audit.queries import changes_in
from groutjobs.errors import NotAllowed
from groutjobs.planning import actions
from groutjobs.planning.hold_points import standard_points
from groutjobs.planning.models import GroutKind, PlanPoint, PlanState, PointCode
from groutjobs.sources import sources
from tests.factories import make_person
from tests.planning.sheets import engineer_of, planned, sheet_of, signed_in

pytestmark = pytest.mark.django_db
LINE = {
    "acceptance": "Profile at least 20 mm",
    "source": "Owner's specification 7",
    "code": "W",
    "witness_role": "crew",
}


@pytest.mark.parametrize("kind", list(GroutKind))
def test_there_are_25_lines_of_which_14_come_before_the_pour(kind: GroutKind) -> None:
    points = standard_points(kind)
    assert len(points) == 25
    assert [point.before_pour for point in points] == [True] * 14 + [False] * 11


@pytest.mark.parametrize("kind", list(GroutKind))
def test_every_line_fits_its_columns_and_names_known_sources(kind: GroutKind) -> None:
    for point in standard_points(kind):
        PlanPoint(position=1, **point.columns()).clean_fields(exclude=["plan"])
        assert point.code in PointCode.values
        assert point.witness_role in Role.values
        assert all(key.split()[0] in sources() for key in point.source.split(","))


def test_the_kinds_differ_where_epoxy_must_be_dry_and_cement_wet() -> None:
    epoxy, cement = (standard_points(kind)[6] for kind in (GroutKind.EPOXY, GroutKind.CEMENT))
    assert (epoxy.step, epoxy.source.split()[0]) == ("Concrete is dry", "ACI351.5")
    assert (cement.step, cement.source.split()[0]) == ("Concrete is saturated, surface dry", "ACI351.4")


def test_a_new_plan_carries_the_lines_of_its_grout() -> None:
    plan = planned()
    assert [p.step for p in plan.points.all()] == [p.step for p in standard_points(GroutKind.EPOXY)]


def test_another_kind_of_grout_brings_its_own_lines() -> None:
    plan = planned()
    cement = sheet_of(plan.machine.site, kind="cement", kit_yield_l=12.5, kit_kg=25.0, density_kg_m3=2150.0)
    actions.change_plan(plan=plan, by=engineer_of(plan.machine.site), data_sheet=cement)
    assert [p.step for p in plan.points.all()] == [p.step for p in standard_points(GroutKind.CEMENT)]


def test_an_engineer_changes_a_line_with_source_and_reason() -> None:
    point = planned().points.get(position=5)
    client = signed_in(engineer_of(point.plan.machine.site))
    answer = client.post(reverse("planning:point_edit", args=[point.pk]), LINE | {"reason": "owner asks for more"})
    assert answer.status_code == 302
    point.refresh_from_db()
    assert (point.acceptance, point.source, point.code) == ("Profile at least 20 mm", "Owner's specification 7", "W")
    event = Event.objects.get(kind="plan_point.changed")
    assert event.reason == "owner asks for more"
    assert {name for name, _, _ in changes_in(event)} == {"acceptance", "code", "source", "witness_role"}


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"acceptance": ""}, "Acceptance is empty"),
        ({"source": ""}, "On whose word is empty"),
        ({"code": "X"}, "is none of"),
        ({"reason": ""}, "Why it is changed is empty"),
        ({"code": "H", "witness_role": ""}, "a hold point needs somebody who holds it"),
        ({"acceptance": "x" * 10_000_000}, "longer than 300 characters"),
    ],
)
def test_a_wrong_line_comes_back_with_a_sentence(wrong: dict[str, str], words: str) -> None:
    point = planned().points.get(position=5)
    client = signed_in(engineer_of(point.plan.machine.site))
    answer = client.post(reverse("planning:point_edit", args=[point.pk]), LINE | {"reason": "because"} | wrong)
    assert answer.status_code == 200
    assert words in answer.content.decode()
    assert PlanPoint.objects.get(pk=point.pk).acceptance == point.acceptance


def test_a_line_of_an_approved_plan_is_fixed() -> None:
    plan = planned()
    by = engineer_of(plan.machine.site)
    actions.approve_plan(plan=plan, by=by)
    point = plan.points.get(position=5)
    with pytest.raises(NotAllowed, match="approved and cannot be changed"):
        actions.change_point(point=point, by=by, acceptance="anything")
    assert signed_in(by).get(reverse("planning:point_edit", args=[point.pk])).status_code == 409


def test_the_work_itself_of_a_line_cannot_be_renamed() -> None:
    point = planned().points.get(position=5)
    with pytest.raises(NotAllowed, match="step of a hold point is fixed"):
        actions.change_point(point=point, by=engineer_of(point.plan.machine.site), step="something else")


def test_a_colleague_is_refused_a_stranger_finds_nothing_and_delete_is_no_way() -> None:
    point = planned().points.get(position=5)
    address = reverse("planning:point_edit", args=[point.pk])
    colleague = make_person(site=point.plan.machine.site, roles=(Role.CREW_LEAD,))
    stranger = make_person(roles=(Role.ENGINEER,))
    assert signed_in(colleague).post(address, LINE).status_code == 403
    assert signed_in(stranger).post(address, LINE).status_code == 404
    assert signed_in(stranger).delete(address).status_code == 405
    assert point.plan.state == PlanState.DRAFTED
