"""What every test shares. The suite says at its head which database it used."""

from typing import Any

import pytest
from django.db import connection
from hypothesis import settings as hypothesis_settings

# No test asserts a time: a slow machine must not fail a property.
hypothesis_settings.register_profile("house", deadline=None)
hypothesis_settings.load_profile("house")


USING_DATABASE = {"db", "transactional_db", "server", "site"}
LONG_FILES = (
    "tests/browser/", "tests/house/test_doors.py", "tests/house/test_how_links.py", "tests/house/test_query_counts.py",
    "tests/house/test_wrong_entries.py", "tests/test_held_back_cures.py", "tests/turnover/test_hostile_text.py",
)  # fmt: skip


def pytest_addoption(parser: pytest.Parser) -> None:
    words = "leave out the tests that touch no database, for a run on a second engine"
    parser.addoption("--touching-database", action="store_true", help=words)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The files that take minutes begin first, whatever order chance gave the others."""
    if config.getoption("--touching-database"):
        left_out = [item for item in items if not touches_database(item)]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if touches_database(item)]
    items.sort(key=lambda item: not item.nodeid.startswith(LONG_FILES))


def touches_database(item: pytest.Item) -> bool:
    """Whether the test asks for the suite's database, or for a server on a database of its own that it looks into."""
    if item.get_closest_marker("page_alone"):
        return False
    names = set(getattr(item, "fixturenames", ()))
    return item.get_closest_marker("django_db") is not None or bool(names & USING_DATABASE)


def pytest_report_header(config: pytest.Config) -> str:
    part = ", only tests that touch a database" if config.getoption("--touching-database") else ""
    return f"groutjobs on {connection.vendor}{part}"


@pytest.fixture(autouse=True)
def plain_surroundings(settings: Any) -> None:
    """Fast hashing, no mail, tasks run where they are enqueued."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
