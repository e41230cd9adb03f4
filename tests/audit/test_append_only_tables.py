"""What only grows is kept by the database itself, whoever speaks to it; raw SQL on every such table."""

from collections.abc import Iterator

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, connection, transaction
from pytest_django.plugin import DjangoDbBlocker

from groutjobs.audit.append_only import never_deleted, only_grow, triggers
from groutjobs.audit.models import Event
from groutjobs.demo.scenario import Scene
from groutjobs.management.commands.database_roles import grants
from tests.scene import arguments, demonstration

ON_POSTGRES = "postgres" in settings.DATABASES["default"]["ENGINE"]
ROLE = "groutjobs_test_pages"


# Every table that was meant to grow only when this was written; a later one may be missing here.
APPEND_ONLY = [
    "groutjobs_addendum",
    "groutjobs_anchor",
    "groutjobs_blob",
    "groutjobs_calibration",
    "groutjobs_cureinspection",
    "groutjobs_devicecookie",
    "groutjobs_devicekey",
    "groutjobs_event",
    "groutjobs_gapnote",
    "groutjobs_inspectiondecision",
    "groutjobs_latedecision",
    "groutjobs_learnedspread",
    "groutjobs_milestonerelease",
    "groutjobs_nonconformancestep",
    "groutjobs_opblob",
    "groutjobs_opruling",
    "groutjobs_phoneop",
    "groutjobs_photo",
    "groutjobs_photooriginal",
    "groutjobs_pourentry",
    "groutjobs_recordkey",
    "groutjobs_recordsignature",
    "groutjobs_releasewithdrawal",
    "groutjobs_sampleresult",
    "groutjobs_servermark",
    "groutjobs_signature",
    "groutjobs_signaturevoid",
    "groutjobs_treenode",
]


@pytest.mark.django_db
@pytest.mark.parametrize("table", APPEND_ONLY)
def test_the_triggers_stand_after_all_migrations(table: str) -> None:
    """A table that a migration makes anew on SQLite loses its triggers; this finds it."""
    verbs = {"update", "delete"} | ({"truncate"} if connection.vendor == "postgresql" else set())
    assert {(table, f"{table}_no_{verb}") for verb in verbs} <= triggers()


@pytest.mark.django_db
def test_the_program_knows_them_by_their_triggers() -> None:
    assert set(APPEND_ONLY) <= only_grow()
    assert {"groutjobs_pour", "groutjobs_pourrecord"} <= never_deleted()
    assert "groutjobs_machine" not in only_grow() | never_deleted()


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Scene]:
    with django_db_blocker.unblock(), demonstration() as scene:
        arguments(scene)
        if ON_POSTGRES:  # checks that wait for the end of the transaction would refuse to empty a table before we do
            connection.cursor().execute("SET CONSTRAINTS ALL IMMEDIATE")
        yield scene


FILLED = ["groutjobs_event", "groutjobs_recordkey", "groutjobs_treenode", "groutjobs_anchor", "groutjobs_pourentry",
          "groutjobs_photo", "groutjobs_phoneop", "groutjobs_servermark", "groutjobs_cureinspection",
          "groutjobs_recordsignature", "groutjobs_addendum", "groutjobs_signature"]  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize("table", FILLED)
@pytest.mark.parametrize("verb", ["UPDATE", "DELETE", "TRUNCATE"])
def test_raw_sql_is_refused(scene: Scene, table: str, verb: str) -> None:
    """A row is there, so that a trigger for each row is asked. SQLite has no TRUNCATE; there DELETE stands for it."""
    model = next(one for one in apps.get_app_config("groutjobs").get_models() if one._meta.db_table == table)
    assert model._default_manager.exists()
    key = model._meta.pk.column
    words = {"UPDATE": f"UPDATE {table} SET {key} = {key}", "DELETE": f"DELETE FROM {table}"}  # noqa: S608 (names of our own)
    truncate = f"TRUNCATE {table} CASCADE" if ON_POSTGRES else f"DELETE FROM {table} WHERE 1 = 1"  # noqa: S608
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(words.get(verb, truncate))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("UPDATE groutjobs_pourrecord SET last_rev = 0 WHERE state = 'locked'", "never changes"),
        ("UPDATE groutjobs_pourrecord SET state = 'open' WHERE state = 'locked'", "never changes|this step"),
        ("DELETE FROM groutjobs_pourrecord", "never deleted"),
        ("UPDATE groutjobs_pourrecord SET state = 'locked' WHERE state = 'closed'", "does not take this step|missing"),
        ("UPDATE groutjobs_pour SET number = number + 100", "never changes"),
    ],
)
def test_a_locked_record_and_its_pour_stay(scene: Scene, words: str, said: str) -> None:
    with pytest.raises(DatabaseError, match=said), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(words)


@pytest.mark.django_db
def test_the_statements_for_a_role_give_no_more_than_adding() -> None:
    lines = grants("pages", ["groutjobs_event", "groutjobs_pour", "groutjobs_machine"])
    assert 'GRANT SELECT, INSERT ON "groutjobs_event" TO "pages";' in lines
    assert 'GRANT SELECT, INSERT, UPDATE ON "groutjobs_pour" TO "pages";' in lines
    assert 'GRANT SELECT, INSERT, UPDATE, DELETE ON "groutjobs_machine" TO "pages";' in lines


@pytest.mark.django_db
def test_a_role_with_these_rights_adds_and_does_nothing_else(capsys: pytest.CaptureFixture[str]) -> None:
    """Speaks to PostgreSQL as that role. SQLite knows no roles, and the command says so."""
    if not ON_POSTGRES:
        with pytest.raises(CommandError, match="SQLite knows no roles"):
            call_command("database_roles", "pages")
        return
    there = Event.objects.count()
    with connection.cursor() as cursor:
        cursor.execute(f"DROP ROLE IF EXISTS {ROLE}")
        cursor.execute(f"CREATE ROLE {ROLE} LOGIN")
        try:
            call_command("database_roles", ROLE)
            cursor.execute(capsys.readouterr().out)
            cursor.execute(f"SET ROLE {ROLE}")
            cursor.execute("SELECT count(*) FROM groutjobs_event")
            assert cursor.fetchone() == (there,)
            for table in APPEND_ONLY:
                for words in (f"DELETE FROM {table}", f"TRUNCATE {table}"):  # noqa: S608
                    with pytest.raises(DatabaseError, match=r"permission denied|append-only"), transaction.atomic():
                        cursor.execute(words)
        finally:
            cursor.execute("RESET ROLE")
            cursor.execute(f"DROP OWNED BY {ROLE}")
            cursor.execute(f"DROP ROLE {ROLE}")
