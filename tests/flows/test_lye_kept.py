"""The jug that a run was promised stays its own: others are called off, moved or poured, and it is weighed of the same lot."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.runs import call_off_run, move_run, plan_run, reserve_run
from curehouse.flows.stock import rule_lot
from curehouse.making.models import Reservation, Run
from inventory.adapter import lot_key
from tests.flows.test_lye_in_water import Dissolving
from tests.flows.test_lye_promised import Table
from tests.world import World

pytestmark = pytest.mark.django_db


class Announced(Table):
    """Runs announced as people do it."""

    def planned(self, days: int) -> Run:
        day = (self.world.now + timedelta(days=days)).date()
        return plan_run(actor=self.world.actor, version=self.version, fats_g=Decimal(1000), pour_on=day, at=self.world.now)

    def jug_of(self, run: Run) -> str:
        """Return of which lot a run is given its lye."""
        (taken,) = self.lye_of(run)
        return taken[1]

    def kept_by(self, run: Run) -> str | None:
        row = Reservation.objects.within(self.world.workshop).get(run=run, material=self.bench.lye)
        return row.stands_in and lot_key(row.stands_in)


@pytest.fixture
def table(world: World) -> Announced:
    return Announced(Dissolving(world))


def test_whose_run_is_called_off_frees_its_jug_and_moves_no_other(table: Announced) -> None:
    one, two = (lot_key(table.bench.dissolve("150", "150").lot) for _ in range(2))
    first, second = table.planned(2), table.planned(3)
    assert (table.jug_of(first), table.jug_of(second)) == (one, two)
    assert (table.kept_by(first), table.kept_by(second)) == (one, two)
    call_off_run(actor=table.world.actor, run=first, why="no market", at=table.world.now)
    assert table.jug_of(second) == two
    third = table.planned(1)
    assert (table.jug_of(second), table.jug_of(third)) == (two, one)
    moved = move_run(actor=table.world.actor, run=second, pour_on=second.pour_on + timedelta(days=4), at=table.world.now)
    assert (table.jug_of(moved), table.kept_by(moved)) == (two, two)


def test_a_jug_that_cannot_serve_any_more_is_given_up_for_another_or_for_dry_lye(table: Announced) -> None:
    lots = [table.bench.dissolve("150", "150").lot for _ in range(2)]
    run = table.planned(2)
    assert table.jug_of(run) == lot_key(lots[0])
    rule_lot(actor=table.world.actor, lot=lots[0], standing="quarantine", why="left open", at=table.world.now)
    assert table.jug_of(run) == lot_key(lots[1])
    again = reserve_run(actor=table.world.actor, run=run, at=table.world.now)
    assert table.kept_by(again) == lot_key(lots[1])
    rule_lot(actor=table.world.actor, lot=lots[1], standing="quarantine", why="left open", at=table.world.now)
    again = reserve_run(actor=table.world.actor, run=run, at=table.world.now)
    assert (table.kept_by(again), table.jug_of(again)) == (None, lot_key(table.bench.dry))
