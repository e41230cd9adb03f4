"""What every test shares. The suite says at its head which database it used."""

import os
import tempfile

os.environ.setdefault("GROUTJOBS_PLAIN_HTTP", "1")
os.environ["GROUTJOBS_VAR"] = tempfile.mkdtemp(prefix="groutjobs-test-")

import pytest
from django.conf import settings
from django.db import connection


def pytest_report_header() -> str:
    return f"groutjobs on {connection.vendor}"


@pytest.fixture(autouse=True)
def plain_surroundings(settings: pytest.FixtureRequest) -> None:
    """Fast hashing, no mail, tasks run where they are enqueued."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # type: ignore[attr-defined]
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"  # type: ignore[attr-defined]
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}  # type: ignore[attr-defined]
