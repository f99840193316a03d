"""The only writer of orders: each verb locks the order, keeps what was done as a step, and the state that follows.

Locks: a supplier, then its orders, come before a material and all else (``posting.py`` has the rest).
"""

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.common.locking import lock_rows
from curehouse.common.time import day_words, local_day
from curehouse.workshops.actors import Actor
from curehouse.workshops.services import next_order_number
from inventory.models import Lot, Offer, Order, OrderLine, OrderLineStep, OrderStep, Supplier
from inventory.order_state import Packs, state_of
from inventory.services.entries import clean_note, clean_reason, show_amount
from inventory.services.offers import clean_packs, price_of

logger = logging.getLogger(__name__)

_Step = OrderStep.Kind
_FARTHEST = timedelta(days=2 * 366)


def lock_order(*, actor: Actor, order: Order) -> Order:
    """Return an order fresh and locked until the transaction ends."""
    row = lock_rows(Order.objects.within(actor.workshop).named(), [order.pk]).get(order.pk)
    if row is None:
        raise NotHere("not_here", "There is no such order in this workshop.")
    return row


def lines_of(order: Order) -> list[OrderLine]:
    """Return the lines of an order with their figures."""
    return list(OrderLine.objects.within(order.workshop).filter(order=order).named().with_packs().in_order())


def newest_step(order: Order) -> int:
    """Return the key of the last step that changed what is still to come of an order; 0 where none did."""
    kinds = (_Step.RECEIVED, _Step.CALLED_OFF, _Step.GIVEN_BACK)
    steps = OrderStep.objects.within(order.workshop).filter(order=order, kind__in=kinds)
    return steps.order_by("-pk").values_list("pk", flat=True).first() or 0


def keep_state(order: Order) -> None:
    """Let a locked order stand where its lines' steps bring it."""
    packs = [Packs(line.packs, line.came, line.ended) for line in lines_of(order)]
    order.state = state_of(is_sent=order.sent_on is not None, lines=packs)
    order.save(update_fields=["state"])


def write_step(*, actor: Actor, order: Order, kind: str, at: datetime, day: date | None = None, said: str = "") -> OrderStep:
    """Write what was done with a locked order."""
    logger.info("order step: workshop=%s order=%s kind=%s", actor.workshop.pk, order.pk, kind)
    return OrderStep.unscoped.create(
        workshop=actor.workshop, order=order, kind=kind, day=day, said=said, at=at, **actor.signature
    )  # fmt: skip


@transaction.atomic
def write_order(
    *,
    actor: Actor,
    supplier: Supplier,
    packs: Mapping[int, int],
    at: datetime,
    note: str | None = None,
    adds: bool = False,
    of: int | None = None,
) -> Order:
    """Write an order with a supplier, or change the one that is written and not sent.

    *packs* are by the key of the offer: so many from now on (0: none), or so many more where it *adds*. Offers
    that are not named stay as they are, and so does the note where it is None. *of* is the key of the order that
    is meant, if one is: where it is not written any more, nothing is.
    """
    row = lock_rows(Supplier.objects.within(actor.workshop), [supplier.pk]).get(supplier.pk)
    if row is None:
        raise NotHere("not_here", "There is no such supplier in this workshop.", field="supplier")
    offers = Offer.objects.within(actor.workshop).named().filter(supplier=row, pk__in=packs)
    known = {offer.pk: offer for offer in offers}
    if len(known) != len(packs):
        raise NotHere("not_here", f"{row} has no such offer: choose from what they sell.", field="offer")
    found = Order.objects.within(actor.workshop).filter(supplier=row).written().first()
    if of is not None and (found is None or found.pk != of):
        raise _moved_on(actor, of, at=at)
    order = _new_order(actor, row, at=at) if found is None else lock_order(actor=actor, order=found)
    # Sending and calling off lock the order only: while this waited for it, either may have been.
    _must_be(order, Order.State.WRITTEN, code="not_written", said="somebody did that just now. Look at it, and write another.")
    said = [_set_packs(order, known[key], wanted, adds=adds) for key, wanted in sorted(packs.items())]
    if note is not None and (clean := clean_note(note)) != order.note:
        order.note = clean
        order.save(update_fields=["note"])
        said.append("the note")
    if not order.lines.exists():
        what = "Say how many packs of something are wanted" if found is None else "Nothing would be left of it: call it off"
        raise Invalid("nothing_ordered", f"{what}.", field="packs")
    changes = [one for one in said if one]
    if found is None or changes:
        kind = _Step.WRITTEN if found is None else _Step.CHANGED
        write_step(actor=actor, order=order, kind=kind, at=at, said="; ".join(changes))
    return order


