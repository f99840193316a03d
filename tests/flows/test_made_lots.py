"""What is ruled, corrected or taken back of a lot, and the lots that were made with it."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.flows.blends import make_blend
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.stock import correct_lot, receive_more, reverse, rule_lot
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.models import Batch, BatchHold, Reservation
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run
from inventory.models import Lot, LotCorrection, LotRuling, Material
from inventory.services.blends import MakingEntry, TakeEntry
from inventory.services.lots import LotPapers
from tests.flows.test_blends import Bench, poured
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


class Mixed(Bench):
    """A mix of lavender and cedar, and a mix of that mix and cedar, with a lot of each."""

    def __init__(self, world: World) -> None:
        super().__init__(world)
        self.top_mix = world.material("Top mix", kind="fragrance")
        self.recipe(self.top_mix, (1, self.mix), (1, self.cedar))

    def mixed(self, *, lavender: Lot, cedar: Lot, days_ago: int = 0, reason: str = "", best_before: int | None = None) -> Lot:
        takes = [TakeEntry(Decimal(30), lavender, reason=reason), TakeEntry(Decimal(10), cedar)]
        moment = self.world.now - timedelta(days=days_ago)
        day = None if best_before is None else self.day(best_before)
        entry = MakingEntry(Decimal(40), takes, moment, standing="released", best_before=day)
        return make_blend(actor=self.world.actor, material=self.mix, entry=entry, at=self.world.now).lot

    def topped(self, mix: Lot, cedar: Lot) -> Lot:
        return self.make(self.top_mix, "20", (mix, "10"), (cedar, "10")).lot

    def lot(self, material: Material, *, days: int | None = None) -> Lot:
        return self.world.lot("400", material=material, best_before=None if days is None else self.day(days))

    def day(self, days: int):
        return (self.world.now + timedelta(days=days)).date()

    def now(self, lot: Lot) -> Lot:
        return Lot.objects.within(self.world.workshop).get(pk=lot.pk)

    def rule(self, lot: Lot, standing: str, why: str) -> None:
        rule_lot(actor=self.world.actor, lot=lot, standing=standing, why=why, at=self.world.now)

    def correct(self, lot: Lot, days: int) -> None:
        papers = LotPapers("", self.day(days), None)
        correct_lot(actor=self.world.actor, lot=lot, papers=papers, why="misread", at=self.world.now)

    def holds(self, batch: Batch) -> list[str]:
        return list(BatchHold.objects.within(self.world.workshop).filter(batch=batch).values_list("cause", flat=True))

    def rulings(self, lot: Lot) -> list[str]:
        return list(LotRuling.objects.within(self.world.workshop).filter(lot=lot).order_by("pk").values_list("why", flat=True))


@pytest.fixture
def bench(world: World) -> Mixed:
    return Mixed(world)


@pytest.mark.parametrize("standing", ["rejected", "quarantine"])
def test_what_was_made_with_a_lot_waits_in_quarantine_with_it(bench: Mixed, standing: str) -> None:
    lavender, cedar = bench.lot(bench.lavender), bench.lot(bench.cedar)
    mix = bench.mixed(lavender=lavender, cedar=cedar)
    top, other = bench.topped(mix, cedar), bench.mixed(lavender=bench.lot(bench.lavender), cedar=cedar)
    batch = poured(bench, (top, "5"))
    bench.rule(lavender, standing, "mislabelled")
    became = {"rejected": "was rejected", "quarantine": "is in quarantine"}[standing]
    for made in (mix, top):
        assert bench.now(made).standing == "quarantine"
        assert bench.rulings(made)[-1] == f"made with {lavender}, which {became}: mislabelled"
    assert bench.now(other).standing == "released"
    assert len(bench.holds(batch)) == (1 if standing == "rejected" else 0)
    late = bench.world.batch()
    with pytest.raises(Invalid):
        book_use(
            actor=bench.world.actor, batch=late, used_at=bench.world.now, at=bench.world.now, lines=[UseLine(top, Decimal(5))]
        )
    # A lot that is in order again says nothing of what was made with it: a person looks at that.
    bench.rule(lavender, "released", "labelled anew")
    assert bench.now(mix).standing == "quarantine"


def test_what_is_in_quarantine_already_is_not_ruled_again(bench: Mixed) -> None:
    lavender, cedar = bench.lot(bench.lavender), bench.lot(bench.cedar)
    mix = bench.mixed(lavender=lavender, cedar=cedar)
    bench.rule(mix, "rejected", "cloudy")
    before = len(bench.rulings(mix))
    bench.rule(lavender, "rejected", "mislabelled")
    assert (bench.now(mix).standing, len(bench.rulings(mix))) == ("rejected", before)


def test_a_best_before_that_is_earlier_after_all_is_that_of_what_was_made(bench: Mixed) -> None:
    lavender, cedar = bench.lot(bench.lavender, days=90), bench.lot(bench.cedar, days=200)
    mix = bench.mixed(lavender=lavender, cedar=cedar)
    top = bench.topped(mix, cedar)
    bench.correct(lavender, 40)
    for made in (mix, top):
        assert (bench.now(made).best_before, bench.now(made).standing) == (bench.day(40), "released")
        (row,) = LotCorrection.objects.within(bench.world.workshop).filter(lot=made)
        assert (row.before, row.after) == (f"{bench.day(90)}", f"{bench.day(40)}")
        assert f"{lavender}" in row.why
    bench.correct(lavender, 120)
    assert bench.now(mix).best_before == bench.day(40), "nothing keeps longer by itself"


def test_a_best_before_that_a_person_wrote_is_left_to_a_person(bench: Mixed) -> None:
    lavender, cedar = bench.lot(bench.lavender, days=90), bench.lot(bench.cedar)
    mix = bench.mixed(lavender=lavender, cedar=cedar, best_before=60)
    top = bench.topped(mix, cedar)
    bench.correct(lavender, 70)
    assert (bench.now(mix).best_before, bench.now(mix).standing) == (bench.day(60), "released")
    bench.correct(lavender, 40)
    assert (bench.now(mix).best_before, bench.now(mix).standing) == (bench.day(60), "quarantine")
    assert f"made with {lavender}, best before {bench.day(40)}" in bench.rulings(mix)[-1]
    assert bench.now(top).standing == "quarantine", "with what it was made with"


def test_a_batch_is_held_that_took_what_is_over_by_the_day_brought_forward(bench: Mixed) -> None:
    lavender, cedar = bench.lot(bench.lavender, days=90), bench.lot(bench.cedar)
    batch = poured(bench, (bench.mixed(lavender=lavender, cedar=cedar, days_ago=6), "5"))
    bench.correct(lavender, -3)
    (cause,) = bench.holds(batch)
    assert "Meadow mix" in cause, "lavender was in order when the mix was made, and the mix over when it was poured"


@pytest.mark.parametrize("is_made_again", [False, True])
def test_a_later_making_hides_no_earlier_one(bench: Mixed, is_made_again: bool) -> None:
    lavender, cedar = bench.lot(bench.lavender, days=-3), bench.lot(bench.cedar)
    first = bench.mixed(lavender=lavender, cedar=cedar, days_ago=6)
    world = bench.world
    batch = world.batch()
    used_at = world.now - timedelta(days=5)
    book_use(actor=world.actor, batch=batch, used_at=used_at, at=world.now, lines=[UseLine(first, Decimal(5))])
    before = bench.holds(batch)
    if is_made_again:
        bench.mixed(lavender=lavender, cedar=cedar, reason="smells well")
    bench.correct(lavender, -10)
    assert [cause for cause in bench.holds(batch) if cause not in before] == [
        f"{lavender} was past its best-before, {bench.day(-10)}, when it went in"
    ]


def test_no_more_of_it_comes_in_than_was_made(bench: Mixed) -> None:
    made = bench.mixed(lavender=bench.lot(bench.lavender), cedar=bench.lot(bench.cedar))
    with pytest.raises(Conflict) as refusal:
        receive_more(actor=bench.world.actor, lot=made, amount=Decimal(9), moment=bench.world.now, at=bench.world.now)
    assert refusal.value.code == "made_here"
    assert bench.now(made).on_hand == 40


def test_what_did_not_go_in_after_all_puts_it_in_quarantine_and_what_was_made_with_it(bench: Mixed) -> None:
    lavender, cedar = bench.lot(bench.lavender), bench.lot(bench.cedar)
    mix = bench.mixed(lavender=lavender, cedar=cedar)
    top, batch = bench.topped(mix, cedar), poured(bench, (mix, "5"))
    use = batch.uses.get().movement
    reverse(actor=bench.world.actor, movement=use, reason="another soap", at=bench.world.now)
    assert bench.now(mix).standing == "released"
    took = mix.made_by.takes.get(name="Lavender oil").movement
    reverse(actor=bench.world.actor, movement=took, reason="it was rosemary", at=bench.world.now)
    for made in (mix, top):
        assert bench.now(made).standing == "quarantine"
        assert bench.rulings(made)[-1] == f"what it took of {lavender} was taken back: it was rosemary"


def test_what_went_in_is_said_once_of_each_lot_and_in_its_own_field(bench: Mixed) -> None:
    world, lavender, cedar = bench.world, bench.lot(bench.lavender), bench.lot(bench.cedar)
    spirit = world.material("Spirit mix", kind="fragrance")
    bench.recipe(spirit, (1, bench.lavender), (1, "spirit"))
    takes = [TakeEntry(Decimal(30), lavender), TakeEntry(Decimal(10), cedar)]

    def refused(material: Material, entry: MakingEntry) -> tuple[str, str | None]:
        with pytest.raises(Invalid) as refusal:
            make_blend(actor=world.actor, material=material, entry=entry, at=world.now)
        return refusal.value.code, refusal.value.field

    def entry(takes: list[TakeEntry], days: int = 0, standing: str = "released") -> MakingEntry:
        return MakingEntry(Decimal(40), takes, world.now + timedelta(days=days), standing=standing)

    assert refused(bench.mix, entry([*takes, TakeEntry(Decimal(1), lavender)])) == ("lot_twice", "takes")
    assert refused(bench.mix, entry([*takes, *[TakeEntry(Decimal(1), cedar)] * 39])) == ("too_many", "takes")
    assert refused(bench.mix, entry(takes, standing="rejected")) == ("standing", "standing")
    assert refused(bench.mix, entry(takes, days=1)) == ("future", "made_at")
    assert refused(bench.mix, entry(takes, days=-4000)) == ("before_receipt", "made_at")
    much = [takes[0], TakeEntry(Decimal("99999999999"), name="spirit")]
    assert refused(spirit, entry(much)) == ("too_large", "takes")
    assert bench.now(lavender).on_hand == 400


def test_a_recipe_written_meanwhile_is_not_the_one_it_was_made_by(bench: Mixed) -> None:
    lavender, cedar = bench.lot(bench.lavender), bench.lot(bench.cedar)
    before = bench.mix.blends.get().pk
    bench.recipe(bench.mix, (1, bench.lavender), (1, bench.cedar))
    takes = [TakeEntry(Decimal(30), lavender), TakeEntry(Decimal(10), cedar)]
    entry = MakingEntry(Decimal(40), takes, bench.world.now, standing="released", recipe=before)
    with pytest.raises(Conflict) as refusal:
        make_blend(actor=bench.world.actor, material=bench.mix, entry=entry, at=bench.world.now)
    assert refusal.value.code == "written_meanwhile"


def test_a_part_that_a_run_takes_by_itself_settles_no_mix(bench: Mixed) -> None:
    world = bench.world
    world.lot("1000", material=bench.lye)
    lavender, cedar = bench.lot(bench.lavender), bench.lot(bench.cedar)
    mix = bench.mixed(lavender=lavender, cedar=cedar)
    added = [
        LineEntry(Role.FRAGRANCE, material=row, amount=Decimal(grams)) for row, grams in ((bench.mix, 20), (bench.lavender, 5))
    ]
    lines = (fat("olive", "1000", material=bench.olive), *LIQUIDS, *added)
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines, naoh_from=bench.lye), at=world.now)
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=world.now.date(), at=world.now)
    entry = BatchEntry(
        formula_name="", version=version, poured_at=world.now, cut_at=None, bars=10, fats_g=Decimal(1000),
        lye_g=Decimal("127.3"), liquids=(LiquidEntry("water", Decimal(320)),),
    )  # fmt: skip
    batch = enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=run, at=world.now)

    def promised() -> set[str]:
        rows = Reservation.objects.within(world.workshop).standing().select_related("material")
        return {row.material.name for row in rows} & {"Meadow mix", "Lavender oil"}

    def book(lot: Lot) -> None:
        book_use(actor=world.actor, batch=batch, used_at=world.now, at=world.now, lines=[UseLine(lot, Decimal(5))])

    assert promised() == {"Meadow mix", "Lavender oil"}
    book(lavender)
    assert promised() == {"Meadow mix"}
    book(cedar)
    assert promised() == set(), "its other part was booked: the mix was made up from its parts"
    assert bench.now(mix).on_hand == 40
