"""Pictures by their hash: in any order with the entries that name them, each once, and what lacks is told."""

import base64
import hashlib
import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from groutjobs.pours.models import Photo
from groutjobs.pours.queries import log_of, pour_whole
from groutjobs.sync.models import Blob
from groutjobs.turnover.readiness import readiness
from tests.sync.calling import Wire, pour_and_phone

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def picture(shade: int = 0) -> tuple[str, bytes]:
    out = io.BytesIO()
    Image.new("RGB", (40, 20), (shade, 80, 90)).save(out, "JPEG")
    return hashlib.sha256(out.getvalue()).hexdigest(), out.getvalue()


@pytest.mark.parametrize("picture_first", [True, False])
def test_entry_and_picture_come_in_any_order(picture_first: bool) -> None:
    pour, phone = pour_and_phone()
    sha256, content = picture()
    wire = Wire(phone)
    made = phone.op(pour.pk, "leak", {"compartment": "A", "where": "north", "blobs": [sha256]})
    if picture_first:
        assert wire.put(f"blobs/{sha256}", content).status_code == 201
    wire.send(made)
    told = wire.get(f"records/{pour.pk}").json()
    assert told["missing_blobs"] == ([] if picture_first else [sha256])
    if not picture_first:
        assert wire.put(f"blobs/{sha256}", content).status_code == 201
    assert wire.put(f"blobs/{sha256}", content).status_code == 200
    log = log_of(pour_whole().get(pk=pour.pk))
    assert log.lines[0].photos == (Photo.objects.get().pk,)
    assert log.missing_blobs == ()


def test_one_picture_in_two_entries_is_kept_once() -> None:
    pour, phone = pour_and_phone()
    sha256, content = picture()
    wire = Wire(phone)
    body = {"compartment": "A", "where": "north", "blobs": [sha256, sha256]}
    wire.send(phone.op(pour.pk, "leak", body), phone.op(pour.pk, "note", {"text": "see", "blobs": [sha256]}))
    wire.put(f"blobs/{sha256}", content)
    assert (Blob.objects.count(), Photo.objects.count()) == (1, 1)
    assert [len(line.photos) for line in log_of(pour_whole().get(pk=pour.pk)).lines] == [1, 1]


def test_a_picture_that_has_not_come_stands_in_the_way_of_the_turnover() -> None:
    pour, phone = pour_and_phone()
    Wire(phone).send(phone.op(pour.pk, "note", {"text": "see", "blobs": [picture()[0]]}))
    found = readiness(pour_whole().get(pk=pour.pk))
    assert any(finding.code.startswith("turnover.photo.missing") for finding in found)


def test_a_picture_that_cannot_be_read_is_kept_and_told() -> None:
    """Cut in the middle: the bytes are kept as they came, the log says that a photograph lacks."""
    pour, phone = pour_and_phone()
    content = picture()[1][:300]
    sha256 = hashlib.sha256(content).hexdigest()
    wire = Wire(phone)
    wire.send(phone.op(pour.pk, "note", {"text": "see", "blobs": [sha256]}))
    assert wire.put(f"blobs/{sha256}", content).status_code == 201
    assert wire.get(f"records/{pour.pk}").json()["missing_blobs"] == []
    assert log_of(pour_whole().get(pk=pour.pk)).missing_blobs == (sha256,)


@pytest.mark.parametrize(
    ("content", "status", "code"),
    [
        (b"", 415, "not_a_picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", 415, "not_a_picture"),
        (b"\xff\xd8\xff" + b"x" * 1_572_864, 413, "too_big"),
    ],
)
def test_what_is_no_picture_is_refused(content: bytes, status: int, code: str) -> None:
    _, phone = pour_and_phone()
    answer = Wire(phone).put(f"blobs/{hashlib.sha256(content).hexdigest()}", content)
    assert (answer.status_code, answer.json()["error"]["code"]) == (status, code)
    assert not Blob.objects.exists()


def test_a_picture_under_a_hash_that_is_not_its_own_is_refused() -> None:
    _, phone = pour_and_phone()
    answer = Wire(phone).put(f"blobs/{'0' * 64}", picture()[1])
    assert (answer.status_code, answer.json()["error"]["code"]) == (422, "hash_wrong")


def test_a_rescue_file_brings_pictures_too() -> None:
    pour, phone = pour_and_phone()
    sha256, content = picture()
    made = phone.op(pour.pk, "note", {"text": "see", "blobs": [sha256]})
    file = {
        "rescue": 1, "device_id": phone.device_id, "made_at": "2026-04-30T09:05:12Z", "ops": [made.sent()],
        "blobs": [{"sha256": sha256, "base64": base64.b64encode(content).decode()}],
    }  # fmt: skip
    assert Wire(phone).post("rescue", file).json()["answers"][0]["now"] == "accepted"
    assert Photo.objects.count() == 1


def test_a_small_copy_is_for_phones_of_the_site_and_light() -> None:
    pour, phone = pour_and_phone()
    content = jpeg_of_noise()
    sha256 = hashlib.sha256(content).hexdigest()
    wire = Wire(phone)
    assert wire.get(f"blobs/{sha256}/small").status_code == 404
    wire.put(f"blobs/{sha256}", content)
    wire.send(phone.op(pour.pk, "note", {"text": "seen", "blobs": [sha256]}))
    answer = wire.get(f"blobs/{sha256}/small")
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/jpeg")
    assert len(answer.content) <= 16 * 1024
    with Image.open(io.BytesIO(answer.content)) as small:
        assert max(small.size) == 360
    _, stranger = pour_and_phone()
    assert Wire(stranger).get(f"blobs/{sha256}/small").status_code == 404


def jpeg_of_noise() -> bytes:
    out = io.BytesIO()
    Image.effect_noise((1600, 1200), 80).convert("RGB").save(out, "JPEG", quality=80)
    return out.getvalue()


def test_an_entry_from_paper_without_its_sheet_is_stored_and_stands_in_the_way() -> None:
    pour, phone = pour_and_phone()
    bare = phone.op(pour.pk, "stopped", {"why": "rain", "from_paper": True})
    shown = phone.op(pour.pk, "resumed", {"from_paper": True, "blobs": ["0" * 64]})
    wrong = phone.op(pour.pk, "note", {"text": "x", "from_paper": "yes"})
    answers = Wire(phone).send(bare, shown, wrong)
    assert [one["now"] for one in answers] == ["accepted", "accepted", "quarantined"]
    missing = {one.code: one.message for one in log_of(pour).missing_before_complete}
    assert missing["entry.sheet_missing"] == "Transcribed from paper without a photo of the sheet: 1 entry."
    assert phone.op(pour.pk, "stopped", {"why": "rain"}).sha256 != bare.sha256
    plain = phone.op(pour.pk, "stopped", {"why": "rain", "blobs": ["0" * 64]})
    assert Wire(phone).send(plain)[0]["now"] == "quarantined"
