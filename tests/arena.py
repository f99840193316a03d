"""Databases of their own for races: real threads, each with its own connection, and real commits.

A template is migrated once a session and copied for each test. The racers' connections are made
from the settings a house has (:func:`curehouse.settings.database.databases`), so on SQLite they
wait for each other as they do in the house.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Barrier
from typing import Any, TypeVar

import psycopg
import pytest
from django.core.management import call_command
from django.db import connection, connections
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.operations import RemoveConstraint

from curehouse.common.guards import GuardsAside
from curehouse.settings.database import databases
from tests.present import POSTGRES_URL

Answer = TypeVar("Answer")
# Nobody waits that long, on a busy computer either; a racer that does is stuck.
STUCK_SECONDS = 120


@dataclass(frozen=True)
class Arena:
    """A database in which several do something at the same moment."""

    vendor: str
    url: str

    @contextmanager
    def _as_default(self) -> Iterator[None]:
        """Let threads that connect anew connect here; connections that stand are not touched."""
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("DATABASE_URL", self.url)
            patch.setitem(connections.settings, "default", connections.configure_settings(databases())["default"])
            yield

    def race(self, *works: Callable[[], Any]) -> list[Any]:
        """Begin all *works* at one moment; return what each returned, or the exception it raised."""
        line = Barrier(len(works))

        def run(work: Callable[[], Any]) -> Any:
            try:
                connections["default"].ensure_connection()
                line.wait(STUCK_SECONDS)
                return work()
            except Exception as error:  # noqa: BLE001  (a racer's failure is an outcome to look at)
                return error
            finally:
                connections.close_all()

        with self._as_default(), ThreadPoolExecutor(len(works)) as pool:
            return [future.result(STUCK_SECONDS) for future in [pool.submit(run, work) for work in works]]

    def do(self, work: Callable[[], Answer]) -> Answer:
        """Do one thing here; raise what it raises."""
        (answer,) = self.race(work)
        if isinstance(answer, Exception):
            raise answer
        return answer


def drop_constraint(app: str, model: str, name: str) -> None:
    """Take one constraint away, to see what it stands against."""
    before = MigrationExecutor(connection).loader.project_state()
    after = before.clone()
    drop = GuardsAside([RemoveConstraint(model, name)])
    drop.state_forwards(app, after)
    with connection.schema_editor() as editor:
        drop.database_forwards(app, editor, before, after)


def made_at_once() -> None:
    """Make every table, as a house does that begins now."""
    call_command("migrate", verbosity=0)


def migrated_sqlite(folder: Path, make: Callable[[], None] = made_at_once) -> Path:
    """Return a SQLite file with every table."""
    path = folder / "template.sqlite3"
    Arena("sqlite", f"sqlite:///{path}").do(make)
    return path


def copied_sqlite(template: Path, folder: Path) -> Arena:
    """Return an arena in a copy of *template*."""
    path = shutil.copy(template, folder / "race.sqlite3")
    return Arena("sqlite", f"sqlite:///{path}")


def _postgres(statement: str) -> None:
    with psycopg.connect(POSTGRES_URL, autocommit=True) as server:
        server.execute(statement)  # type: ignore[arg-type]


def _postgres_url(name: str) -> str:
    return POSTGRES_URL.rsplit("/", 1)[0] + f"/{name}"


@contextmanager
def migrated_postgres(make: Callable[[], None] = made_at_once) -> Iterator[str]:
    """Make a PostgreSQL database with every table; give its name and drop it in the end."""
    name = f"curehouse_race_{os.getpid()}_{make.__name__}"
    _postgres(f'CREATE DATABASE "{name}"')
    try:
        Arena("postgresql", _postgres_url(name)).do(make)
        yield name
    finally:
        _postgres(f'DROP DATABASE "{name}" WITH (FORCE)')


@contextmanager
def copied_postgres(template: str) -> Iterator[Arena]:
    """Make an arena in a copy of *template* and drop it in the end."""
    name = f"{template}_copy"
    _postgres(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
    try:
        yield Arena("postgresql", _postgres_url(name))
    finally:
        _postgres(f'DROP DATABASE "{name}" WITH (FORCE)')
