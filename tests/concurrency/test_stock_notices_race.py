"""Two movements at one moment that only together end what is said: the second sees both."""

from collections.abc import Iterable
from decimal import Decimal
from functools import partial
from threading import Barrier

import pytest

from curehouse.flows import stock, stock_notices
from curehouse.notices.models import Notice
from inventory.models import Lot
from tests.arena import STUCK_SECONDS, Arena
from tests.world import World


def low_with_two_lots(world: World) -> list[Lot]:
    """Let 800 g be usable where a kilogram is wanted, and let it be told."""
    oil = world.material(low_at=Decimal(1000))
    lots = [world.lot("400", material=oil), world.lot("400", material=oil)]
    stock_notices.renew_stock(workshop=world.workshop, at=world.now, tells_new=True)
    return lots


def more(world: World, lot: Lot) -> None:
    stock.receive_more(actor=world.actor, lot=lot, amount=Decimal(150), moment=world.now, at=world.now)


def states(world: World) -> list[str]:
    return list(Notice.objects.within(world.workshop).of_kind("low").values_list("state", flat=True))


def meet_after(monkeypatch: pytest.MonkeyPatch, target: object, name: str) -> None:
    """Let two that did *name* wait for each other before they go on."""
    line, done = Barrier(2), getattr(target, name)

    def then_wait(*args: object, **named: object) -> object:
        answer = done(*args, **named)
        line.wait(STUCK_SECONDS)
        return answer

    monkeypatch.setattr(target, name, then_wait)


def test_two_deliveries_that_are_enough_together_end_what_is_low(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    world = arena.do(World)
    lots = arena.do(partial(low_with_two_lots, world))
    if arena.vendor == "postgresql":
        # Both have booked before either looks; on SQLite the second cannot book before the first is done.
        meet_after(monkeypatch, stock._movements, "receive_more")
    assert arena.race(*[partial(more, world, lot) for lot in lots]) == [None, None]
    assert arena.do(partial(states, world)) == ["withdrawn"]


def test_without_the_lock_each_of_them_misses_the_other(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    if arena.vendor == "sqlite":
        # A transaction holds the only write lock from its beginning: there is no guard to take away.
        return
    world = arena.do(World)
    lots = arena.do(partial(low_with_two_lots, world))

    def unlocked(notices: Iterable[Notice]) -> Iterable[Notice]:
        return notices

    monkeypatch.setattr(stock_notices, "_locked", unlocked)
    meet_after(monkeypatch, stock_notices, "_is_to_be_said")
    assert arena.race(*[partial(more, world, lot) for lot in lots]) == [None, None]
    assert arena.do(partial(states, world)) == ["open"]
