"""Secrets at rest: what the database must hold but nobody may read from a copy of it, and keys that it never holds.

`closed` and `opened` encrypt short texts (a shift key, the secret of a second factor) with a key made from the secret
key of this installation and the purpose, so that a text of one purpose never opens under another. `key_file` is the
place of a key that signs: a folder outside the database, readable by this user alone.
"""

import base64
from pathlib import Path

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings


class NotOurs(ValueError):
    """The text was closed under another purpose or another secret key."""


def closed(text: str, *, purpose: str) -> str:
    """The text, encrypted for this purpose."""
    return _box(purpose).encrypt(text.encode()).decode()


def opened(token: str, *, purpose: str) -> str:
    """What `closed` was given; NotOurs where the secret key of this installation did not close it."""
    try:
        return _box(purpose).decrypt(token.encode()).decode()
    except InvalidToken as error:
        raise NotOurs(f"this text was not closed for “{purpose}” with the secret key of this installation") from error


def key_file(name: str) -> Path:
    """Where the key of this name lies; the folder is made, the key is not."""
    folder = Path(settings.KEY_ROOT)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder / name


def _box(purpose: str) -> MultiFernet:
    return MultiFernet([_fernet(key, purpose) for key in [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]])


def _fernet(secret: str | bytes, purpose: str) -> Fernet:
    derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=f"groutjobs {purpose}".encode())
    return Fernet(base64.urlsafe_b64encode(derived.derive(secret if isinstance(secret, bytes) else secret.encode())))
