"""Guards stay in the database when a table they stand on or look at is altered."""

import re

import pytest
from django.apps import apps
from django.db import OperationalError, connection, models
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.operations import AlterField
from django.db.migrations.operations.base import Operation

from curehouse.common.guards import GuardsAside
from tests.arena import Arena

WIDER = AlterField("position", "place", models.PositiveIntegerField())


def triggers() -> dict[str, str]:
    """Return the guards in the database with their SQL."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgname, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal")
        return dict(cursor.fetchall())


def guards_in_words() -> dict[str, list[str]]:
    """Return the words of each guard: references stand in the order of the columns, another one in an older house."""
    return {name: sorted(re.findall(r"\w+|[^\w\s()]+", sql)) for name, sql in triggers().items()}


def run(operation: Operation, *, backwards: bool = False) -> None:
    before = MigrationExecutor(connection).loader.project_state()
    after = before.clone()
    operation.state_forwards("curing", after)
    with connection.schema_editor() as editor:
        if backwards:
            operation.database_backwards("curing", editor, after, before)
        else:
            operation.database_forwards("curing", editor, before, after)


@pytest.mark.parametrize("backwards", [False, True])
def test_a_guarded_table_is_altered_and_its_guards_stand_as_before(arena: Arena, *, backwards: bool) -> None:
    guards = arena.do(triggers)
    if backwards:
        arena.do(lambda: run(GuardsAside([WIDER])))
    arena.do(lambda: run(GuardsAside([WIDER]), backwards=backwards))
    assert arena.do(triggers) == guards
    assert len(guards) > len(apps.get_app_config("curing").models)


def test_without_standing_aside_sqlite_refuses_to_alter_what_other_guards_look_at(arena: Arena) -> None:
    if arena.vendor == "sqlite":
        with pytest.raises(OperationalError, match="error in trigger"):
            arena.do(lambda: run(WIDER))
    else:
        arena.do(lambda: run(WIDER))


def test_what_is_set_aside_says_what_it_does() -> None:
    assert GuardsAside([WIDER]).describe() == "Alter field place on position"
