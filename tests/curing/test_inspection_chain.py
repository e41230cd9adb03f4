"""Inspections are never changed: a new one replaces the last, with a reason, and only the last one counts."""

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from groutjobs.audit.models import Event
from groutjobs.curing.actions import record_bolts, record_level, record_sounding
from groutjobs.curing.models import CureInspection
from groutjobs.curing.queries import inspections_of
from groutjobs.errors import NotAllowed, OutOfRange, Stale
from groutjobs.pours.models import Pour
from tests.curing.rows import bolt_rows, head, level_rows, sounding_rows
from tests.factories import make_cure_readings, make_placed_pour, make_pour

pytestmark = pytest.mark.django_db
BLOCKED = (0.0, 0.0, 2.0, 2.0)


def level(pour: Pour, *readings: float, **given: Any) -> CureInspection:
    return record_level(pour=pour, head=head(**given), rows=level_rows(*readings), by=pour.opened_by)


def test_it_keeps_rows_result_engine_and_drawing_and_enters_the_record() -> None:
    pour = make_placed_pour()
    row = level(pour)
    assert row.result["engine_version"]
    assert row.inputs["drawing"]["tag"] == pour.plan.machine.tag
    assert row.inputs["points"][0]["reading_mm"] == 0.0
    event = Event.objects.get(kind="inspection.recorded")
    assert (event.object_id, event.actor_id) == (str(row.pk), pour.opened_by_id)


def test_an_inspection_is_neither_changed_nor_deleted() -> None:
    row = level(make_placed_pour())
    row.verdict = "refused"
    with pytest.raises(NotAllowed, match="never changed"):
        row.save()
    with pytest.raises(NotAllowed, match="never deleted"):
        row.delete()


def test_a_new_one_replaces_the_last_and_says_why() -> None:
    pour = make_placed_pour()
    first = level(pour)
    second = level(pour, 0.0, 0.02, 0.0, 0.02, replaces=first, remarks="read again after tension")
    assert inspections_of(pour)["level"]["id"] == second.pk
    assert Event.objects.filter(kind="inspection.recorded").last().reason == "read again after tension"  # type: ignore[union-attr]


def test_replacing_without_a_reason_is_refused() -> None:
    pour = make_placed_pour()
    first = level(pour)
    with pytest.raises(NotAllowed, match="say why in the remarks"):
        level(pour, replaces=first)


def test_one_recorded_in_between_stops_the_next() -> None:
    pour = make_placed_pour()
    first = level(pour)
    level(pour, replaces=first, remarks="second")
    with pytest.raises(Stale, match="since this page was read"):
        level(pour, replaces=first, remarks="third, of a stale page")
    with pytest.raises(Stale):
        level(pour)


def test_the_database_keeps_one_chain_for_each_kind() -> None:
    pour = make_placed_pour()
    first = level(pour)
    columns = {
        "pour": pour, "kind": "level", "made_at": first.made_at, "made_by": pour.opened_by, "verdict": "accepted",
        "instrument": "x", "calibration_due_on": dt.date(2027, 1, 1),
    }  # fmt: skip
    for more in ({}, {"replaces": first, "remarks": ""}):
        with pytest.raises(IntegrityError), transaction.atomic():
            CureInspection(**columns, **more).save()
    assert CureInspection.objects.count() == 1


def test_accepting_what_stands_in_the_way_needs_grounds() -> None:
    pour = make_placed_pour()
    with pytest.raises(NotAllowed, match="on what grounds"):
        level(pour, *BLOCKED)
    assert level(pour, *BLOCKED, remarks="accepted by the engineer, see letter").verdict == "accepted"


def test_not_accepting_it_needs_none() -> None:
    row = level(make_placed_pour(), *BLOCKED, verdict="refused")
    assert row.result["suggested"] == "refused"


def test_the_future_is_refused() -> None:
    with pytest.raises(NotAllowed, match="future"):
        level(make_placed_pour(), made_at=timezone.now() + dt.timedelta(days=1))


def test_an_overdue_calibration_is_a_finding() -> None:
    row = level(make_placed_pour(), calibration_due_on=dt.date(2026, 5, 3))
    assert [item["code"] for item in row.result["findings"]] == ["inspection.calibration"]
    assert "1 days before" in row.result["findings"][0]["message"]
    assert level(make_placed_pour(), calibration_due_on=dt.date(2026, 5, 4)).result["findings"] == []


def test_the_level_may_be_read_before_the_pour_and_taps_and_bolts_may_not() -> None:
    pour = make_pour()
    assert level(pour).pk
    with pytest.raises(NotAllowed, match="Declare the pour complete"):
        record_sounding(pour=pour, head=head(), rows=sounding_rows(pour), by=pour.opened_by)
    with pytest.raises(NotAllowed, match="Declare the pour complete"):
        record_bolts(pour=pour, head=head(), rows=bolt_rows(pour), by=pour.opened_by)


def test_unusable_rows_leave_nothing_behind() -> None:
    pour = make_placed_pour()
    with pytest.raises(OutOfRange):
        level(pour, 0.0, float("nan"), 0.0, 0.0)
    assert not CureInspection.objects.exists()
    assert not Event.objects.filter(kind="inspection.recorded").exists()


def test_bolts_tensioned_before_the_milestone_are_flagged_and_after_it_are_not() -> None:
    early, late = make_placed_pour(), make_placed_pour()
    make_cure_readings(pour=early, temps=[(float(hour), 23.0) for hour in range(20)])
    make_cure_readings(pour=late, temps=[(float(hour), 23.0) for hour in range(60)])
    codes = []
    for pour in (early, late):
        row = record_bolts(pour=pour, head=head(), rows=bolt_rows(pour), by=pour.opened_by)
        codes.append([item["code"] for item in row.result["findings"]])
    assert "bolts.too_early" in codes[0]
    assert "bolts.too_early" not in codes[1]


def test_what_counts_is_plain_json_for_the_turnover() -> None:
    pour = make_placed_pour()
    level(pour)
    record_sounding(pour=pour, head=head(), rows=sounding_rows(pour), by=pour.opened_by)
    found = inspections_of(pour)
    assert set(found) == {"level", "sounding"}
    assert found["level"]["made_at"] == "2026-05-04T14:00:00+00:00"
    assert found["level"]["calibration_due_on"] == "2027-01-31"
