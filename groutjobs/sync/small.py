"""Small copies of photographs, for phones that did not take them: a look, not the record."""

import io

from PIL import Image

from groutjobs.accounts.models import Device
from groutjobs.pours import photos
from groutjobs.pours.models import PhotoOriginal

LONG_SIDE_PX = 360
MOST_BYTES = 16 * 1024
"""So much of a slow line may a look cost; quality gives way until it fits [GROUTJOBS]."""
QUALITIES = (60, 45, 30, 20, 10)


def small_copy(device: Device, sha256: str) -> bytes | None:
    """The picture that a phone of this site sent under this hash, as a JPEG of a few kilobytes, if there is one."""
    named = PhotoOriginal.objects.filter(sha256=sha256, pour__plan__machine__site=device.site_id)
    stored = named.values_list("photo__sha256", flat=True).first()
    if stored is None:
        return None
    try:
        with Image.open(photos.path_of(stored), formats=("JPEG",)) as whole:
            whole.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX))
            return _fitting(whole.convert("RGB"))
    except FileNotFoundError:
        return None


def _fitting(picture: Image.Image) -> bytes:
    content = b""
    for quality in QUALITIES:
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=quality, optimize=True)
        content = out.getvalue()
        if len(content) <= MOST_BYTES:
            break
    return content
