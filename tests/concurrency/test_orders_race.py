"""Two go about one order at one moment: what came is booked, the state is what the steps come to, nobody waits for ever."""

from decimal import Decimal
from functools import partial
from threading import Barrier
from typing import Any

import pytest

from curehouse.common.errors import Conflict
from curehouse.flows.orders import call_off, send_order
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.flows.stock import reverse
from curehouse.workshops.actors import Actor
from inventory.balance import differences
from inventory.models import Lot, Offer, Order, OrderLine, OrderStep
from inventory.services import orders as services
from inventory.services.offers import OfferEntry, change_offer
from inventory.services.orders import lines_of, write_order
from tests.arena import STUCK_SECONDS, Arena
from tests.world import World

ROUNDS = 3


def sent(world: World, *, packs: int = 4) -> Order:
    """Return an order of two materials that is sent."""
    offers = list(world.supplier().offers.order_by("pk"))
    offers = offers or [world.offer(), world.offer(material=world.material("Lye", kind="lye"))]
    wanted = {offer.pk: packs for offer in offers}
    order = write_order(actor=world.actor, supplier=world.supplier(), packs=wanted, at=world.now)
    return send_order(actor=world.actor, order=order, sent_on=world.days_ago(3).date(), at=world.now)


def receive(world: World, order: Order, lines: list[OrderLine], packs: int) -> None:
    came = [LineCame(line.pk, [LotCame(packs)]) for line in lines]
    receive_order(actor=world.actor, order=order, received_on=world.now.date(), came=came, at=world.now)


def state_of(world: World, order: Order) -> str:
    return Order.objects.within(world.workshop).get(pk=order.pk).state


