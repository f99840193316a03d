"""What was told in an odd order is held anew: two counts of one moment, rows of before counts stood, what pours found."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict
from inventory.balance import differences
from inventory.models import Count, Lot, Movement
from inventory.services import movements
from inventory.services.lots import LotPapers, correct_lot
from tests.flows.bring_in.test_bring_stock import OLIVE, _folder, stock, uses
from tests.inventory.test_late_entries import do, on_hand, recounts, take_back
from tests.world import World

pytestmark = pytest.mark.django_db
__all__ = ["_folder"]


def counted_twice(world: World) -> tuple[Lot, Movement, Movement]:
    """Return a lot of 500 g that two people counted in one minute, and what each count corrected."""
    lot = world.lot("500")
    moment = world.days_ago(1)
    rows = []
    for found in (450, 400):
        world.now += timedelta(seconds=20)
        rows.append(
            movements.count(
                actor=world.actor, lot=lot, counted=Decimal(found), moment=moment, at=world.now, reason="weighed"
            ).moved
        )
    return lot, *rows


@pytest.mark.parametrize("which", ["first", "second"])
def test_of_two_counts_of_one_minute_either_is_taken_back_after_a_late_use(world: World, which: str) -> None:
    lot, first, second = counted_twice(world)
    do(world, "use", lot, "100", days_ago=2)
    assert on_hand(lot) == 400
    take_back(world, first if which == "first" else second)
    assert on_hand(lot) == (400 if which == "first" else 450)
    assert differences() == []


def test_the_last_of_two_counts_of_one_minute_taken_back_too_lets_the_use_come_off(world: World) -> None:
    lot, first, second = counted_twice(world)
    do(world, "use", lot, "100", days_ago=2)
    take_back(world, first)
    take_back(world, second)
    assert (on_hand(lot), differences()) == (400, [])


def told_before_counts_stood(world: World, lot: Lot, amount: str, *, days_ago: float, kind: str = "use") -> Movement:
    """Write a late row as the house wrote it when no count was held against the book anew: it came off a second time."""
    world.now += timedelta(seconds=1)
    row = Movement.unscoped.create(
        workshop=world.workshop, lot=lot, kind=kind, amount=Decimal(amount), moment=world.now - timedelta(days=days_ago),
        source="page", written_at=world.now, by_user=world.owner,
    )  # fmt: skip
    Lot.unscoped.filter(pk=lot.pk).update(on_hand=on_hand(lot) + Decimal(amount))
    return row


def test_a_late_use_of_before_counts_stood_gives_back_what_it_took(world: World) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "400", days_ago=1)
    used = told_before_counts_stood(world, lot, "-100", days_ago=2)
    assert on_hand(lot) == 300
    take_back(world, used)
    assert (on_hand(lot), recounts(lot), differences()) == (400, [], [])


def test_where_a_count_took_it_up_since_that_count_stands(world: World) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "400", days_ago=1)
    used = told_before_counts_stood(world, lot, "-100", days_ago=2)
    do(world, "count", lot, "310", days_ago=0.5)
    take_back(world, used)
    assert (on_hand(lot), recounts(lot)[0][:2]) == (310, (310, 410))
    assert differences() == []


def test_a_late_receipt_of_before_takes_off_what_it_brought(world: World) -> None:
    lot = world.lot("100")
    do(world, "use", lot, "300", days_ago=1)
    late = told_before_counts_stood(world, lot, "200", days_ago=2, kind="receive")
    take_back(world, late)
    assert (on_hand(lot), differences()) == (0, [])


def test_what_was_found_at_the_pour_shrinks_by_a_receipt_that_is_told_late(world: World) -> None:
    lot = world.lot("100")
    found = do(world, "use", lot, "300", days_ago=1).found
    late = do(world, "receive_more", lot, "150", days_ago=2)
    assert on_hand(lot) == 0
    (again,) = Count.objects.within(world.workshop).filter(restates=found)
    assert (again.movement.amount, again.moment, again.counted) == (-150, found.moment, 300)
    assert again.reason == f"there at the pour of {found.moment:%Y-%m-%d} already"
    # What is over is there after the pour.
    do(world, "receive_more", lot, "80", days_ago=2)
    assert (on_hand(lot), differences()) == (30, [])
    take_back(world, late)
    assert (on_hand(lot), differences()) == (0, [])


def test_what_was_found_at_the_pour_follows_a_count_that_is_told_late(world: World) -> None:
    lot = world.lot("100")
    used = do(world, "use", lot, "300", days_ago=1).movement
    low = do(world, "count", lot, "60", days_ago=3).moved
    assert on_hand(lot) == 0
    do(world, "count", lot, "320", days_ago=2)
    assert on_hand(lot) == 20
    take_back(world, low)
    assert on_hand(lot) == 20
    take_back(world, used)
    assert (on_hand(lot), differences()) == (320, [])


def test_a_late_use_before_what_a_pour_found_makes_it_more(world: World) -> None:
    lot = world.lot("100")
    do(world, "use", lot, "300", days_ago=2)
    do(world, "receive_more", lot, "500", days_ago=1)
    late = do(world, "use", lot, "40", days_ago=3)
    assert (on_hand(lot), late.found) == (500, None)
    take_back(world, late.movement)
    assert (on_hand(lot), differences()) == (500, [])


def test_a_late_use_finds_what_was_not_there_and_leaves_the_rest_to_the_pours_after_it(world: World) -> None:
    lot = world.lot("100")
    do(world, "use", lot, "300", days_ago=2)
    do(world, "receive_more", lot, "500", days_ago=2.5)
    do(world, "use", lot, "300", days_ago=1)
    late = do(world, "use", lot, "400", days_ago=3)
    assert (on_hand(lot), late.found.movement.amount) == (0, 300)
    take_back(world, late.movement)
    assert (on_hand(lot), differences()) == (0, [])


def test_past_uses_that_are_brought_in_go_to_what_a_pour_found(world: World, tmp_path) -> None:
    lot = world.lot("1000", supplier_lot="H-1")
    do(world, "use", lot, "1500", days_ago=1)
    do(world, "receive_more", lot, "700", days_ago=0.5)
    rows = [("", "Olive oil", "", "H-1", f"{grams} g", f"{world.days_ago(3):%Y-%m-%d}", "") for grams in (300, 900)]
    assert uses(world, tmp_path, *rows).refused_rows == 0
    assert (on_hand(lot), differences()) == (700, [])
    found = Count.objects.within(world.workshop).filter(for_use__isnull=False).order_by("moment")
    assert [row.movement.amount for row in found] == [200, 500]


def test_under_another_day_of_receipt_the_list_keeps_its_place_among_what_was_told(world: World, tmp_path) -> None:
    """A use of the very moment of the list, told after it, comes off; so it does under another day of receipt."""
    stock(world, tmp_path, OLIVE)
    lot = Lot.objects.within(world.workshop).named().get()
    listed = Count.objects.within(world.workshop).get(by_list=True)
    world.now += timedelta(minutes=1)
    used = movements.use(
        actor=world.actor, lot=lot, amount=Decimal(200), moment=listed.moment, at=world.now
    ).movement  # fmt: skip
    world.now += timedelta(minutes=1)
    papers = LotPapers(lot.supplier_lot, lot.best_before, lot.unit_cost, date(2025, 12, 1))
    correct_lot(actor=world.actor, lot=lot, papers=papers, why="entered late", at=world.now)
    (again,) = Count.objects.within(world.workshop).filter(by_list=True).standing()
    assert (again.moment, again.written_at) == (listed.moment, listed.written_at)
    take_back(world, used)
    assert (on_hand(lot), differences()) == (5500, [])


def test_a_receipt_under_another_day_is_taken_back_as_it_would_have_been(world: World) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "400", days_ago=1)
    world.now += timedelta(minutes=1)
    papers = LotPapers("", None, None, world.days_ago(60).date())
    correct_lot(actor=world.actor, lot=lot, papers=papers, why="entered late", at=world.now)
    take_back(world, Movement.objects.within(world.workshop).in_force().get(kind="receive"))
    assert (on_hand(lot), differences()) == (400, [])


def take_back_count(world: World, row: Count, reason: str = "a slip") -> Count:
    world.now += timedelta(seconds=1)
    return movements.take_back_count(actor=world.actor, count=row, reason=reason, at=world.now)


def test_a_count_without_a_difference_is_taken_back(world: World) -> None:
    lot = world.lot("500")
    confirmed = do(world, "count", lot, "500", days_ago=1, reason="").count
    do(world, "use", lot, "100", days_ago=2)
    assert on_hand(lot) == 500
    said = take_back_count(world, confirmed)
    assert (said.takes_back, said.reason, said.movement) == (confirmed, "a slip", None)
    assert (on_hand(lot), differences()) == (400, [])
    assert list(Count.objects.within(world.workshop).filter(lot=lot).standing()) == []
    # What is told now, dated before it, comes off.
    do(world, "use", lot, "10", days_ago=3)
    assert (on_hand(lot), differences()) == (390, [])


def test_the_next_count_takes_up_what_the_one_without_a_difference_had(world: World) -> None:
    lot = world.lot("500")
    confirmed = do(world, "count", lot, "500", days_ago=2, reason="").count
    do(world, "count", lot, "450", days_ago=1)
    do(world, "use", lot, "100", days_ago=3)
    take_back_count(world, confirmed)
    assert (on_hand(lot), differences()) == (450, [])


def test_a_count_is_taken_back_once_and_what_follows_from_others_not_by_itself(world: World) -> None:
    lot = world.lot("500")
    confirmed = do(world, "count", lot, "500", days_ago=1, reason="").count
    late = do(world, "use", lot, "100", days_ago=2)
    follows = Count.objects.within(world.workshop).get(restates=confirmed)
    said = take_back_count(world, confirmed)
    for row, code in ((confirmed, "reversed"), (said, "is_reversal"), (follows, "follows_count")):
        with pytest.raises(Conflict) as refused:
            take_back_count(world, row)
        assert refused.value.code == code
    found = do(world, "use", lot, "900", days_ago=0).found
    with pytest.raises(Conflict, match="take back that use") as refused:
        take_back_count(world, found)
    assert refused.value.code == "follows_use"
    assert (late.found, differences()) == (None, [])


def test_a_count_with_a_difference_is_taken_back_by_its_correction(world: World) -> None:
    lot = world.lot("500")
    counted = do(world, "count", lot, "400", days_ago=1)
    take_back_count(world, counted.count)
    assert Movement.objects.within(world.workshop).get(corrects=counted.moved).amount == 100
    assert (on_hand(lot), differences()) == (500, [])


def test_a_count_is_taken_back_though_what_was_used_since_rests_on_it(world: World) -> None:
    lot = world.lot("500")
    confirmed = do(world, "count", lot, "500", days_ago=1, reason="").count
    do(world, "write_off", lot, "450", days_ago=2)
    used = do(world, "use", lot, "100", days_ago=0.5).movement
    take_back_count(world, confirmed)
    (found,) = Count.objects.within(world.workshop).filter(for_use=used)
    assert (found.movement.amount, on_hand(lot), differences()) == (50, 0, [])


@pytest.mark.parametrize(("verb", "said"), [("write_off", "found at the write-off"), ("give_back", "found at the return")])
def test_what_left_otherwise_was_there_though_its_receipt_is_taken_back(world: World, verb: str, said: str) -> None:
    lot = world.lot("500")
    more = do(world, "receive_more", lot, "200", days_ago=3)
    gone = do(world, verb, lot, "600", days_ago=2)
    take_back(world, more)
    (found,) = Count.objects.within(world.workshop).filter(for_use=gone)
    assert (found.movement.amount, found.reason, on_hand(lot), differences()) == (100, said, 0, [])
    with pytest.raises(Conflict, match="found for a use|goes with it"):
        take_back(world, found.movement)
    take_back(world, gone)
    assert (on_hand(lot), differences()) == (500, [])
