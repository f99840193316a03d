"""Two jobs look at the storeroom at one moment: what expires is told once, and one that is told meanwhile is not told again."""

from datetime import timedelta
from decimal import Decimal
from functools import partial
from threading import Barrier

import pytest

from curehouse.flows.stock import write_off
from curehouse.flows.stock_notices import renew_stock
from curehouse.notices.models import Notice
from inventory.models import Lot
from tests.arena import STUCK_SECONDS, Arena, drop_constraint
from tests.world import World

ROUNDS = 4


def expiring(world: World) -> Lot:
    return world.lot("1000", best_before=(world.now + timedelta(days=9)).date())


def morning(world: World) -> None:
    renew_stock(workshop=world.workshop, at=world.now, tells_new=True)


def told(world: World, lot: Lot) -> list[str]:
    rows = Notice.objects.within(world.workshop).filter(about=f"lot:{lot.pk}", kind="expiring").order_by("pk")
    return [one.body.splitlines()[0] for one in rows]


def test_two_mornings_tell_of_a_lot_once(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        lot = arena.do(partial(expiring, world))
        outcomes = arena.race(*[partial(morning, world)] * 2)
        assert outcomes == [None, None]
        (said,) = arena.do(partial(told, world, lot))
        assert said.startswith("1000 g left")


def test_a_morning_beside_a_movement_says_what_is_left_after_both(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        lot = arena.do(partial(expiring, world))
        arena.do(partial(morning, world))
        gone = partial(
            write_off, actor=world.actor, lot=lot, amount=Decimal(400), reason="spilt", moment=world.now, at=world.now
        )
        outcomes = arena.race(gone, partial(morning, world))
        assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
        (said,) = arena.do(partial(told, world, lot))
        assert said.startswith("600 g left")


def test_without_the_key_both_tell_of_it(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    if arena.vendor == "sqlite":
        # A transaction holds the only write lock from its beginning: the second looks once the first has told.
        return
    world = arena.do(World)
    lot = arena.do(partial(expiring, world))
    arena.do(partial(drop_constraint, "notices", "notice", "notice_key_once"))
    meet = Barrier(2)

    def written_together(_rows: object, *, defaults: dict[str, object], **words: object) -> tuple[Notice, bool]:
        # Both have looked and found none, and neither has written.
        meet.wait(STUCK_SECONDS)
        return Notice.unscoped.create(**words, **defaults), True

    monkeypatch.setattr(type(Notice.unscoped), "get_or_create", written_together)
    assert arena.race(*[partial(morning, world)] * 2) == [None, None]
    assert len(arena.do(partial(told, world, lot))) == 2
