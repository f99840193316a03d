"""What a batch really took decides its superfat, and whether its check is a condition."""

import random
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict
from curehouse.core.chemistry.alkali import NAOH_G_PER_MOL
from curehouse.curing.adapter import batch_at, batch_rows
from curehouse.flows.check import check
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.stock import record_value, reverse
from curehouse.flows.superfats import superfat_said_today
from curehouse.flows.take_out import take_out
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.formulas.reading import kept
from curehouse.making.models import Batch, BatchUse, FormulaVersion
from curehouse.making.services import BatchEntry, LiquidEntry, TakeOutEntry
from curehouse.making.services.formulas import judged, plan, write_formula
from curehouse.notices.models import Notice
from inventory.models import Lot, Material
from tests.formulas import READ, fat, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db

OLIVE_G, COCONUT_G = Decimal(700), Decimal(300)


def lot(world: World, material: Material, figure: tuple[str, str] | None, on_hand: str = "5000") -> Lot:
    row = world.lot(on_hand, material=material)
    if figure is not None:
        record_value(actor=world.actor, lot=row, name=figure[0], value=Decimal(figure[1]), unit="", at=world.now)
    return row


class House:
    """A house with a formula of 2 % whose low end by its first lots lies above 0, and what else it could take."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.lye = world.material("Sodium hydroxide", kind="lye")
        self.olive, self.coconut = world.material("Olive oil"), world.material("Coconut oil")
        self.weak = lot(world, self.lye, ("Purity", "97"))
        self.usual_olive = lot(world, self.olive, ("SAP", "190"))
        self.usual_coconut = lot(world, self.coconut, ("SAP", "256"))
        lines = (
            LineEntry(Role.FAT, material=self.olive, amount=OLIVE_G),
            LineEntry(Role.FAT, material=self.coconut, amount=COCONUT_G),
            liquid("water", "330"),
        )
        entry = formula_entry(lines=lines, liquid=Decimal(330), superfat=Decimal("0.02"), naoh_from=self.lye, confirmed=())
        self.version: FormulaVersion = write_formula(actor=world.actor, entry=entry, at=world.now)

    def pour(self, lye_g: str = "150.5", **changes: Any) -> Batch:
        entry = BatchEntry(
            formula_name="",
            version=self.version,
            poured_at=self.world.now - timedelta(days=30),
            cut_at=self.world.now - timedelta(days=29),
            bars=24,
            fats_g=OLIVE_G + COCONUT_G,
            lye_g=Decimal(lye_g),
            liquids=(LiquidEntry("water", Decimal(330)),),
            **changes,
        )
        return enter_batch(actor=self.world.actor, entry=entry, rack=RackEntry(), at=self.world.now)

    def book(self, batch: Batch, *lines: tuple[Lot, str]) -> list[BatchUse]:
        taken = [UseLine(row, Decimal(amount)) for row, amount in lines]
        return book_use(actor=self.world.actor, batch=batch, lines=taken, used_at=self.world.now, at=self.world.now)

    def back(self, use: BatchUse) -> None:
        reverse(actor=self.world.actor, movement=use.movement, reason="another lot", at=self.world.now)

    def now(self, batch: Batch) -> Batch:
        return Batch.objects.within(self.world.workshop).get(pk=batch.pk)

    def told(self) -> list[Notice]:
        return list(Notice.objects.within(self.world.workshop).filter(kind="caustic").order_by("pk"))

    def leave(self, batch: Batch) -> None:
        entry = TakeOutEntry(bars=2, purpose="sale", taken_at=self.world.now, forced_reason="a fair")
        take_out(actor=self.world.actor, batch=batch, entry=entry, at=self.world.now)


@pytest.fixture
def house(world: World) -> House:
    return House(world)


def superfat_of(olive: float, coconut: float, *lye: tuple[float, float]) -> float:
    """Return by hand what is left of the fats' lye: mg KOH per g, and grams of so much purity."""
    fats = (float(OLIVE_G) * olive + float(COCONUT_G) * coconut) / 1000 / 56.106
    return 1 - sum(mass_g * purity for mass_g, purity in lye) / NAOH_G_PER_MOL / fats


def test_a_batch_keeps_the_superfat_it_was_poured_with(house: House) -> None:
    batch = house.now(house.pour())
    assert float(batch.superfat_middle) == pytest.approx(superfat_of(190, 256, (150.5, 0.97)), abs=1e-4)
    assert 0 < batch.superfat_low < batch.superfat_middle < batch.superfat_high
    assert (batch.needs_check, batch.check_by_formula, batch.superfat_by_lots) == (False, False, False)


