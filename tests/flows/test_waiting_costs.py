"""What a batch that waits and the work of an order are reckoned at: the workshop's own word, or what goes into its batches."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Invalid
from curehouse.flows.preferences import choose
from curehouse.flows.reorder_room import read_room
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.flows.waiting_costs import waiting_costs
from inventory.models import Order
from tests.used import used
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


def batches_of(world: World, *grams: int, unit_cost: str | None) -> None:
    """Pour batches that took so much each of a lot at such a cost a gram."""
    lot = world.lot("90000", days_here=100, unit_cost=None if unit_cost is None else Decimal(unit_cost))
    for place, amount in enumerate(grams):
        batch = world.batch(cut_days_ago=60 + place)
        book_use(
            actor=world.actor, batch=batch, lines=[UseLine(lot, Decimal(amount))], used_at=batch.poured_at, at=world.now
        )  # fmt: skip


def found(world: World) -> tuple[Decimal, ...]:
    one = waiting_costs(workshop=world.workshop, at=world.now)
    return one.late_batch, one.late_day, one.order_work


def test_where_no_batch_tells_it_sixty_is_taken_for_what_goes_into_one(world: World) -> None:
    batches_of(world, 1000, 1000, 1000, unit_cost=None)
    assert found(world) == (Decimal("15.00"), Decimal("3.00"), Decimal("5.10"))


def test_shares_of_what_goes_into_a_batch_here_in_whatever_it_counts(world: World) -> None:
    batches_of(world, 1000, 4000, 2000, unit_cost="3")
    assert waiting_costs(workshop=world.workshop, at=world.now).batch_goods == 6000
    assert found(world) == (1500, 300, 510)
    assert waiting_costs(workshop=world.workshop, at=world.now + timedelta(days=800)).batch_goods is None


def test_what_the_workshop_says_itself_counts_and_the_night_reckons_with_it(world: World) -> None:
    used(world)
    choose(workshop=world.workshop, changes={"late_batch_cost": Decimal(40), "order_work_cost": Decimal(0)}, at=world.now)
    world.workshop.refresh_from_db()
    assert found(world) == (Decimal(40), Decimal("3.00"), Decimal(0))
    room = read_room(workshop=world.workshop, at=world.now)
    assert (room.waiting.costs.late_batch, room.waiting.costs.late_day, room.sellers[0].work) == (40.0, 3.0, 0.0)


def test_less_than_nothing_is_refused(world: World) -> None:
    with pytest.raises(Invalid) as caught:
        choose(workshop=world.workshop, changes={"late_day_cost": Decimal(-1)}, at=world.now)
    assert caught.value.field == "late_day_cost"


def test_the_order_and_the_preferences_say_at_what_it_is_reckoned(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    visitor = Visitor(world)
    used(world)
    visitor.post("orders_propose")
    words = visitor.words("order", Order.objects.within(world.workshop).get().pk)
    said = "A batch that waits is reckoned at 15.00 EUR, and 3.00 EUR more for each day, the work of an order at 5.10 EUR"
    assert said in words
    page = visitor.words("preferences")
    assert "25 % for a batch that waits, 5 % for each day of it, 8.5 % for the work of an order" in page.replace("\u00a0", " ")
    assert "so 60 EUR are taken for it" in page
