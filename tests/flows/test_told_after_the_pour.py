"""A pour that is told days later: by the lots of its own day, and kept where they are used up by now."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.models import Batch, FormulaVersion
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.making.services.formulas import write_formula
from inventory.models import Lot
from inventory.services.lots import record_value
from tests.formulas import READ, formula_entry, liquid
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


def of_badger_fat(world: World, *, best_before: date) -> tuple[FormulaVersion, Lot]:
    """Return a formula of a fat that no list has, written while its lot was in order, and the lot."""
    fat = world.material("Badger fat")
    lot = world.lot("1000", material=fat, best_before=best_before)
    record_value(actor=world.actor, lot=lot, name="SAP", value=Decimal(200), unit="", at=world.days_ago(9))
    lines = (LineEntry(Role.FAT, material=fat, amount=Decimal(1000)), liquid("water", "330"))
    entry = formula_entry(lines=lines, liquid=Decimal(330), confirmed=READ)
    return write_formula(actor=world.actor, entry=entry, at=world.days_ago(9)), lot


def pour(world: World, version: FormulaVersion, lye_g: str = "133", **more: Any) -> Batch:
    entry = BatchEntry(
        formula_name="", version=version, poured_at=world.days_ago(3), cut_at=None, bars=0, fats_g=Decimal(1000),
        lye_g=Decimal(lye_g), liquids=(LiquidEntry("water", Decimal(330)),), **more,
    )  # fmt: skip
    return enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), at=world.now)


def test_a_pour_is_worked_out_by_the_lots_that_were_in_order_on_its_day(world: World) -> None:
    version, _lot = of_badger_fat(world, best_before=(world.now - timedelta(days=2)).date())
    batch = pour(world, version)
    # 1000 g x 200 mg KOH: 142.6 g of NaOH; 133 g of it that counts as pure.
    assert batch.superfat_middle == Decimal("0.0671")


def test_a_pour_whose_lot_is_used_up_by_now_is_kept_and_needs_its_check(world: World) -> None:
    version, lot = of_badger_fat(world, best_before=(world.now - timedelta(days=5)).date())
    assert "How much lye Badger fat takes is not known" in Visitor(world).words("batch_new", query=f"?version={version.pk}")
    with pytest.raises(Conflict, match="check both weights"):
        pour(world, version, "1.33")
    batch = pour(world, version)
    assert (batch.needs_check, batch.check_by_formula, batch.superfat_middle) == (True, True, None)
    taken = [UseLine(lot, Decimal(1000), reason="it smelled right")]
    book_use(actor=world.actor, batch=batch, lines=taken, used_at=world.days_ago(3), at=world.now)
    batch.refresh_from_db()
    # By the lot that was booked it is known after all; its check stays a condition.
    assert (batch.needs_check, batch.superfat_middle) == (True, Decimal("0.0671"))
