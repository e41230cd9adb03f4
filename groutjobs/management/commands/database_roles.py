"""Print what a PostgreSQL role may do that runs the program: add to what only grows, and nothing else there."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from groutjobs.audit.append_only import never_deleted, only_grow


class Command(BaseCommand):
    help = "Print GRANTs for the role that serves pages; the owner of the tables then only migrates. PostgreSQL only."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("role", help="name of a role that exists and can log in")

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError("SQLite knows no roles; there the triggers alone keep what only grows.")
        with connection.cursor() as cursor:
            tables = connection.introspection.table_names(cursor)
        for line in grants(options["role"], tables):
            self.stdout.write(line)


def grants(role: str, tables: list[str]) -> list[str]:
    """The statements, in the order in which they are run by the owner of the tables."""
    name = connection.ops.quote_name(role)
    growing, kept = only_grow(), never_deleted()
    lines = [
        f"GRANT USAGE ON SCHEMA public TO {name};",
        f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {name};",
    ]
    for table in sorted(tables):
        rights = "SELECT, INSERT, UPDATE, DELETE"
        if table in growing:
            rights = "SELECT, INSERT"
        elif table in kept:
            rights = "SELECT, INSERT, UPDATE"
        quoted = connection.ops.quote_name(table)
        lines += [f"REVOKE ALL ON {quoted} FROM {name};", f"GRANT {rights} ON {quoted} TO {name};"]
    return lines