def _moved_on(actor: Actor, key: int, *, at: datetime) -> Conflict:
    order = Order.objects.within(actor.workshop).named().get_here(key, what="order")
    today = local_day(at, actor.workshop.time_zone)
    is_off = order.state == Order.State.CALLED_OFF or order.sent_on is None
    became = order.get_state_display() if is_off else f"sent {day_words(order.sent_on, today=today)}"
    return Conflict("moved_on", f"{order} was {became}: nothing of what you changed is written.", field="order", order=key)


def _new_order(actor: Actor, supplier: Supplier, *, at: datetime) -> Order:
    if supplier.retired_at is not None:
        raise Conflict("retired", f"{supplier} is out of use: put them into use again first.", field="supplier")
    number = next_order_number(workshop=actor.workshop)
    said = f"An order with {supplier} was written just now: look at it, and add to it."
    with answered(Order, {"order_one_written": Conflict("one_written", said, field="supplier")}):
        return Order.unscoped.create(
            workshop=actor.workshop, supplier=supplier, number=number, written_at=at, **actor.signature
        )  # fmt: skip


def _set_packs(order: Order, offer: Offer, wanted: int, *, adds: bool) -> str:
    """Let a written order ask for so many packs of an offer; return what that changes."""
    line = OrderLine.objects.within(order.workshop).filter(order=order, offer=offer).first()
    had = line.packs if line else 0
    packs = clean_packs(wanted + (had if adds else 0), field="packs", what=f"Packs of {offer.material}", least=0)
    if packs == had:
        return ""
    if not packs:
        OrderLine.unscoped.filter(pk=line.pk).delete()
        return f"{offer.material}: none"
    if offer.ended_at is not None:
        raise Conflict("ended", f"{offer} has ended: choose what is sold now.", field="offer", offer=offer.pk)
    if offer.material.retired_at is not None:
        raise Conflict("retired", f"{offer.material} is retired: put it into use again first.", field="offer", offer=offer.pk)
    if packs < offer.min_packs:
        said = f"{offer.material} is sold from {offer.min_packs} packs on: order so many, or none."
        raise Invalid("min_packs", said, field="packs", offer=offer.pk)
    columns = {
        "packs": packs, "pack": offer.pack, "price": price_of(offer, packs), "article": offer.article,
        "material": offer.material, "is_hazardous": offer.is_hazardous, "shelf_days": offer.shelf_days,
        "lead_days": offer.supplier.lead_days if offer.lead_days is None else offer.lead_days,
    }  # fmt: skip
    OrderLine.unscoped.update_or_create(workshop=order.workshop, order=order, offer=offer, defaults=columns)
    pack = show_amount(offer.pack, offer.material, order.workshop.unit)
    return f"{offer.material}: {packs} × {pack}"


def _must_be(order: Order, *states: str, code: str, said: str) -> None:
    if order.state not in states:
        raise Conflict(code, f"{order} is {order.get_state_display()}: {said}", field="order")


@transaction.atomic
def send_order(*, actor: Actor, order: Order, sent_on: date, at: datetime, promised_on: date | None = None) -> Order:
    """Note that an order was sent, on a day that may have passed, with the day the supplier named if they did.

    What the supplier asks beside the goods is kept as it is now, and for each line the day that follows from
    what is known of the supplier.
    """
    row = lock_order(actor=actor, order=order)
    _must_be(row, Order.State.WRITTEN, code="not_written", said="what is sent stays as it was sent.")
    today = local_day(at, actor.workshop.time_zone)
    if sent_on > today:
        raise Invalid("future", "The day lies in the future: note it once it is sent.", field="sent_on")
    if sent_on < today - _FARTHEST:
        raise Invalid("long_ago", "The day lies over two years back: check its year.", field="sent_on")
    supplier = row.supplier
    row.sent_on, row.promised_on = sent_on, _clean_promise(promised_on, sent_on=sent_on)
    row.freight, row.free_freight_from = supplier.freight, supplier.free_freight_from
    row.hazard_surcharge = supplier.hazard_surcharge
    row.state = Order.State.SENT
    row.save(update_fields=["state", "sent_on", "promised_on", "freight", "free_freight_from", "hazard_surcharge"])
    for line in lines_of(row):
        days = line.lead_days if line.lead_days is not None else supplier.lead_days
        line.lead_days = days
        line.expected_on = None if days is None else sent_on + timedelta(days=days)
        line.save(update_fields=["lead_days", "expected_on"])
    write_step(actor=actor, order=row, kind=_Step.SENT, at=at, day=sent_on)
    return row


