"""Many weighings sent at once, by devices that do not know of each other."""

import uuid
from datetime import timedelta
from functools import partial
from threading import Barrier

from django.db import OperationalError, transaction

from curehouse.common.locking import lock_rows
from curehouse.curing.models import Reading, SampleBar
from curehouse.curing.services.readings import record_readings, sent_before
from curehouse.flows.weigh_many import WeighingRow, weigh_many
from curehouse.making.models import Batch
from tests.arena import STUCK_SECONDS, Arena, drop_constraint
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


def send_naively(world: World, rows: list[WeighingRow], line: Barrier) -> int:
    """Look which are new, then write them: what the batches' locks and the constraint stand against."""
    known = sent_before(actor=world.actor, client_ids=[row.entry.client_id for row in rows])
    bars = SampleBar.objects.within(world.workshop).select_related("batch__formula").in_bulk([row.bar_id for row in rows])
    line.wait(STUCK_SECONDS)
    fresh = [(bars[row.bar_id], row.entry, None) for row in rows if row.entry.client_id not in known]
    return len(record_readings(actor=world.actor, entries=fresh, at=world.now))


def test_without_the_guards_the_same_round_is_there_twice(arena: Arena) -> None:
    world = arena.do(World)
    rows = arena.do(partial(a_round, world))
    arena.do(partial(drop_constraint, "curing", "reading", "reading_client_id_once"))
    line = Barrier(2)
    assert arena.race(*[partial(send_naively, world, rows, line)] * 2) == [12, 12]
    assert arena.do(lambda: Reading.objects.within(world.workshop).count()) == 24


def lock_in_the_order_sent(world: World, batch_ids: list[int], line: Barrier | None) -> None:
    """Lock the batches one by one as they come, which key order stands against."""
    with transaction.atomic():
        for number, batch_id in enumerate(batch_ids):
            if number == 1 and line is not None:
                line.wait(STUCK_SECONDS)
            lock_rows(Batch.unscoped.all(), [batch_id])


def test_without_key_order_rounds_in_opposite_directions_wait_for_each_other_for_ever(arena: Arena) -> None:
    world = arena.do(World)
    batches = arena.do(lambda: [world.batch().pk, world.batch().pk])
    # SQLite has one write lock, taken at the start: there the two cannot stand across each other.
    line = Barrier(2) if arena.vendor == "postgresql" else None
    outcomes = arena.race(*[partial(lock_in_the_order_sent, world, order, line) for order in (batches, batches[::-1])])
    broken = [str(one) for one in outcomes if isinstance(one, OperationalError)]
    assert ["deadlock detected" in words for words in broken] == ([True] if line else [])
    assert outcomes.count(None) == 2 - len(broken)


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