def test_booking_the_lots_it_was_reckoned_with_changes_no_figure(house: House) -> None:
    batch = house.now(house.pour())
    house.book(batch, (house.weak, "150.5"), (house.usual_olive, "700"), (house.usual_coconut, "300"))
    after = house.now(batch)
    assert (after.superfat_low, after.superfat_middle, after.superfat_high) == (
        batch.superfat_low, batch.superfat_middle, batch.superfat_high,
    )  # fmt: skip
    assert (after.superfat_by_lots, after.needs_check, house.told()) == (True, False, [])


def test_a_purer_lye_lot_than_reckoned_makes_the_check_a_condition_and_is_told(house: House) -> None:
    batch, pure = house.pour(), lot(house.world, house.lye, ("Purity", "99.5"))
    (use,) = house.book(batch, (pure, "150.5"))
    after = house.now(batch)
    assert float(after.superfat_middle) == pytest.approx(superfat_of(190, 256, (150.5, 0.995)), abs=1e-4)
    assert after.superfat_low < 0
    assert (after.needs_check, after.check_by_formula) == (True, False)
    (notice,) = house.told()
    assert notice.state == "open"
    assert "by the lots it took" in notice.body
    assert "−" in notice.body
    with pytest.raises(Conflict, match="may be caustic by the lots it took") as refused:
        house.leave(batch)
    assert refused.value.code == "check_needed"
    # Taken back, it is as it was reckoned.
    house.back(use)
    after = house.now(batch)
    assert (after.needs_check, after.superfat_by_lots) == (False, False)
    assert after.superfat_low > 0
    assert house.told()[0].state != "open"
    house.leave(batch)


def test_a_check_that_passed_lets_the_bars_go_and_ends_what_was_told(house: House) -> None:
    batch, pure = house.pour(), lot(house.world, house.lye, ("Purity", "99.5"))
    house.book(batch, (pure, "150.5"))
    house.world.workshop.check_limit = "no colour"
    house.world.workshop.save()
    check(
        actor=house.world.actor, batch=batch, method="drops", value="none", passed=True, note="",
        checked_at=house.world.now, at=house.world.now,
    )  # fmt: skip
    assert [notice.state for notice in house.told()] != ["open"]
    house.leave(batch)


def test_two_lots_count_with_what_was_taken_of_each(house: House) -> None:
    batch, pure = house.pour(), lot(house.world, house.lye, ("Purity", "99.5"))
    house.book(batch, (house.weak, "100"), (pure, "50.5"))
    wanted = superfat_of(190, 256, (100, 0.97), (50.5, 0.995))
    assert float(house.now(batch).superfat_middle) == pytest.approx(wanted, abs=1e-4)


def test_a_fat_lot_that_takes_less_lye_counts_too(house: House) -> None:
    batch, light = house.pour(), lot(house.world, house.olive, ("SAP", "185"))
    house.book(batch, (light, "700"))
    after = house.now(batch)
    assert float(after.superfat_middle) == pytest.approx(superfat_of(185, 256, (150.5, 0.97)), abs=1e-4)
    assert after.needs_check


def test_a_lot_without_a_certificate_counts_as_it_is_dangerous(house: House) -> None:
    batch, open_lye = house.pour(), lot(house.world, house.lye, None)
    house.book(batch, (open_lye, "150.5"))
    after = house.now(batch)
    assert float(after.superfat_middle) == pytest.approx(superfat_of(190, 256, (150.5, 1.0)), abs=1e-4)
    assert after.needs_check
    # Its certificate comes in later, and says that it is weak.
    record_value(
        actor=house.world.actor, lot=open_lye, name="Purity", value=Decimal("96.5"), unit="%", at=house.world.now
    )  # fmt: skip
    after = house.now(batch)
    assert float(after.superfat_middle) == pytest.approx(superfat_of(190, 256, (150.5, 0.965)), abs=1e-4)
    assert not after.needs_check


def test_a_fat_nobody_knows_makes_it_unknown_and_the_check_a_condition(house: House) -> None:
    batch = house.pour()
    bucket = lot(house.world, house.world.material("Bucket from the fair"), None)
    house.book(batch, (bucket, "700"))
    after = house.now(batch)
    assert (after.superfat_middle, after.needs_check) == (None, True)
    assert "is not known" in house.told()[0].body


def test_another_fat_in_place_of_the_one_planned(house: House) -> None:
    batch, shea = house.pour(), lot(house.world, house.world.material("Shea butter"), ("SAP", "180"))
    house.book(batch, (shea, "700"), (house.usual_coconut, "300"))
    assert float(house.now(batch).superfat_middle) == pytest.approx(superfat_of(180, 256, (150.5, 0.97)), abs=1e-4)


def test_more_lye_booked_than_weighed_counts(house: House) -> None:
    batch = house.pour()
    house.book(batch, (house.weak, "158"))
    assert house.now(batch).needs_check


