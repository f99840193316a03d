"""When what is ordered comes: by how long the supplier took so far, and given that it has not come yet."""

from datetime import date, timedelta
from typing import Any

import pytest

from curehouse.core.stock.lead_time import lead_time
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from inventory.adapter import deliveries
from inventory.models import Lot, Order, OrderLine, OrderLineStep
from inventory.queries.orders import Arrival
from inventory.services.lots import LotPapers, correct_lot
from inventory.services.orders import lines_of, promise, send_order, write_order
from inventory.services.things import retire_supplier
from tests.world import World

pytestmark = pytest.mark.django_db


def sent(world: World, *, days_ago: int) -> Order:
    offer = world.supplier().offers.first() or world.offer(lead_days=6, shelf_days=90)
    asked: dict[str, Any] = {"actor": world.actor, "at": world.now}
    order = write_order(supplier=offer.supplier, packs={offer.pk: 2}, **asked)
    return send_order(order=order, sent_on=world.days_ago(days_ago).date(), **asked)


def came(world: World, order: Order, *, days_ago: int, packs: int = 2) -> None:
    lines = [LineCame(line.pk, [LotCame(packs)]) for line in lines_of(order)]
    receive_order(actor=world.actor, order=order, received_on=world.days_ago(days_ago).date(), came=lines, at=world.now)


def arrival(world: World, on: date | None = None) -> Arrival:
    (found,) = OrderLine.objects.within(world.workshop).arrivals(on=on or world.now.date())
    return found


def test_what_they_say_counts_until_something_came(world: World) -> None:
    order = sent(world, days_ago=2)
    found, said = arrival(world), lead_time([], 6).still_open_after(1)
    assert found.expected_on == order.sent_on + timedelta(days=6)
    assert found.likely_on == order.sent_on + timedelta(days=said.within(0.5))
    assert found.safe_on == order.sent_on + timedelta(days=said.within(0.95))
    assert found.best_before == found.likely_on + timedelta(days=90)


def test_what_came_tells_more_than_what_they_say(world: World) -> None:
    for ago in (60, 40, 20):
        came(world, sent(world, days_ago=ago), days_ago=ago - 10)
    assert OrderLineStep.objects.within(world.workshop).lead_days().by(world.supplier().pk) == [10, 10, 10]
    order = sent(world, days_ago=1)
    found, learnt = arrival(world), lead_time([10, 10, 10], 10)
    assert found.expected_on == order.sent_on + timedelta(days=learnt.within(0.5))
    assert not found.is_late
    assert (found.expected_on - order.sent_on).days in (9, 10)


def test_only_the_first_receipt_of_an_order_tells(world: World) -> None:
    order = sent(world, days_ago=30)
    came(world, order, days_ago=25, packs=1)
    came(world, order, days_ago=2, packs=1)
    assert OrderLineStep.objects.within(world.workshop).lead_days().by(world.supplier().pk) == [5]


def test_what_is_overdue_is_reckoned_anew_from_day_to_day(world: World) -> None:
    order = sent(world, days_ago=0)
    before = None
    for day in range(40):
        today = order.sent_on + timedelta(days=day)
        found = arrival(world, today)
        assert today <= found.likely_on <= found.by_80_on <= found.safe_on
        assert before is None or (found.likely_on, found.safe_on) >= before
        assert found.is_late == (day > 6)
        before = (found.likely_on, found.safe_on)


def test_a_day_that_is_named_beats_what_is_reckoned_until_it_has_passed(world: World) -> None:
    order = sent(world, days_ago=9)
    named = world.days_ago(-4).date()
    promise(actor=world.actor, order=order, promised_on=named, at=world.now)
    found = arrival(world)
    assert (found.expected_on, found.likely_on, found.is_late) == (named, named, False)
    assert found.safe_on >= named
    later = arrival(world, named + timedelta(days=2))
    assert later.is_late
    assert later.likely_on >= named + timedelta(days=2)


def test_a_day_that_was_named_and_taken_back_counts_no_more(world: World) -> None:
    offer = world.offer(lead_days=6)
    asked: dict[str, Any] = {"actor": world.actor, "at": world.now}
    order = write_order(supplier=offer.supplier, packs={offer.pk: 2}, **asked)
    send_order(order=order, sent_on=world.now.date(), promised_on=world.days_ago(-20).date(), **asked)
    assert arrival(world).expected_on == world.days_ago(-20).date()
    promise(order=order, promised_on=None, **asked)
    assert arrival(world).expected_on == world.days_ago(-6).date()


