"""What the table says is reckoned by what stands: lines that are done, lye that may still come, and fat that mends it."""

from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, DomainError, Invalid
from curehouse.core.chemistry.at_table import Answer
from curehouse.flows.pour import Stopped, finish, stop
from curehouse.making.models import Batch, BatchHold, Pour
from inventory.models import Lot, Movement
from tests.pouring import Bench
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World) -> Bench:
    return Bench(world)


def row_of(bench: Bench, pour: Pour, slot: str) -> int:
    return bench.table(pour).lines[slot].rows[0].pk


def test_a_part_that_is_taken_back_leaves_its_line_undone(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="1")
    part = bench.weigh(pour, "1", "280", is_part=True)
    bench.weigh(pour, "1", "20")
    assert bench.table(pour).lines["1"].is_done
    bench.say(pour, "unsaid", corrects=part.pk, words="it was the other pot")
    line = bench.table(pour).lines["1"]
    assert (line.is_done, line.target_g) == (False, Decimal(280))
    with pytest.raises(Conflict, match="Not weighed yet: Coconut oil"):
        bench.say(pour, "dissolved")


def test_what_was_let_stand_is_no_longer_enough_once_a_part_is_taken_back(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="1")
    part = bench.weigh(pour, "1", "280", is_part=True)
    bench.weigh(pour, "1", "10", stands=True)
    assert bench.table(pour).lines["1"].is_done
    bench.say(pour, "unsaid", corrects=part.pk, words="it was the other pot")
    assert not bench.table(pour).lines["1"].is_done


def test_fats_that_grow_after_the_lye_leave_it_undone_until_it_follows_or_stands(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="dissolved")
    before = bench.table(pour).found.superfat.of_fats
    bench.weigh(pour, "0", "50", stands=True)
    table = bench.table(pour)
    assert table.found.superfat.of_fats.low > before.low + 0.03
    assert table.found.superfat.of_fats.high > before.high + 0.03
    # 50 g x 190 / 56106 x 39.997 x 0.95 / 0.99 = 6.50 g more.
    assert (table.next, table.lines["naoh"].target_g) == ("naoh", Decimal("6.5"))
    with pytest.raises(Conflict, match="Not weighed yet: Sodium hydroxide"):
        bench.say(pour, "dissolved")
    with pytest.raises(Conflict, match=r"0 g of Sodium hydroxide is 6\.5 g short of"):
        bench.weigh(pour, "naoh", "0")
    bench.weigh(pour, "naoh", "0", stands=True)
    bench.go_on(pour)
    batch = finish(actor=bench.world.actor, pour=pour, at=bench.world.now)
    assert (batch.fats_g, batch.lye_g) == (Decimal(1050), Decimal("143.5"))


def test_lye_that_was_let_stand_short_wants_more_only_where_fats_grew_since(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="naoh")
    bench.weigh(pour, "naoh", "140", stands=True)
    assert bench.table(pour).next == "dissolved"
    bench.weigh(pour, "0", "50", stands=True)
    assert bench.table(pour).next == "naoh"


def test_without_lye_nothing_is_let_stand_at_none(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="naoh")
    with pytest.raises(Invalid, match="Without lye it is no soap"):
        bench.weigh(pour, "naoh", "0", stands=True)


def test_so_much_fat_that_bars_stay_soft_is_said(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="naoh")
    with pytest.raises(Conflict, match="bars may stay soft"):
        bench.weigh(pour, "naoh", "125")
    with pytest.raises(Conflict) as asked:
        bench.weigh(pour, "naoh", "142")
    assert "soft" not in asked.value.message


def test_fat_that_mends_lye_asks_for_no_lye(world: World) -> None:
    """Else the table would ask for the lye that the fat was added for."""
    bench = Bench(world, superfat="0.002")
    pour = bench.begin()
    bench.go_on(pour, until="dissolved")
    table = bench.table(pour)
    assert table.found.answer is Answer.AS_READ
    remedy = table.found.remedies[0]
    key = table.slot_of(remedy).key
    mend = bench.weigh(pour, key, f"{remedy.add_g}", is_mend=True)
    assert mend.is_mend
    table = bench.table(pour)
    assert (table.found.answer, table.next) == (Answer.SAFE, "dissolved")


