"""No row of one workshop points into another, whoever writes it; the database itself sees to it."""

from typing import Any

import pytest
from django.db import IntegrityError, connection, models, transaction

from curehouse.common.guards import scoped_references
from curehouse.workshops.scoping import ScopedModel
from tests.architecture.conftest import Houses
from tests.everything import SCOPED, row_of

pytestmark = pytest.mark.django_db

REFERENCES = [(model, field) for model in SCOPED for field in scoped_references(model)]
IDS = [f"{model.__name__}.{field.name}" for model, field in REFERENCES]


def as_another(row: ScopedModel, **changes: Any) -> ScopedModel:
    """Return a new row like *row*, with what must be its own made so."""
    values = {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields if not field.primary_key}
    return type(row)(**{**values, **changes})


def strayed(houses: Houses, model: type[ScopedModel], field: models.ForeignKey) -> ScopedModel:
    """Return a new row of our workshop whose *field* points into theirs."""
    return as_another(row_of(houses.ours, model), **{field.attname: row_of(houses.theirs, field.related_model).pk})


def test_there_are_references_to_guard() -> None:
    assert len(REFERENCES) > 20


@pytest.mark.parametrize(("model", "field"), REFERENCES, ids=IDS)
def test_a_reference_into_another_workshop_is_refused(
    houses: Houses, model: type[ScopedModel], field: models.ForeignKey
) -> None:
    for write in (
        lambda row: row.save(force_insert=True),
        lambda row: model.unscoped.bulk_create([row]),
    ):
        with pytest.raises(IntegrityError, match="must stay inside one workshop"), transaction.atomic():
            write(strayed(houses, model, field))


@pytest.mark.parametrize(("model", "field"), REFERENCES, ids=IDS)
def test_a_row_is_not_turned_to_point_into_another_workshop(
    houses: Houses, model: type[ScopedModel], field: models.ForeignKey
) -> None:
    row, theirs = row_of(houses.ours, model), row_of(houses.theirs, field.related_model)
    with pytest.raises(IntegrityError, match="curehouse: "), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f'UPDATE "{model._meta.db_table}" SET "{field.column}" = {theirs.pk} WHERE id = {row.pk}')


@pytest.mark.parametrize("model", SCOPED, ids=lambda model: model.__name__)
def test_a_row_does_not_move_to_another_workshop(houses: Houses, model: type[ScopedModel]) -> None:
    row = row_of(houses.ours, model)
    with pytest.raises(IntegrityError, match="curehouse: "), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f'UPDATE "{model._meta.db_table}" SET workshop_id = {houses.theirs.workshop.pk} WHERE id = {row.pk}'
        )  # fmt: skip


@pytest.mark.parametrize("model", [model for model in SCOPED if scoped_references(model)], ids=lambda model: model.__name__)
def test_the_same_row_within_its_workshop_passes_the_guard(houses: Houses, model: type[ScopedModel]) -> None:
    """The control: what is refused above is refused for its reference, not for being a copy."""
    try:
        with transaction.atomic():
            as_another(row_of(houses.ours, model)).save(force_insert=True)
    except IntegrityError as error:
        assert "curehouse: " not in str(error)
