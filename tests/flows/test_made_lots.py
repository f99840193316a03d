"""What is ruled, corrected or taken back of a lot, and the lots that were made with it."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Invalid
from curehouse.flows.blends import make_blend
from curehouse.flows.stock import correct_lot, rule_lot
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch, BatchHold
from inventory.models import Lot, LotCorrection, LotRuling, Material
from inventory.services.blends import MakingEntry, TakeEntry
from inventory.services.lots import LotPapers
from tests.flows.test_blends import Bench, poured
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