def test_packaging_and_milk_say_nothing_of_the_lye(house: House) -> None:
    batch = house.now(house.pour())
    boxes = house.world.lot("50", material=house.world.material("Box", kind="packaging"))
    house.book(batch, (boxes, "24"))
    after = house.now(batch)
    assert (after.superfat_by_lots, after.superfat_low) == (False, batch.superfat_low)


def test_a_batch_that_needs_the_check_by_its_formula_keeps_it_whatever_its_lots_say(world: World, house: House) -> None:
    # So much lye that the low end lies below 0 as reckoned: it is asked about, and confirmed.
    with pytest.raises(Conflict, match="may be as low as −0.2"):
        house.pour("152.8")
    batch = house.now(house.pour("152.8", lye_confirmed=True))
    assert (batch.needs_check, batch.check_by_formula) == (True, True)
    weaker = lot(world, house.lye, ("Purity", "95"))
    house.book(batch, (weaker, "152.8"))
    after = house.now(batch)
    assert after.superfat_low > 0
    assert after.needs_check
    assert not house.told()


def test_a_batch_from_before_figures_were_kept_is_reckoned_now(house: House) -> None:
    batch = house.pour()
    Batch.objects.within(house.world.workshop).filter(pk=batch.pk).update(reckoned=None, superfat_low=None)
    pure = lot(house.world, house.lye, ("Purity", "99.5"))
    house.book(batch, (pure, "150.5"))
    assert house.now(batch).needs_check


def test_a_batch_entered_by_hand_has_none(world: World) -> None:
    batch, lye = world.batch(), world.material("Sodium hydroxide", kind="lye")
    row = lot(world, lye, ("Purity", "99.5"))
    book_use(actor=world.actor, batch=batch, lines=[UseLine(row, Decimal(10))], used_at=world.now, at=world.now)
    after = Batch.objects.within(world.workshop).get(pk=batch.pk)
    assert (after.superfat_middle, after.needs_check) == (None, False)


def test_bars_that_left_already_are_named(house: House) -> None:
    batch, pure = house.pour(), lot(house.world, house.lye, ("Purity", "99.5"))
    house.leave(batch)
    house.book(batch, (pure, "150.5"))
    assert "2 of its bars left the cure already" in house.told()[0].body


@pytest.mark.parametrize("seed", range(3))
def test_in_whatever_order_uses_are_booked_and_taken_back_the_figure_is_that_of_what_stands(house: House, seed: int) -> None:
    chance = random.Random(seed)
    batch, pure = house.pour(), lot(house.world, house.lye, ("Purity", "99.5"))
    light = lot(house.world, house.olive, ("SAP", "186"))
    lines = [(pure, "60"), (house.weak, "90.5"), (light, "300"), (house.usual_olive, "400")]
    uses = []
    for line in chance.sample(lines, len(lines)):
        uses += house.book(batch, line)
    fats = (300 * 186 + 400 * 190 + 300 * 256) / 1000 / 56.106
    wanted = 1 - (60 * 0.995 + 90.5 * 0.97) / NAOH_G_PER_MOL / fats
    assert float(house.now(batch).superfat_middle) == pytest.approx(wanted, abs=1e-4)
    for use in chance.sample(uses, len(uses)):
        house.back(use)
    assert float(house.now(batch).superfat_middle) == pytest.approx(superfat_of(190, 256, (150.5, 0.97)), abs=1e-4)


def test_a_check_that_passed_before_the_lots_were_known_is_named(house: House) -> None:
    batch, pure = house.pour(), lot(house.world, house.lye, ("Purity", "99.5"))
    house.world.workshop.check_limit = "no colour"
    house.world.workshop.save()
    check(
        actor=house.world.actor, batch=batch, method="drops", value="none", passed=True, note="",
        checked_at=house.world.now, at=house.world.now,
    )  # fmt: skip
    house.book(batch, (pure, "150.5"))
    assert "was passed before this was known: check it once more" in house.told()[0].body


def mixed(world: World, koh_figure: str | None, **changes: Any) -> tuple[FormulaVersion, Material, Lot]:
    """Return a formula with a tenth of its lye of KOH, that material, and a lot of it."""
    koh = world.material("Potassium hydroxide", kind="lye")
    row = lot(world, koh, None if koh_figure is None else ("Purity", koh_figure))
    lines = (fat("olive", "700", saponification=Decimal(190)), fat("coconut", "300", saponification=Decimal(256)))
    entry = formula_entry(
        **{"name": "Mixed", "naoh_share": Decimal("0.9"), "koh_from": koh, **changes},
        lines=(*lines, liquid("water", "330")), liquid=Decimal(330), superfat=Decimal("0.05"),
        naoh_purity=Decimal("0.98"), confirmed=READ,
    )  # fmt: skip
    return write_formula(actor=world.actor, entry=entry, at=world.now), koh, row


