"""Nothing reaches a row of a workshop without saying which workshop."""

from collections.abc import Callable

import pytest
from django.apps import apps

from curehouse.common.errors import NotHere
from curehouse.curing.models import Rack
from curehouse.workshops.scoping import ScopedModel, ScopeMissing
from tests.world import World

SCOPED = [model for model in apps.get_models() if issubclass(model, ScopedModel)]
WAYS_IN: dict[str, Callable] = {
    "all": lambda objects: objects.all(),
    "filter": lambda objects: objects.filter(pk=1),
    "get": lambda objects: objects.get(pk=1),
    "first": lambda objects: objects.first(),
    "count": lambda objects: objects.count(),
    "create": lambda objects: objects.create(),
    "bulk_create": lambda objects: objects.bulk_create([]),
    "get_or_create": lambda objects: objects.get_or_create(pk=1),
    "values": lambda objects: objects.values(),
    "raw": lambda objects: objects.raw("SELECT 1"),
    "using": lambda objects: objects.using("default"),
    "exists": lambda objects: objects.exists(),
}


@pytest.mark.parametrize("way", WAYS_IN)
@pytest.mark.parametrize("model", SCOPED, ids=lambda model: model.__name__)
def test_objects_refuse_to_work_without_a_workshop(model: type[ScopedModel], way: str) -> None:
    with pytest.raises(ScopeMissing, match=model.__name__):
        WAYS_IN[way](model.objects)


@pytest.mark.parametrize("model", SCOPED, ids=lambda model: model.__name__)
def test_objects_work_within_a_workshop_with_the_models_own_questions(world: World, model: type[ScopedModel]) -> None:
    rows = model.objects.within(world.workshop)
    assert rows.exclude(workshop=world.workshop).count() == 0
    assert isinstance(rows, type(model.unscoped.all()))


def test_a_strangers_row_is_answered_like_one_that_is_not_there(world: World, stranger: World) -> None:
    theirs = stranger.rack()
    for missing in (theirs.pk, 0):
        with pytest.raises(NotHere, match="There is no such rack in this workshop") as refused:
            Rack.objects.within(world.workshop).get_here(missing, what="rack")
        assert refused.value.status == 404
