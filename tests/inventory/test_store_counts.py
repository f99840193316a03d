"""The store count in the ledger: who counts on it, over midnight and together, what was judged by eye, and when it ends."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, DomainError, Invalid
from inventory.balance import differences
from inventory.models import Count, Lot, Movement, StoreCount
from inventory.services.movements import Counted, reverse, take_back_count, use
from inventory.services.store_counts import count_in_store, end_store_count, left_to_count
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def lots(world: World) -> list[Lot]:
    """Return three lots of five kilograms."""
    return [world.lot("5000", supplier_lot=f"L{number}") for number in range(3)]


def found(world: World, lot: Lot, grams: str | None, **more: Any) -> Counted:
    """Count on the walk, just now unless said otherwise."""
    asked = {"moment": world.now, "on_walk": True, **more}
    return count_in_store(
        actor=world.actor, lot=lot, counted=None if grams is None else Decimal(grams), at=world.now, **asked
    )  # fmt: skip


def held(lot: Lot) -> tuple[Decimal, bool]:
    lot.refresh_from_db()
    return lot.on_hand, lot.is_estimated


def under_way(world: World) -> StoreCount | None:
    return StoreCount.objects.within(world.workshop).under_way().first()


def test_the_first_count_of_the_walk_begins_it_and_the_last_ends_it(world: World, lots: list[Lot]) -> None:
    begun = found(world, lots[0], "5000").count.store_count
    assert (begun.begun_at, begun.signed_by) == (world.now, str(world.owner))
    assert set(left_to_count(begun)) == set(lots[1:])
    found(world, lots[1], "4900", reason="dripped")
    world.now += timedelta(minutes=5)
    found(world, lots[2], "5000")
    begun.refresh_from_db()
    assert (begun.ended_at, begun.lots_left, begun.counts.count()) == (world.now, 0, 3)
    assert differences() == []


def test_it_goes_on_after_midnight_and_what_was_used_meanwhile_is_no_difference(world: World, lots: list[Lot]) -> None:
    world.now = world.now.replace(hour=22, minute=50)
    begun = found(world, lots[0], "5000").count.store_count
    # The figure was typed before midnight; sent it was in the morning, after a pour had taken a kilogram.
    weighed = world.now + timedelta(minutes=9)
    world.now += timedelta(hours=10)
    use(actor=world.actor, lot=lots[1], amount=Decimal(1000), moment=world.now - timedelta(minutes=30), at=world.now)
    counted = found(world, lots[1], "5000", moment=weighed)
    assert (counted.moved, counted.count.store_count) == (None, begun)
    assert held(lots[1]) == (4000, False)
    assert list(left_to_count(begun)) == [lots[2]]
    found(world, lots[2], "5000")
    assert under_way(world) is None
    assert differences() == []


def test_a_count_beside_the_walk_is_of_the_one_that_is_under_way_and_begins_none(world: World, lots: list[Lot]) -> None:
    assert found(world, lots[0], "5000", on_walk=False).count.store_count is None
    begun = found(world, lots[1], "5000").count.store_count
    # Counted before it was begun, and told of now: of another time.
    assert found(world, lots[2], "5000", on_walk=False, moment=world.days_ago(1)).count.store_count is None
    assert found(world, lots[2], "5000", on_walk=False).count.store_count == begun
    assert set(left_to_count(begun)) == {lots[0]}


def test_what_is_used_up_or_comes_in_meanwhile_is_seen(world: World, lots: list[Lot]) -> None:
    begun = found(world, lots[0], "5000").count.store_count
    use(actor=world.actor, lot=lots[1], amount=Decimal(5000), moment=world.now, at=world.now)
    fresh = world.lot("900")
    assert set(left_to_count(begun)) == {lots[2], fresh}


def test_a_count_taken_back_is_left_to_count_again(world: World, lots: list[Lot]) -> None:
    begun = found(world, lots[0], "5000").count.store_count
    other = found(world, lots[1], "4000", reason="misread").count
    for count in (Count.objects.within(world.workshop).get(lot=lots[0]), other):
        take_back_count(actor=world.actor, count=count, reason="the wrong can", at=world.now)
    assert set(left_to_count(begun)) == set(lots)


def test_it_is_ended_by_hand_once_and_keeps_how_many_were_left(world: World, lots: list[Lot]) -> None:
    begun = found(world, lots[0], "5000").count.store_count
    assert end_store_count(actor=world.actor, store_count=begun, at=world.now).lots_left == 2
    with pytest.raises(Conflict, match="ended already"):
        end_store_count(actor=world.actor, store_count=begun, at=world.now)
    assert found(world, lots[0], "5000").count.store_count != begun


def test_a_figure_typed_as_another_ended_it_is_still_of_it_and_a_day_later_of_a_new_one(world: World, lots: list[Lot]) -> None:
    begun = found(world, lots[0], "5000").count.store_count
    end_store_count(actor=world.actor, store_count=begun, at=world.now)
    world.now += timedelta(minutes=2)
    assert found(world, lots[1], "5000", of=begun.pk).count.store_count == begun
    world.now += timedelta(days=1)
    assert found(world, lots[2], "5000", of=begun.pk).count.store_count != begun


def test_another_figure_than_somebody_elses_meanwhile_is_asked_about_and_then_kept(world: World, lots: list[Lot]) -> None:
    found(world, lots[0], "4900", reason="dripped")
    with pytest.raises(Conflict, match="Ottilie Brandt counted 4900 g at 10:00 on Tue 10 Mar, while you were at it") as asked:
        found(world, lots[0], "4800", seen=0, reason="dripped")
    assert (asked.value.code, held(lots[0])) == ("counted_meanwhile", (4900, False))
    newest = asked.value.data["count"]
    with pytest.raises(Invalid, match="4900 g are booked and 4800 g counted: say why"):
        found(world, lots[0], "4800", seen=newest)
    found(world, lots[0], "4800", seen=newest, reason="the other can was on the scale")
    assert held(lots[0]) == (4800, False)
    assert Count.objects.within(world.workshop).filter(lot=lots[0]).count() == 2


def test_the_same_figure_as_somebody_elses_says_so_twice_and_a_count_taken_back_is_no_other(
    world: World, lots: list[Lot]
) -> None:
    other = found(world, lots[0], "4900", reason="dripped").count
    assert found(world, lots[0], "4900", seen=0).moved is None
    for count in Count.objects.within(world.workshop).filter(lot=lots[0]).order_by("-pk"):
        take_back_count(actor=world.actor, count=count, reason="the wrong can", at=world.now)
    assert found(world, lots[0], "4800", seen=0, reason="dripped").moved is not None
    assert other.lot == lots[0]


def test_what_is_judged_by_eye_is_booked_as_an_estimate_until_it_is_weighed(world: World, lots: list[Lot]) -> None:
    with pytest.raises(Invalid, match="5000 g are booked and 3000 g judged by eye: say why"):
        found(world, lots[0], "3000", is_estimate=True)
    moved = found(world, lots[0], "3000", is_estimate=True, reason="used and not written down").moved
    assert held(lots[0]) == (3000, True)
    assert Movement.objects.within(world.workshop).with_their_counts().get(pk=moved.pk).is_estimate
    use(actor=world.actor, lot=lots[0], amount=Decimal(500), moment=world.now, at=world.now)
    assert held(lots[0]) == (2500, True)
    world.now += timedelta(minutes=1)
    found(world, lots[0], "2500")
    assert held(lots[0]) == (2500, False)
    assert differences() == []


@pytest.mark.parametrize("grams", [None, "5000"])
def test_what_fits_the_book_by_eye_leaves_it_as_it_is(world: World, lots: list[Lot], grams: str | None) -> None:
    counted = found(world, lots[0], grams, is_estimate=True)
    assert (counted.count.counted, counted.count.expected, counted.moved) == (5000, 5000, None)
    assert held(lots[0]) == (5000, False)
    # A use told of late moves the book, which no eye can know better.
    use(actor=world.actor, lot=lots[0], amount=Decimal(7), moment=world.days_ago(1), at=world.now)
    assert held(lots[0]) == (4993, False)
    take_back_count(actor=world.actor, count=counted.count, reason="never looked", at=world.now)
    assert held(lots[0]) == (4993, False)
    assert differences() == []


def test_only_by_eye_may_it_be_what_is_booked(world: World, lots: list[Lot]) -> None:
    with pytest.raises(DomainError, match="Say how much there is"):
        found(world, lots[0], None)


def test_an_estimate_taken_back_or_told_of_late_leaves_what_was_weighed_last(world: World, lots: list[Lot]) -> None:
    moved = found(world, lots[0], "3000", is_estimate=True, reason="low").moved
    reverse(actor=world.actor, movement=moved, reason="the wrong can", at=world.now)
    assert held(lots[0]) == (5000, False)
    found(world, lots[0], "5000")
    found(world, lots[0], "4000", is_estimate=True, reason="low", moment=world.days_ago(1))
    assert held(lots[0]) == (5000, False)
    assert differences() == []


def test_verify_ledger_finds_a_lot_that_says_otherwise_than_its_last_count(world: World, lots: list[Lot]) -> None:
    Lot.objects.within(world.workshop).filter(pk=lots[0].pk).update(is_estimated=True)
    (found_out,) = differences()
    assert str(found_out) == (
        f"what lot {lots[0].pk} holds: judged by eye kept, not judged by eye by its last count"
    )  # fmt: skip
