"""Fresh databases for processes of their own, copied from one that was migrated once: that takes twenty seconds."""

import os
import secrets
import shutil
import subprocess
import sys
import tempfile
from functools import cached_property
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
from psycopg import sql

ROOT = Path(__file__).resolve().parents[2]
SQLITE_FILE = "groutjobs.sqlite3"  # as groutjobs/settings.py names it


class Databases:
    """Databases on the PostgreSQL at this address; with no address each is the SQLite file of its folder."""

    def __init__(self, address: str = "") -> None:
        self.address = address
        self.folder = Path(tempfile.mkdtemp(prefix="groutjobs-tables-"))

    def empty(self) -> dict[str, str]:
        """The environment that leads to a database without tables."""
        return self._made("template0") if self.address else {}

    def fresh(self, var: Path) -> dict[str, str]:
        """The environment that leads to a database with all tables; `var` is the folder of the installation."""
        if self.address:
            return self._made(urlsplit(self._tables["DATABASE_URL"]).path[1:])
        source = Path(self._tables["GROUTJOBS_VAR"]) / SQLITE_FILE
        var.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, var / SQLITE_FILE)
        return {}

    def drop(self, environment: dict[str, str]) -> None:
        """Give up a database that was made here; nothing on SQLite."""
        if self.address:
            name = sql.Identifier(urlsplit(environment["DATABASE_URL"]).path[1:])
            self._run(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(name))

    def close(self) -> None:
        if "_tables" in self.__dict__:
            self.drop(self._tables)
        shutil.rmtree(self.folder, ignore_errors=True)

    @cached_property
    def _tables(self) -> dict[str, str]:
        found = self.empty() | {"GROUTJOBS_VAR": str(self.folder)}
        rest = {"GROUTJOBS_PLAIN_HTTP": "1", "DJANGO_SETTINGS_MODULE": "groutjobs.settings", "PYTHONPATH": str(ROOT)}
        environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"} | rest | found
        command = [sys.executable, "-m", "django", "migrate", "--verbosity", "0"]
        done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)  # noqa: S603
        if done.returncode:
            raise RuntimeError(f"migrate: {done.stderr[-2000:]}")
        return found

    def _made(self, template: str) -> dict[str, str]:
        name = f"groutjobs_{secrets.token_hex(6)}"
        made = sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(sql.Identifier(name), sql.Identifier(template))
        self._run(made)
        return {"DATABASE_URL": urlsplit(self.address)._replace(path=f"/{name}").geturl()}

    def _run(self, statement: sql.Composed) -> None:
        with psycopg.connect(self.address, autocommit=True) as connection:
            connection.execute(statement)
