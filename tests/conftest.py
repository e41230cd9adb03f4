"""What every test shares. The suite says at its head which database it used."""

from typing import Any

import pytest
from django.db import connection
from hypothesis import settings as hypothesis_settings

# No test asserts a time: a slow machine must not fail a property.
hypothesis_settings.register_profile("house", deadline=None)
hypothesis_settings.load_profile("house")


LONG_FILES = ("tests/house/test_query_counts.py", "tests/browser/", "tests/house/test_how_links.py")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The files that take minutes begin first, whatever order chance gave the others."""
    items.sort(key=lambda item: not item.nodeid.startswith(LONG_FILES))


def pytest_report_header() -> str:
    return f"groutjobs on {connection.vendor}"


@pytest.fixture(autouse=True)
def plain_surroundings(settings: Any) -> None:
    """Fast hashing, no mail, tasks run where they are enqueued."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
