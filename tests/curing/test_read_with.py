"""With which instrument readings were taken, and what is said where its calibration was past due then."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from groutjobs.accounts.models import Role
from groutjobs.curing.actions import add_reading, set_aside_readings
from groutjobs.curing.models import ReadingImport
from groutjobs.errors import NotAllowed
from groutjobs.instruments.actions import add_calibration, add_instrument, retire_instrument
from groutjobs.instruments.models import Instrument
from groutjobs.pours.models import Pour
from groutjobs.turnover.readiness import readiness
from tests.curing import test_import_page, test_loggers, test_reading_by_hand
from tests.curing.asking import errors_of, fresh_pour, signed_in, site_of
from tests.factories import make_person, make_site

pytestmark = pytest.mark.django_db


def thermometer(pour: Pour, due_in_days: int | None = 300, kind: str = "thermometer", serial: str = "88") -> Instrument:
    """An instrument of the site, calibrated a year before it is due again; None leaves it without a calibration."""
    site = site_of(pour)
    by = make_person(site=site, roles=(Role.INSPECTOR,))
    row = add_instrument(site=site, kind=kind, name="probe thermometer", serial=serial, span="", by=by)
    if due_in_days is not None:
        due_on = timezone.now().astimezone(site.tz).date() + dt.timedelta(days=due_in_days)
        add_calibration(
            instrument=row, calibrated_on=due_on - dt.timedelta(days=365), due_on=due_on, certificate_no="C-1",
            by_whom="a laboratory", by=by,
        )  # fmt: skip
    return row


def by_hand(pour: Pour, **given: str) -> str:
    client = signed_in(site_of(pour), Role.CREW)
    address = reverse("curing:reading_add", args=[pour.pk])
    return client.post(address, test_reading_by_hand.fields(pour, **given), follow=True).content.decode()


def cure_page(pour: Pour) -> str:
    client = signed_in(site_of(pour), Role.AUDITOR)
    return client.get(reverse("curing:cure_detail", args=[pour.pk])).content.decode()


def codes(pour: Pour) -> set[str]:
    return {finding.code for finding in readiness(pour) if "calibration" in finding.code}


def test_a_site_without_instruments_is_not_asked() -> None:
    pour = fresh_pour()
    page = signed_in(site_of(pour), Role.CREW).get(reverse("curing:reading_add", args=[pour.pk]))
    assert "Read with" not in page.content.decode()
    assert "Kept" in by_hand(pour)


def test_a_reading_by_hand_names_its_instrument_and_may_leave_it_out() -> None:
    pour = fresh_pour()
    row = thermometer(pour)
    assert "probe thermometer no. 88, calibrated" in cure_form(pour)
    by_hand(pour)
    assert ReadingImport.objects.get().read_with is None
    page = by_hand(pour, probe="air", read_with=str(row.pk))
    assert ReadingImport.objects.get(read_with=row).new_count == 1
    assert "probe thermometer no. 88" in page
    assert "calibration of" not in page
    assert not codes(pour)


def cure_form(pour: Pour) -> str:
    client = signed_in(site_of(pour), Role.CREW)
    return client.get(reverse("curing:cure_detail", args=[pour.pk])).content.decode()


@pytest.mark.parametrize(("due_in_days", "words"), [(-3, "was due on"), (None, "is not on record")])
def test_a_past_calibration_is_told_at_once_on_the_page_and_in_the_readiness_list(
    due_in_days: int | None, words: str
) -> None:
    pour = fresh_pour()
    row = thermometer(pour, due_in_days)
    page = by_hand(pour, read_with=str(row.pk))
    assert f"The calibration of probe thermometer no. 88 {words}" in page
    assert f"calibration {words}" in cure_page(pour)
    assert codes(pour) == {f"turnover.reading_calibration_{row.pk}"}
    by = make_person(site=site_of(pour), roles=(Role.ENGINEER,))
    set_aside_readings(brought_in=ReadingImport.objects.get(), why="the thermometer was off", by=by)
    assert not codes(pour)


def test_what_counts_is_the_day_of_the_reading_and_not_the_day_it_was_brought() -> None:
    pour = fresh_pour(hours_ago=24 * 10)
    row = thermometer(pour, due_in_days=-4)
    zone = site_of(pour).tz
    for days_ago in (6, 2):
        read_at = timezone.now().replace(second=0, microsecond=0) - dt.timedelta(days=days_ago)
        add_reading(
            pour=pour, probe="grout", temp_c=22.0, read_at=read_at, typed="22 °C", by=pour.opened_by, read_with=row
        )
        told = [finding.message for finding in readiness(pour) if "reading_calibration" in finding.code]
        on = read_at.astimezone(zone).date()
        assert told == ([] if days_ago == 6 else [f"Cure readings of {on} were taken with {row}, whose calibration was "
                        f"due on {row.calibrations.get().due_on}."])  # fmt: skip


def test_a_file_names_an_instrument_and_a_retired_or_unknown_one_is_refused_with_what_was_entered() -> None:
    pour = fresh_pour()
    row, gone = thermometer(pour), thermometer(pour, serial="old")
    retire_instrument(instrument=gone, reason="fell into the mixer", by=gone.added_by)
    client, address = signed_in(site_of(pour), Role.CREW), test_import_page.address(pour)
    text = test_import_page.lines(pour, 24.0, 25.0)
    for wrong in (str(gone.pk), "none"):
        response = client.post(address, test_import_page.fields(text, as_file=False, read_with=wrong))
        assert (response.status_code, ReadingImport.objects.count()) == (422, 0)
        assert f"Read with “{wrong}” is none of" in errors_of(response, "read_with")
        assert text in response.context["form"]["pasted"].value()
    client.post(address, test_import_page.fields(text, read_with=str(row.pk)))
    assert ReadingImport.objects.get().read_with == row


def test_an_instrument_of_another_site_is_not_taken() -> None:
    pour, other = fresh_pour(), make_site()
    by = make_person(site=other, roles=(Role.INSPECTOR,))
    row = add_instrument(site=other, kind="thermometer", name="probe", serial="1", span="", by=by)
    with pytest.raises(NotAllowed, match="list of another site"):
        add_reading(
            pour=pour, probe="grout", temp_c=22.0, read_at=timezone.now(), typed="22 °C", by=pour.opened_by,
            read_with=row,
        )  # fmt: skip


def test_a_logger_with_its_serial_number_on_the_list_is_the_instrument_of_what_it_sends() -> None:
    pour, logger, key = test_loggers.sending()
    assert test_loggers.post(key, [test_loggers.row(pour, 1)]).status_code == 200
    assert ReadingImport.objects.get().read_with is None
    row = thermometer(pour, -40, kind="logger", serial="l3")
    assert test_loggers.post(key, [test_loggers.row(pour, 2)], batch_id="b2").status_code == 200
    assert ReadingImport.objects.get(logger_id=logger.pk, read_with=row).new_count == 1
    assert codes(pour) == {f"turnover.reading_calibration_{row.pk}"}
    page = signed_in(site_of(pour), Role.AUDITOR).get(reverse("curing:logger_detail", args=[logger.pk]))
    assert "what it brings is noted as read with it" in page.content.decode()
