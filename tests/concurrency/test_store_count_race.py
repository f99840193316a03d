"""Two walk past the same shelves at one moment: neither overwrites the other unseen, and they count on one store count."""

from decimal import Decimal
from functools import partial
from threading import Barrier

import pytest

from curehouse.common.errors import Conflict
from inventory.balance import differences
from inventory.models import Count, Lot, StoreCount
from inventory.services import movements, store_counts
from inventory.services.store_counts import count_in_store, end_store_count
from tests.arena import STUCK_SECONDS, Arena
from tests.world import World

ROUNDS = 4


def found(world: World, lot: Lot, grams: int, *, seen: int | None = 0) -> Count:
    return count_in_store(
        actor=world.actor, lot=lot, counted=Decimal(grams), moment=world.now, at=world.now, reason="weighed",
        seen=seen, on_walk=True,
    ).count  # fmt: skip


def walks(world: World) -> list[tuple[int, int | None]]:
    rows = StoreCount.objects.within(world.workshop).with_figures().order_by("pk")
    return [(row.lots_counted, row.lots_left) for row in rows]


def test_of_two_who_count_one_lot_differently_the_second_is_asked(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        lot = arena.do(partial(world.lot, "1000"))
        outcomes = arena.race(partial(found, world, lot, 900), partial(found, world, lot, 800))
        asked = [one for one in outcomes if isinstance(one, Exception)]
        assert [getattr(one, "code", one) for one in asked] == ["counted_meanwhile"], outcomes
        (kept,) = (one for one in outcomes if isinstance(one, Count))
        # What is asked about is what the other found; answered, it is kept.
        assert (asked[0].data["count"], Decimal(asked[0].data["counted"])) == (kept.pk, kept.counted)
        arena.do(partial(found, world, lot, 700, seen=kept.pk))
        assert arena.do(lambda lot=lot: Lot.objects.within(world.workshop).get(pk=lot.pk).on_hand) == 700
    assert arena.do(differences) == []


def test_two_who_found_the_same_are_both_kept(arena: Arena) -> None:
    world = arena.do(World)
    lot = arena.do(partial(world.lot, "1000"))
    outcomes = arena.race(*[partial(found, world, lot, 900)] * 2)
    assert sorted(one.counted - one.expected for one in outcomes) == [-100, 0]
    assert arena.do(differences) == []


def test_two_who_begin_at_one_moment_count_on_one_store_count(arena: Arena) -> None:
    world = arena.do(World)
    lots = arena.do(lambda: [world.lot("1000") for _ in range(3)])
    outcomes = arena.race(*[partial(found, world, lot, 1000) for lot in lots[:2]])
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    assert arena.do(partial(walks, world)) == [(2, None)]


def test_the_last_two_lots_counted_at_one_moment_end_it_once(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        lots = arena.do(lambda: list(Lot.objects.within(world.workshop).order_by("pk")) or [world.lot("9") for _ in range(3)])
        arena.do(partial(found, world, lots[0], 9, seen=None))
        outcomes = arena.race(*[partial(found, world, lot, 9, seen=None) for lot in lots[1:]])
        assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    assert arena.do(partial(walks, world)) == [(3, 0)] * ROUNDS


def test_who_ends_it_as_the_last_lot_is_counted_finds_it_ended(arena: Arena) -> None:
    world = arena.do(World)
    lots = arena.do(lambda: [world.lot("9") for _ in range(2)])
    walk = arena.do(partial(found, world, lots[0], 9)).store_count
    ended = partial(end_store_count, actor=world.actor, store_count=walk, at=world.now)
    outcomes = arena.race(partial(found, world, lots[1], 9), ended)
    refused = [one for one in outcomes if isinstance(one, Exception)]
    assert [one.code for one in refused if isinstance(one, Conflict)] in ([], ["ended"]), outcomes
    # Ended first, the lot is of a count of its own, for whoever counted it named none.
    assert arena.do(partial(walks, world)) in ([(2, 0)], [(1, 1), (1, None)])


def test_without_the_lock_on_the_lot_both_overwrite_each_other(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    if arena.vendor == "sqlite":
        # A transaction holds the only write lock from its beginning: there is no guard to take away.
        return
    world = arena.do(World)
    lot = arena.do(partial(world.lot, "1000"))
    meet, look = Barrier(2), movements.check_counted_since

    def look_together(*args: object, **more: object) -> None:
        look(*args, **more)
        meet.wait(STUCK_SECONDS)

    def unlocked(*, workshop: object, lot: Lot) -> Lot:
        return Lot.objects.within(workshop).named().get(pk=lot.pk)

    monkeypatch.setattr(movements, "check_counted_since", look_together)
    monkeypatch.setattr(movements, "lock_lot", unlocked)
    monkeypatch.setattr(store_counts, "lock_alone", lambda purpose: None)
    arena.do(lambda: StoreCount.unscoped.create(workshop=world.workshop, begun_at=world.now))
    outcomes = arena.race(partial(found, world, lot, 900), partial(found, world, lot, 800))
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    assert [one.expected for one in outcomes] == [1000, 1000]


def test_without_the_lock_on_the_store_count_two_begin_and_the_constraint_refuses_one(
    arena: Arena, monkeypatch: pytest.MonkeyPatch
) -> None:
    if arena.vendor == "sqlite":
        return
    world = arena.do(World)
    lots = arena.do(lambda: [world.lot("1000") for _ in range(3)])
    meet, begin = Barrier(2), store_counts._begin

    def begin_together(*args: object, **more: object) -> StoreCount:
        meet.wait(STUCK_SECONDS)
        return begin(*args, **more)

    monkeypatch.setattr(store_counts, "lock_alone", lambda purpose: None)
    monkeypatch.setattr(store_counts, "_begin", begin_together)
    outcomes = arena.race(*[partial(found, world, lot, 1000) for lot in lots[:2]])
    (refused,) = (one for one in outcomes if isinstance(one, Exception))
    assert "storecount_one_open" in str(refused)
