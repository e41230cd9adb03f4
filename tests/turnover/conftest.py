"""One finished job for a whole file of tests: building it takes a second, and each test rolls its changes back."""

from collections.abc import Iterator
from dataclasses import fields

import pytest
from django.db import transaction
from django.test import override_settings
from pytest_django.plugin import DjangoDbBlocker

from groutjobs.accounts.models import User
from groutjobs.pours.queries import pour_whole
from tests.turnover.finished import Job, finished_job

QUICK_HASH = {"PASSWORD_HASHERS": ["django.contrib.auth.hashers.MD5PasswordHasher"]}


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Job]:
    with django_db_blocker.unblock(), override_settings(**QUICK_HASH), transaction.atomic():
        yield finished_job(photos=1)
        transaction.set_rollback(True)


@pytest.fixture
def job(built: Job, db: None) -> Job:
    """The built job with fresh rows, so that no test sees what another left in memory."""
    fresh = {field.name: getattr(built, field.name) for field in fields(built)}
    fresh |= {name: User.objects.get(pk=row.pk) for name, row in fresh.items() if isinstance(row, User)}
    return Job(**fresh | {"pour": pour_whole().get(pk=built.pour.pk)})
