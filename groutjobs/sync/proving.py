"""How a phone that lost its cookie gets another one: it signs a question with a key that never leaves it.

A browser writes cookies down only now and then, so one that is killed soon after joining may come back without its
cookie, although its store is whole. The key lies in that store, cannot be read out by any script, and opens nothing
but this: another cookie of the same phone, with the same narrow rights. A revoked phone gets none.
"""

import base64
import binascii
import hashlib
import secrets

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import load_der_public_key
from django.core import signing
from django.db import IntegrityError, transaction

from groutjobs.accounts.device_actions import enrol_device, hash_of
from groutjobs.accounts.models import Device
from groutjobs.audit.actions import action, record, unchanged
from groutjobs.errors import NotAllowed
from groutjobs.sync.models import DeviceCookie, DeviceKey

QUESTION_S = 120
KEYS_MOST = 20
"""Keys of one phone: each wiped store makes a new one; more than this is no phone any more [GROUTJOBS]."""
SIGNED = b"groutjobs phone asks for its cookie\n"
_SALT = "groutjobs phone proves itself"
_HALF = 32


class NotProven(Exception):
    """The phone did not prove what it says; the message says why."""


@action
def join(*, typed: str, public_key: str = "") -> tuple[Device, str]:
    """Make the phone a device of the site by its code, with its key where it has one."""
    device, token = enrol_device(typed=typed)
    if public_key:
        add_key(device=device, public_key=public_key)
    return device, token


@action
def add_key(*, device: Device, public_key: str) -> DeviceKey:
    """Note the key of a phone that has its cookie. The same key again changes nothing."""
    thumbprint = hashlib.sha256(_der(public_key)).hexdigest()
    _read(public_key)
    Device.objects.select_for_update().get(pk=device.pk)
    known = DeviceKey.objects.filter(pk=thumbprint).first()
    if known is not None:
        if known.device_id != device.pk:
            raise NotAllowed("this key belongs to another phone")
        unchanged()
        return known
    if DeviceKey.objects.filter(device=device).count() >= KEYS_MOST:
        raise NotAllowed(f"this phone has made {KEYS_MOST} keys already; revoke it and let it join anew")
    made = DeviceKey.objects.create(thumbprint=thumbprint, public_key=public_key, device=device)
    record(made, by=None, kind="device.key_added", device=device.name)
    return made


def key_named(thumbprint: str) -> DeviceKey | None:
    return DeviceKey.objects.select_related("device__site").filter(pk=thumbprint).first()


def question() -> str:
    """What the phone must sign: our own word with its time, good for two minutes and once."""
    return signing.dumps(secrets.token_hex(16), salt=_SALT)


@action
def give_cookie(*, key: DeviceKey, asked: str, signature: str) -> str:
    """Another cookie for the phone that signed our question; the token is returned and stored nowhere."""
    device = Device.objects.select_for_update().get(pk=key.device_id)
    if device.revoked_at is not None:
        raise NotProven(f"{device.name} was revoked; export what it holds and ask the administrator")
    try:
        signing.loads(asked, salt=_SALT, max_age=QUESTION_S)
    except signing.BadSignature as error:
        raise NotProven("the question is not ours, or older than two minutes; ask again") from error
    if not _is_signed(key.public_key, asked, signature):
        raise NotProven("the signature does not fit the key of this phone")
    token = secrets.token_urlsafe(32)
    row = DeviceCookie(token_hash=hash_of(token), question=hash_of(asked), key=key, device=device)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as error:
        raise NotProven("this question was answered before; ask again") from error
    record(row, by=None, kind="device.cookie_given_again", device=device.name)
    return token


def device_with_cookie(token: str) -> Device | None:
    """The phone that this cookie belongs to: its first one, or one that was given again."""
    if not token:
        return None
    hashed = hash_of(token)
    phones = Device.objects.select_related("site")
    return phones.filter(token_hash=hashed).first() or phones.filter(further_cookies__token_hash=hashed).first()


def _der(public_key: str) -> bytes:
    try:
        return base64.urlsafe_b64decode(public_key + "=" * (-len(public_key) % 4))
    except (ValueError, binascii.Error) as error:
        raise NotAllowed("the key of the phone is not base64url") from error


def _read(public_key: str) -> ec.EllipticCurvePublicKey:
    """The key, which must be one of the curve P-256 [FIPS 186-5]."""
    try:
        read = load_der_public_key(_der(public_key))
    except ValueError as error:
        raise NotAllowed("the key of the phone cannot be read") from error
    if not isinstance(read, ec.EllipticCurvePublicKey) or not isinstance(read.curve, ec.SECP256R1):
        raise NotAllowed("the key of the phone is not one of the curve P-256")
    return read


def _is_signed(public_key: str, asked: str, signature: str) -> bool:
    """Browsers hand over r and s side by side, 32 bytes each; the library wants them as DER."""
    try:
        raw = base64.urlsafe_b64decode(signature + "=" * (-len(signature) % 4))
    except (ValueError, binascii.Error):
        return False
    if len(raw) != 2 * _HALF:
        return False
    pair = encode_dss_signature(int.from_bytes(raw[:_HALF]), int.from_bytes(raw[_HALF:]))
    try:
        _read(public_key).verify(pair, SIGNED + asked.encode(), ec.ECDSA(SHA256()))
    except InvalidSignature:
        return False
    return True
