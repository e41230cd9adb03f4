"""Photographs: judged by content, freed of place and hidden content, stored under the hash of what is kept."""

import datetime as dt
import hashlib
import io
import os
import tempfile
import warnings
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from groutjobs.errors import OutOfRange, Unusable

MAX_BYTES = 10 * 1024 * 1024
MAX_PIXELS = 50_000_000
LONG_SIDE_PX = 2048
QUALITY = 85
CONTENT_TYPE = "image/jpeg"
SOURCE = "GROUTJOBS"
_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif")

# A picture that claims more pixels than this is refused before it is unpacked.
Image.MAX_IMAGE_PIXELS = MAX_PIXELS
warnings.filterwarnings("error", category=Image.DecompressionBombWarning)


@dataclass(frozen=True)
class KeptPhoto:
    """A re-encoded picture, ready to be stored."""

    content: bytes
    sha256: str
    width_px: int
    height_px: int
    taken_at: dt.datetime | None


def keep(content: bytes) -> KeptPhoto:
    """Re-encode an uploaded picture: upright, at most 2048 px long, no EXIF. Refused with the reason otherwise."""
    if not content:
        raise Unusable("Photo", "the file is empty; take it again", source=SOURCE)
    if len(content) > MAX_BYTES:
        raise OutOfRange("Photo", len(content) / 2**20, high=MAX_BYTES / 2**20, unit="MiB", source=SOURCE)
    if content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS:
        reason = "HEIC cannot be shown in every browser and report; set the camera to JPEG (“most compatible”)"
        raise Unusable("Photo", reason, source=SOURCE)
    try:
        with Image.open(io.BytesIO(content), formats=("JPEG", "PNG")) as picture:
            _require_pixels(*picture.size)
            taken_at = _taken_at(picture)
            upright = _flattened(ImageOps.exif_transpose(picture))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise Unusable("Photo", f"has more than {MAX_PIXELS:,} pixels, the limit", source=SOURCE) from error
    except UnidentifiedImageError as error:
        raise Unusable("Photo", "is neither JPEG nor PNG; take it with the camera", source=SOURCE) from error
    except (OSError, SyntaxError, ValueError) as error:
        raise Unusable("Photo", "is damaged and cannot be read; take it again", source=SOURCE) from error
    upright.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    upright.save(out, "JPEG", quality=QUALITY, optimize=True)
    kept = out.getvalue()
    return KeptPhoto(kept, hashlib.sha256(kept).hexdigest(), *upright.size, taken_at)


def _require_pixels(width: int, height: int) -> None:
    if width * height > MAX_PIXELS:
        raise OutOfRange("Photo", width * height / 1e6, high=MAX_PIXELS / 1e6, unit="megapixel", source=SOURCE)


def _flattened(picture: Image.Image) -> Image.Image:
    """A new picture of colours alone: nothing that the file carried beside its pixels goes on."""
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        with_alpha = picture.convert("RGBA")
        plain = Image.new("RGB", picture.size, "white")
        plain.paste(with_alpha, mask=with_alpha.getchannel("A"))
        return plain
    plain = Image.new("RGB", picture.size)
    plain.paste(picture.convert("RGB"))
    return plain


def _taken_at(picture: Image.Image) -> dt.datetime | None:
    """When the camera says it was taken; None where it does not say in which zone."""
    fields = picture.getexif().get_ifd(ExifTags.IFD.Exif)
    text, offset = fields.get(ExifTags.Base.DateTimeOriginal), fields.get(ExifTags.Base.OffsetTimeOriginal)
    if not isinstance(text, str) or not isinstance(offset, str):
        return None
    try:
        return dt.datetime.strptime(f"{text} {offset}", "%Y:%m:%d %H:%M:%S %z")
    except ValueError:
        return None


def path_of(sha256: str) -> Path:
    """Where the stored copy with this hash lies."""
    return Path(settings.MEDIA_ROOT) / "photos" / sha256[:2] / f"{sha256}.jpg"


def store(photo: KeptPhoto) -> Path:
    """Write the copy once, whole or not at all."""
    path = path_of(photo.sha256)
    if path.exists():
        return path
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as part:
        part.write(photo.content)
        part.flush()
        os.fsync(part.fileno())
    Path(part.name).replace(path)
    return path
