"""A PIN for a shift key on an enrolled phone, and the code of a second factor; neither opens a session by itself.

They stand among the ways of signing in so that wrong tries are counted and slowed with those of the password.
"""

from typing import Any

from django.contrib.auth.hashers import check_password, make_password
from django.http import HttpRequest

from groutjobs.accounts.factor_actions import take_code
from groutjobs.accounts.models import PhonePin, User


class PhonePinBackend:
    """Answers to `pin` alone, so that no sign-in form reaches it."""

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, pin: str | None = None, **_: Any
    ) -> User | None:
        if pin is None:
            return None
        row = PhonePin.objects.filter(person__email=(username or "").lower()).select_related("person").first()
        if row is None:
            make_password(pin)  # as long as a real try, so that the time tells nothing
            return None
        return row.person if check_password(pin, row.pin_hash) and row.person.is_active else None

    def get_user(self, user_id: int) -> User | None:
        return None


class SecondFactorBackend:
    """Answers to `second_secret` alone: a code that the phone of the person shows, or a recovery code."""

    def authenticate(
        self, request: HttpRequest | None, username: str | None = None, second_secret: str | None = None, **_: Any
    ) -> User | None:
        if second_secret is None:
            return None
        person = User.objects.filter(email=(username or "").lower(), is_active=True).first()
        return person if person and take_code(person=person, typed=second_secret) else None

    def get_user(self, user_id: int) -> User | None:
        return None
