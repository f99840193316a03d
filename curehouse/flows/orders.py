"""Orders as the doors call them: what is sent, called off and taken back, and what the house says of it with it.

Each is the verb of ``inventory.services.orders`` under the same name; what comes in is ``flows/receive_order.py``.
"""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from curehouse.flows.order_notices import renew_orders
from curehouse.flows.proposal_notices import renew_proposals
from curehouse.flows.run_notices import renew_runs
from curehouse.workshops.actors import Actor
from inventory.models import Order
from inventory.services import orders as _orders


@transaction.atomic
def send_order(*, actor: Actor, order: Order, sent_on: date, at: datetime, promised_on: date | None = None) -> Order:
    """Note that an order was sent."""
    row = _orders.send_order(actor=actor, order=order, sent_on=sent_on, at=at, promised_on=promised_on)
    renew_runs(workshop=actor.workshop, at=at)
    renew_proposals(workshop=actor.workshop, at=at, orders=[row.pk])
    return row


@transaction.atomic
def promise(*, actor: Actor, order: Order, promised_on: date | None, at: datetime, why: str = "") -> Order:
    """Note the day that the supplier names now."""
    row = _orders.promise(actor=actor, order=order, promised_on=promised_on, at=at, why=why)
    renew_runs(workshop=actor.workshop, at=at)
    renew_orders(workshop=actor.workshop, at=at, orders=[row.pk])
    return row


@transaction.atomic
def call_off(*, actor: Actor, order: Order, why: str, at: datetime, lines: Sequence[int] | None = None) -> Order:
    """Call off an order, or what is still to come of it."""
    row = _orders.call_off(actor=actor, order=order, why=why, at=at, lines=lines)
    renew_runs(workshop=actor.workshop, at=at)
    renew_orders(workshop=actor.workshop, at=at, orders=[row.pk])
    renew_proposals(workshop=actor.workshop, at=at, orders=[row.pk])
    return row