def test_potassium_hydroxide_counts_with_its_own_lot(world: World, house: House) -> None:
    house.version, koh, _weak = mixed(world, "88")
    figures = judged(plan(workshop=world.workshop, entry=kept(house.version).entry, at=world.now)).figures
    assert figures is not None
    naoh_g, koh_g = (amount.weigh_g for amount in figures.lye)
    batch = house.now(house.pour(f"{naoh_g + koh_g:.1f}"))
    assert float(batch.superfat_middle) == pytest.approx(0.05, abs=0.001)
    strong = lot(world, koh, ("Purity", "95"))
    house.book(batch, (strong, f"{koh_g:.1f}"))
    by_hand = 1 - (naoh_g * 0.98 / NAOH_G_PER_MOL + koh_g * 0.95 / 56.106) / ((700 * 190 + 300 * 256) / 1000 / 56.106)
    assert float(house.now(batch).superfat_middle) == pytest.approx(by_hand, abs=2e-4)


def test_a_typed_purity_of_potassium_hydroxide_counts_until_its_lot_says_its_own(world: World, house: House) -> None:
    house.version, koh, open_lot = mixed(world, None, koh_purity=Decimal("0.90"), koh_from=None)
    batch = house.now(house.pour("145"))
    assert batch.superfat_middle is not None
    # Typed into the formula, its purity counts also for a lot that says none.
    house.book(batch, (open_lot, "10"))
    assert house.now(batch).superfat_middle is not None
    record_value(actor=world.actor, lot=open_lot, name="Assay", value=Decimal(85), unit="%", at=world.now)
    assert house.now(batch).superfat_middle > batch.superfat_middle


def test_a_purity_typed_into_the_formula_counts_for_a_lot_that_says_none_and_not_for_one_that_does(
    world: World, house: House
) -> None:
    house.version, *_ = mixed(world, "90", koh_from=None, naoh_share=Decimal(1))
    batch, open_lye = house.now(house.pour("147")), lot(world, house.lye, None)
    (use,) = house.book(batch, (open_lye, "147"))
    assert house.now(batch).superfat_middle == batch.superfat_middle
    house.back(use)
    house.book(batch, (lot(world, house.lye, ("Purity", "99.5")), "147"))
    assert house.now(batch).superfat_middle < batch.superfat_middle


def test_the_cure_knows_how_soft_it_may_stay(house: House) -> None:
    batch = house.now(house.pour(lye_g="140", lye_confirmed=True))
    seen = batch_at(batch_rows(batch), house.world.workshop, moment=house.world.now).superfat
    # By hand: 1 - 140 x 0.97 / (39.997 x (700 x 190 + 300 x 256) / 56106) = 9.2 %; water brings no fat.
    assert seen is not None
    assert seen.middle_pct == pytest.approx(9.2, abs=0.05)
    assert seen.low_pct is not None and seen.high_pct is not None
    assert seen.low_pct < seen.middle_pct < seen.high_pct
    assert not seen.may_be_caustic
    house.book(batch, (lot(house.world, house.lye, ("Purity", "99.5")), "140"))
    booked = batch_at(batch_rows(house.now(batch)), house.world.workshop, moment=house.world.now).superfat
    assert booked is not None and booked.middle_pct < seen.middle_pct


def test_a_fat_that_went_in_as_an_additive_counts_as_no_fat(world: World) -> None:
    house = House(world)
    wax = world.material("Candelilla")
    lines = (
        LineEntry(Role.FAT, material=house.olive, amount=OLIVE_G),
        LineEntry(Role.FAT, material=house.coconut, amount=COCONUT_G),
        LineEntry(Role.ADDITIVE, material=wax, amount=Decimal(30)),
        liquid("water", "330"),
    )
    entry = formula_entry(
        name="Waxed", lines=lines, liquid=Decimal(330), superfat=Decimal("0.02"), naoh_from=house.lye, confirmed=READ
    )
    house.version = write_formula(actor=world.actor, entry=entry, at=world.now)
    batch = house.now(house.pour())
    house.book(batch, (lot(world, wax, None), "30"), (house.usual_olive, "700"))
    after = house.now(batch)
    assert (after.superfat_middle, after.needs_check) == (batch.superfat_middle, batch.needs_check)
    assert (after.superfat_middle is None, superfat_said_today(after)) == (False, "")
    # Nor does what the formula does not name at all go unnoticed.
    house.book(batch, (lot(world, world.material("Badger fat"), None), "30"))
    assert house.now(batch).superfat_middle is None
