"""Past uses that name no lot take what the lots hold still, and invent no stock."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from curehouse.making.models import BatchUse
from inventory.balance import differences
from inventory.models import Count, Lot, Movement
from tests.flows.bring_in.test_bring_stock import _folder, uses
from tests.world import World

pytestmark = pytest.mark.django_db
__all__ = ["_folder"]

A, B = date(2025, 11, 1), date(2025, 12, 1)


def two_lots(world: World) -> tuple[Lot, Lot]:
    oil = world.material("Olive oil")
    first = world.lot("1000", material=oil, received_on=A, best_before=date(2026, 9, 1), supplier_lot="A")
    return first, world.lot("1000", material=oil, received_on=B, best_before=date(2026, 10, 1), supplier_lot="B")


def held(*lots: Lot) -> list[Decimal]:
    return [Lot.unscoped.get(pk=lot.pk).on_hand for lot in lots]


def row(amount: str, day: str, *, lot: str = "", batch: str = "") -> tuple[str, ...]:
    return (batch, "Olive oil", "", lot, amount, day, "")


def test_what_one_lot_does_not_hold_is_of_the_next(world: World, tmp_path: Path) -> None:
    lots, batch = two_lots(world), world.batch()
    # In the file the later one comes first; what happened first takes first.
    outcome = uses(world, tmp_path, row("700 g", "2026-02-02", batch=f"{batch.number}"), row("700 g", "2026-02-01"))
    assert (outcome.refused_rows, outcome.adds["uses"], outcome.remarks) == (0, 2, ()), outcome
    assert held(*lots) == [Decimal(0), Decimal(600)]
    assert not Count.objects.within(world.workshop).exists()
    booked = BatchUse.objects.within(world.workshop).filter(batch=batch).order_by("movement__lot")
    assert [-use.movement.amount for use in booked] == [Decimal(300), Decimal(400)]
    assert uses(world, tmp_path, row("700 g", "2026-02-02", batch=f"{batch.number}")).adds_nothing
    assert differences() == []


def test_what_names_its_lot_takes_before_what_names_none(world: World, tmp_path: Path) -> None:
    lots = two_lots(world)
    outcome = uses(world, tmp_path, row("700 g", "2026-02-01"), row("700 g", "2026-02-02", lot="A"))
    assert (outcome.refused_rows, outcome.remarks) == (0, ()), outcome
    assert held(*lots) == [Decimal(0), Decimal(600)]


def test_what_no_lot_held_counts_as_found_and_is_said_before(world: World, tmp_path: Path) -> None:
    lots = two_lots(world)
    outcome = uses(world, tmp_path, row("1.5 kg", "2026-02-01"), row("900 g", "2026-02-02"))
    (said,) = outcome.remarks
    assert "More was used than the lots held, and counts as found: 400 g of Olive oil." in said
    assert held(*lots) == [Decimal(0), Decimal(0)]
    assert Count.objects.within(world.workshop).get().movement.amount == Decimal(400)
    assert sum(Movement.objects.within(world.workshop).filter(kind="use").values_list("amount", flat=True)) == Decimal(-2400)
