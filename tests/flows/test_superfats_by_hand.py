"""A batch that was entered by hand has a superfat once it is booked which fats went in."""

from decimal import Decimal
from typing import Any

import pytest

from curehouse.flows.stock import reverse
from curehouse.flows.superfats import superfat_said
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch, BatchUse
from curehouse.making.services import LiquidEntry
from curehouse.notices.models import Notice
from inventory.models import Lot
from tests.flows.test_superfats import lot
from tests.world import World

pytestmark = pytest.mark.django_db


class ByHand:
    """A batch entered without a formula, and what it may have taken."""

    def __init__(self, world: World, **changes: Any) -> None:
        self.world = world
        self.olive = lot(world, world.material("Olive oil"), ("SAP", "190"))
        self.coconut = lot(world, world.material("Coconut oil"), ("SAP", "256"))
        self.lye = lot(world, world.material("Sodium hydroxide", kind="lye"), ("Purity", "99"))
        liquids = (LiquidEntry("water", Decimal(150)), LiquidEntry("goat_milk", Decimal(170), place="trace"))
        entry = {"fats_g": Decimal(1000), "lye_g": Decimal("140"), "liquids": liquids, "sample_bars": 1, **changes}
        self.batch = world.batch(**entry)

    def book(self, *lines: tuple[Lot, str]) -> Batch:
        taken = [UseLine(row, Decimal(amount)) for row, amount in lines]
        book_use(actor=self.world.actor, batch=self.batch, lines=taken, used_at=self.world.now, at=self.world.now)
        return self.now()

    def now(self) -> Batch:
        return Batch.objects.within(self.world.workshop).get(pk=self.batch.pk)


def test_a_batch_entered_by_hand_has_its_superfat_once_all_its_fats_are_booked(world: World) -> None:
    house = ByHand(world)
    assert house.book((house.olive, "700")).superfat_middle is None
    known = house.book((house.coconut, "300"))
    # By hand: 700 x 190 + 300 x 256 = 209,800 mg KOH, 149.56 g of NaOH; 140 g of it that counts as pure.
    assert known.superfat_middle == Decimal("0.0639")
    # 170 g of goat's milk with 4.14 % of fat at 235 mg KOH per g: 1.179 g of NaOH more.
    assert known.superfat_effective == Decimal("0.0712")
    assert known.superfat_effective_low < known.superfat_effective < known.superfat_effective_high
    assert (known.superfat_by_lots, known.needs_check) == (True, False)
    assert superfat_said(known).endswith("by the lots it took.")
    # The bag that it took says how pure it is.
    assert house.book((house.lye, "140")).superfat_middle == Decimal("0.0732")


def test_without_a_lot_s_certificate_the_list_s_range_counts(world: World) -> None:
    house = ByHand(world)
    plain = lot(world, world.material("Castor oil"), None)
    known = house.book((house.olive, "700"), (plain, "300"))
    assert known.superfat_high - known.superfat_low > Decimal("0.02")


def test_what_makes_a_batch_by_hand_caustic_makes_its_check_a_condition_until_it_is_taken_back(world: World) -> None:
    house = ByHand(world, lye_g=Decimal("152"))
    assert house.book((house.olive, "700"), (house.coconut, "300")).needs_check
    (told,) = Notice.objects.within(world.workshop).filter(kind="caustic")
    assert "by the lots it took" in told.body
    use = BatchUse.objects.within(world.workshop).select_related("movement").first()
    reverse(actor=world.actor, movement=use.movement, reason="another batch", at=world.now)
    after = house.now()
    assert (after.needs_check, after.superfat_middle, after.superfat_effective, after.superfat_by_lots) == (
        False, None, None, False,
    )  # fmt: skip


def test_potassium_hydroxide_without_a_certificate_leaves_it_open(world: World) -> None:
    house = ByHand(world, lye_g=Decimal("209"), koh_g=Decimal("209"))
    assert house.book((house.olive, "700"), (house.coconut, "300")).superfat_middle is None
    koh = lot(world, world.material("Potassium hydroxide", kind="lye"), ("Purity", "90"))
    # 209,800 mg KOH: 209.8 g of it; 209 g of 90 %.
    assert house.book((koh, "209")).superfat_middle == Decimal("0.1034")


def test_a_fat_that_nobody_knows_leaves_it_open(world: World) -> None:
    house = ByHand(world)
    tallow = lot(world, world.material("Badger fat"), None)
    assert house.book((house.olive, "700"), (tallow, "300")).superfat_middle is None
