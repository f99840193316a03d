"""Two people fill the last places at one moment; with the guards, one of them is told."""

from functools import partial
from threading import Barrier

from curehouse.common.errors import Conflict
from curehouse.curing.balance import differences
from curehouse.curing.models import Occupancy, Placement, Position
from curehouse.curing.services.places import move, place
from curehouse.making.models import Batch
from tests.arena import STUCK_SECONDS, Arena, drop_constraint
from tests.world import World

ROUNDS = 4


def fill(world: World, batch: Batch, position: Position, bars: int, when_full: str = "refuse"):
    return place(
        actor=world.actor, batch=batch, position=position, bars=bars, moved_at=world.now, at=world.now, when_full=when_full
    )


def held(world: World) -> list[tuple[int, int, int]]:
    """Return what each position says it holds, what it can hold, and what stands there."""
    rows = Position.objects.within(world.workshop).order_by("pk")
    return [(row.bars_held, row.capacity_bars, sum(row.occupancies.values_list("bars", flat=True))) for row in rows]


def two_batches_and_a_place(capacity: int = 30) -> tuple[World, list[Batch], Position]:
    world = World()
    position = world.position(world.rack(levels=1, places=1, capacity=capacity))
    return world, [world.batch(), world.batch()], position


def test_of_two_who_fill_the_last_places_one_is_refused(arena: Arena) -> None:
    world = arena.do(World)
    for number in range(ROUNDS):
        rack = arena.do(partial(world.rack, f"Rack {number}", levels=1, places=1, capacity=30))
        position = arena.do(partial(world.position, rack))
        batches = arena.do(lambda: [world.batch(), world.batch()])
        outcomes = arena.race(*[partial(fill, world, batch, position, 24) for batch in batches])
        refused = [outcome for outcome in outcomes if isinstance(outcome, Exception)]
        assert [type(one) for one in refused] == [Conflict], outcomes
        assert refused[0].data["free"] == 6
    assert arena.do(partial(held, world)) == [(24, 30, 24)] * ROUNDS
    assert arena.do(differences) == []


def fill_naively(world: World, batch: Batch, position: Position, bars: int, line: Barrier) -> None:
    """Look, then write: what the conditional write, its lock and the constraint stand against."""
    seen = Position.objects.within(world.workshop).get(pk=position.pk)
    line.wait(STUCK_SECONDS)
    if seen.bars_free >= bars:
        Occupancy.unscoped.create(workshop=world.workshop, batch=batch, position=position, bars=bars)
        Position.unscoped.filter(pk=position.pk).update(bars_held=seen.bars_held + bars)


def test_without_the_guards_the_same_two_overfill_it(arena: Arena) -> None:
    world, batches, position = arena.do(two_batches_and_a_place)
    arena.do(partial(drop_constraint, "curing", "position", "position_capacity"))
    line = Barrier(2)
    assert arena.race(*[partial(fill_naively, world, batch, position, 24, line) for batch in batches]) == [None, None]
    ((_says, capacity, stands),) = arena.do(partial(held, world))
    assert stands == 48 > capacity


def test_of_two_who_raise_the_capacity_both_get_their_room(arena: Arena) -> None:
    world, batches, position = arena.do(two_batches_and_a_place)
    outcomes = arena.race(*[partial(fill, world, batch, position, 24, "raise") for batch in batches])
    assert not [one for one in outcomes if isinstance(one, Exception)]
    assert arena.do(partial(held, world)) == [(48, 48, 48)]


def test_two_who_put_the_rest_elsewhere_never_overfill_a_place(arena: Arena) -> None:
    world = arena.do(World)
    rack = arena.do(partial(world.rack, levels=2, places=2, capacity=12))
    batches = arena.do(lambda: [world.batch(), world.batch()])
    ends = [arena.do(partial(world.position, rack, 1, 1)), arena.do(partial(world.position, rack, 2, 2))]
    outcomes = arena.race(
        *[partial(fill, world, batch, end, 24, "elsewhere") for batch, end in zip(batches, ends, strict=True)]
    )
    assert not [one for one in outcomes if isinstance(one, Exception)]
    assert arena.do(partial(held, world)) == [(12, 12, 12)] * 4
    assert arena.do(differences) == []


def test_two_who_carry_bars_past_each_other_do_not_wait_for_each_other_for_ever(arena: Arena) -> None:
    world = arena.do(World)
    rack = arena.do(partial(world.rack, levels=1, places=2, capacity=60))
    left, right = arena.do(lambda: (world.position(rack, 1, 1), world.position(rack, 1, 2)))
    here, there = arena.do(lambda: (world.batch(position=left), world.batch(position=right)))

    def carry(batch: Batch, origin: Position, target: Position) -> None:
        for _ in range(6):
            for start, end in ((origin, target), (target, origin)):
                move(
                    actor=world.actor, batch=batch, origin=start, target=end, bars=1, moved_at=world.now, at=world.now
                )  # fmt: skip

    assert arena.race(partial(carry, here, left, right), partial(carry, there, right, left)) == [None, None]
    assert arena.do(lambda: Placement.objects.within(world.workshop).filter(act="moved").count()) == 24
    assert arena.do(differences) == []


def test_a_batch_that_comes_in_and_one_that_is_placed_do_not_wait_for_each_other_for_ever(arena: Arena) -> None:
    world = arena.do(World)
    rack = arena.do(partial(world.rack, levels=1, places=1, capacity=500))
    position = arena.do(partial(world.position, rack))
    waiting = arena.do(lambda: [world.batch() for _ in range(5)])

    def enter() -> None:
        for number in range(5):
            world.batch(position=position, formula_name=f"Formula {number}")

    def put() -> None:
        for batch in waiting:
            fill(world, batch, position, 24)

    assert arena.race(enter, put) == [None, None]
    assert arena.do(partial(held, world)) == [(240, 500, 240)]
