"""Water that dries out of lye that was dissolved beforehand: what is left is stronger, and every figure allows for that."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.bounds import Bounds
from curehouse.flows.stock import count, reverse, take_back_count, write_off
from curehouse.making.formulas.solutions import dissolved_of
from curehouse.making.models import Batch
from inventory.models import Lot, Movement
from inventory.services.movements import Counted
from tests.flows.test_lye_in_water import Dissolving, refused
from tests.world import World

pytestmark = pytest.mark.django_db

# Of the certificate of the dry lye, as much of it as water.
WEIGHED = 0.985 / 2


class Drying(Dissolving):
    """A lot of a solution that is counted, written off and titrated, each a while after the other."""

    def later(self) -> None:
        self.world.now += timedelta(minutes=5)

    def counted(self, lot: Lot, grams: str) -> Counted:
        self.later()
        return count(
            actor=self.world.actor, lot=lot, counted=Decimal(grams), moment=self.world.now, at=self.world.now, reason="weighed"
        )

    def lost(self, lot: Lot, grams: str, reason: str) -> Movement:
        self.later()
        return write_off(
            actor=self.world.actor, lot=lot, amount=Decimal(grams), reason=reason, moment=self.world.now, at=self.world.now
        )

    def titrated(self, lot: Lot, percent: str) -> None:
        self.later()
        self.say(lot, percent, value_confirmed=True)

    def strong(self, lot: Lot) -> Bounds:
        """Return how strong what is left of it is, on a scale that shows a hundredth of a gram."""
        found = dissolved_of(self.world.workshop, [lot])[lot.pk]
        assert found is not None
        strong = found.strong(Alkali.NAOH, step_g=0.01)
        assert strong is not None
        return strong

    def poured_of(self, lot: Lot, grams: float) -> Batch:
        version = self.soap(name=f"Poured {self.world.now:%H:%M}")
        (lye,) = self.sheet(version)[0].lye
        self.later()
        return self.book(self.poured(version, lye.weigh_g), lot, grams)


@pytest.fixture
def bench(world: World) -> Drying:
    return Drying(world)


def high_of(times: float) -> object:
    """Return the high end of a strength that is so many times what was weighed; half a point is of the certificate."""
    return pytest.approx(WEIGHED * times, abs=0.004)


def test_what_dried_out_dried_out_of_what_was_left(bench: Drying) -> None:
    lot, version = bench.dissolve("2000", "2000").lot, bench.soap()
    bench.lost(lot, "3700", "spilt")
    bench.counted(lot, "270")
    assert bench.strong(lot).high == high_of(300 / 270)
    assert bench.strong(lot).high >= WEIGHED * 300 / 270
    figures, (found,) = bench.sheet(version)
    (lye,) = figures.lye
    superfat = 1 - (1 - figures.superfat.of_fats.middle) * found.weigh_g * WEIGHED * 300 / 270 / (lye.weigh_g * 0.985)
    assert superfat >= figures.superfat.of_fats.low


def test_each_count_is_held_against_what_was_left_then(bench: Drying) -> None:
    lot = bench.dissolve().lot
    bench.counted(lot, "900")
    bench.lost(lot, "800", "spilt")
    bench.counted(lot, "90")
    assert bench.strong(lot).high == high_of(1000 / 900 * 100 / 90)


def test_a_count_that_finds_more_is_refused_and_brings_no_water_back(bench: Drying) -> None:
    lot = bench.dissolve().lot
    bench.counted(lot, "900")
    with pytest.raises(Conflict, match="900 g are booked and 1000 g counted"):
        bench.counted(lot, "1000")
    assert bench.strong(lot).high == high_of(1000 / 900)


def test_what_was_lost_by_a_slip_of_the_pen_and_found_again_hides_nothing(bench: Drying) -> None:
    lot = bench.dissolve().lot
    lost = bench.lost(lot, "600", "spilt")
    with pytest.raises(Conflict, match="400 g are booked and 500 g counted"):
        bench.counted(lot, "500")
    bench.later()
    reverse(actor=bench.world.actor, movement=lost, reason="it was 500", at=bench.world.now)
    bench.lost(lot, "500", "spilt")
    bench.counted(lot, "400")
    assert bench.strong(lot).high >= WEIGHED * 500 / 400


def test_a_count_that_was_taken_back_dried_nothing_out(bench: Drying) -> None:
    lot = bench.dissolve().lot
    found = bench.counted(lot, "700")
    assert bench.strong(lot).high == high_of(1000 / 700)
    take_back_count(actor=bench.world.actor, count=found.count, reason="another jar", at=bench.world.now)
    assert bench.strong(lot).high == high_of(1)


def test_what_is_found_at_a_pour_brings_no_water_back(bench: Drying) -> None:
    lot = bench.dissolve("200", "200").lot
    bench.counted(lot, "340")
    bench.poured_of(lot, 395)
    assert bench.strong(lot).high == high_of(400 / 340)


def test_what_is_written_off_as_dried_out_is_missing_too(bench: Drying) -> None:
    for reason, times in (("dried out", 1000 / 900), ("Water evaporated from the can", 1000 / 900), ("spilt", 1)):
        lot = bench.dissolve().lot
        bench.lost(lot, "100", reason)
        assert bench.strong(lot).high == high_of(times), reason


def test_what_dries_out_after_a_titration_makes_it_stronger_and_before_it_not(bench: Drying) -> None:
    lot, version = bench.dissolve().lot, bench.soap()
    bench.titrated(lot, "49.3")
    before = bench.sheet(version)[1][0]
    bench.counted(lot, "900")
    after = bench.sheet(version)[1][0]
    assert bench.strong(lot).high >= 0.493 / 0.9
    assert after.weigh_g == pytest.approx(before.weigh_g * 0.9, rel=0.01)
    bench.titrated(lot, "54.5")
    assert bench.strong(lot).high == pytest.approx(0.545, abs=0.006)
    assert bench.sheet(version)[1][0].why_not == "", "by counts it may be so strong"
    bench.titrated(lot, "60")
    assert "doubtful" in bench.sheet(version)[1][0].why_not


def test_a_count_reaches_the_batches_that_took_of_it(bench: Drying) -> None:
    lot = bench.dissolve().lot
    batch = bench.poured_of(lot, 250)
    low = batch.superfat_low
    found = bench.counted(lot, "600")
    batch.refresh_from_db()
    assert batch.superfat_low < low, "the 150 g may have been gone before the pour"
    take_back_count(actor=bench.world.actor, count=found.count, reason="another jar", at=bench.world.now)
    batch.refresh_from_db()
    assert batch.superfat_low == low
    gone = bench.lost(lot, "150", "dried out")
    batch.refresh_from_db()
    assert batch.superfat_low < low
    reverse(actor=bench.world.actor, movement=gone, reason="another jar", at=bench.world.now)
    batch.refresh_from_db()
    assert batch.superfat_low == low


def test_a_use_that_is_taken_back_reaches_the_other_batches(bench: Drying) -> None:
    lot = bench.dissolve().lot
    batch = bench.poured_of(lot, 250)
    bench.poured_of(lot, 250)
    bench.counted(lot, "500")
    batch.refresh_from_db()
    low = batch.superfat_low
    use = Movement.objects.within(bench.world.workshop).filter(lot=lot, kind=Movement.Kind.USE).order_by("-pk").first()
    reverse(actor=bench.world.actor, movement=use, reason="another lot", at=bench.world.now)
    batch.refresh_from_db()
    assert batch.superfat_low < low, "250 g are missing now"


def test_a_pour_is_reckoned_as_strong_as_it_can_have_been_then(bench: Drying) -> None:
    """By hand: of 1000 g 250 are poured, and 600 of 750 found: had the 150 g dried out first, it was 1000/850 as strong."""
    lot = bench.dissolve().lot
    bench.poured_of(lot, 250)
    bench.counted(lot, "600")
    found = dissolved_of(bench.world.workshop, [lot])[lot.pk]
    assert found is not None
    assert found.strong(Alkali.NAOH, step_g=0.01, used=True).high == high_of(1000 / 850)
    assert found.strong(Alkali.NAOH, step_g=0.01).high == high_of(750 / 600)
    # The last of it that stuck to the can leaves the batches a strength.
    bench.counted(lot, "0")
    found = dissolved_of(bench.world.workshop, [lot])[lot.pk]
    assert found is not None
    assert found.strong(Alkali.NAOH, step_g=0.01, used=True).high == high_of(1000 / 850)
    assert found.strong(Alkali.NAOH, step_g=0.01) is None, "of what is found there later nobody knows it"


def test_a_count_adds_nothing_to_lye_that_was_dissolved_here(bench: Dissolving) -> None:
    """Whoever tops a jug up with another solution, or with water, changes how strong it is, and a count tells neither."""
    world, lot = bench.world, bench.dissolve().lot
    how = {"actor": world.actor, "lot": lot, "at": world.now, "moment": world.now}
    said = refused("grown", lambda: count(counted=Decimal(1200), reason="topped up", **how))
    assert "1000 g are booked and 1200 g counted" in said
    assert "make that as a lot of its own" in said
    refused("grown", lambda: count(counted=Decimal(1200), reason="by eye", is_estimate=True, **how))
    lot.refresh_from_db()
    assert lot.on_hand == 1000
    # A scale that shows whole grams may say a gram more, and of dry lye a count may say what it likes.
    count(counted=Decimal(1001), reason="the scale", **how)
    count(**{**how, "lot": bench.dry}, counted=Decimal(6000), reason="a tub was forgotten")


def test_a_wrong_count_of_a_solution_is_taken_back_and_counted_anew(bench: Dissolving) -> None:
    world, lot = bench.world, bench.dissolve().lot
    how = {"actor": world.actor, "lot": lot, "at": world.now, "moment": world.now}
    wrong = count(counted=Decimal(100), reason="misread", **how)
    said = refused("grown", lambda: count(counted=Decimal(1000), reason="weighed again", **how))
    assert "take that back and count again" in said
    reverse(actor=world.actor, movement=wrong.moved, reason="misread", at=world.now)
    count(counted=Decimal(1000), **how)
