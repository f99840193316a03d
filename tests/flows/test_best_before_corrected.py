"""A best-before that is corrected to before a use holds what the lot went into."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.flows.stock import correct_lot
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch, BatchHold
from inventory.models import Lot
from inventory.services.lots import LotPapers
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


def correct(world: World, lot: Lot, best_before: date) -> None:
    papers = LotPapers(lot.supplier_lot, best_before, lot.unit_cost)
    correct_lot(actor=world.actor, lot=lot, papers=papers, why="misread", at=world.now)


def used(world: World, lot: Lot, days_ago: float) -> Batch:
    batch = world.batch()
    book_use(
        actor=world.actor, batch=batch, lines=[UseLine(lot, Decimal(10))], used_at=world.days_ago(days_ago), at=world.now
    )  # fmt: skip
    return batch


def test_what_was_used_after_the_right_best_before_is_held_once(world: World) -> None:
    lot = world.lot("1000")
    early, late = used(world, lot, 12), used(world, lot, 3)
    day = (world.now - timedelta(days=10)).date()
    correct(world, lot, day)
    (hold,) = BatchHold.objects.within(world.workshop).standing()
    assert (hold.batch, hold.reason) == (late, "misread")
    assert hold.cause == f"{lot} was past its best-before, {day}, when it went in"
    assert f"past its best-before, {day}" in Visitor(world).words("batch", late.pk)
    # Corrected once more, it holds what was in order until now and nothing twice.
    correct(world, lot, day - timedelta(days=5))
    assert [one.batch for one in BatchHold.objects.within(world.workshop).standing()] == [late, early]
    correct(world, lot, day)
    assert BatchHold.objects.within(world.workshop).count() == 2