def _clean_promise(day: date | None, *, sent_on: date) -> date | None:
    if day is not None and not sent_on <= day <= sent_on + _FARTHEST:
        said = "The day it is to come lies within two years after it was sent: check it."
        raise Invalid("promised_on", said, field="promised_on")
    return day


@transaction.atomic
def promise(*, actor: Actor, order: Order, promised_on: date | None, at: datetime, why: str = "") -> Order:
    """Note the day that the supplier names now for what is still to come, or that they take back what they named."""
    row = lock_order(actor=actor, order=order)
    _must_be(row, Order.State.SENT, Order.State.PARTLY_IN, code="not_on_the_way", said="no more of it is to come.")
    row.promised_on = _clean_promise(promised_on, sent_on=row.sent_on)
    row.save(update_fields=["promised_on"])
    said = clean_reason(why, ask="") if why.strip() else ""
    write_step(actor=actor, order=row, kind=_Step.PROMISED, at=at, day=promised_on, said=said)
    return row


@transaction.atomic
def call_off(*, actor: Actor, order: Order, why: str, at: datetime, lines: Sequence[int] | None = None) -> Order:
    """Call off an order, or what is still to come of it (of all *lines*, or of those with these keys), and say why.

    Of an order that is not sent all is called off: its lines are changed.
    """
    row = lock_order(actor=actor, order=order)
    reason = clean_reason(why, ask="Say why it is called off.", field="why")
    if row.state == Order.State.WRITTEN and lines is not None:
        said = f"{row} is written: change how many packs it asks for, or call all of it off."
        raise Conflict("not_sent", said, field="lines")
    known = lines_of(row)
    if lines is not None and not {line.pk for line in known}.issuperset(lines):
        raise NotHere("not_here", "There is no such line on this order.", field="lines")
    ending = [line for line in known if line.open_packs and (lines is None or line.pk in lines)]
    if not ending:
        raise Conflict("nothing_open", f"{row} is {row.get_state_display()}: nothing of it is still to come.", field="order")
    step = write_step(actor=actor, order=row, kind=_Step.CALLED_OFF, at=at, said=reason)
    write_line_steps(
        step, [LineStep(line, OrderLineStep.Kind.ENDED, line.open_packs, said=reason) for line in ending]
    )  # fmt: skip
    keep_state(row)
    return row


@dataclass(frozen=True, slots=True)
class LineStep:
    """Packs of a line that came (with their lot), came damaged, or will not come."""

    line: OrderLine
    kind: str
    packs: int
    lot: Lot | None = None
    price: Decimal | None = None
    said: str = ""
    takes_back: OrderLineStep | None = None


def write_line_steps(step: OrderStep, lines: Iterable[LineStep]) -> list[OrderLineStep]:
    """Write what became of packs within a step of a locked order."""
    return OrderLineStep.unscoped.bulk_create(
        OrderLineStep(
            workshop=step.workshop, step=step, line=one.line, kind=one.kind, packs=one.packs, lot=one.lot,
            price=one.price, said=one.said, takes_back=one.takes_back,
        )
        for one in lines
    )  # fmt: skip


def ordered_by(*, actor: Actor, lot: Lot) -> OrderLineStep | None:
    """Return the step with which a lot came in by an order, its order locked, or None; call it before the lot is locked."""
    steps = OrderLineStep.objects.within(actor.workshop).select_related("line__order")
    found = steps.filter(lot=lot).first()
    if found is None:
        return None
    lock_order(actor=actor, order=found.line.order)
    # What took it back before us is seen only now.
    return steps.in_force().filter(pk=found.pk).first()


def give_packs_back(*, actor: Actor, came: OrderLineStep, why: str, at: datetime) -> Order:
    """Give the order (locked by :func:`ordered_by`) back the packs of a lot whose receipt never was."""
    order = lock_order(actor=actor, order=came.line.order)
    step = write_step(actor=actor, order=order, kind=_Step.GIVEN_BACK, at=at, said=why)
    line = came.line
    write_line_steps(step, [LineStep(line, came.kind, came.packs, said=why, takes_back=came)])
    keep_state(order)
    return order
