"""Sealed PDFs and scanned papers under the hash of their bytes: written once, read back only if they still match."""

import hashlib
import os
from pathlib import Path

from django.conf import settings

from groutjobs.errors import NotAllowed


def report_path(sha256: str, kind: str = "pdf") -> Path:
    return Path(settings.MEDIA_ROOT) / "reports" / sha256[:2] / f"{sha256}.{kind}"


def keep(content: bytes, kind: str = "pdf") -> str:
    """Store the bytes and return their hash; storing them twice is storing them once."""
    sha256 = hashlib.sha256(content).hexdigest()
    path = report_path(sha256, kind)
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(f".{os.getpid()}")
        with fresh.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    return sha256


def fetch(sha256: str, kind: str = "pdf") -> bytes:
    """The stored bytes. NotAllowed where the file is gone or was changed since it was issued."""
    try:
        content = report_path(sha256, kind).read_bytes()
    except FileNotFoundError as error:
        raise NotAllowed(
            f"The file {sha256[:12]} is not in the store. Ask the site administrator to restore it from the backup."
        ) from error
    if hashlib.sha256(content).hexdigest() != sha256:
        raise NotAllowed(
            f"The stored file no longer matches its hash {sha256[:12]}, so it is not handed out. "
            "Ask the site administrator to restore it from the backup."
        )
    return content