EXCESSES = ("0.3", "4", "40", "52", "58", "66", "75")


@pytest.mark.parametrize("superfat", ["0.05", "0.002"])
def test_of_two_lyes_no_more_comes_than_all_may_be_and_one_mend_is_enough(world: World, superfat: str) -> None:
    bench = Bench(world, superfat=superfat, naoh_share="0.6", water_g="320")
    answers = set()
    for excess in EXCESSES:
        pour = bench.begin()
        bench.go_on(pour, until="naoh")
        meant = bench.table(pour).lines["naoh"].target_g
        koh_meant = bench.table(pour).lines["koh"].target_g
        bench.weigh(pour, "naoh", meant + Decimal(excess), stands=True)
        table = bench.table(pour)
        answers.add(table.found.answer)
        left = table.lines["koh"].target_g
        assert left < koh_meant
        # A gram of sodium hydroxide is 56.106 / 39.997 of potassium hydroxide, of 99 and of 90 %.
        follows = koh_meant - Decimal(excess) * Decimal("1.4027") * Decimal("1.1")
        assert left <= max(follows, Decimal(0)) + Decimal("0.3")
        if table.wants_fat:
            assert left == 0
            remedy = table.found.remedies[0]
            bench.weigh(pour, table.slot_of(remedy).key, f"{remedy.add_g}", is_mend=True)
            assert bench.table(pour).found.answer is not Answer.ADD_FAT
        if bench.table(pour).must_stop:
            continue
        # All that is to come as it is meant: nobody is asked for fat a second time.
        bench.go_on(pour, until="dissolved")
        table = bench.table(pour)
        assert table.next == "dissolved"
        assert table.found.answer in (Answer.SAFE, Answer.AS_READ)
        assert table.found.low >= min(0.0, table.sheet.read_low) - 0.001
        bench.say(pour, "dissolved")
    assert {Answer.ADD_FAT, Answer.SAFE if superfat == "0.05" else Answer.AS_READ} <= answers


def test_an_acid_decides_like_lye_and_fats(world: World) -> None:
    bench = Bench(world, acid_g="20", water_g="200")
    pour = bench.begin()
    bench.go_on(pour, until="4")
    with pytest.raises(Conflict) as asked:
        bench.weigh(pour, "4", "5")
    assert "answer" in asked.value.data
    bench.weigh(pour, "naoh")
    with pytest.raises(Conflict, match="Not weighed yet: Citric acid"):
        bench.say(pour, "dissolved")
    bench.go_on(pour, until="mould")
    with pytest.raises(Conflict, match="nothing of them is weighed any more"):
        bench.weigh(pour, "4", "10", stands=True)
    row = row_of(bench, pour, "4")
    with pytest.raises(Conflict, match="nothing of them is weighed any more"):
        bench.say(pour, "unsaid", corrects=row, words="it was sugar")
    # Told otherwise once they have met it is a doubt, though these figures would be safe.
    bench.weigh(pour, "4", "20.1", corrects=row)
    assert bench.table(pour).must_stop
    with pytest.raises(Conflict, match="doubted"):
        bench.say(pour, "mould")


def test_of_what_was_put_in_the_place_of_an_acid_without_a_lot_no_lye_is_taken(world: World) -> None:
    bench = Bench(world, acid_g="20", water_g="200")
    pour = bench.begin()
    bench.go_on(pour, until="4")
    with_acid = bench.table(pour).lines["naoh"].target_g
    with pytest.raises(Conflict, match="nobody can tell that it is Citric acid") as asked:
        bench.weigh(pour, "4", "20", lot=None)
    assert asked.value.code == "no_lot"
    bench.weigh(pour, "4", "20", lot=None, stands=True)
    # 20 g of citric acid would take 20 x 3 / 192.123 x 39.997 / 0.99 = 12.6 g of lye.
    assert bench.table(pour).lines["naoh"].target_g == with_acid - Decimal("12.6")
    bench.weigh(pour, "naoh", with_acid, stands=True)
    assert bench.table(pour).found.low < 0
    assert bench.table(pour).wants_fat


