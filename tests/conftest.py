"""What every test shares. The suite says at its head which database it used."""

from typing import Any

import pytest
from django.db import connection


def pytest_report_header() -> str:
    return f"groutjobs on {connection.vendor}"


@pytest.fixture(autouse=True)
def plain_surroundings(settings: Any) -> None:
    """Fast hashing, no mail, tasks run where they are enqueued."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
