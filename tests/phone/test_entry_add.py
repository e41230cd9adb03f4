"""One entry from the phone: plain forms, stored once, read back in both units."""

import datetime as dt
import io
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from PIL import Image

from groutjobs.accounts.models import Role
from groutjobs.pours.actions import add_entry
from groutjobs.pours.bodies import BODIES
from groutjobs.pours.models import Photo, Pour, PourEntry
from tests.factories import make_approved_plan, make_data_sheet, make_grout_system, make_machine, make_person, make_pour
from tests.phone.sent import enter, sent

pytestmark = pytest.mark.django_db
KINDS = [kind for kind in BODIES if kind not in {"declared_complete", "struck", "resolved"}]


@pytest.fixture(autouse=True)
def own_files(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def pour(client: Client) -> Pour:
    pour = make_pour()
    client.force_login(pour.opened_by)
    return pour


def release(pour: Pour) -> None:
    engineer = make_person(site=pour.plan.machine.site, roles=(Role.ENGINEER,))
    point = pour.plan.points.get(position=1)
    body = {"point_id": point.pk, "answer": "accepted", "witness_id": engineer.pk}
    add_entry(pour=pour, kind="point_answer", body=body, by=pour.opened_by)


def photo_file(name: str = "a.jpg") -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (20, 10)).save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), content_type="image/jpeg")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_asked_for_and_stored(client: Client, pour: Pour, kind: str) -> None:
    release(pour)
    if kind == "leak_closed":
        add_entry(pour=pour, kind="leak", body={"compartment": "A", "where": "north"}, by=pour.opened_by)
    before = pour.entries.count()
    assert client.get(enter(pour, kind)).status_code == 200
    answer = client.post(enter(pour, kind), sent(pour, kind))
    assert answer.headers["Location"] == f"/phone/pours/{pour.pk}/"
    assert pour.entries.count() == before + 1
    assert pour.entries.filter(kind=kind, author=pour.opened_by).exists()


def test_a_double_tap_is_one_entry(client: Client, pour: Pour) -> None:
    body = sent(pour, "reading")
    assert [client.post(enter(pour, "reading"), body).status_code for _ in range(3)] == [302] * 3
    assert pour.entries.count() == 1


def test_the_same_id_with_other_content_is_a_conflict(client: Client, pour: Pour) -> None:
    """409 Conflict, RFC 9110 15.5.10 (from memory)."""
    body = sent(pour, "reading")
    client.post(enter(pour, "reading"), body)
    answer = client.post(enter(pour, "reading"), {**body, "temp_c": "22"})
    assert answer.status_code == 409
    assert b"already stored with other content" in answer.content
    assert pour.entries.get().body["temp_c"] == 21.5


def test_a_number_is_kept_in_si_and_as_typed_and_read_back_in_both_units(client: Client, pour: Pour) -> None:
    """21.5 °C is 70.7 °F by the definition of the degree Fahrenheit."""
    page = client.post(enter(pour, "reading"), sent(pour, "reading"), follow=True)
    body = pour.entries.get().body
    assert (body["temp_c"], body["as_entered"]["temp_c"]) == (21.5, {"text": "21,5", "unit": "degC"})
    assert "temperature 21.5 °C = 70.7 °F" in page.content.decode()
    assert "Sent - all 1 received" in page.content.decode()


def test_below_zero_can_be_typed(client: Client, pour: Pour) -> None:
    client.post(enter(pour, "reading"), sent(pour, "reading", temp_c="-5,5"))
    assert pour.entries.get().body["temp_c"] == -5.5


def test_it_happened_earlier_keeps_both_times(client: Client, pour: Pour) -> None:
    earlier = (timezone.now() - dt.timedelta(hours=2)).replace(second=0, microsecond=0)
    client.post(enter(pour, "note"), sent(pour, "note", happened_at=earlier.isoformat()))
    entry = pour.entries.get()
    assert entry.happened_at == earlier
    assert entry.entered_at - entry.happened_at > dt.timedelta(hours=1)


def test_a_moment_still_to_come_is_refused(client: Client, pour: Pour) -> None:
    later = (timezone.now() + dt.timedelta(hours=1)).isoformat()
    answer = client.post(enter(pour, "note"), sent(pour, "note", happened_at=later))
    assert answer.status_code == 422
    assert "is still to come" in answer.content.decode()


def test_the_screen_carries_forward_what_was_used_last(client: Client, pour: Pour) -> None:
    release(pour)
    client.post(enter(pour, "liquids_started"), sent(pour, "liquids_started", kits="2"))
    client.post(enter(pour, "reading"), sent(pour, "reading", instrument="probe 7"))
    text = client.get(enter(pour, "liquids_started")).content.decode()
    assert 'name="batch" value="2"' in text
    assert 'name="kits" value="2"' in text
    assert 'value="probe 7"' in client.get(enter(pour, "reading")).content.decode()
    assert 'name="volume_l" value="113.2"' in client.get(enter(pour, "placed", "?batch=1")).content.decode()


def test_the_screen_says_what_is_acceptable_and_what_can_hurt(client: Client, pour: Pour) -> None:
    point = pour.plan.points.get(position=1)
    assert (
        "Acceptable: Within 0.17 mm/m" in client.get(enter(pour, "point_answer", f"?point={point.pk}")).content.decode()
    )
    assert "sensitise the skin" in client.get(enter(pour, "liquids_started")).content.decode()
    assert "hot enough to smoke" in client.get(enter(pour, "discarded")).content.decode()


