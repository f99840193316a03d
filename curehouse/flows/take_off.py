"""What is not to be ordered comes off the orders that the house wrote: put off, retired, or not sold any more.

An order that a person wrote or changed stays as it is; what the house would order with it stands beside it no longer.
"""

from collections.abc import Callable
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
from inventory.services.orders import call_off, lock_order, write_order
from inventory.services.proposals import drop_line, forget_proposal, is_by_the_house
from inventory.services.proposals import put_off as _put_off


@transaction.atomic
def put_off(*, actor: Actor, material: Material, until: date, why: str, at: datetime) -> PutOff:
    """Note that a material is not to be ordered before a day, and take it off the orders that the house wrote of it."""
    orders = _take_off(actor, material, why=f"{material} is not wanted now", at=at)
    row = _put_off(actor=actor, material=material, until=until, why=why, at=at)
    _renew(actor, orders, at=at)
    return row


@transaction.atomic
def retire_material(*, actor: Actor, material: Material, at: datetime) -> Material:
    """Take a material out of use, and off the orders that the house wrote of it."""
    orders = _take_off(actor, material, why=f"{material} is out of use", at=at)
    row = _things.retire_material(material=material, at=at)
    _renew(actor, orders, at=at)
    return row


@transaction.atomic
def end_offer(*, actor: Actor, offer: Offer, at: datetime) -> Offer:
    """End an offer, and take it off the order that the house wrote of it."""
    orders = _take_off(actor, offer.material, why=f"{offer.material} is not sold so any more", at=at, offer=offer)
    row = _offers.end_offer(actor=actor, offer=offer, at=at)
    _renew(actor, orders, at=at)
    return row


def _renew(actor: Actor, orders: list[int], *, at: datetime) -> None:
    renew_runs(workshop=actor.workshop, at=at)
    renew_proposals(workshop=actor.workshop, at=at, orders=orders)


def _take_off(actor: Actor, material: Material, *, why: str, at: datetime, offer: Offer | None = None) -> list[int]:
    """Take a material (or one offer of it) off what is written; return the keys of the orders that were looked at.

    All who sell it are locked, whether an order is written with them or not: a look that is going on holds them too, and
    would write what is taken off here a moment later.
    """
    workshop = actor.workshop
    selling = Offer.objects.within(workshop).filter(material=material).values_list("supplier", flat=True)
    asked = OrderLine.objects.within(workshop).filter(material=material, order__state=Order.State.WRITTEN)
    suppliers = {*selling, *asked.values_list("order__supplier", flat=True)}
    lock_rows(Supplier.objects.within(workshop), suppliers)
    house = the_house(workshop)
    found = list(Order.objects.within(workshop).written().filter(supplier__in=suppliers).select_related("supplier"))

    def goes(material_key: int, offer_key: int) -> bool:
        return material_key == material.pk and (offer is None or offer_key == offer.pk)

    for order in sorted(found, key=lambda order: order.pk):
        locked = lock_order(actor=actor, order=order)
        if locked.state == Order.State.WRITTEN:
            drop_line(order=locked, goes=goes)
            if is_by_the_house(locked):
                _take_off_order(house, locked, goes, why=why, at=at)
    return [order.pk for order in found]


def _take_off_order(house: Actor, order: Order, goes: Callable[[int, int], bool], *, why: str, at: datetime) -> None:
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
