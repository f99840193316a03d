"""Guards in the database itself, the same on SQLite and PostgreSQL.

Two kinds of trigger, installed by a migration operation:

* a *ledger* guard refuses UPDATE and DELETE on a ledger's table;
* a *workshop* guard refuses a row whose reference points into another workshop, and any change
  of a row's own workshop.

SQLite rebuilds a table on many schema changes: its own triggers go with it, and other tables'
triggers that look at it refuse the rename. So a migration that alters a guarded table does it
within :class:`GuardsAside`, and ends with :class:`InstallGuards` if a reference came or went. A test
compares the triggers in the database with :func:`expected_triggers` and names the missing ones.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from django.apps.registry import Apps
from django.db import models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation

from curehouse.common.fresh_tables import unrendered

LEDGER_MESSAGE = "curehouse: ledger rows stay as they were written"
WORKSHOP_MESSAGE = "curehouse: a reference must stay inside one workshop"
_LEDGER_ENDINGS = ("_no_update", "_no_delete")
_WORKSHOP_ENDINGS = ("_workshop_insert", "_workshop_update")
_ENDINGS = _LEDGER_ENDINGS + _WORKSHOP_ENDINGS


def is_scoped(model: type[models.Model]) -> bool:
    """Return whether rows of *model* belong to a workshop."""
    return any(field.name == "workshop" for field in model._meta.local_fields)


def scoped_references(model: type[models.Model]) -> list[models.ForeignKey]:
    """Return the foreign keys of *model* that lead from one workshop's row to another's."""
    return [
        field
        for field in model._meta.local_fields
        if isinstance(field, models.ForeignKey) and field.name != "workshop" and is_scoped(field.related_model)
    ]


def expected_triggers(model: type[models.Model], *, ledger: bool) -> set[str]:
    """Return the names of the triggers that must stand on *model*'s table."""
    table = model._meta.db_table
    names: set[str] = set()
    if ledger:
        names |= {table + ending for ending in _LEDGER_ENDINGS}
    if is_scoped(model):
        names |= {table + ending for ending in _WORKSHOP_ENDINGS}
    return names


def _strays(references: list[tuple[str, str, str]]) -> str:
    """Return the SQL that is true when one of the new row's references leaves its workshop."""
    return " OR ".join(
        f'(NEW."{column}" IS NOT NULL AND NOT EXISTS (SELECT 1 FROM "{target}" '  # noqa: S608
        f'WHERE "{key}" = NEW."{column}" AND workshop_id = NEW.workshop_id))'
        for column, target, key in references
    )


def _sqlite(table: str, *, ledger: bool, references: list[tuple[str, str, str]]) -> Iterable[str]:
    if ledger:
        for verb in ("update", "delete"):
            yield (
                f'CREATE TRIGGER "{table}_no_{verb}" BEFORE {verb.upper()} ON "{table}" '
                f"BEGIN SELECT RAISE(ABORT, '{LEDGER_MESSAGE}'); END"
            )
    strays = _strays(references)
    for verb, test in (
        ("insert", strays or "0"),
        ("update", f"OLD.workshop_id <> NEW.workshop_id{' OR ' + strays if strays else ''}"),
    ):
        yield (
            f'CREATE TRIGGER "{table}_workshop_{verb}" BEFORE {verb.upper()} ON "{table}" '
            f"WHEN {test} BEGIN SELECT RAISE(ABORT, '{WORKSHOP_MESSAGE}'); END"
        )


def _postgresql(table: str, *, ledger: bool, references: list[tuple[str, str, str]]) -> Iterable[str]:
    if ledger:
        yield (
            "CREATE OR REPLACE FUNCTION curehouse_ledger_guard() RETURNS trigger LANGUAGE plpgsql AS $$ "
            f"BEGIN RAISE EXCEPTION '{LEDGER_MESSAGE}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
        )
        for verb in ("update", "delete"):
            yield (
                f'CREATE TRIGGER "{table}_no_{verb}" BEFORE {verb.upper()} ON "{table}" '
                "FOR EACH ROW EXECUTE FUNCTION curehouse_ledger_guard()"
            )
    strays = _strays(references)
    yield (
        f'CREATE OR REPLACE FUNCTION "{table}_workshop_guard"() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN '
        f"IF {strays or 'false'} THEN RAISE EXCEPTION '{WORKSHOP_MESSAGE}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        f"IF TG_OP = 'UPDATE' THEN IF OLD.workshop_id <> NEW.workshop_id THEN RAISE EXCEPTION '{WORKSHOP_MESSAGE}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; END IF; "
        "RETURN NEW; END $$"
    )
    for verb in ("insert", "update"):
        yield (
            f'CREATE TRIGGER "{table}_workshop_{verb}" BEFORE {verb.upper()} ON "{table}" '
            f'FOR EACH ROW EXECUTE FUNCTION "{table}_workshop_guard"()'
        )


