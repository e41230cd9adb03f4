"""The files of the phone's pages without signal, under one build: an address names its content and is never stale."""

import gzip
import hashlib
import mimetypes
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

import brotli
from django.conf import settings

APP = "phone/app"
WORKER = "worker.js"
# name in the build → file under static; the modules of phone/app are added by their own names
OTHERS = {
    "idb.js": "vendor/idb-8.0.4/idb.js",
    "phone.css": "css/phone.css",
    "icon-192.png": "icons/icon-192.png",
    "icon-512.png": "icons/icon-512.png",
}
ICON_SIZES = (192, 512)
LATER = "inspect"
"""Modules whose names start so are fetched when they are first needed."""


@dataclass(frozen=True)
class Packed:
    """Bytes in the encodings that a browser may take: Brotli over a secure connection, else gzip."""

    brotli: bytes
    gzipped: bytes

    def taken_by(self, accepts: str, longest: int) -> tuple[str, bytes] | None:
        """Name and bytes of the smallest encoding of the header Accept-Encoding that is shorter than `longest`."""
        names = {part.split(";")[0].strip() for part in accepts.split(",")}
        ways = [(name, content) for name, content in (("br", self.brotli), ("gzip", self.gzipped)) if name in names]
        smaller = [way for way in ways if len(way[1]) < longest]
        return min(smaller, key=lambda way: len(way[1]), default=None)


@lru_cache(maxsize=8)
def packed(content: bytes) -> Packed:
    """Both encodings; those of the pages of a build are made once, not at each visit."""
    return Packed(brotli.compress(content), gzip.compress(content, 9, mtime=0))


@dataclass(frozen=True)
class ShellFile:
    """One file in the forms in which it goes over the wire."""

    content: bytes
    packed: Packed
    kind: str


@dataclass(frozen=True)
class Shell:
    """All files of one build. `worker` is the text of the service worker without what stands above it."""

    build: str
    files: dict[str, ShellFile]
    worker: str

    @property
    def modules(self) -> list[str]:
        """What the first screen needs. Inspections are asked for later; the worker keeps them all the same."""
        return sorted(name for name in self.files if name.endswith(".js") and not name.startswith(LATER))


def shell() -> Shell:
    """The build of the files as they are; read again when one was changed in development."""
    paths = _paths()
    return _read(tuple((name, str(path), path.stat().st_mtime_ns) for name, path in sorted(paths.items())))


def _paths() -> dict[str, Path]:
    static = settings.BASE_DIR / "static"
    own = {path.name: path for path in (static / APP).iterdir() if path.suffix in {".js", ".css"}}
    return own | {name: static / place for name, place in OTHERS.items()}


@cache
def _read(named: tuple[tuple[str, str, int], ...]) -> Shell:
    contents = {name: Path(path).read_bytes() for name, path, _ in named}
    contents["app.html"] = (settings.BASE_DIR / "templates" / "phone" / "app.html").read_bytes()
    total = hashlib.sha256()
    for name, content in contents.items():
        total.update(f"{name} {len(content)} ".encode() + content)
    worker = contents.pop(WORKER).decode()
    del contents["app.html"]
    files = {name: _file(name, content) for name, content in contents.items()}
    return Shell(build=total.hexdigest()[:16], files=files, worker=worker)


def _file(name: str, content: bytes) -> ShellFile:
    kind = "text/javascript" if name.endswith(".js") else mimetypes.guess_type(name)[0] or "application/octet-stream"
    text = "; charset=utf-8" if kind.startswith("text/") else ""
    return ShellFile(content, packed(content), kind + text)
