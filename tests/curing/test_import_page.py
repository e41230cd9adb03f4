"""Bringing a logger's file: kept whole, doubled never, refused when it contradicts the record."""

import datetime as dt
import hashlib
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.curing.actions import file_path
from groutjobs.curing.models import CureReading, ReadingImport
from groutjobs.pours.models import Pour
from tests.curing.asking import RECORDING, errors_of, fresh_pour, signed_in, site_of, statuses, stranger
from tests.equipment.posting import HUGE

pytestmark = pytest.mark.django_db


def address(pour: Pour) -> str:
    return reverse("curing:reading_import", args=[pour.pk])


def lines(pour: Pour, *temps: float) -> str:
    """A file with a reading each half hour from placing on."""
    assert pour.placed_at is not None
    rows = [f"{(pour.placed_at + dt.timedelta(hours=n / 2)).isoformat()},{temp}" for n, temp in enumerate(temps)]
    return "\n".join(["time,grout_c", *rows])


def fields(text: str, *, as_file: bool = True, **given: Any) -> dict[str, Any]:
    file = {"file": SimpleUploadedFile("logger 7.csv", text.encode())} if as_file else {"pasted": text}
    return {"clock": "site"} | file | given


def test_a_file_is_kept_with_its_readings_and_its_hash() -> None:
    pour = fresh_pour()
    text = lines(pour, 24.0, 25.0, 26.0)
    response = signed_in(site_of(pour), Role.CREW).post(address(pour), fields(text), follow=True)
    brought = ReadingImport.objects.get()
    assert (brought.file_name, brought.row_count, brought.new_count) == ("logger 7.csv", 3, 3)
    assert brought.file_sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert file_path(brought.file_sha256).read_bytes() == text.encode()
    assert "Kept: 3 of 3 readings were new." in response.content.decode()
    body = Event.objects.get(kind="readings.imported").body
    assert brought.file_sha256 in body
    assert '"new_count":{"new":"3"' in body


def test_lines_can_be_pasted_instead() -> None:
    pour = fresh_pour()
    signed_in(site_of(pour), Role.CREW).post(address(pour), fields(lines(pour, 24.0), as_file=False))
    assert CureReading.objects.get().temp_c == 24.0


def test_the_same_file_again_adds_nothing_and_a_longer_one_adds_the_rest() -> None:
    pour = fresh_pour()
    client = signed_in(site_of(pour), Role.CREW)
    for temps in ((24.0, 25.0), (24.0, 25.0), (24.0, 25.0, 26.0)):
        client.post(address(pour), fields(lines(pour, *temps)))
    assert [brought.new_count for brought in ReadingImport.objects.order_by("pk")] == [2, 0, 1]
    assert CureReading.objects.count() == 3


def test_a_file_that_contradicts_the_record_is_refused_whole() -> None:
    pour = fresh_pour()
    client = signed_in(site_of(pour), Role.CREW)
    client.post(address(pour), fields(lines(pour, 24.0, 25.0)))
    response = client.post(address(pour), fields(lines(pour, 24.0, 31.0, 26.0)))
    assert "row 3 (grout): the file says 31.0 °C, on record is 25.0 °C" in errors_of(response)
    assert CureReading.objects.count() == 2


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"clock": "site"}, "Give either a file or its lines"),
        ({"clock": "moon", "pasted": "x"}, "“moon” is none of"),
        ({"clock": "site", "pasted": "time,grout_c\nx,21"}, "Row 2: time “x” is not a time"),
        ({"clock": "site", "pasted": "time,grout_c\n2001-01-01 00:00,21"}, "the limit for this pour"),
    ],
)
def test_a_wrong_entry_comes_back_with_what_was_typed(data: dict[str, str], words: str) -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.CREW).post(address(pour), data)
    assert response.status_code == 422
    assert words in errors_of(response)
    assert (response.context["form"]["pasted"].value() or "") == data.get("pasted", "")


@pytest.mark.parametrize("as_file", [True, False])
def test_ten_megabytes_come_back_with_a_sentence(as_file: bool) -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.CREW).post(address(pour), fields(HUGE, as_file=as_file))
    assert response.status_code == 422
    assert ("has 9.5 MB" if as_file else "longer than 2000000") in errors_of(response)


def test_unusual_temperatures_are_taken_when_confirmed() -> None:
    pour = fresh_pour()
    client = signed_in(site_of(pour), Role.CREW)
    assert "outside the usual" in errors_of(client.post(address(pour), fields(lines(pour, 2.0))))
    client.post(address(pour), fields(lines(pour, 2.0), unusual="on"))
    assert CureReading.objects.get().temp_c == 2.0


@pytest.mark.parametrize("method", ["get", "post"])
def test_only_people_who_record_may_bring_files(method: str) -> None:
    pour = fresh_pour()
    answers = statuses(method, address(pour), site_of(pour), {})
    assert {role for role, status in answers.items() if status != 403} == set(RECORDING)
    assert getattr(stranger(), method)(address(pour)).status_code == 404
    assert signed_in(site_of(pour), Role.CREW).delete(address(pour)).status_code == 405


def test_the_page_opens_without_a_complaint() -> None:
    pour = fresh_pour()
    response = signed_in(site_of(pour), Role.CREW).get(address(pour))
    assert response.status_code == 200
    assert "America/New_York" in response.content.decode()


def test_the_file_comes_back_byte_for_byte_as_a_download() -> None:
    pour = fresh_pour()
    text = lines(pour, 24.0)
    signed_in(site_of(pour), Role.CREW).post(address(pour), fields(text))
    where = reverse("curing:reading_file", args=[ReadingImport.objects.get().pk])
    response = signed_in(site_of(pour), Role.AUDITOR).get(where)
    assert response.content == text.encode()
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response["Content-Disposition"].startswith("attachment;")
    assert response["X-Content-Type-Options"] == "nosniff"
    assert stranger().get(where).status_code == 404
    assert signed_in(site_of(pour), Role.AUDITOR).post(where).status_code == 405
