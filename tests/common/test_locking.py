"""The one recipe for locking rows."""

import pytest
from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.curing.models import Position
from tests.world import World


def test_rows_are_locked_in_key_order_and_come_back_fresh(world: World, django_assert_num_queries) -> None:
    rack = world.rack()
    keys = list(Position.objects.within(world.workshop).filter(rack=rack).order_by("-pk").values_list("pk", flat=True))
    with django_assert_num_queries(1) as asked:
        locked = lock_rows(Position.unscoped.all(), [*keys, keys[0]])
    assert list(locked) == sorted(keys)
    assert 'ORDER BY "curing_position"."id" ASC' in asked.captured_queries[0]["sql"]


def test_a_row_outside_the_queryset_is_not_locked(world: World, stranger: World) -> None:
    theirs = stranger.position(stranger.rack())
    assert lock_rows(Position.objects.within(world.workshop), [theirs.pk]) == {}


@pytest.mark.django_db(transaction=True)
def test_locking_outside_a_transaction_is_refused() -> None:
    with pytest.raises(transaction.TransactionManagementError):
        lock_rows(Position.unscoped.all(), [1])
