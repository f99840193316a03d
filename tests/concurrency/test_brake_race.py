"""Guesses that are sent together: no more are looked at than the limit says."""

from datetime import timedelta
from functools import partial

import pytest
from django.db import transaction
from django.db.models import F

from curehouse.workshops.models import DoorCount
from curehouse.workshops.services import brake
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


def test_a_count_that_is_read_first_and_written_after_lets_more_through(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    """The control; on SQLite writers take turns from the start of a transaction, so there is no such race."""
    arena.do(lambda: take(ONE, at=NOW))
    if arena.vendor == "sqlite":
        return

    def read_then_write(one: Try, at: object) -> bool:
        with transaction.atomic():
            row = DoorCount.objects.get(key=one.key)
            if row.tries >= one.limit.tries:
                return False
            DoorCount.objects.filter(pk=row.pk).update(tries=F("tries") + 1)
            return True

    monkeypatch.setattr(brake, "_taken", read_then_write)
    outcomes = arena.race(*[partial(take, ONE, at=NOW) for _ in range(12)])
    assert sum(one == 0 for one in outcomes) >= 2
