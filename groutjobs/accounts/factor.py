"""The second factor: time-based codes [RFC6238] of the person's own phone, and codes for when that phone is lost."""

import base64
import datetime as dt
import hashlib
import hmac
import secrets

from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.totp import TOTP

from groutjobs.accounts.models import ROLES_WITH_SECOND_FACTOR, Membership, SecondFactor, User

STEP_S = 30
DIGITS = 6
AROUND = 1
"""Codes of the step before and the step after are taken too: clocks of phones differ [RFC6238 5.2]."""
SECRET_BYTES = 20
RECOVERY_CODES = 10
PURPOSE = "second factor"
ISSUER = "GroutJobs"
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"


def new_secret() -> str:
    """A secret in the spelling that programs on phones take: base 32."""
    return base64.b32encode(secrets.token_bytes(SECRET_BYTES)).decode()


def code_at(secret: str, at: dt.datetime) -> str:
    """The code that a phone shows at this moment."""
    return _totp(secret).generate(int(at.timestamp())).decode()


def step_of(secret: str, code: str, at: dt.datetime) -> int | None:
    """The time step that this code belongs to, of those around the moment; None where it belongs to none."""
    now, found = int(at.timestamp()) // STEP_S, None
    for step in range(now - AROUND, now + AROUND + 1):
        if hmac.compare_digest(_totp(secret).generate(step * STEP_S), code.encode()):
            found = step
    return found


def address_to_scan(secret: str, person: User) -> str:
    """What the picture on the page says to the phone."""
    return _totp(secret).get_provisioning_uri(person.email, ISSUER)


def _totp(secret: str) -> TOTP:
    return TOTP(base64.b32decode(secret), DIGITS, SHA1(), STEP_S)  # noqa: S303 (the algorithm that all phones know)


def plain_code(typed: str) -> str:
    """A code as it was made, whatever case, spaces and hyphens it was typed with."""
    return "".join(sign for sign in typed.upper() if sign.isascii() and sign.isalnum())[:40]


def new_recovery_codes() -> list[str]:
    """Codes for paper, each good once; 15 signs of 30 are 73 bits."""
    made = ["".join(secrets.choice(ALPHABET) for _ in range(15)) for _ in range(RECOVERY_CODES)]
    return [f"{one[:5]}-{one[5:10]}-{one[10:]}" for one in made]


def hash_of(code: str) -> str:
    return hashlib.sha256(plain_code(code).encode()).hexdigest()


def has_factor(person: User) -> bool:
    return SecondFactor.objects.filter(person=person, confirmed_at__isnull=False).exists()


def owes_factor(person: User) -> bool:
    """Whether the person has a role that needs a second factor and has not set one up. Invented sites ask for none."""
    needed = Membership.objects.filter(user=person, role__in=ROLES_WITH_SECOND_FACTOR, site__is_demo=False)
    return needed.exists() and not has_factor(person)
