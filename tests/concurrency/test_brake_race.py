"""Guesses that are sent together: no more are looked at than the limit says."""

from datetime import timedelta
from functools import partial
from threading import Barrier

import pytest
from django.db.models import F

from curehouse.workshops.models import DoorCount
from curehouse.workshops.services.brake import Limit, Try, take
from tests.arena import Arena
from tests.factories import NOW

ONE = Try(Limit("account", 3, timedelta(minutes=15)), "somebody")


@pytest.mark.parametrize("window", ["new", "open", "over"])
def test_of_many_at_one_moment_the_limit_is_let_through(arena: Arena, window: str) -> None:
    if window != "new":
        began = NOW - timedelta(minutes=1 if window == "open" else 20)
        arena.do(lambda: take(ONE, at=began))
    outcomes = arena.race(*[partial(take, ONE, at=NOW) for _ in range(8)])
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    assert sum(one == 0 for one in outcomes) == (2 if window == "open" else 3), outcomes


def test_a_count_that_is_read_first_and_written_after_lets_more_through(arena: Arena) -> None:
    """The control: with one try left both pass who look before either has written."""
    arena.do(lambda: [take(ONE, at=NOW) for _ in range(2)])
    both_looked = Barrier(2)

    def read_then_write() -> bool:
        row = DoorCount.objects.get(key=ONE.key)
        both_looked.wait(60)
        DoorCount.objects.filter(pk=row.pk).update(tries=F("tries") + 1)
        return row.tries < ONE.limit.tries

    assert arena.race(read_then_write, read_then_write) == [True, True]
    assert arena.do(lambda: DoorCount.objects.get(key=ONE.key).tries) == 4
