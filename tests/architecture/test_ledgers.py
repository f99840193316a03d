"""What was written in a ledger stays as it was written, whichever way it is gone about."""

from collections.abc import Callable

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from curehouse.common.ledger import LedgerError, LedgerModel
from tests.architecture.conftest import Houses
from tests.everything import row_of

pytestmark = pytest.mark.django_db

LEDGERS = [model for model in apps.get_models() if issubclass(model, LedgerModel)]
# The ledgers the house is built on; a new one is added here, none is taken away.
NAMED = {
    "Assessment", "AuditEntry", "BatchHold", "BatchHoldLift", "BatchUse", "Blend", "BlendPart",
    "Count", "CureCalibration", "CurePrior", "CutNote",
    "CureRecord", "Forecast", "FormulaLine", "FormulaVersion", "LabelWeight",
    "LotCorrection", "LotFile", "LotRuling", "Making", "MakingTake",
    "LotValue", "Movement", "OfferBreak", "OrderLineStep", "OrderStep",
    "Placement", "PourStep", "PutOff", "RackRoom", "Reading", "ReadingReview",
    "RoomReading", "RoomWithdrawal", "RunChange", "SafetyCheck", "ScaleCheck", "TakeOut",
    "Turning",
}  # fmt: skip

REFUSED_IN_PYTHON: dict[str, Callable] = {
    "save": lambda row, rows: row.save(),
    "save of one field": lambda row, rows: row.save(update_fields=["workshop"]),
    "delete": lambda row, rows: row.delete(),
    "delete of many": lambda row, rows: rows.delete(),
    "update of many": lambda row, rows: rows.update(pk=row.pk),
    "bulk update": lambda row, rows: rows.bulk_update([row], ["workshop"]),
    "update or create": lambda row, rows: rows.update_or_create(pk=row.pk, defaults={}),
}
REFUSED_BY_THE_DATABASE: dict[str, str] = {
    "UPDATE": "UPDATE {table} SET id = id WHERE id = {pk}",
    "DELETE": "DELETE FROM {table} WHERE id = {pk}",
    "UPDATE of all": "UPDATE {table} SET workshop_id = workshop_id",
}


def test_the_ledgers_are_the_ones_named() -> None:
    assert {model.__name__ for model in LEDGERS} == NAMED


@pytest.mark.parametrize("model", LEDGERS, ids=lambda model: model.__name__)
def test_a_ledger_row_cannot_be_changed_through_its_model(houses: Houses, model: type[LedgerModel]) -> None:
    row = row_of(houses.ours, model)
    before = model.unscoped.values().get(pk=row.pk)
    for way, go_about in REFUSED_IN_PYTHON.items():
        for rows in (model.unscoped.filter(pk=row.pk), model.objects.within(houses.ours.workshop).filter(pk=row.pk)):
            with pytest.raises(LedgerError):
                go_about(row, rows)
                pytest.fail(f"{way} of a {model.__name__} went through")
    assert model.unscoped.values().get(pk=row.pk) == before


@pytest.mark.parametrize("model", LEDGERS, ids=lambda model: model.__name__)
def test_a_ledger_row_cannot_be_changed_past_its_model(houses: Houses, model: type[LedgerModel]) -> None:
    row = row_of(houses.ours, model)
    before = model.unscoped.values().get(pk=row.pk)
    for statement in REFUSED_BY_THE_DATABASE.values():
        with pytest.raises(IntegrityError, match="ledger rows stay"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement.format(table=model._meta.db_table, pk=row.pk))
            pytest.fail(f"{statement} went through")
    assert model.unscoped.values().get(pk=row.pk) == before


@pytest.mark.parametrize("model", LEDGERS, ids=lambda model: model.__name__)
def test_a_row_that_pretends_to_be_new_does_not_overwrite_one(houses: Houses, model: type[LedgerModel]) -> None:
    row = row_of(houses.ours, model)
    before = model.unscoped.values().get(pk=row.pk)
    fields = {field.attname: getattr(row, field.attname) for field in model._meta.concrete_fields}
    with pytest.raises(IntegrityError), transaction.atomic():
        model(**fields).save()
    with pytest.raises(IntegrityError), transaction.atomic():
        model.unscoped.bulk_create(
            [model(**fields)], update_conflicts=True, update_fields=["workshop"], unique_fields=["id"]
        )  # fmt: skip
    assert model.unscoped.values().get(pk=row.pk) == before


REPLACE = {
    "sqlite": "INSERT OR REPLACE INTO {table} SELECT * FROM {table} WHERE id = {pk}",
    "postgresql": "MERGE INTO {table} old USING {table} new ON old.id = new.id AND old.id = {pk} WHEN MATCHED THEN DELETE",
}


@pytest.mark.parametrize("model", LEDGERS, ids=lambda model: model.__name__)
def test_a_statement_that_replaces_a_ledger_row_is_refused(houses: Houses, model: type[LedgerModel]) -> None:
    replace = REPLACE[connection.vendor].format(table=model._meta.db_table, pk=row_of(houses.ours, model).pk)
    with pytest.raises(IntegrityError, match="ledger rows stay"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(replace)
