"""What the models promise stands in the database."""

import re
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection

from curehouse.common.guards import expected_triggers, is_scoped
from curehouse.common.ledger import LedgerModel
from curehouse.workshops.scoping import ScopedLedger, ScopedModel

pytestmark = pytest.mark.django_db
OURS = [model for model in apps.get_models() if model.__module__.partition(".")[0] in {"curehouse", "inventory", "api"}]
# What belongs to no workshop, and why.
OF_THE_HOUSE = {
    "User": "a person may work in several workshops",
    "DoorCount": "nobody is in a workshop yet who stands at the door",
    "PersonSession": "a person's, wherever they work",
    "RecoveryCode": "a person's, wherever they work",
    "SecondStep": "a person's, wherever they work",
    "Workshop": "it is the workshop",
}


def triggers() -> set[str]:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
        return {name for (name,) in cursor.fetchall()}


def test_every_table_of_ours_belongs_to_a_workshop_unless_it_is_named_here() -> None:
    assert {model.__name__ for model in OURS if not issubclass(model, ScopedModel)} == set(OF_THE_HOUSE)
    assert all(is_scoped(model) for model in OURS if issubclass(model, ScopedModel))


@pytest.mark.parametrize("model", [model for model in OURS if is_scoped(model)], ids=lambda model: model.__name__)
def test_every_table_of_a_workshop_has_its_guards(model: type[ScopedModel]) -> None:
    missing = expected_triggers(model, ledger=issubclass(model, LedgerModel)) - triggers()
    assert missing == set(), "a migration that alters a guarded table does it within GuardsAside"


def test_no_guard_stands_where_none_is_expected() -> None:
    expected = [expected_triggers(model, ledger=issubclass(model, LedgerModel)) for model in OURS]
    assert triggers() == set().union(*expected)


def test_every_ledger_is_a_ledger_of_a_workshop() -> None:
    ledgers = [model for model in OURS if issubclass(model, LedgerModel)]
    assert ledgers
    assert all(issubclass(model, ScopedLedger) for model in ledgers)


@pytest.mark.parametrize("model", OURS, ids=lambda model: model.__name__)
def test_every_constraint_and_index_is_named_after_its_table(model: type) -> None:
    for one in model._meta.constraints:
        assert re.fullmatch(rf"{model._meta.model_name}(_[a-z]+)+", one.name), one.name
    for one in model._meta.indexes:
        assert re.fullmatch(r"[a-z]+(_[a-z]+)+", one.name), one.name


def test_every_change_of_a_model_has_its_migration() -> None:
    said = StringIO()
    try:
        call_command("makemigrations", check=True, dry_run=True, stdout=said, stderr=said)
    except SystemExit:
        pytest.fail(said.getvalue())