def test_a_witness_is_another_person_of_the_site(client: Client, pour: Pour) -> None:
    colleague, stranger = make_person(site=pour.plan.machine.site, roles=(Role.CREW,)), make_person()
    text = client.get(enter(pour, "point_answer")).content.decode()
    assert colleague.name in text
    for nobody in (stranger, pour.opened_by):
        answer = client.post(enter(pour, "point_answer"), sent(pour, "point_answer", witness_id=nobody.pk))
        assert answer.status_code == 422
    client.post(enter(pour, "point_answer"), sent(pour, "point_answer", witness_id=colleague.pk))
    assert pour.entries.get().body["witness_id"] == colleague.pk


def test_an_answer_other_than_accepted_needs_a_remark(client: Client, pour: Pour) -> None:
    answer = client.post(enter(pour, "point_answer"), sent(pour, "point_answer", answer="not_accepted"))
    assert "Remark is empty; say why" in answer.content.decode()
    client.post(enter(pour, "point_answer"), sent(pour, "point_answer", answer="not_accepted", remark="low"))
    assert pour.entries.get().body["remark"] == "low"


def test_starting_a_batch_before_the_release_is_asked_once_more_but_not_made_impossible(
    client: Client, pour: Pour
) -> None:
    body = sent(pour, "liquids_started")
    answer = client.post(enter(pour, "liquids_started"), body)
    assert answer.status_code == 422
    assert "hold points 1 are open" in answer.content.decode()
    assert client.post(enter(pour, "liquids_started"), {**body, "unreleased": "on"}).status_code == 302
    assert pour.entries.count() == 1


def test_photos_are_kept_with_the_entry(client: Client, pour: Pour) -> None:
    client.post(enter(pour, "note"), sent(pour, "note", photo=[photo_file()]))
    assert pour.entries.get().body["photos"] == [Photo.objects.get().pk]


def test_a_refused_field_does_not_lose_the_photo(client: Client, pour: Pour) -> None:
    answer = client.post(enter(pour, "note"), sent(pour, "note", text="", photo=[photo_file()]))
    kept = Photo.objects.get()
    assert answer.status_code == 422
    assert f'name="photos" value="{kept.pk}"' in answer.content.decode()
    client.post(enter(pour, "note"), sent(pour, "note", photos=str(kept.pk)))
    assert pour.entries.get().body["photos"] == [kept.pk]


def test_a_refused_photo_does_not_lose_the_words(client: Client, pour: Pour) -> None:
    bad = SimpleUploadedFile("a.heic", bytes(4) + b"ftypheic" + bytes(50))
    answer = client.post(enter(pour, "note"), sent(pour, "note", photo=[bad]))
    assert answer.status_code == 422
    assert "HEIC cannot be shown" in answer.content.decode()
    assert ">dry</textarea>" in answer.content.decode()
    assert pour.entries.count() == 0


def test_photos_of_another_pour_are_refused(client: Client, pour: Pour) -> None:
    other = make_pour(plan=pour.plan, number=2, opened_by=pour.opened_by)
    client.post(enter(other, "note"), sent(other, "note", photo=[photo_file()]))
    answer = client.post(enter(pour, "note"), sent(pour, "note", photos=str(Photo.objects.get().pk)))
    assert answer.status_code == 422
    assert "are not photographs of this pour" in answer.content.decode()


@pytest.mark.parametrize("kind", ["struck", "declared_complete", "anything"])
def test_other_kinds_have_no_such_page(client: Client, pour: Pour, kind: str) -> None:
    assert client.get(enter(pour, kind)).status_code == 404


@pytest.mark.parametrize("role", [Role.AUDITOR, Role.ADMINISTRATOR])
def test_a_colleague_who_only_reads_gets_403(client: Client, pour: Pour, role: Role) -> None:
    client.force_login(make_person(site=pour.plan.machine.site, roles=(role,)))
    assert client.get(enter(pour, "note")).status_code == 403
    assert client.post(enter(pour, "note"), sent(pour, "note")).status_code == 403


def test_a_stranger_gets_404_and_the_wrong_method_405(client: Client, pour: Pour) -> None:
    client.force_login(make_person(roles=(Role.ENGINEER,)))
    assert client.post(enter(pour, "note"), sent(pour, "note")).status_code == 404
    assert client.delete(enter(pour, "note")).status_code == 405
    assert PourEntry.objects.count() == 0


def test_a_us_reader_types_fahrenheit(client: Client, pour: Pour) -> None:
    person = make_person(site=pour.plan.machine.site, roles=(Role.CREW,), unit_system="us")
    client.force_login(person)
    assert 'name="temp_c_unit" value="degF"' in client.get(enter(pour, "reading")).content.decode()
    client.post(enter(pour, "reading"), sent(pour, "reading", temp_c="70.7", temp_c_unit="degF"))
    assert pour.entries.get().body["temp_c"] == pytest.approx(21.5)


def test_a_cementitious_grout_asks_for_water(client: Client) -> None:
    machine = make_machine()
    sheet = make_data_sheet(grout_system=make_grout_system(site=machine.site, kind="cement"))
    pour = make_pour(plan=make_approved_plan(machine=machine, data_sheet=sheet))
    client.force_login(pour.opened_by)
    text = client.get(enter(pour, "liquids_started")).content.decode()
    assert 'name="water_l"' in text
    assert "wet cement burns" in text


def test_an_id_that_is_none_is_refused_in_words(client: Client, pour: Pour) -> None:
    answer = client.post(enter(pour, "note"), sent(pour, "note", entry_id="1"))
    assert answer.status_code == 422
    assert "is not a UUID" in answer.content.decode()
    assert str(uuid4()) not in answer.content.decode()
