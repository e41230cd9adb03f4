"""Signing in with a PIN: only for a shift key on an enrolled phone, never for a session. Wrong tries are slowed."""

from typing import Any

from django.contrib.auth.hashers import check_password, make_password
from django.http import HttpRequest

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
