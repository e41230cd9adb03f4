"""Writes about phones of a site: enrolling, revoking, shift keys, the PIN of a person."""

import hashlib
import secrets
from datetime import timedelta

from django.contrib.auth.hashers import make_password
from django.utils import timezone

from groutjobs import keeping
from groutjobs.accounts.models import (
    ROLES_THAT_RECORD,
    SHIFT_KEYS,
    Device,
    DeviceCode,
    PhonePin,
    Role,
    ShiftKey,
    User,
)
from groutjobs.accounts.queries import holds
from groutjobs.audit.actions import action, record, snapshot, unchanged
from groutjobs.errors import NotAllowed

CODE_LIFE = timedelta(minutes=10)
KEY_LIFE = timedelta(days=14)
"""Crews work so long without signal [GROUTJOBS]."""
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""No 0, 1, I, L, O and U: they are misread, or make words."""
CODE_LENGTH = 10


@action
def make_device_code(*, site_id: int, name: str, by: User) -> tuple[DeviceCode, str]:
    """A single-use code by which one phone joins the site; returned once, kept as its hash."""
    _require_administrator(by, site_id)
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    expires_at = timezone.now() + CODE_LIFE
    row = DeviceCode.objects.create(
        site_id=site_id, name=name, code_hash=hash_of(code), made_by=by, expires_at=expires_at
    )
    record(row, by=by, kind="device.code_made")
    return row, f"{code[:5]}-{code[5:]}"


def hash_of(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()


def plain_code(typed: str) -> str:
    """A code as it was made, whatever case, spaces and hyphens it was typed with."""
    return "".join(sign for sign in typed.upper() if sign in ALPHABET)[: CODE_LENGTH + 1]


@action
def enrol_device(*, typed: str) -> tuple[Device, str]:
    """Use the code once: make the phone a device of the site; returns it with its key, which is stored nowhere."""
    row = DeviceCode.objects.select_for_update().filter(code_hash=hash_of(plain_code(typed))).first()
    if row is None or not row.is_open:
        raise NotAllowed("This code is not known, was used, or has expired. Ask at the desk for a new one.")
    token = secrets.token_urlsafe(32)
    device = Device.objects.create(
        site_id=row.site_id, name=row.name, token_hash=hash_of(token), enrolled_by_id=row.made_by_id
    )
    record(device, by=row.made_by, kind="device.enrolled")
    before = snapshot(row)
    row.device = device
    row.save(update_fields=["device"])
    record(row, by=row.made_by, kind="device.code_used", before=before)
    return device, token


@action
def revoke_device(*, device: Device, reason: str, by: User) -> Device:
    """End the rights of a phone. What it sent stays; what was entered on it before waits for a decision."""
    row = Device.objects.select_for_update().get(pk=device.pk)
    _require_administrator(by, row.site_id)
    if row.revoked_at is not None:
        unchanged()
        return row
    before = snapshot(row)
    row.revoked_at, row.revoked_by, row.revoked_because = timezone.now(), by, reason.strip()
    row.save(update_fields=["revoked_at", "revoked_by", "revoked_because"])
    record(row, by=by, kind="device.revoked", before=before, reason=row.revoked_because)
    return row


@action
def issue_shift_key(*, device: Device, person: User) -> ShiftKey:
    """A key for a person who has just proved himself on this phone."""
    if not holds(person, device.site_id, ROLES_THAT_RECORD):
        raise NotAllowed(f"{person.name} has no role at this site that writes in the pour log.")
    now = timezone.now()
    key = ShiftKey.objects.create(
        device=device,
        person=person,
        secret=keeping.closed(secrets.token_hex(32), purpose=SHIFT_KEYS),
        issued_at=now,
        ends_at=now + KEY_LIFE,
    )
    record(key, by=person, kind="device.shift_key_issued", device=device.name)
    return key


@action
def end_shift_key(*, key: ShiftKey) -> ShiftKey:
    """The person signed out on the phone. What was entered before still carries a good proof."""
    before = snapshot(key)
    now = timezone.now()
    if key.ends_at <= now:
        unchanged()
        return key
    key.ends_at = now
    key.save(update_fields=["ends_at"])
    record(key, by=key.person, kind="device.shift_key_ended", before=before)
    return key


@action
def set_phone_pin(*, by: User, pin: str) -> PhonePin:
    """The short secret with which this person starts a shift on an enrolled phone."""
    known = PhonePin.objects.filter(person=by).first()
    before = snapshot(known) if known else None
    row = known or PhonePin(person=by)
    row.pin_hash, row.set_at = make_password(pin), timezone.now()
    row.save()
    record(row, by=by, kind="person.phone_pin_set", before=before)
    return row


def _require_administrator(by: User, site_id: int) -> None:
    if not holds(by, site_id, {Role.ADMINISTRATOR}):
        raise NotAllowed("the administrator of the site enrols and revokes phones; ask him")