def test_of_a_thing_that_comes_later_than_the_rest_that_is_learnt(world: World) -> None:
    oil, lye = world.offer(), world.offer(material=world.material("Lye", kind="lye"))
    order = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 1, lye.pk: 1}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=world.days_ago(30).date(), at=world.now)
    for line in lines_of(order):
        day = world.days_ago(25 if line.offer_id == oil.pk else 10).date()
        receive_order(
            actor=world.actor, order=order, received_on=day, came=[LineCame(line.pk, [LotCame(1)])], at=world.now
        )  # fmt: skip
    took = OrderLineStep.objects.within(world.workshop).lead_days()
    assert took.by_both == {(oil.supplier_id, oil.material_id): [5], (oil.supplier_id, lye.material_id): [20]}
    here = deliveries(workshop=world.workshop, arrivals=[], materials=[oil.material_id, lye.material_id]).days
    assert here[str(lye.material_id)].likely > here[str(oil.material_id)].likely
    assert took.lead_time(oil.supplier_id, lye.material_id, said=3) == lead_time([20], 12.5)


def test_what_is_ordered_today_is_reckoned_as_what_was_sent_today(world: World) -> None:
    offer = world.offer(lead_days=3)
    for ago in (60, 40):
        came(world, sent(world, days_ago=ago), days_ago=ago - 20)
    sent(world, days_ago=0)
    days = deliveries(workshop=world.workshop, arrivals=[], materials=[offer.material_id]).days[str(offer.material_id)]
    assert arrival(world).safe_on == world.now.date() + timedelta(days=days.safe)


def test_nothing_is_ordered_any_more_from_whom_nothing_is_bought(world: World) -> None:
    offer = world.offer(lead_days=3)
    retire_supplier(supplier=offer.supplier, at=world.now)
    assert deliveries(workshop=world.workshop, arrivals=[], materials=[offer.material_id]).days == {}


def test_a_day_of_receipt_that_was_put_right_tells(world: World) -> None:
    came(world, sent(world, days_ago=20), days_ago=2)
    lot = Lot.objects.within(world.workshop).get()

    def correct(days_ago: int) -> list[int]:
        papers = LotPapers(lot.supplier_lot, lot.best_before, lot.unit_cost, world.days_ago(days_ago).date())
        correct_lot(actor=world.actor, lot=lot, papers=papers, why="a slip", at=world.now)
        return OrderLineStep.objects.within(world.workshop).lead_days().by(world.supplier().pk)

    assert correct(15) == [5]
    assert correct(25) == [0], "it was sent earlier than anybody wrote, but came in no less than no days"


def test_a_day_named_far_ahead_is_not_safe_itself(world: World) -> None:
    order = sent(world, days_ago=1)
    named = world.days_ago(-60).date()
    promise(actor=world.actor, order=order, promised_on=named, at=world.now)
    found = arrival(world)
    assert named == found.likely_on < found.by_80_on < found.safe_on


def test_the_later_half_of_orders_in_time_is_not_late(world: World) -> None:
    for ago in (100, 80, 60):
        came(world, sent(world, days_ago=ago), days_ago=ago - 10)
    order, learnt = sent(world, days_ago=0), lead_time([10, 10, 10], 10)
    assert learnt.within(0.5) < learnt.within(0.8)
    assert not arrival(world, order.sent_on + timedelta(days=learnt.within(0.8))).is_late
    assert arrival(world, order.sent_on + timedelta(days=learnt.within(0.8) + 1)).is_late


def test_arrivals_take_as_many_queries_however_many_orders_there_are(world: World, django_assert_num_queries: Any) -> None:
    came(world, sent(world, days_ago=30), days_ago=20)
    for _ in range(3):
        sent(world, days_ago=2)
    with django_assert_num_queries(2):
        assert len(OrderLine.objects.within(world.workshop).arrivals(on=world.now.date())) == 3


def test_it_may_come_sooner_than_it_likely_does_but_never_before_today(world: World) -> None:
    for ago in (60, 40, 20):
        came(world, sent(world, days_ago=ago), days_ago=ago - 10)
    order = sent(world, days_ago=1)
    found, learnt = arrival(world), lead_time([10, 10, 10], 10).still_open_after(0)
    assert found.early_on == order.sent_on + timedelta(days=learnt.within(0.05))
    assert world.now.date() <= found.early_on < found.likely_on < found.by_80_on <= found.safe_on
    promise(actor=world.actor, order=order, promised_on=world.now.date() + timedelta(days=15), at=world.now)
    named = arrival(world)
    assert world.now.date() <= named.early_on < named.likely_on == world.now.date() + timedelta(days=15)
    promise(actor=world.actor, order=order, promised_on=world.now.date(), at=world.now)
    assert arrival(world).early_on == arrival(world).likely_on == world.now.date()


def test_of_what_nobody_knows_the_day_there_is_no_early_one(world: World) -> None:
    offer = world.offer()
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    assert arrival(world).early_on is None
