"""A past use that was taken back may come in again, and one that holds its batch ends what was promised of it."""

from pathlib import Path

import pytest

from curehouse.flows.stock import reverse
from curehouse.intake.models import BroughtRow
from curehouse.making.models import BatchUse
from inventory.balance import differences
from inventory.models import Lot, Movement
from tests.flows.bring_in.test_bring_stock import _folder, uses
from tests.flows.bring_in.test_uses_without_a_lot import held, row, two_lots
from tests.flows.test_bars_that_stay import SOON
from tests.flows.test_forecast_notices import batch, foretold, told  # noqa: F401  (a fixture)
from tests.world import World

pytestmark = pytest.mark.django_db
__all__ = ["_folder"]


def test_a_use_that_was_taken_back_comes_in_again_and_is_said_to(world: World, tmp_path: Path) -> None:
    lots, of = two_lots(world), world.batch()
    # Of both lots: taken back in part it is known still.
    list_ = (row("1.4 kg", "2026-02-01", batch=f"{of.number}"), row("100 g", "2026-02-02"))
    uses(world, tmp_path, *list_)
    for number, movement in enumerate(Movement.objects.within(world.workshop).filter(kind="use", batch_use__isnull=False)):
        assert uses(world, tmp_path, *list_).known["uses"] == 2 and number < 2
        reverse(actor=world.actor, movement=movement, reason="not that day", at=world.now)
    assert held(*lots) == [1000, 900]
    again = uses(world, tmp_path, *list_)
    assert (again.adds["uses"], again.known["uses"], again.refused_rows) == (1, 1, 0)
    assert "1 use comes in again: it was taken back since." in again.remarks
    assert held(*lots) == [0, 500]
    assert BatchUse.objects.within(world.workshop).filter(batch=of).in_force().count() == 2
    assert BroughtRow.objects.within(world.workshop).count() == 2
    assert uses(world, tmp_path, *list_).adds_nothing
    assert differences() == []


def test_a_lot_that_was_not_in_order_ends_what_was_promised(world: World, batch: object, tmp_path: Path) -> None:  # noqa: F811
    foretold(world, batch, SOON)
    lot: Lot = world.lot("5000", standing="quarantine", supplier_lot="Q")
    day = f"{world.days_ago(20):%Y-%m-%d}"
    outcome = uses(world, tmp_path, (f"{batch.number}", f"{lot.material}", "", "Q", "100 g", day, "nothing else was here"))
    assert outcome.refused_rows == 0, outcome.refusals
    assert told(world) == [("ready_soon", "withdrawn")]
