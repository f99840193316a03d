"""Two are at one pour at one moment: it ends once, a step that both send is there once, and a run is poured once."""

import uuid
from collections import Counter
from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest

from curehouse.common.errors import Conflict
from curehouse.flows.pour import Stopped, finish, stop
from curehouse.flows.runs import plan_run
from curehouse.making.models import Batch, BatchUse, Pour, PourStep, Run
from curehouse.making.services import at_table
from inventory.models import Movement
from tests.arena import Arena
from tests.pouring import Bench
from tests.world import World

ROUNDS = 4


def opened() -> Bench:
    return Bench(World())


def ready(bench: Bench) -> Pour:
    """Return a pour of which only the end is missing."""
    pour = bench.begin()
    bench.go_on(pour)
    return pour


def ended(bench: Bench, pour: Pour) -> Batch:
    return finish(actor=bench.world.actor, pour=pour, at=bench.world.now)


def stopped(bench: Bench, pour: Pour) -> Pour:
    return stop(actor=bench.world.actor, pour=pour, stopped=Stopped("a doubt"), at=bench.world.now)


def booked(bench: Bench) -> tuple[int, int, int]:
    """Return how many batches there are, how many uses, and how many movements are uses."""
    workshop = bench.world.workshop
    uses = Movement.objects.within(workshop).filter(kind="use").count()
    return Batch.objects.within(workshop).count(), BatchUse.objects.within(workshop).count(), uses


def test_of_two_who_finish_one_wins_and_the_other_is_told_who_did(arena: Arena) -> None:
    bench = arena.do(opened)
    for number in range(1, ROUNDS + 1):
        pour = arena.do(partial(ready, bench))
        outcomes = arena.race(partial(ended, bench, pour), partial(ended, bench, pour))
        assert Counter(type(one) for one in outcomes) == {Batch: 1, Conflict: 1}, outcomes
        told = next(one for one in outcomes if isinstance(one, Conflict))
        assert told.code == "pour_over"
        assert "finished this pour" in told.message
        assert arena.do(partial(booked, bench)) == (number, 3 * number, 3 * number)


def test_of_one_who_finishes_and_one_who_stops_one_wins(arena: Arena) -> None:
    bench = arena.do(opened)
    for number in range(1, ROUNDS + 1):
        pour = arena.do(partial(ready, bench))
        outcomes = arena.race(partial(ended, bench, pour), partial(stopped, bench, pour))
        assert sum(isinstance(one, Conflict) for one in outcomes) == 1, outcomes
        # After trace it is a batch either way, once.
        assert arena.do(partial(booked, bench)) == (number, 3 * number, 3 * number)


def begun(bench: Bench) -> Pour:
    pour = bench.begin()
    bench.say(pour, "caution")
    return pour


def rows_of(bench: Bench, pour: Pour) -> int:
    return PourStep.objects.within(bench.world.workshop).filter(pour=pour, kind="weighed").count()


def test_a_step_that_two_connections_send_is_there_once(arena: Arena) -> None:
    bench = arena.do(opened)
    for _round in range(ROUNDS):
        pour, key = arena.do(partial(begun, bench)), uuid.uuid4()
        weigh = partial(bench.weigh, pour, "0", "700", client_id=key)
        first, second = arena.race(weigh, weigh)
        assert isinstance(first, PourStep), first
        assert isinstance(second, PourStep), second
        assert first.pk == second.pk
        assert arena.do(partial(rows_of, bench, pour)) == 1


def planned(bench: Bench) -> Run:
    day = bench.world.now.date() + timedelta(days=10)
    return plan_run(actor=bench.world.actor, version=bench.version, fats_g=Decimal(1000), pour_on=day, at=bench.world.now)


def test_two_who_begin_one_run_are_at_one_pour(arena: Arena) -> None:
    bench = arena.do(opened)
    for _round in range(ROUNDS):
        run = arena.do(partial(planned, bench))
        outcomes = arena.race(partial(bench.begin, run), partial(bench.begin, run))
        assert Counter(type(one) for one in outcomes) == {Pour: 1, Conflict: 1}, outcomes
        assert next(one for one in outcomes if isinstance(one, Conflict)).code == "pour_open"


def fresh(pour: Pour) -> Pour:
    return Pour.unscoped.select_related("version__formula", "workshop", "run__formula", "batch__formula").get(pk=pour.pk)


def test_without_the_lock_a_pour_is_finished_twice(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    """On SQLite the one write lock, taken when a transaction begins, stands behind ours."""
    bench = arena.do(opened)
    monkeypatch.setattr(at_table, "lock_pour", fresh)
    found = False
    for number in range(1, (ROUNDS if arena.vendor == "sqlite" else 20) + 1):
        pour = arena.do(partial(ready, bench))
        arena.race(partial(ended, bench, pour), partial(ended, bench, pour))
        found = arena.do(partial(booked, bench))[0] > number
        if found:
            break
    assert found == (arena.vendor == "postgresql")
