"""Many weighings sent at once, by devices that do not know of each other."""

import uuid
from datetime import timedelta
from functools import partial

from curehouse.curing.models import Reading
from curehouse.flows.weigh_many import WeighingRow, weigh_many
from tests.arena import Arena
from tests.world import World


def a_round(world: World, batches: int = 4) -> list[WeighingRow]:
    """Return the weighings of a round past so many new batches."""
    rows = []
    for _ in range(batches):
        batch = world.batch()
        for place, letter in enumerate("ABC"):
            entry = world.reading_entry("120.0", moment=batch.cut_at + timedelta(minutes=place), scale=None)
            rows.append(WeighingRow(world.bar(batch, letter).pk, world.scale.pk, entry))
    return rows


def test_a_round_sent_twice_at_once_is_there_once(arena: Arena) -> None:
    world = arena.do(World)
    rows = arena.do(partial(a_round, world))
    send = partial(weigh_many, actor=world.actor, rows=rows, at=world.now)
    outcomes = arena.race(send, send, send)
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    assert sorted(sum(is_new for _reading, is_new in one) for one in outcomes) == [0, 0, 12]
    assert arena.do(lambda: Reading.objects.within(world.workshop).count()) == 12


def test_rounds_past_the_same_batches_in_opposite_directions_both_arrive(arena: Arena) -> None:
    world = arena.do(World)
    there = arena.do(partial(a_round, world))
    back = [
        row._replace(entry=world.reading_entry("120.0", moment=world.now, client_id=uuid.uuid4())) for row in reversed(there)
    ]
    outcomes = arena.race(
        *[partial(weigh_many, actor=world.actor, rows=rows, at=world.now) for rows in (there, back)],
    )
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    assert arena.do(lambda: Reading.objects.within(world.workshop).count()) == 24
