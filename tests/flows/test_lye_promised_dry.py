"""A lye that a planned run was promised dry, and a recipe for it meanwhile."""

import dataclasses
from decimal import Decimal

import pytest

from curehouse.making.services.formulas import write_formula, write_version
from curehouse.making.services.runs import call_off_run, plan_run
from tests.flows.test_lye_in_water import Dissolving, refused
from tests.formulas import fat, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World) -> Dissolving:
    return Dissolving(world)


def test_lye_that_a_planned_run_was_promised_as_it_is_becomes_no_solution(bench: Dissolving) -> None:
    """Else one run would be promised grams of the mixture as if they were dry, and another the same lot for what it is."""
    world = bench.world
    spare = world.material("Sodium hydroxide, spare", kind="lye")
    lines = (fat("olive", "1000", material=bench.olive), liquid("water", "330"))
    entry = formula_entry(name="Spare", lines=lines, naoh_from=spare, liquid=Decimal(330))
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=world.now.date(), at=world.now)
    write_version(
        actor=world.actor, formula=version.formula, entry=dataclasses.replace(entry, naoh_from=bench.lye), at=world.now
    )
    said = refused("in_run", lambda: bench.recipe(spare, (1, bench.lye), (1, "water")))
    assert "pour it or call it off first" in said
    call_off_run(actor=world.actor, run=run, why="no market", at=world.now)
    bench.recipe(spare, (1, bench.lye), (1, "water"))