def test_an_acid_that_was_not_weighed_takes_no_lye_in_a_batch_that_was_stopped(world: World) -> None:
    bench = Bench(world, acid_g="20", water_g="200")
    pour = bench.begin()
    bench.go_on(pour, until="4")
    bench.weigh(pour, "naoh")
    stop(actor=world.actor, pour=pour, stopped=Stopped("spilt", into_batch=True), at=world.now)
    assert Batch.objects.within(world.workshop).get().superfat_low < 0


def in_ounces(world: World) -> Bench:
    world.workshop.unit = "oz"
    world.workshop.save(update_fields=["unit"])
    return Bench(world)


def test_what_is_shown_in_ounces_and_typed_back_is_not_asked_about(world: World) -> None:
    bench = in_ounces(world)
    pour = bench.begin(fats_g=Decimal("1010"))
    bench.say(pour, "caution")
    # 707 g are 24.9387 oz and shown as 24.94, of milk 171.7 g as 6.06; of lye 5.1 oz cut off.
    for slot, ounces in (("0", "24.94"), ("1", "10.69"), ("2", "5.35"), ("3", "6.06")):
        grams = (Decimal(ounces) * Decimal("28.349523125")).quantize(Decimal("0.001"))
        bench.weigh(pour, slot, grams)
        assert bench.table(pour).lines[slot].is_done
    meant = bench.table(pour).lines["naoh"].target_g / Decimal("28.349523125")
    typed = meant.quantize(Decimal("0.001"), rounding="ROUND_DOWN")
    bench.weigh(pour, "naoh", (typed * Decimal("28.349523125")).quantize(Decimal("0.001")))
    assert bench.table(pour).next == "dissolved"


def left_out(bench: Bench, *slots: str) -> Pour:
    """Return a pour at trace that was told otherwise since: some lines were left out."""
    pour = bench.begin()
    bench.go_on(pour, until="mould")
    for slot in slots:
        bench.weigh(pour, slot, "0", corrects=row_of(bench, pour, slot), stands=True)
    return pour


@pytest.mark.parametrize("slots", [("2", "3"), ("0", "1"), ("1",)])
def test_a_pour_is_stopped_whatever_was_told_of_it_after_trace(bench: Bench, slots: tuple[str, ...]) -> None:
    world, pour = bench.world, left_out(bench, *slots)
    ended = stop(actor=world.actor, pour=pour, stopped=Stopped("nobody knows"), at=world.now)
    assert ended.state == "stopped"
    if ended.batch is not None:
        assert BatchHold.objects.within(world.workshop).standing().exists()
        return
    words = ended.steps.get(kind="stopped").words
    assert words.startswith("nobody knows No batch was written: ")
    moved = Movement.objects.within(world.workshop).filter(kind="write_off")
    assert sum(one.amount for one in moved) == -sum(row.amount_g for row in ended.steps.in_force() if row.lot_id is not None)


def test_before_trace_a_pour_without_liquids_is_stopped_and_what_is_spoilt_is_more_than_is_booked(world: World) -> None:
    bench = Bench(world)
    pour = bench.begin()
    bench.go_on(pour, until="2")
    for slot in ("2", "3"):
        bench.weigh(pour, slot, "0", stands=True)
    bench.weigh(pour, "naoh")
    lye = bench.weigh(pour, "naoh", "5000", is_part=True, stands=True)
    with pytest.raises(DomainError, match="at least one liquid"):
        stop(actor=world.actor, pour=pour, stopped=Stopped("spilt", into_batch=True), at=world.now)
    ended = stop(actor=world.actor, pour=pour, stopped=Stopped("spilt", spoilt=[lye.pk]), at=world.now)
    assert (ended.state, ended.batch) == ("stopped", None)
    assert Lot.objects.within(world.workshop).get(pk=bench.lots["naoh"].pk).on_hand == 0
