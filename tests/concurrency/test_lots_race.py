"""Two take from one lot at one moment; with the guards the balance stays what the ledger comes to."""

from decimal import Decimal
from functools import partial
from threading import Barrier

import pytest

from curehouse.common.errors import Conflict
from curehouse.flows.use_stock import UseLine, book_use
from inventory.balance import differences
from inventory.models import Lot, Movement
from inventory.services import posting
from inventory.services.movements import count, receive_more, reverse, use, write_off
from inventory.services.things import retire_material
from tests.arena import STUCK_SECONDS, Arena
from tests.world import World

ROUNDS = 4


def on_hand(world: World) -> list[Decimal]:
    return list(Lot.objects.within(world.workshop).order_by("pk").values_list("on_hand", flat=True))


def asked(world: World, lot: Lot, amount: int) -> dict:
    return {"actor": world.actor, "lot": lot, "amount": Decimal(amount), "moment": world.now, "at": world.now}


def spill(world: World, lot: Lot, amount: int) -> Movement:
    return write_off(reason="spilt", **asked(world, lot, amount))


def test_of_two_who_write_off_more_than_there_is_one_is_refused(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        lot = arena.do(partial(world.lot, "1000"))
        outcomes = arena.race(partial(spill, world, lot, 600), partial(spill, world, lot, 600))
        refused = [one for one in outcomes if isinstance(one, Exception)]
        assert [type(one) for one in refused] == [Conflict], outcomes
        assert refused[0].data["on_hand"] == "400.000"
    assert arena.do(partial(on_hand, world)) == [400] * ROUNDS
    assert arena.do(differences) == []


def test_of_two_pours_that_need_more_than_there_is_both_are_booked(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        lot = arena.do(partial(world.lot, "1000"))
        outcomes = arena.race(*[partial(use, **asked(world, lot, 600))] * 2)
        assert sorted(one.found.counted - one.found.expected if one.found else 0 for one in outcomes) == [0, 200]
    assert arena.do(partial(on_hand, world)) == [0] * ROUNDS
    assert arena.do(differences) == []


def test_a_movement_that_two_take_back_is_taken_back_once(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        used = arena.do(lambda: use(**asked(world, world.lot("1000"), 600))).movement
        back = partial(reverse, actor=world.actor, movement=used, reason="a slip", at=world.now)
        outcomes = arena.race(back, back)
        assert [one.code for one in outcomes if isinstance(one, Exception)] == ["reversed"], outcomes
    assert arena.do(partial(on_hand, world)) == [1000] * ROUNDS
    assert arena.do(differences) == []


def test_a_count_and_a_use_at_one_moment_come_to_what_one_after_the_other_would(arena: Arena) -> None:
    world = arena.do(World)
    lot = arena.do(partial(world.lot, "1000"))
    counted = partial(
        count, actor=world.actor, lot=lot, counted=Decimal(950), moment=world.now, at=world.now, reason="weighed"
    )  # fmt: skip
    assert not [one for one in arena.race(counted, partial(use, **asked(world, lot, 100))) if isinstance(one, Exception)]
    assert arena.do(partial(on_hand, world))[0] in {850, 950}
    assert arena.do(differences) == []


def test_two_batches_that_take_the_same_lots_crosswise_do_not_wait_for_each_other_for_ever(arena: Arena) -> None:
    world = arena.do(World)
    oil, lye = arena.do(lambda: (world.lot("5000"), world.lot("5000", material=world.material("Lye", kind="lye"))))
    batches = arena.do(lambda: [world.batch(), world.batch()])

    def pour(batch, first: Lot, second: Lot) -> None:
        for _ in range(6):
            lines = [UseLine(first, Decimal(10)), UseLine(second, Decimal(10))]
            book_use(actor=world.actor, batch=batch, lines=lines, used_at=world.now, at=world.now)

    assert arena.race(partial(pour, batches[0], oil, lye), partial(pour, batches[1], lye, oil)) == [None, None]
    assert arena.do(partial(on_hand, world)) == [4880, 4880]
    assert arena.do(differences) == []


def test_lots_that_come_in_at_one_moment_get_numbers_of_their_own(arena: Arena) -> None:
    world = arena.do(World)
    arena.do(world.material)
    outcomes = arena.race(*[partial(world.lot, "10")] * 3)
    assert sorted(one.number for one in outcomes) == [1, 2, 3], outcomes


def test_a_material_is_not_retired_while_a_lot_of_it_comes_in(arena: Arena) -> None:
    world = arena.do(World)
    for number in range(ROUNDS):
        material = arena.do(partial(world.material, f"Oil {number}"))
        outcomes = arena.race(
            partial(world.lot, "10", material=material), partial(retire_material, material=material, at=world.now)
        )  # fmt: skip
        assert len([one for one in outcomes if isinstance(one, Conflict)]) == 1, outcomes


def spill_naively(world: World, lot: Lot, amount: int, line: Barrier) -> None:
    """Look, then write: what the lock and the conditional write stand against."""
    seen = Lot.objects.within(world.workshop).get(pk=lot.pk).on_hand
    line.wait(STUCK_SECONDS)
    if seen >= amount:
        Lot.unscoped.filter(pk=lot.pk).update(on_hand=seen - amount)
        Movement.unscoped.create(
            workshop=world.workshop, lot=lot, kind="write_off", amount=-amount, moment=world.now, reason="spilt",
            source="page", written_at=world.now,
        )  # fmt: skip


def test_without_the_guards_the_same_two_take_what_is_not_there(arena: Arena) -> None:
    world = arena.do(World)
    lot = arena.do(partial(world.lot, "1000"))
    line = Barrier(2)
    assert arena.race(*[partial(spill_naively, world, lot, 600, line)] * 2) == [None, None]
    assert arena.do(partial(on_hand, world)) == [400]
    assert [one.reckoned for one in arena.do(differences)] == ["-200.000"]


def test_the_conditional_write_holds_though_nobody_locks(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both have looked before either writes: the write itself refuses the second."""
    world = arena.do(World)
    lot = arena.do(partial(world.lot, "1000"))
    line = Barrier(2)

    def post_unlocked() -> Movement:
        seen = Lot.objects.within(world.workshop).named().get(pk=lot.pk)
        line.wait(STUCK_SECONDS)
        return posting.post(
            actor=world.actor, lot=seen, kind="use", amount=Decimal(-600), moment=world.now, at=world.now, source="page"
        )  # fmt: skip

    outcomes = arena.race(post_unlocked, post_unlocked)
    assert [one.code for one in outcomes if isinstance(one, Exception)] == ["not_enough"], outcomes
    assert arena.do(partial(on_hand, world)) == [400]
    assert arena.do(differences) == []


def test_more_that_comes_in_while_some_goes_out_is_all_there(arena: Arena) -> None:
    world = arena.do(World)
    lot = arena.do(partial(world.lot, "1000"))

    def many(verb) -> None:
        for _ in range(10):
            verb(**asked(world, lot, 7))

    assert arena.race(partial(many, receive_more), partial(many, use)) == [None, None]
    assert arena.do(partial(on_hand, world)) == [1000]
    assert arena.do(differences) == []
