"""What other stages read of pours, in few queries."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.errors import Unusable
from groutjobs.pours.calc import basis_of
from groutjobs.pours.queries import log_of, logs_of, lot_numbers, open_pours, people_of, pour_whole, unfinished_pour
from tests.factories import PLAN_RESULT, make_approved_plan, make_entry, make_lot, make_person, make_pour

pytestmark = pytest.mark.django_db


def test_compartments_share_shoulder_and_chamfer_by_their_volume() -> None:
    """Of 240 L in all, 2 × 110 L lie under the plate: each compartment is held against 120 L."""
    basis = basis_of(make_approved_plan(), [])
    assert [fill.takeoff_l for fill in basis.fills] == pytest.approx([120.0, 120.0])
    assert sum(fill.takeoff_l for fill in basis.fills) == pytest.approx(basis.net_l)
    assert [fill.sd_l for fill in basis.fills] == pytest.approx([3.6 * 240 / 220] * 2)


@pytest.mark.parametrize("volume_l", [0.0, -1.0])
def test_a_plan_with_an_empty_compartment_has_no_basis(volume_l: float) -> None:
    regions = [{**PLAN_RESULT["compartments"][0], "volume_l": volume_l}]
    with pytest.raises(Unusable, match="no takeoff"):
        basis_of(make_approved_plan(result={**PLAN_RESULT, "compartments": regions}), [])


def test_logs_of_many_pours_take_as_many_queries_as_one() -> None:
    pours = [make_pour() for _ in range(5)]
    for pour in pours:
        make_entry(pour=pour, kind="note", body={"text": "dry"})
    rows = list(pour_whole())
    with CaptureQueriesContext(connection) as for_one:
        logs_of(rows[:1])
    with CaptureQueriesContext(connection) as for_all:
        logs = logs_of(rows)
    assert len(for_one) == len(for_all) <= 4
    assert [len(log.lines) for log in logs.values()] == [1] * 5


def test_a_log_is_that_of_its_own_pour() -> None:
    pour, other = make_pour(), make_pour()
    make_entry(pour=other, kind="note", body={"text": "elsewhere"})
    assert log_of(pour_whole().get(pk=pour.pk)).lines == ()


def test_open_pours_are_those_whose_record_is_not_complete_and_recent_ones() -> None:
    now = timezone.now()
    pour, old = make_pour(), make_pour(state="settled", opened_at=now - dt.timedelta(days=9))
    fresh = make_pour(state="settled", opened_at=now - dt.timedelta(hours=1))
    assert set(open_pours()) == {pour}
    assert set(open_pours(since=now - dt.timedelta(hours=24))) == {pour, fresh}
    assert old in set(open_pours(since=now - dt.timedelta(days=10)))


def test_one_unfinished_pour_of_a_machine_is_found_through_any_of_its_plans() -> None:
    pour = make_pour()
    later = make_approved_plan(machine=pour.plan.machine, revision=2, state="superseded")
    assert unfinished_pour(later) == pour
    assert unfinished_pour(make_approved_plan()) is None


def test_the_lot_of_the_plan_comes_first() -> None:
    pour = make_pour()
    assert pour.plan.lot
    make_lot(grout_system=pour.plan.data_sheet.grout_system, lot_no="A0", expires_on=dt.date(2027, 1, 1))
    assert lot_numbers(pour) == [pour.plan.lot.lot_no, "A0"]


def test_people_of_a_site_are_those_with_a_role_there() -> None:
    pour = make_pour()
    make_person()
    site = pour.plan.machine.site
    gone = make_person(site=site, roles=(Role.CREW,), is_active=False)
    names = {name for _, name in people_of(site.pk)}
    assert pour.opened_by.name in names
    assert gone.name not in names
