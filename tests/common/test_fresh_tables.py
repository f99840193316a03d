"""A house that begins now, with its tables made at once, has what one has that came here step by step."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import connection

from curehouse.commands.house.opening import open_database
from curehouse.common.fresh_tables import TablesAtOnce
from tests.arena import Arena, copied_postgres, copied_sqlite, migrated_postgres, migrated_sqlite
from tests.common.test_guards import guards_in_words
from tests.history import from_the_first_step, history_of

OURS = sorted({config.label for config in apps.get_app_configs() if history_of(config.label)})


@pytest.fixture
def of_long_ago(arena: Arena, tmp_path: Path, django_db_blocker: Any) -> Iterator[Arena]:
    """Return a database of *arena*'s kind that was there from the first step on."""
    with django_db_blocker.unblock():
        if arena.vendor == "sqlite":
            folder = tmp_path / "long ago"
            folder.mkdir()
            yield copied_sqlite(migrated_sqlite(folder, from_the_first_step), folder)
            return
        with migrated_postgres(from_the_first_step) as name, copied_postgres(name) as copy:
            yield copy


def schema() -> dict[str, Any]:
    """Return of each table its columns and what stands on it under a name, whatever the order they came in."""
    found: dict[str, Any] = {}
    with connection.cursor() as cursor:
        inspect = connection.introspection
        for table in inspect.table_names(cursor):
            for one in inspect.get_table_description(cursor, table):
                kind = (one.type_code, one.null_ok, one.internal_size, one.precision, one.scale, one.default)
                found[f"{table}.{one.name}"] = kind
            found[f"{table} leads to"] = inspect.get_relations(cursor, table)
            constraints = inspect.get_constraints(cursor, table)
            found[f"{table} holds"] = sorted(repr(_what(one)) for one in constraints.values())
            found |= {f"{table}: {name}": _what(one) for name, one in constraints.items() if not _made_up(name)}
    return found


def _what(constraint: dict[str, Any]) -> dict[str, Any]:
    return {**constraint, "columns": constraint["columns"] if constraint["index"] else sorted(constraint["columns"] or [])}


def _made_up(name: str) -> bool:
    """Return whether Django or the database made the name up: it is of this house alone."""
    return re.search(r"_[0-9a-f]{8}(_|$)|^__|^fk_|_(pkey|key|like|check\d*|not_null)$|_fk_", name) is not None


def test_tables_made_at_once_are_those_of_a_house_of_long_ago(arena: Arena, of_long_ago: Arena) -> None:
    for house in (arena, of_long_ago):
        house.do(open_database)  # neither takes the other's steps for those of a newer version
    now, then = arena.do(schema), of_long_ago.do(schema)
    assert len(now) > len(OURS)
    assert now.keys() == then.keys()
    assert {key: (now[key], then[key]) for key in now if now[key] != then[key]} == {}
    assert arena.do(guards_in_words) == of_long_ago.do(guards_in_words)


@pytest.mark.parametrize("app", OURS)
def test_every_step_so_far_is_replaced_or_comes_after(app: str) -> None:
    whole, steps = history_of(app)
    assert sorted(whole.replaces) == steps[: len(whole.replaces)]
    assert [type(one) for one in whole.operations][0] is TablesAtOnce