def create_statements(model: type[models.Model], *, ledger: bool, vendor: str) -> list[str]:
    """Return the SQL that puts *model*'s guards in place."""
    references = [
        (field.column, field.related_model._meta.db_table, field.target_field.column) for field in scoped_references(model)
    ]
    writer = {"sqlite": _sqlite, "postgresql": _postgresql}[vendor]
    return list(writer(model._meta.db_table, ledger=ledger, references=references)) if is_scoped(model) or ledger else []


def drop_statements(model: type[models.Model], *, ledger: bool, vendor: str) -> list[str]:
    """Return the SQL that takes *model*'s guards away."""
    names = sorted(expected_triggers(model, ledger=ledger))
    on_table = f' ON "{model._meta.db_table}"' if vendor == "postgresql" else ""
    return [f'DROP TRIGGER IF EXISTS "{name}"{on_table}' for name in names]


class GuardsAside(Operation):
    """Run *operations* while SQLite's guards stand aside, then put them back as they were.

    PostgreSQL alters tables in place and keeps its triggers.
    """

    reduces_to_sql = True
    reversible = True

    def __init__(self, operations: Sequence[Operation]) -> None:
        self.operations = operations

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return type(self).__name__, [self.operations], {}

    def state_forwards(self, app_label: str, state: Any) -> None:
        unrendered(state)
        for operation in self.operations:
            operation.state_forwards(app_label, state)

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        with _aside(schema_editor):
            for operation in self.operations:
                after = from_state.clone()
                unrendered(after)
                operation.state_forwards(app_label, after)
                operation.database_forwards(app_label, schema_editor, from_state, after)
                from_state = after

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        states = [to_state]
        for operation in self.operations:
            after = states[-1].clone()
            unrendered(after)
            operation.state_forwards(app_label, after)
            states.append(after)
        with _aside(schema_editor):
            for index in reversed(range(len(self.operations))):
                self.operations[index].database_backwards(app_label, schema_editor, states[index + 1], states[index])

    def describe(self) -> str:
        return "; ".join(operation.describe() for operation in self.operations)


@contextmanager
def _aside(editor: BaseDatabaseSchemaEditor) -> Iterator[None]:
    """Drop SQLite's guards for the block; write them again, word for word, after it."""
    if editor.connection.vendor != "sqlite":
        yield
        return
    with editor.connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name")
        guards = [(name, sql) for name, sql in cursor.fetchall() if name.endswith(_ENDINGS)]
    for name, _sql in guards:
        editor.execute(f'DROP TRIGGER "{name}"')
    yield
    for _name, sql in guards:
        editor.execute(sql)


@contextmanager
def ledger_open(editor: BaseDatabaseSchemaEditor, model: type[models.Model]) -> Iterator[None]:
    """Let a migration fill a new column of a ledger that has rows (on SQLite, inside :class:`GuardsAside`)."""
    if editor.connection.vendor != "postgresql":
        yield
        return
    table = model._meta.db_table
    editor.execute(f'ALTER TABLE "{table}" DISABLE TRIGGER "{table}_no_update"')
    yield
    editor.execute(f'ALTER TABLE "{table}" ENABLE TRIGGER "{table}_no_update"')


class InstallGuards(Operation):
    """Put the guards of these models (all of one app) in place, replacing older ones."""

    reduces_to_sql = True
    reversible = True

    def __init__(self, *, ledgers: list[str], others: list[str]) -> None:
        self.ledgers = ledgers
        self.others = others

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return type(self).__name__, [], {"ledgers": self.ledgers, "others": self.others}

    def state_forwards(self, app_label: str, state: Any) -> None:
        """Triggers are not part of Django's model state."""

    def _run(self, app_label: str, editor: BaseDatabaseSchemaEditor, apps: Apps, *, install: bool) -> None:
        vendor = editor.connection.vendor
        for name in [*self.ledgers, *self.others]:
            model, ledger = apps.get_model(app_label, name), name in self.ledgers
            for statement in drop_statements(model, ledger=ledger, vendor=vendor):
                editor.execute(statement)
            for statement in create_statements(model, ledger=ledger, vendor=vendor) if install else []:
                editor.execute(statement)

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        self._run(app_label, schema_editor, to_state.apps, install=True)

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        self._run(app_label, schema_editor, from_state.apps, install=False)

    def describe(self) -> str:
        return f"Install the guards of {', '.join([*self.ledgers, *self.others])}"
