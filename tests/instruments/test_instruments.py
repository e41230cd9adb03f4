"""Instruments of a site: adding, calibrating, retiring, and what is due on a day."""

import datetime as dt
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.errors import NotAllowed
from groutjobs.instruments.actions import add_calibration, add_instrument, retire_instrument
from groutjobs.instruments.models import Calibration, Instrument
from groutjobs.instruments.queries import calibrations_due, instruments, standing_on
from tests.curing.asking import signed_in, statuses, stranger
from tests.factories import make_person, make_site

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 5, 4)


def an_instrument(kind: str = "wrench", serial: str = "2291") -> Instrument:
    site = make_site()
    by = make_person(site=site, roles=(Role.INSPECTOR,))
    return add_instrument(site=site, kind=kind, name="torque wrench", serial=serial, span="", by=by)


def calibrated(row: Instrument, on: dt.date, due: dt.date, **more: Any) -> Calibration:
    return add_calibration(
        instrument=row, calibrated_on=on, due_on=due, certificate_no="C-1", by_whom="a laboratory", by=row.added_by,
        **more,
    )  # fmt: skip


def word(row: Instrument, day: dt.date = DAY) -> str:
    return standing_on(instruments().get(pk=row.pk), day).word


def test_the_inspector_adds_one_and_its_calibration() -> None:
    site = make_site()
    client = signed_in(site, Role.INSPECTOR)
    data = {"kind": "level", "name": "master level", "serial": "0417", "span": "0.005 mm"}
    response = client.post(reverse("instruments:instrument_add", args=[site.pk]), data)
    row = Instrument.objects.get()
    assert response["Location"] == reverse("instruments:instrument_detail", args=[row.pk])
    data = {"calibrated_on": "2026-01-10", "due_on": "2027-01-10", "certificate_no": "C-1", "by_whom": "a laboratory"}
    client.post(reverse("instruments:calibration_add", args=[row.pk]), data)
    assert row.calibrations.get().due_on == dt.date(2027, 1, 10)
    assert "master level" in client.get(reverse("instruments:instrument_list", args=[site.pk])).content.decode()


def test_the_calibration_that_counts_is_the_newest_by_that_day() -> None:
    row = an_instrument()
    assert word(row) == "never calibrated"
    calibrated(row, dt.date(2025, 1, 1), dt.date(2026, 1, 1))
    assert word(row) == "overdue by 123 days"  # 2026-01-01 to 2026-05-04, counted on the calendar
    calibrated(row, dt.date(2026, 4, 1), dt.date(2026, 5, 5))
    assert word(row) == "due in 1 day"
    assert word(row, dt.date(2026, 3, 1)) == "overdue by 59 days"


def test_what_gives_no_number_needs_no_calibration() -> None:
    assert word(an_instrument(kind="hammer")) == "needs none"


def test_a_wrong_row_is_replaced_with_a_reason_and_stays() -> None:
    row = an_instrument()
    wrong = calibrated(row, dt.date(2026, 1, 1), dt.date(2028, 1, 1))
    with pytest.raises(NotAllowed, match="what was wrong"):
        calibrated(row, dt.date(2026, 1, 1), dt.date(2027, 1, 1), replaces=wrong)
    calibrated(row, dt.date(2026, 1, 1), dt.date(2026, 1, 2), replaces=wrong, remark="year of the due date misread")
    assert word(row) == "overdue by 122 days"
    assert row.calibrations.count() == 2


def test_a_calibration_is_never_changed_nor_deleted() -> None:
    calibrated(an_instrument(), dt.date(2026, 1, 1), dt.date(2027, 1, 1))
    for change in (lambda: Calibration.objects.update(due_on=DAY), lambda: Calibration.objects.all().delete()):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            change()


def test_it_refuses_a_second_of_the_same_number_and_a_due_date_before_the_calibration() -> None:
    row = an_instrument()
    with pytest.raises(NotAllowed, match="on the list already"):
        add_instrument(site=row.site, kind="wrench", name="another", serial="2291", span="", by=row.added_by)
    with pytest.raises(NotAllowed, match="not after"):
        calibrated(row, dt.date(2026, 1, 1), dt.date(2026, 1, 1))
    with pytest.raises(NotAllowed, match="future"):
        calibrated(row, dt.date(2198, 1, 1), dt.date(2199, 1, 1))


def test_a_retired_one_is_due_no_more_and_takes_no_calibration() -> None:
    row = an_instrument()
    assert [one.instrument for one in calibrations_due(row.site, DAY)] == [row]
    retire_instrument(instrument=row, reason="dropped from the scaffold", by=row.added_by)
    assert calibrations_due(row.site, DAY) == []
    with pytest.raises(NotAllowed, match="retired"):
        calibrated(row, dt.date(2026, 1, 1), dt.date(2027, 1, 1))


def test_who_may_keep_the_list() -> None:
    site = make_site()
    address = reverse("instruments:instrument_add", args=[site.pk])
    may = {role for role, status in statuses("get", address, site, {}).items() if status == 200}
    assert may == {Role.INSPECTOR, Role.ENGINEER, Role.ADMINISTRATOR}
    assert stranger().get(address).status_code == 404
    assert signed_in(site, Role.INSPECTOR).put(address).status_code == 405
    assert stranger().get(reverse("instruments:instrument_list", args=[site.pk])).status_code == 404
