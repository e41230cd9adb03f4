"""Make the record append-only in the database itself, and start the chain."""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

TABLES = ["groutjobs_event", "groutjobs_pourentry", "groutjobs_cureinspection", "groutjobs_signature"]


def forbid_changes(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    if editor.connection.vendor == "postgresql":
        editor.execute(
            "CREATE FUNCTION groutjobs_append_only() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME; END $$",
            params=None,
        )
    for table in TABLES:
        for verb in ("UPDATE", "DELETE"):
            name = f"{table}_no_{verb.lower()}"
            if editor.connection.vendor == "postgresql":
                editor.execute(
                    f"CREATE TRIGGER {name} BEFORE {verb} ON {table} "
                    "FOR EACH ROW EXECUTE FUNCTION groutjobs_append_only()"
                )
            else:
                editor.execute(
                    f"CREATE TRIGGER {name} BEFORE {verb} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
                )
        if editor.connection.vendor == "postgresql":
            editor.execute(
                f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION groutjobs_append_only()"
            )


def allow_changes(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    on_postgres = editor.connection.vendor == "postgresql"
    for table in TABLES:
        for verb in ("update", "delete", *(["truncate"] if on_postgres else [])):
            editor.execute(f"DROP TRIGGER {table}_no_{verb}" + (f" ON {table}" if on_postgres else ""))
    if on_postgres:
        editor.execute("DROP FUNCTION groutjobs_append_only()")


def start_chain(apps: StateApps, editor: BaseDatabaseSchemaEditor) -> None:
    apps.get_model("groutjobs", "Head").objects.get_or_create(pk=1, defaults={"seq": 0, "event_hash": "0" * 64})


class Migration(migrations.Migration):
    dependencies = [("groutjobs", "0001_the_whole_job")]
    operations = [
        migrations.RunPython(start_chain, migrations.RunPython.noop, elidable=False),
        migrations.RunPython(forbid_changes, allow_changes, elidable=False),
    ]
