"""What comes in of an order: short, damaged, in other lots, at another price, more than was asked for, or taken back."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, DomainError, NotHere
from curehouse.flows.order_notices import renew_orders
from curehouse.flows.orders import call_off, promise
from curehouse.flows.receive_order import LineCame, LotCame, Received, receive_order
from curehouse.flows.stock import receive_more, reverse
from curehouse.notices.models import Notice
from inventory.balance import differences
from inventory.models import Lot, Movement, Offer, Order, OrderLine, OrderLineStep
from inventory.services.lots import LotPapers, correct_lot
from inventory.services.offers import end_offer
from inventory.services.orders import lines_of, send_order, write_order
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(world: World) -> Order:
    """Return four kilograms of olive oil and one of lye, sent six days ago and expected three days ago."""
    oil = world.offer(breaks=[(4, Decimal("7.20"))], lead_days=3)
    lye = world.offer(material=world.material("Lye", kind="lye"), price=Decimal("5.50"), lead_days=3)
    packs = {oil.pk: 4, lye.pk: 1}
    order = write_order(actor=world.actor, supplier=oil.supplier, packs=packs, at=world.now)
    return send_order(actor=world.actor, order=order, sent_on=world.days_ago(6).date(), at=world.now)


def line_of(order: Order, material: str = "Olive oil") -> OrderLine:
    return next(line for line in lines_of(order) if line.material.name == material)


def receive(world: World, order: Order, *came: LineCame, days_ago: int = 1, **how: Any) -> Received:
    day = world.days_ago(days_ago).date()
    return receive_order(actor=world.actor, order=order, received_on=day, came=came, at=world.now, **how)


def oil(order: Order, *lots: LotCame, **more: Any) -> LineCame:
    return LineCame(line_of(order).pk, lots=lots, **more)


def test_all_of_it_comes_in_lots_of_their_own_and_the_order_is_in(world: World, order: Order) -> None:
    lye = LineCame(line_of(order, "Lye").pk, [LotCame(1, supplier_lot="N-1", standing="released", why="sealed")])
    found = receive(world, order, oil(order, LotCame(4, supplier_lot="BM-1", best_before=date(2027, 3, 1))), lye)
    first, second = found.lots
    assert (first.on_hand, first.unit_cost, first.standing, first.supplier) == (
        4000, Decimal("0.0072"), "quarantine", order.supplier,
    )  # fmt: skip
    assert (second.supplier_lot, second.standing, second.received_on) == ("N-1", "released", world.days_ago(1).date())
    assert (found.order.state, found.still_open, found.priced) == ("in", (), ())
    assert differences() == []
    assert OrderLineStep.objects.within(world.workshop).lead_days().by(order.supplier_id) == [5, 5]


def test_a_short_delivery_leaves_the_rest_open_until_it_comes_or_will_not(world: World, order: Order) -> None:
    assert receive(world, order, oil(order, LotCame(1))).order.state == "partly_in"
    assert {line.material.name: line.open_packs for line in lines_of(order)} == {"Lye": 1, "Olive oil": 3}
    found = receive(world, order, oil(order, LotCame(1), ends_rest=True, rest_why="sold out"))
    assert (found.order.state, [line.material.name for line in found.still_open]) == ("partly_in", ["Lye"])
    assert call_off(actor=world.actor, order=order, why="sold out too", at=world.now).state == "in"
    assert differences() == []


def test_the_rest_that_will_not_come_says_why(world: World, order: Order) -> None:
    with pytest.raises(DomainError) as refused:
        receive(world, order, oil(order, LotCame(1), ends_rest=True))
    assert (refused.value.field, refused.value.data["line"]) == ("rest_why", line_of(order).pk)
    assert not Lot.objects.within(world.workshop).exists()


def test_packs_of_two_lots_on_one_line_are_two_lots(world: World, order: Order) -> None:
    found = receive(world, order, oil(order, LotCame(3, supplier_lot="BM-1"), LotCame(1, supplier_lot="BM-2")))
    assert [(lot.supplier_lot, lot.on_hand) for lot in found.lots] == [("BM-1", 3000), ("BM-2", 1000)]
    assert line_of(order).open_packs == 0


def test_a_damaged_pack_is_kept_in_quarantine_or_not_taken_as_the_maker_says(world: World, order: Order) -> None:
    torn = LotCame(1, supplier_lot="BM-1", why="torn open", is_damaged=True)
    found = receive(world, order, oil(order, LotCame(2, standing="released"), torn, refused_packs=1, refused_why="leaked out"))
    assert [(lot.standing, lot.on_hand) for lot in found.lots] == [("released", 2000), ("quarantine", 1000)]
    line = line_of(order)
    # The pack that was not taken is still owed.
    assert (line.came, line.damaged, line.open_packs) == (3, 1, 1)


@pytest.mark.parametrize(
    ("came", "field"),
    [
        ({"lots": [LotCame(1, is_damaged=True)]}, "why"),
        ({"lots": [LotCame(1, is_damaged=True, why="torn", standing="released")]}, "standing"),
        ({"lots": [LotCame(0)]}, "packs"),
        ({"lots": [LotCame(1, amount=Decimal(0))]}, "amount"),
        ({"refused_packs": 1}, "refused_why"),
        ({"refused_packs": -1, "refused_why": "torn"}, "refused_packs"),
        ({"lots": [LotCame(1)], "price": Decimal(-1)}, "price"),
        ({}, "lines"),
    ],
)
def test_what_cannot_be_right_is_answered_in_words_and_nothing_is_written(
    world: World, order: Order, came: dict, field: str
) -> None:
    wrong = LineCame(line_of(order).pk, **came)
    with pytest.raises(DomainError) as refused:
        receive(world, order, LineCame(line_of(order, "Lye").pk, [LotCame(1)]) if came else oil(order), wrong)
    assert refused.value.field == field
    assert not Lot.objects.within(world.workshop).exists()
    assert Order.objects.within(world.workshop).get().state == "sent"


@pytest.mark.parametrize(("days_ago", "field"), [(-1, "received_on"), (7, "received_on")])
def test_nothing_comes_tomorrow_or_before_it_was_sent(world: World, order: Order, days_ago: int, field: str) -> None:
    with pytest.raises(DomainError) as refused:
        receive(world, order, oil(order, LotCame(1)), days_ago=days_ago)
    assert refused.value.field == field


def test_another_price_is_what_the_lot_cost_and_is_said(world: World, order: Order) -> None:
    found = receive(world, order, oil(order, LotCame(4, amount=Decimal(4100)), price=Decimal("7.995")))
    (lot,), (priced,) = found.lots, found.priced
    assert (lot.on_hand, lot.unit_cost) == (4100, Decimal("0.007800"))
    assert (priced.line.price, priced.paid, priced.offer) == (Decimal("7.20"), Decimal("7.995"), None)
    assert Offer.objects.within(world.workshop).standing().count() == 2


def test_the_offer_costs_what_was_paid_from_now_on_where_that_is_wished(world: World, order: Order) -> None:
    found = receive(world, order, oil(order, LotCame(4), price=Decimal("7.90"), changes_offer=True))
    offer = found.priced[0].offer
    assert (offer.price, [one.price for one in offer.breaks.all()]) == (Decimal("8.20"), [Decimal("7.90")])
    assert offer.follows == line_of(order).offer


def test_a_price_break_that_is_none_any_more_is_left_out(world: World, order: Order) -> None:
    found = receive(world, order, oil(order, LotCame(4), price=Decimal("8.50"), changes_offer=True))
    offer = found.priced[0].offer
    assert (offer.price, list(offer.breaks.all())) == (Decimal("8.20"), [])


def test_the_price_of_an_offer_that_has_ended_is_not_changed(world: World, order: Order) -> None:
    end_offer(actor=world.actor, offer=line_of(order).offer, at=world.now)
    found = receive(world, order, oil(order, LotCame(4), price=Decimal(9), changes_offer=True))
    assert (found.priced[0].offer, found.lots[0].unit_cost) == (None, Decimal("0.009"))


def test_more_than_was_asked_for_and_what_was_called_off_is_booked_all_the_same(world: World, order: Order) -> None:
    lye = line_of(order, "Lye")
    call_off(actor=world.actor, order=order, why="not wanted", at=world.now)
    found = receive(world, order, LineCame(lye.pk, [LotCame(3)]))
    assert (found.order.state, found.lots[0].on_hand) == ("in", 3000)
    assert differences() == []


def test_what_was_never_sent_is_sent_first(world: World) -> None:
    offer = world.offer()
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
    with pytest.raises(Conflict) as refused:
        receive(world, order, oil(order, LotCame(1)))
    assert refused.value.code == "not_sent"


def test_a_strangers_line_is_not_here(world: World, order: Order, stranger: World) -> None:
    with pytest.raises(NotHere):
        receive(world, order, LineCame(987654, [LotCame(1)]))
    with pytest.raises(NotHere):
        receive(stranger, order, oil(order, LotCame(1)))


def test_a_lot_that_never_came_gives_the_order_its_packs_back(world: World, order: Order) -> None:
    call_off(actor=world.actor, order=order, why="no lye", at=world.now, lines=[line_of(order, "Lye").pk])
    (lot,) = receive(world, order, oil(order, LotCame(4))).lots
    assert Order.objects.within(world.workshop).get().state == "in"
    back = {"actor": world.actor, "reason": "another order's", "at": world.now}
    reverse(movement=lot.movements.get(), **back)
    assert Order.objects.within(world.workshop).get().state == "sent"
    assert line_of(order).open_packs == 4
    assert OrderLineStep.objects.within(world.workshop).lead_days().by_both == {}
    assert differences() == []
    # It comes after all.
    assert receive(world, order, oil(order, LotCame(4))).order.state == "in"


def test_more_of_a_lot_that_is_taken_back_gives_nothing_back(world: World, order: Order) -> None:
    (lot,) = receive(world, order, oil(order, LotCame(4))).lots
    later = world.days_ago(-1)
    asked = {"actor": world.actor, "at": later}
    more = receive_more(lot=lot, amount=Decimal(500), moment=later, **asked)
    reverse(movement=more, reason="a slip", **asked)
    assert line_of(order).open_packs == 0


def test_a_receipt_on_another_day_is_still_the_orders(world: World, order: Order) -> None:
    (lot,) = receive(world, order, oil(order, LotCame(4))).lots
    papers = LotPapers("BM-1", None, lot.unit_cost, received_on=world.days_ago(2).date())
    correct_lot(actor=world.actor, lot=lot, papers=papers, why="it came on Sunday", at=world.now)
    assert line_of(order).open_packs == 0
    moved = Movement.objects.within(world.workshop).filter(lot=lot, kind="receive").in_force().get()
    reverse(actor=world.actor, movement=moved, reason="never came", at=world.now)
    assert line_of(order).open_packs == 4
    assert differences() == []


def notices(world: World) -> list[tuple[str, str]]:
    return list(Notice.objects.within(world.workshop).of_kind("order_late").values_list("state", "closed_why"))


def test_a_late_order_is_told_once_and_until_it_is_in(world: World, order: Order) -> None:
    for _ in range(2):
        renew_orders(workshop=world.workshop, at=world.now, tells_new=True)
    assert notices(world) == [("open", "")]
    told = Notice.objects.within(world.workshop).of_kind("order_late").get()
    assert told.title == f"Order {order.number}, Brook Mill is late"
    assert told.body.startswith("Still to come: Lye, Olive oil.\nSent Wed 4 Mar, expected Sat 7 Mar.")
    receive(world, order, oil(order, LotCame(4)), days_ago=4)
    told.refresh_from_db()
    assert told.body.startswith("Still to come: Lye.")
    receive(world, order, LineCame(line_of(order, "Lye").pk, [LotCame(1)]))
    assert notices(world) == [("withdrawn", "It is in.")]


def test_what_is_called_off_or_named_for_another_day_is_late_no_more(world: World, order: Order) -> None:
    renew_orders(workshop=world.workshop, at=world.now, tells_new=True)
    named = world.days_ago(-2).date()
    promise(actor=world.actor, order=order, promised_on=named, at=world.now)
    assert notices(world) == [("withdrawn", "It is expected on another day now.")]
    renew_orders(workshop=world.workshop, at=world.days_ago(-3), tells_new=True)
    assert sorted(notices(world))[0] == ("open", "")
    call_off(actor=world.actor, order=order, why="bought elsewhere", at=world.now)
    assert ("withdrawn", "It is called off.") in notices(world)
