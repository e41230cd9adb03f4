"""Which tables only ever grow: a trigger of the database refuses UPDATE on them. Migrations make the triggers."""

from django.db import connection


def triggers() -> set[tuple[str, str]]:
    """Table and name of each trigger."""
    if connection.vendor == "postgresql":
        question = (
            "SELECT c.relname, t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid WHERE NOT t.tgisinternal"
        )
    else:
        question = "SELECT tbl_name, name FROM sqlite_master WHERE type = 'trigger'"
    with connection.cursor() as cursor:
        cursor.execute(question)
        return {(table, name) for table, name in cursor.fetchall()}


def only_grow() -> set[str]:
    """Tables to which rows are added and nothing else."""
    return {table for table, name in triggers() if name == f"{table}_no_update"}


def never_deleted() -> set[str]:
    """Tables whose rows change by steps and stay."""
    kept = {table for table, name in triggers() if name in {f"{table}_no_delete", f"{table}_kept"}}
    return kept - only_grow()