def test_two_who_receive_the_same_order_book_what_each_saw_come(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        order = arena.do(partial(sent, world))
        lines = arena.do(partial(lines_of, order))
        assert arena.race(*[partial(receive, world, order, lines, 2)] * 2) == [None, None]
        assert arena.do(partial(state_of, world, order)) == "in"
    assert arena.do(differences) == []


def test_two_receipts_crosswise_do_not_wait_for_each_other_for_ever(arena: Arena) -> None:
    world = arena.do(World)
    orders = [arena.do(partial(sent, world)) for _ in range(2)]
    first, second = (arena.do(partial(lines_of, order)) for order in orders)

    def many(order: Order, lines: list[OrderLine]) -> None:
        for _ in range(4):
            receive(world, order, lines, 1)

    outcomes = arena.race(partial(many, orders[0], first), partial(many, orders[1], second[::-1]))
    assert outcomes == [None, None]
    assert [arena.do(partial(state_of, world, order)) for order in orders] == ["in", "in"]
    assert arena.do(lambda: Lot.objects.within(world.workshop).count()) == 16
    assert arena.do(differences) == []


def test_what_comes_in_while_it_is_called_off_is_booked(arena: Arena) -> None:
    world = arena.do(World)
    for _ in range(ROUNDS):
        order = arena.do(partial(sent, world))
        lines = arena.do(partial(lines_of, order))
        off = partial(call_off, actor=world.actor, order=order, why="too late", at=world.now)
        outcomes = arena.race(partial(receive, world, order, lines, 2), off)
        assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
        assert arena.do(partial(state_of, world, order)) == "in"
    assert arena.do(differences) == []


def test_an_order_that_two_send_is_sent_once(arena: Arena) -> None:
    world = arena.do(World)
    offer = arena.do(world.offer)
    order = arena.do(
        lambda: write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
    )  # fmt: skip
    send = partial(send_order, actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    outcomes = arena.race(send, send)
    assert [one.code for one in outcomes if isinstance(one, Conflict)] == ["not_written"], outcomes
    assert arena.do(lambda: OrderStep.objects.within(world.workshop).filter(kind="sent").count()) == 1


def written(world: World) -> tuple[Order, partial]:
    """Return an order of one pack that is written, and somebody who makes it five."""
    offer = world.offer()
    packs = {"actor": world.actor, "supplier": offer.supplier, "at": world.now}
    return write_order(**packs, packs={offer.pk: 1}), partial(write_order, **packs, packs={offer.pk: 5})


def send_it(world: World, order: Order) -> None:
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)


def call_it_off(world: World, order: Order) -> None:
    call_off(actor=world.actor, order=order, why="too early", at=world.now)


END = {"sent": send_it, "called_off": call_it_off}


def after_it(arena: Arena, world: World, order: Order, kind: str) -> list[str]:
    """Return what was done with the order after it was sent or called off."""
    steps = OrderStep.objects.within(world.workshop).filter(order=order).in_order()
    kinds = arena.do(lambda: list(steps.values_list("kind", flat=True)))
    return kinds[kinds.index(kind) + 1 :]


@pytest.mark.parametrize("kind", ["sent", "called_off"])
def test_nobody_changes_what_is_sent_or_called_off_at_that_moment(arena: Arena, kind: str) -> None:
    world = arena.do(World)
    order, change = arena.do(partial(written, world))
    outcomes = arena.race(change, partial(END[kind], world, order))
    assert [one.code for one in outcomes if isinstance(one, Exception)] in ([], ["not_written"]), outcomes
    assert after_it(arena, world, order, kind) == []


@pytest.mark.parametrize("kind", ["sent", "called_off"])
def test_who_waits_for_the_lock_looks_again(arena: Arena, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if arena.vendor == "sqlite":
        # A transaction holds the only write lock from its beginning: nobody sends while another writes.
        return
    world = arena.do(World)
    order, change = arena.do(partial(written, world))
    lock = services.lock_order

    def once_it_is_over(**what: Any) -> Order:
        monkeypatch.setattr(services, "lock_order", lock)
        arena.do(partial(END[kind], world, order))
        return lock(**what)

    monkeypatch.setattr(services, "lock_order", once_it_is_over)
    (outcome,) = arena.race(change)
    assert isinstance(outcome, Conflict), outcome
    assert outcome.code == "not_written"
    assert after_it(arena, world, order, kind) == []
    assert arena.do(lambda: [line.packs for line in lines_of(order)]) == [1]


def test_a_receipt_that_changes_an_offer_and_who_changes_it_by_hand_do_not_wait_for_ever(arena: Arena) -> None:
    world = arena.do(World)
    for number in range(ROUNDS):
        order, line, offer = arena.do(partial(dear, world, number))
        came = [LineCame(line.pk, [LotCame(1)], price=Decimal(9), changes_offer=True)]
        entry = OfferEntry(supplier=offer.supplier, material=offer.material, pack=offer.pack, price=Decimal(7))
        outcomes = arena.race(
            partial(receive_order, actor=world.actor, order=order, received_on=world.now.date(), came=came, at=world.now),
            partial(change_offer, actor=world.actor, offer=offer, entry=entry, at=world.now),
        )
        assert [getattr(one, "code", one) for one in outcomes if isinstance(one, Exception)] in ([], ["ended"]), outcomes


def dear(world: World, number: int) -> tuple[Order, OrderLine, Offer]:
    """Return a sent order of one offer of its own."""
    offer = world.offer(material=world.material(f"Oil {number}"))
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
    send_it(world, order)
    return order, lines_of(order)[0], offer


def test_two_who_write_to_one_supplier_write_one_order(arena: Arena) -> None:
    world = arena.do(World)
    oil, lye = arena.do(lambda: (world.offer(), world.offer(material=world.material("Lye", kind="lye"))))

    def write(offer) -> None:
        write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)

    assert arena.race(partial(write, oil), partial(write, lye)) == [None, None]
    assert arena.do(lambda: OrderLine.objects.within(world.workshop).values("order").distinct().count()) == 1


def test_a_lot_taken_back_while_more_comes_in_gives_its_packs_back_once(arena: Arena) -> None:
    world = arena.do(World)
    order = arena.do(partial(sent, world))
    lines = arena.do(partial(lines_of, order))
    arena.do(partial(receive, world, order, lines[:1], 2))
    moved = arena.do(lambda: Lot.objects.within(world.workshop).get().movements.select_related("lot").get())
    back = partial(reverse, actor=world.actor, movement=moved, reason="never came", at=world.now)
    outcomes = arena.race(back, back, partial(receive, world, order, lines[1:], 4))
    assert [one.code for one in outcomes if isinstance(one, Exception)] == ["reversed"], outcomes
    assert arena.do(lambda: [line.open_packs for line in lines_of(order)]) == [4, 0]
    assert arena.do(differences) == []


def call_off_each(world: World, order: Order, lines: list[OrderLine]) -> list[partial]:
    return [partial(call_off, actor=world.actor, order=order, why="sold out", at=world.now, lines=[one.pk]) for one in lines]


def test_two_lines_called_off_at_one_moment_leave_the_order_called_off(arena: Arena) -> None:
    world = arena.do(World)
    order = arena.do(partial(sent, world))
    outcomes = arena.race(*call_off_each(world, order, arena.do(partial(lines_of, order))))
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    assert arena.do(partial(state_of, world, order)) == "called_off"


def test_without_the_lock_neither_sees_what_the_other_called_off(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    if arena.vendor == "sqlite":
        # A transaction holds the only write lock from its beginning: there is no guard to take away.
        return
    world = arena.do(World)
    order = arena.do(partial(sent, world))
    lines, meet, keep = arena.do(partial(lines_of, order)), Barrier(2), services.keep_state

    def unlocked(*, actor: Actor, order: Order) -> Order:
        return Order.objects.within(actor.workshop).named().get(pk=order.pk)

    def keep_once_both_wrote(row: Order) -> None:
        meet.wait(STUCK_SECONDS)
        keep(row)

    monkeypatch.setattr(services, "lock_order", unlocked)
    monkeypatch.setattr(services, "keep_state", keep_once_both_wrote)
    outcomes = arena.race(*call_off_each(world, order, lines))
    assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
    assert arena.do(partial(state_of, world, order)) == "sent"
    assert [one.reckoned for one in arena.do(differences)] == ["called_off"]
