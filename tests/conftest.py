"""What every test shares: what it needs, skips that count, and a flush that ledgers let through."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db.backends.sqlite3.base import DatabaseOperations
from hypothesis import HealthCheck, settings

from curehouse.common.guards import create_statements, drop_statements, is_scoped
from curehouse.common.ledger import LedgerModel
from tests.arena import Arena, copied_postgres, copied_sqlite, migrated_postgres, migrated_sqlite
from tests.present import missing
from tests.world import World

NO_SKIP = os.environ.get("CUREHOUSE_NO_SKIP") == "1"

# A test that takes its time is no failure: speed is measured by the benchmarks. Nor is one that throws many
# examples away. Where nothing may be skipped the examples are the same each time; elsewhere they go on searching.
settings.register_profile(
    "curehouse",
    deadline=None,
    derandomize=NO_SKIP,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
settings.load_profile("curehouse")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what brings both databases along, so that a suite on the other one need not do it again."""
    for item in items:
        if "arena" in getattr(item, "fixturenames", ()):
            item.add_marker("both_databases")


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip a test whose ``needs`` are absent, and say what is missing."""
    for marker in item.iter_markers("needs"):
        for what in marker.args:
            reason = missing(what)
            if reason:
                pytest.skip(reason)


def _refuse_skip(report: Any) -> Any:
    if NO_SKIP and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"CUREHOUSE_NO_SKIP is set, and this was skipped: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Iterator[None]:
    """Turn a skip into a failure where nothing may be missing."""
    return _refuse_skip((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Iterator[None]:
    """Turn a whole file's skip into a failure where nothing may be missing."""
    return _refuse_skip((yield))


@pytest.fixture(autouse=True, scope="session")
def _flush_past_the_guards() -> Iterator[None]:
    """Take the ledgers' guards away while a transactional test's tables are emptied on SQLite.

    Emptying is DELETE there, which a ledger refuses; only Django's flush comes this way.
    """
    flush: Callable[..., None] = DatabaseOperations.execute_sql_flush

    def unguarded(self: DatabaseOperations, sql_list: list[str]) -> None:
        guarded = [(model, issubclass(model, LedgerModel)) for model in apps.get_models() if is_scoped(model)]
        with self.connection.cursor() as cursor:
            for model, ledger in guarded:
                for statement in drop_statements(model, ledger=ledger, vendor="sqlite"):
                    cursor.execute(statement)
        flush(self, sql_list)
        with self.connection.cursor() as cursor:
            for model, ledger in guarded:
                for statement in create_statements(model, ledger=ledger, vendor="sqlite"):
                    cursor.execute(statement)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(DatabaseOperations, "execute_sql_flush", unguarded)
        yield


@pytest.fixture
def world(db: None) -> World:
    """Return the house of Ottilie Brandt."""
    return World()


@pytest.fixture
def stranger(db: None) -> World:
    """Return the house next door."""
    return World(name="Thistlewick Soapery", email="wren@thistlewick.example")


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory, django_db_blocker) -> Path:
    with django_db_blocker.unblock():
        return migrated_sqlite(tmp_path_factory.mktemp("races"))


@pytest.fixture(scope="session")
def postgres_template(django_db_blocker) -> Iterator[str]:
    with django_db_blocker.unblock(), migrated_postgres() as name:
        yield name


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.needs("postgresql"))])
def arena(request: pytest.FixtureRequest, tmp_path: Path, django_db_blocker) -> Iterator[Arena]:
    """Return an empty house in a database of its own."""
    with django_db_blocker.unblock():
        if request.param == "sqlite":
            yield copied_sqlite(request.getfixturevalue("sqlite_template"), tmp_path)
        else:
            with copied_postgres(request.getfixturevalue("postgres_template")) as made:
                yield made
