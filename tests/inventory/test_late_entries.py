"""A count fixes what a lot held at its moment: what is entered later but dated before it changes the count's difference."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, DomainError
from inventory.balance import differences
from inventory.models import Count, Lot, Movement
from inventory.services import movements
from tests.world import World

pytestmark = pytest.mark.django_db


def on_hand(lot: Lot) -> Decimal:
    return Lot.objects.within(lot.workshop).get(pk=lot.pk).on_hand


def do(world: World, verb: str, lot: Lot, amount: str, *, days_ago: float, **said: Any) -> Any:
    told = {"counted" if verb == "count" else "amount": Decimal(amount)}
    if verb in ("count", "write_off", "give_back"):
        told["reason"] = said.pop("reason", "weighed")
    # Each is told a second after the one before, as people are.
    world.now += timedelta(seconds=1)
    moment = world.now - timedelta(days=days_ago)
    return getattr(movements, verb)(actor=world.actor, lot=lot, moment=moment, at=world.now, **told, **said)


def take_back(world: World, movement: Movement) -> Movement:
    world.now += timedelta(seconds=1)
    return movements.reverse(actor=world.actor, movement=movement, reason="a slip", at=world.now)


def recounts(lot: Lot) -> list[tuple[Decimal, Decimal, str]]:
    rows = Count.objects.within(lot.workshop).filter(lot=lot, restates__isnull=False).order_by("pk")
    return [(row.counted, row.expected, row.reason) for row in rows]


def test_a_use_entered_after_a_count_but_dated_before_it_is_not_deducted_twice(world: World) -> None:
    lot = world.lot("500")
    count = do(world, "count", lot, "400", days_ago=1).count
    used = do(world, "use", lot, "100", days_ago=2)
    assert (on_hand(lot), used.found) == (400, None)
    day = f"{count.moment:%Y-%m-%d}"
    assert recounts(lot) == [(400, 300, f"lacking at the count of {day} already")]
    (recount,) = Count.objects.within(world.workshop).filter(restates=count)
    assert (recount.moment, recount.movement.amount, recount.movement.kind) == (count.moment, 100, "count")
    assert differences() == []


@pytest.mark.parametrize(("verb", "said"), [("write_off", "lacking"), ("give_back", "lacking"), ("receive_more", "there")])
def test_nor_does_anything_else_that_is_dated_before_a_count_change_what_is_on_hand(world: World, verb: str, said: str) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "400", days_ago=1)
    do(world, verb, lot, "450", days_ago=2)
    assert on_hand(lot) == 400
    ((_counted, _expected, reason),) = recounts(lot)
    assert reason.startswith(f"{said} at the count of ")
    assert differences() == []


@pytest.mark.parametrize("verb", ["use", "write_off", "give_back", "receive_more"])
def test_what_is_dated_after_a_count_or_at_its_moment_changes_what_is_on_hand(world: World, verb: str) -> None:
    lot = world.lot("500")
    moment = do(world, "count", lot, "400", days_ago=1).count.moment
    for when in (moment, moment + timedelta(hours=1)):
        reason = {} if verb in ("use", "receive_more") else {"reason": "spilt"}
        getattr(movements, verb)(
            actor=world.actor, lot=lot, amount=Decimal(50), moment=when, at=world.now + timedelta(seconds=1), **reason
        )
    assert on_hand(lot) == (500 if verb == "receive_more" else 300)
    assert recounts(lot) == []


def test_taking_back_what_was_before_a_count_leaves_what_was_counted(world: World) -> None:
    lot = world.lot("500")
    used = do(world, "use", lot, "100", days_ago=2).movement
    do(world, "count", lot, "400", days_ago=1, reason="")
    take_back(world, used)
    assert on_hand(lot) == 400
    assert [one[:2] for one in recounts(lot)] == [(400, 500)]
    assert differences() == []


def test_a_late_use_can_be_taken_back_and_the_count_still_stands(world: World) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "400", days_ago=1)
    take_back(world, do(world, "use", lot, "100", days_ago=2).movement)
    assert (on_hand(lot), differences()) == (400, [])


def test_a_count_taken_back_lets_what_was_before_it_come_off(world: World) -> None:
    lot = world.lot("500")
    counted = do(world, "count", lot, "400", days_ago=1)
    do(world, "use", lot, "30", days_ago=2)
    do(world, "use", lot, "7", days_ago=0.5)
    take_back(world, counted.moved)
    assert (on_hand(lot), differences()) == (463, [])


def test_of_two_counts_the_later_one_says_what_is_on_hand(world: World) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "300", days_ago=1)
    early = do(world, "count", lot, "450", days_ago=3)
    assert (early.count.expected, early.moved.amount, on_hand(lot)) == (500, -50, 300)
    do(world, "use", lot, "100", days_ago=4)
    do(world, "use", lot, "10", days_ago=2)
    assert on_hand(lot) == 300
    take_back(world, early.moved)
    assert (on_hand(lot), differences()) == (300, [])


def test_a_late_count_is_not_overtaken_where_a_later_one_says_what_is_there(world: World) -> None:
    lot = world.lot("1000")
    do(world, "use", lot, "900", days_ago=2)
    do(world, "count", lot, "120", days_ago=1)
    do(world, "count", lot, "850", days_ago=3)
    assert (on_hand(lot), differences()) == (120, [])


def test_what_follows_from_a_count_is_not_taken_back_by_itself(world: World) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "400", days_ago=1)
    do(world, "use", lot, "100", days_ago=2)
    follows = Count.objects.within(world.workshop).get(restates__isnull=False).movement
    with pytest.raises(Conflict, match="follows from a count") as refused:
        take_back(world, follows)
    assert refused.value.code == "follows_count"
    assert on_hand(lot) == 400


def test_what_was_counted_is_there_though_its_receipt_is_taken_back(world: World) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "500", days_ago=1, reason="")
    take_back(world, lot.movements.get())
    assert (on_hand(lot), differences()) == (500, [])
    do(world, "count", lot, "0", days_ago=0)
    assert (on_hand(lot), differences()) == (0, [])


def test_a_use_at_once_after_a_count_is_deducted(world: World) -> None:
    lot = world.lot("500")
    do(world, "count", lot, "400", days_ago=0)
    do(world, "use", lot, "100", days_ago=0)
    assert on_hand(lot) == 300


def test_more_than_any_lot_holds_is_still_refused_where_no_count_says_otherwise(world: World) -> None:
    lot = world.lot("999999")
    do(world, "count", lot, "999999", days_ago=3, reason="")
    for _ in range(9):
        do(world, "receive_more", lot, "999999", days_ago=1)
    with pytest.raises(DomainError, match="no lot holds more than"):
        do(world, "receive_more", lot, "999999", days_ago=1)
