"""The key that signs anchors. It lies in a file outside the database; the database knows its public half alone."""

import hashlib
import os
import tempfile
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from groutjobs.audit.actions import Actor, action, record
from groutjobs.audit.models import RecordKey
from groutjobs.errors import NotAllowed
from groutjobs.keeping import key_file
from groutjobs.reasons import require_reason

NAME = "record.pem"


def signing_key() -> tuple[Ed25519PrivateKey, RecordKey]:
    """The key in use and its row. The first one is made by itself; a later one takes a person and a reason."""
    known = RecordKey.objects.last()
    path = key_file(NAME)
    if not path.exists():
        if known is not None:
            raise NotAllowed(
                f"The key that signs the record ({known.fingerprint[:16]}) is not in {NAME} of the folder of keys. "
                "Restore it from the backup, or begin a new one with “manage.py record new-key --reason …”."
            )
        _make(path)
    private = _read(path)
    fingerprint = _fingerprint(private)
    if known is None:
        known = note_key(private=private, reason="", by=None)
    if known.fingerprint != fingerprint:
        raise NotAllowed(
            f"The key in {NAME} of the folder of keys ({fingerprint[:16]}) is not the one that the record knows "
            f"({known.fingerprint[:16]}). Restore that one, or take this one with “manage.py record new-key”."
        )
    return private, known


@action
def note_key(*, private: Ed25519PrivateKey, reason: str, by: Actor | None) -> RecordKey:
    """Note in the record which key signs from now on."""
    public = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
    key = RecordKey.objects.create(
        fingerprint=hashlib.sha256(public).hexdigest(), public_key=public.hex(), reason=reason
    )
    record(key, by=by, kind="record.key_changed", reason=reason)
    return key


def change_key(*, reason: str) -> RecordKey:
    """Begin a new key. The one before stays beside it under its own name, and old anchors stay good."""
    require_reason(reason)
    path, known = key_file(NAME), RecordKey.objects.last()
    if known is not None and path.exists() and _fingerprint(_read(path)) == known.fingerprint:
        path.replace(path.with_name(f"record-{known.fingerprint[:16]}.pem"))
    if not path.exists():
        _make(path)
    return note_key(private=_read(path), reason=reason.strip(), by=None)


def _make(path: Path) -> None:
    """Write a key that only this user may read; of two that do it at once the first one stays."""
    pem = Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    handle, fresh = tempfile.mkstemp(dir=path.parent, prefix=".record")
    with os.fdopen(handle, "wb") as file:
        file.write(pem)
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(fresh, path)
    except FileExistsError:
        pass
    finally:
        Path(fresh).unlink()


def _read(path: Path) -> Ed25519PrivateKey:
    key = load_pem_private_key(path.read_bytes(), None)
    if not isinstance(key, Ed25519PrivateKey):
        raise NotAllowed(f"{NAME} in the folder of keys holds no Ed25519 key.")
    return key


def _fingerprint(private: Ed25519PrivateKey) -> str:
    return hashlib.sha256(private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)).hexdigest()
