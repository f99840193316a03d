"""The way the tables came to be, step by step, which a house that begins now does not take.

A new house makes its tables at once (the migrations that replace all before them); one that began
earlier goes on from where it was. What such a house keeps is tested by going back along the steps.
"""

from typing import Any

from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader


class _StepByStep(MigrationLoader):
    """All migrations but those that stand for others."""

    def load_disk(self) -> None:
        super().load_disk()
        disk = self.disk_migrations
        last = {key: migration.replaces[-1] for key, migration in disk.items() if migration.replaces}
        for key in last:
            del disk[key]
        for migration in disk.values():
            migration.dependencies = [last.get(key, key) for key in migration.dependencies]


def to(*targets: tuple[str, str]) -> Any:
    """Bring the tables to how they were after *targets*, and return the models of that time."""
    executor = MigrationExecutor(connection)
    executor.loader = _StepByStep(connection)
    executor.migrate(list(targets))
    return executor.loader.project_state(list(targets)).apps


def history_of(app: str) -> Any:
    """Return the migration that stands for all before it, and the steps of *app* in their order; None: it has none."""
    disk = MigrationLoader(None).disk_migrations
    whole = [migration for key, migration in disk.items() if key[0] == app and migration.replaces]
    return (
        (whole[0], sorted(_StepByStep(None).disk_migrations.keys() & {key for key in disk if key[0] == app})) if whole else None
    )


def from_the_first_step() -> None:
    """Make all tables as a house has them that was there from the beginning."""
    executor = MigrationExecutor(connection)
    executor.loader = _StepByStep(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def to_the_newest() -> None:
    """Go on from where the tables are, as a house does that is started again."""
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())
