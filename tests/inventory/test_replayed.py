"""In whatever order it is told, a lot holds what its story comes to in the order in which it happened."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.balance import differences
from inventory.models import Lot, Movement
from inventory.services import movements
from tests.world import World

pytestmark = pytest.mark.django_db

# What is told of a lot of 50 g, in this order: verb, grams and hours ago, or which of them is taken back
# (-1: the receipt the lot came with); and what is on hand then.
STORIES = {
    "the use that told of more is taken back": ([("use", 40, 2), ("use", 40, 5), ("back", 0)], 10),
    "a write-off before a short use is taken back": ([("write_off", 25, 3), ("use", 70, 5), ("back", 0)], 0),
    "a delivery between two uses": ([("use", 40, 2), ("use", 40, 5), ("receive_more", 200, 4)], 170),
    "a delivery after a short use told late": ([("receive_more", 50, 1), ("use", 70, 2)], 50),
    "counted empty before a use and a delivery": ([("use", 25, 5), ("receive_more", 50, 3), ("count", 0, 6)], 50),
    "the first receipt taken back": ([("receive_more", 50, 3), ("use", 25, 4), ("back", -1)], 50),
    "a use before an empty count and a delivery": ([("count", 0, 3), ("receive_more", 30, 2), ("use", 70, 3)], 30),
    "a late count that leaves less than was used": ([("use", 40, 1), ("count", 20, 2)], 0),
    "a write-off that rested on a delivery": ([("receive_more", 50, 3), ("write_off", 80, 2), ("back", 0)], 0),
    "a late write-off before another": ([("write_off", 40, 2), ("write_off", 30, 3), ("receive_more", 5, 1)], 5),
    "a return that rested on a delivery": ([("receive_more", 50, 3), ("give_back", 80, 2), ("use", 60, 2.5)], 0),
}


def tell(world: World, lot: Lot, *story: tuple) -> None:
    start, told = world.now, [lot.movements.get()]
    for seconds, (verb, *said) in enumerate(story):
        world.now = start + timedelta(seconds=seconds + 1)
        how = {"actor": world.actor, "at": world.now}
        if verb == "back":
            movements.reverse(movement=told[said[0] + 1], reason="a slip", **how)
            continue
        amount, how["moment"] = Decimal(said[0]), start - timedelta(hours=said[1])
        if verb == "count":
            told.append(movements.count(lot=lot, counted=amount, reason="weighed", **how).moved)
        elif verb == "use":
            told.append(movements.use(lot=lot, amount=amount, **how).movement)
        else:
            reason = {} if verb == "receive_more" else {"reason": "rancid"}
            told.append(getattr(movements, verb)(lot=lot, amount=amount, **reason, **how))


def held_by_place(lot: Lot) -> list[Decimal]:
    """Return what was there after each row of the ledger, in the order in which it happened."""
    held = [Decimal(0)]
    for row in Movement.objects.within(lot.workshop).filter(lot=lot).in_order():
        held.append(held[-1] + row.amount)
    return held


@pytest.mark.parametrize(("story", "holds"), STORIES.values(), ids=STORIES)
def test_what_is_on_hand_is_what_happened_in_its_order(world: World, story: list[tuple], holds: int) -> None:
    lot = world.lot("50")
    tell(world, lot, *story)
    assert Lot.objects.within(world.workshop).get(pk=lot.pk).on_hand == holds
    held = held_by_place(lot)
    assert (min(held), held[-1], differences()) == (0, holds, [])
