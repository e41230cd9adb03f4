"""Photographs: judged by content, stored upright and without the place they were taken at."""

import hashlib
import io
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from PIL import ExifTags, Image

from groutjobs.accounts.models import Role
from groutjobs.errors import NotAllowed, OutOfRange, Unusable
from groutjobs.pours import photos
from groutjobs.pours.actions import add_photo
from groutjobs.pours.models import Photo
from tests.factories import make_person, make_pour

pytestmark = pytest.mark.django_db
ORIENTATION_TURNED = 6


@pytest.fixture(autouse=True)
def own_files(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def jpeg(width: int = 60, height: int = 40, *, exif: Image.Exif | None = None) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), "#8fa3a8").save(out, "JPEG", exif=exif or Image.Exif())
    return out.getvalue()


def png(width: int, height: int, mode: str = "RGBA") -> bytes:
    out = io.BytesIO()
    Image.new(mode, (width, height)).save(out, "PNG")
    return out.getvalue()


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG whose head claims a size without carrying it (PNG specification, ISO/IEC 15948, IHDR; from memory)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


def exif_of_a_phone() -> Image.Exif:
    """Orientation, place and time as a phone writes them (Exif 2.32, CIPA DC-008; tag numbers from Pillow)."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = ORIENTATION_TURNED
    exif[ExifTags.Base.Make] = "invented"
    times = exif.get_ifd(ExifTags.IFD.Exif)
    times[ExifTags.Base.DateTimeOriginal] = "2026:04:30 08:15:00"
    times[ExifTags.Base.OffsetTimeOriginal] = "-04:00"
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef] = "N"
    place[ExifTags.GPS.GPSLatitude] = (36.0, 6.0, 0.0)
    return exif


def test_it_is_stored_upright_without_place_under_the_hash_of_what_is_kept() -> None:
    pour = make_pour()
    photo = add_photo(pour=pour, content=jpeg(exif=exif_of_a_phone()), by=pour.opened_by)
    stored = photos.path_of(photo.sha256).read_bytes()
    assert hashlib.sha256(stored).hexdigest() == photo.sha256
    with Image.open(io.BytesIO(stored)) as picture:
        assert picture.size == (photo.width_px, photo.height_px) == (40, 60)
        assert dict(picture.getexif()) == {}
        assert "exif" not in picture.info
    assert b"invented" not in stored


def test_the_camera_time_is_kept_where_it_names_its_offset() -> None:
    kept = photos.keep(jpeg(exif=exif_of_a_phone()))
    assert kept.taken_at
    assert kept.taken_at.isoformat() == "2026-04-30T08:15:00-04:00"
    assert photos.keep(jpeg()).taken_at is None


def test_the_same_picture_twice_is_one_photo() -> None:
    pour = make_pour()
    first, second = (add_photo(pour=pour, content=jpeg(), by=pour.opened_by) for _ in range(2))
    assert first.pk == second.pk
    assert Photo.objects.count() == 1


def test_a_large_picture_is_made_smaller_and_transparency_becomes_white() -> None:
    assert max(photos.keep(jpeg(4000, 1000)).width_px, 0) == photos.LONG_SIDE_PX
    with Image.open(io.BytesIO(photos.keep(png(8, 8)).content)) as picture:
        assert picture.getpixel((4, 4)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["L", "P", "LA", "1", "RGB"])
def test_pictures_of_all_kinds_of_colour_are_taken(mode: str) -> None:
    assert photos.keep(png(5, 5, mode)).width_px == 5


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: b"", "empty"),
        (lambda: b"<svg xmlns='http://www.w3.org/2000/svg'/>", "neither JPEG nor PNG"),
        (lambda: b"GIF89a" + bytes(100), "neither JPEG nor PNG"),
        (lambda: bytes(4) + b"ftypheic" + bytes(100), "HEIC"),
        (lambda: jpeg(400, 400)[:600], "damaged"),
        (lambda: png_that_claims(12_000, 12_000), "pixels"),
        (lambda: png_that_claims(7_100, 7_100), "pixels"),
    ],
)
def test_what_is_no_picture_is_refused_with_the_reason(make: Callable[[], bytes], said: str) -> None:
    with pytest.raises((Unusable, OutOfRange), match=said) as refusal:
        photos.keep(make())
    assert "[GROUTJOBS]" in str(refusal.value)


def test_a_file_over_ten_mebibytes_is_refused_with_value_and_limit() -> None:
    with pytest.raises(OutOfRange) as refusal:
        photos.keep(bytes(photos.MAX_BYTES + 1))
    assert "10 MiB" in str(refusal.value)


def test_a_reader_cannot_add_one() -> None:
    pour = make_pour()
    with pytest.raises(NotAllowed):
        add_photo(pour=pour, content=jpeg(), by=make_person(site=pour.plan.machine.site, roles=(Role.AUDITOR,)))


def test_it_is_served_with_a_fixed_type_and_shut_off(client: Client) -> None:
    pour = make_pour()
    photo = add_photo(pour=pour, content=jpeg(), by=pour.opened_by)
    client.force_login(make_person(site=pour.plan.machine.site, roles=(Role.AUDITOR,)))
    answer = client.get(f"/photos/{photo.pk}/")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer.headers["Content-Security-Policy"]
    assert hashlib.sha256(answer.content).hexdigest() == photo.sha256


def test_a_stranger_gets_404_the_wrong_method_405_and_a_lost_file_404(client: Client) -> None:
    pour = make_pour()
    photo = add_photo(pour=pour, content=jpeg(), by=pour.opened_by)
    client.force_login(make_person(roles=(Role.ENGINEER,)))
    assert client.get(f"/photos/{photo.pk}/").status_code == 404
    client.force_login(pour.opened_by)
    assert client.post(f"/photos/{photo.pk}/").status_code == 405
    photos.path_of(photo.sha256).unlink()
    assert client.get(f"/photos/{photo.pk}/").status_code == 404
