"""What is not to be ordered comes off the orders that the house wrote: put off, retired, or not sold any more.

What only costs other than it did is asked for as it is sold now. An order that a person wrote or changed stays as it is, and
its page says so; what the house would order with it stands beside it no longer.
"""

from collections.abc import Callable, Collection
from datetime import date, datetime

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.core.stock.reorder.drafted import CALLS, Because
from curehouse.flows.proposal_notices import renew_proposals
from curehouse.flows.run_notices import renew_runs
from curehouse.workshops.actors import Actor, the_house
from inventory.models import Material, Offer, Order, OrderLine, Proposal, PutOff, Supplier
from inventory.services import offers as _offers
from inventory.services import things as _things
from inventory.services.offers import OfferEntry
from inventory.services.orders import call_off, lock_order, write_order
from inventory.services.proposals import change_line, drop_line, forget_proposal, is_by_the_house
from inventory.services.proposals import put_off as _put_off


@transaction.atomic
def put_off(*, actor: Actor, material: Material, until: date, why: str, at: datetime) -> PutOff:
    """Note that a material is not to be ordered before a day, and take it off the orders that the house wrote of it."""
    orders = _lock_written(actor, _asked_of(material))
    _take_off(actor, orders, _of(material), why=f"{material} is not wanted now", at=at)
    row = _put_off(actor=actor, material=material, until=until, why=why, at=at)
    _renew(actor, orders, at=at)
    return row


@transaction.atomic
def retire_material(*, actor: Actor, material: Material, at: datetime) -> Material:
    """Take a material out of use, and off the orders that the house wrote of it."""
    orders = _lock_written(actor, _asked_of(material))
    _take_off(actor, orders, _of(material), why=f"{material} is out of use", at=at)
    row = _things.retire_material(material=material, at=at)
    _renew(actor, orders, at=at)
    return row


@transaction.atomic
def retire_supplier(*, actor: Actor, supplier: Supplier, at: datetime) -> Supplier:
    """Take a supplier out of use, and call off the order that the house wrote with them."""
    orders = _lock_written(actor, {supplier.pk})
    _take_off(actor, orders, lambda _material, _offer: True, why=f"{supplier} is out of use", at=at)
    row = _things.retire_supplier(supplier=supplier, at=at)
    _renew(actor, orders, at=at)
    return row


@transaction.atomic
def end_offer(*, actor: Actor, offer: Offer, at: datetime) -> Offer:
    """End an offer, and take it off the order that the house wrote of it."""
    orders = _lock_written(actor, {offer.supplier_id})
    _take_off(actor, orders, _sold_as(offer), why=f"{offer.material} is not sold so any more", at=at)
    row = _offers.end_offer(actor=actor, offer=offer, at=at)
    _renew(actor, orders, at=at)
    return row


@transaction.atomic
def change_offer(*, actor: Actor, offer: Offer, entry: OfferEntry, at: datetime) -> Offer:
    """End an offer and write what is sold instead, as :func:`sell_otherwise` does; and say what follows."""
    row, orders = sell_otherwise(actor=actor, offer=offer, entry=entry, at=at)
    _renew(actor, orders, at=at)
    return row


@transaction.atomic
def sell_otherwise(*, actor: Actor, offer: Offer, entry: OfferEntry, at: datetime) -> tuple[Offer, list[Order]]:
    """End an offer and write what is sold instead; return it, and the orders whose notices are to be made true.

    The order that the house wrote asks for as many packs of what is sold now where a pack holds the same; else it comes off
    until it is looked at anew. Whoever holds locks already holds the supplier's.
    """
    orders = _lock_written(actor, {offer.supplier_id})
    row = _offers.change_offer(actor=actor, offer=offer, entry=entry, at=at)
    if row.pack != offer.pack:
        _take_off(actor, orders, _sold_as(offer), why=f"{offer.material} is sold in other packs now", at=at)
        return row, orders
    for order in orders:
        line = OrderLine.objects.within(actor.workshop).filter(order=order, offer=offer).first()
        if is_by_the_house(order) and line is not None:
            packs = {offer.pk: 0, row.pk: max(line.packs, row.min_packs)}
            write_order(actor=the_house(actor.workshop), supplier=order.supplier, packs=packs, at=at)
        change_line(order=order, of=offer.pk, to=row.pk, least=row.min_packs)
    return row, orders


def _renew(actor: Actor, orders: Collection[Order], *, at: datetime) -> None:
    renew_runs(workshop=actor.workshop, at=at)
    renew_proposals(workshop=actor.workshop, at=at, orders=[order.pk for order in orders])


# Asked with the keys of a material and of an offer: whether what is ordered of it is meant.
_Meant = Callable[[int, int], bool]


def _of(material: Material) -> _Meant:
    return lambda material_key, _offer_key: material_key == material.pk


def _sold_as(offer: Offer) -> _Meant:
    return lambda _material_key, offer_key: offer_key == offer.pk


def _asked_of(material: Material) -> set[int]:
    """Return the keys of all who sell a material, or of whom some of it is asked."""
    selling = Offer.objects.within(material.workshop).filter(material=material).values_list("supplier", flat=True)
    asked = OrderLine.objects.within(material.workshop).filter(material=material, order__state=Order.State.WRITTEN)
    return {*selling, *asked.values_list("order__supplier", flat=True)}


def _lock_written(actor: Actor, suppliers: set[int]) -> list[Order]:
    """Lock suppliers, whether an order is written with them or not, and return what is written with them, locked.

    A look that is going on holds them too, and would write what is taken off here a moment later.
    """
    lock_rows(Supplier.objects.within(actor.workshop), suppliers)
    found = Order.objects.within(actor.workshop).written().filter(supplier__in=suppliers).order_by("pk")
    locked = [lock_order(actor=actor, order=order) for order in found]
    return [order for order in locked if order.state == Order.State.WRITTEN]


def _take_off(actor: Actor, orders: Collection[Order], goes: _Meant, *, why: str, at: datetime) -> None:
    """Take what is meant off locked orders that are written."""
    house = the_house(actor.workshop)
    for order in orders:
        drop_line(order=order, goes=goes)
        if is_by_the_house(order):
            _take_off_order(house, order, goes, why=why, at=at)


def _take_off_order(house: Actor, order: Order, goes: _Meant, *, why: str, at: datetime) -> None:
    """Let a locked order of the house say so; where only company is left on it, it is called off."""
    lines = list(OrderLine.objects.within(house.workshop).filter(order=order))
    going = {line.offer_id: 0 for line in lines if goes(line.material_id, line.offer_id)}
    if not going:
        return
    kept = Proposal.objects.within(house.workshop).filter(order=order).first()
    calling = [] if kept is None else [line for line in kept.lines if Because(line["because"]) in CALLS]
    if len(going) == len(lines):
        call_off(actor=house, order=order, why=f"{why}.", at=at)
    elif kept is not None and not calling:
        forget_proposal(order=order)
        call_off(actor=house, order=order, why=f"{why}, and the rest only came along with it.", at=at)
    else:
        write_order(actor=house, supplier=order.supplier, packs=going, at=at)
