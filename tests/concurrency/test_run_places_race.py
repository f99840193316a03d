"""Two plan runs at one moment: no place is kept for both, and without the lock one is."""

from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest

from curehouse.core.planning.shelf import clashes
from curehouse.curing.shelf import read_shelf
from curehouse.flows import run_places
from curehouse.flows.runs import call_off_run, plan_run
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from tests.arena import Arena
from tests.formulas import formula_entry
from tests.world import World

ROUNDS = 4


def opened(world: World) -> list[FormulaVersion]:
    """Return two formulas: of one, its own lock lets one plan after the other."""
    return [write_formula(actor=world.actor, entry=formula_entry(name=name), at=world.now) for name in ("Rye bar", "Oat bar")]


def planned(world: World, version: FormulaVersion) -> Run:
    day = world.now.date() + timedelta(days=5)
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, bars=20, at=world.now)


def crowded(world: World) -> int:
    """Return how many times a place would have to hold too many bars."""
    shelf = read_shelf(world.workshop, world.now.date()).shelf()
    return len(clashes(shelf, first_day=world.now.date().toordinal(), days=700))


def race(arena: Arena, world: World, versions: list[FormulaVersion]) -> int:
    """Let two plan at once, return how often a place is crowded by it, and give back what they were given."""
    outcomes = arena.race(*[partial(planned, world, version) for version in versions])
    assert all(isinstance(one, Run) for one in outcomes), outcomes
    found = arena.do(partial(crowded, world))
    for run in outcomes:
        arena.do(partial(call_off_run, actor=world.actor, run=run, why="for the next round", at=world.now))
    return found


def test_of_two_who_plan_at_once_the_second_sees_what_the_first_was_given(arena: Arena) -> None:
    world = arena.do(World)
    versions = arena.do(partial(opened, world))
    arena.do(partial(world.rack, levels=1, places=1, capacity=30))
    assert [race(arena, world, versions) for _round in range(ROUNDS)] == [0] * ROUNDS


def test_without_the_lock_both_are_given_the_same_place(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    """On SQLite the one write lock, taken when a transaction begins, stands behind ours."""
    world = arena.do(World)
    versions = arena.do(partial(opened, world))
    arena.do(partial(world.rack, levels=1, places=1, capacity=30))
    monkeypatch.setattr(run_places, "lock_places", lambda workshop: None)
    found = any(race(arena, world, versions) for _round in range(ROUNDS if arena.vendor == "sqlite" else 20))
    assert found == (arena.vendor == "postgresql")
