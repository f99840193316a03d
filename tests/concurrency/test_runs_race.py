"""Two change one planned run at one moment: what is over stays over, and nothing is reserved twice."""

from collections import Counter
from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest

from curehouse.common.errors import Conflict
from curehouse.making.models import FormulaVersion, Reservation, Run, RunChange
from curehouse.making.services import runs
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import call_off_run, move_run, plan_run, reserve_run
from tests.arena import Arena
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

ROUNDS = 4


def written(world: World) -> FormulaVersion:
    olive, coconut = (world.material(name=name, kind="fat") for name in ("Olive oil", "Coconut oil"))
    lines = (fat("olive", "700", material=olive), fat("coconut", "300", material=coconut), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)


def planned(world: World, version: FormulaVersion) -> Run:
    day = world.now.date() + timedelta(days=10)
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=world.now)


def moved(world: World, run: Run) -> Run:
    return move_run(actor=world.actor, run=run, pour_on=run.pour_on + timedelta(days=7), at=world.now)


def called_off(world: World, run: Run) -> Run:
    return call_off_run(actor=world.actor, run=run, why="no milk", at=world.now)


def reserved(world: World, run: Run, fats_g: str) -> Run:
    return reserve_run(actor=world.actor, run=run, fats_g=Decimal(fats_g), at=world.now)


def called_off_twice_or_changed_after(world: World) -> int:
    """Return how many runs were called off twice, or changed once they were called off."""
    found = 0
    for run in Run.objects.within(world.workshop):
        said = [one.what for one in RunChange.objects.within(world.workshop).filter(run=run).order_by("pk")]
        found += "called_off" in said and said.index("called_off") != len(said) - 1
    return found


def reservations(world: World, run: Run) -> tuple[Decimal, dict[str, Decimal]]:
    rows = Reservation.objects.within(world.workshop).filter(run=run).select_related("material")
    return Run.objects.within(world.workshop).get(pk=run.pk).fats_g, {row.material.name: row.amount_g for row in rows}


def test_of_two_who_call_a_run_off_one_is_told(arena: Arena) -> None:
    world = arena.do(World)
    version = arena.do(partial(written, world))
    for _round in range(ROUNDS):
        run = arena.do(partial(planned, world, version))
        outcomes = arena.race(partial(called_off, world, run), partial(called_off, world, run))
        assert Counter(type(one) for one in outcomes) == {Run: 1, Conflict: 1}, outcomes
    assert arena.do(partial(called_off_twice_or_changed_after, world)) == 0


def test_a_run_is_not_moved_once_it_is_called_off(arena: Arena) -> None:
    world = arena.do(World)
    version = arena.do(partial(written, world))
    for _round in range(ROUNDS):
        run = arena.do(partial(planned, world, version))
        off, move = arena.race(partial(called_off, world, run), partial(moved, world, run))
        assert isinstance(off, Run), off
        assert isinstance(move, Run) or move.code == "run_over", move
    assert arena.do(partial(called_off_twice_or_changed_after, world)) == 0


def test_reserved_anew_by_two_at_once_it_is_reserved_once_in_the_size_it_has(arena: Arena) -> None:
    world = arena.do(World)
    version = arena.do(partial(written, world))
    for _round in range(ROUNDS):
        run = arena.do(partial(planned, world, version))
        outcomes = arena.race(partial(reserved, world, run, "2000"), partial(reserved, world, run, "4000"))
        assert all(isinstance(one, Run) for one in outcomes), outcomes
        fats_g, rows = arena.do(partial(reservations, world, run))
        assert rows == {"Olive oil": fats_g * Decimal("0.7"), "Coconut oil": fats_g * Decimal("0.3")}


def fresh(run: Run) -> Run:
    return Run.unscoped.select_related("formula", "workshop").get(pk=run.pk)


def test_without_the_lock_a_run_is_called_off_twice(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    """On SQLite the one write lock, taken when a transaction begins, stands behind ours."""
    world = arena.do(World)
    version = arena.do(partial(written, world))
    monkeypatch.setattr(runs, "lock_run", fresh)
    found = 0
    for _round in range(ROUNDS if arena.vendor == "sqlite" else 20):
        run = arena.do(partial(planned, world, version))
        arena.race(partial(called_off, world, run), partial(called_off, world, run))
        found = arena.do(partial(called_off_twice_or_changed_after, world))
        if found:
            break
    assert bool(found) == (arena.vendor == "postgresql")
