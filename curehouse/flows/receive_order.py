"""What comes in of an order: lots, what was short, what was damaged, what it really cost; all of it, or nothing."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict, DomainError, Invalid, NotHere
from curehouse.common.locking import lock_rows
from curehouse.common.time import local_day
from curehouse.flows.order_notices import renew_orders
from curehouse.flows.proposal_notices import renew_proposals
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.take_off import sell_otherwise
from curehouse.workshops.actors import Actor
from inventory.models import Lot, Material, Movement, Offer, Order, OrderLine, OrderLineStep, OrderStep, Supplier
from inventory.services.entries import clean_amount, clean_reason, clean_receipt_day
from inventory.services.lots import ReceiptEntry, receive
from inventory.services.offers import PRICE_STEP, OfferEntry, clean_money, clean_packs
from inventory.services.orders import (
    LineStep,
    keep_state,
    lines_of,
    lock_order,
    newest_step,
    write_line_steps,
    write_step,
)

_Kind = OrderLineStep.Kind


@dataclass(frozen=True, slots=True)
class LotCame:
    """Packs of one lot: *amount* in grams or pieces where they hold other than the offer said.

    Damaged packs that are kept wait in quarantine, and *why* says what is wrong with them.
    """

    packs: int
    amount: Decimal | None = None
    supplier_lot: str = ""
    best_before: date | None = None
    standing: str = Lot.Standing.QUARANTINE
    why: str = ""
    is_damaged: bool = False


@dataclass(frozen=True, slots=True)
class LineCame:
    """What came of a line, by its key: lots, damaged packs that were not taken, what a pack cost (None: as ordered).

    *ends_rest*: what did not come will not come. *changes_offer*: the offer costs from now on what was paid.
    """

    line: int
    lots: Sequence[LotCame] = ()
    refused_packs: int = 0
    refused_why: str = ""
    price: Decimal | None = None
    ends_rest: bool = False
    rest_why: str = ""
    changes_offer: bool = False


@dataclass(frozen=True, slots=True)
class Priced:
    """A pack that cost other than it was ordered for."""

    line: OrderLine
    paid: Decimal
    offer: Offer | None = None


@dataclass(frozen=True, slots=True)
class Received:
    """What a receipt came to: its lots, the lines of which packs are still to come, and other prices than ordered."""

    order: Order
    lots: tuple[Lot, ...]
    still_open: tuple[OrderLine, ...]
    priced: tuple[Priced, ...]


@transaction.atomic
def receive_order(
    *,
    actor: Actor,
    order: Order,
    received_on: date,
    came: Sequence[LineCame],
    at: datetime,
    source: str = Movement.Source.PAGE,
    seen: int | None = None,
) -> Received:
    """Book what came in of an order; more than was asked for, and what was called off, is booked all the same.

    *seen* is the ``newest_step`` that whoever books it had before them, if they say: of an order that was
    received or called off since, nothing is booked.
    What is wrong with a line names it in its data (``line``, the key, and ``lot``, counted from 0, where it is of a lot).
    """
    if any(one.changes_offer for one in came):
        # Before the order: what it sells otherwise now changes on the order that is written.
        lock_rows(Supplier.objects.within(actor.workshop), [order.supplier_id])
    row = lock_order(actor=actor, order=order)
    if row.sent_on is None:
        raise Conflict("not_sent", f"{row} is not sent: say first on which day it was.", field="order")
    if seen is not None and newest_step(row) != seen:
        said = f"Something came in meanwhile, or was called off: {_to_come(row)}. Put the packs right, then book it in again."
        raise Conflict("received_meanwhile", said)
    clean_receipt_day(received_on, today=local_day(at, actor.workshop.time_zone))
    if received_on < row.sent_on:
        said = f"{row} was sent on {row.sent_on}, so nothing came in before: check the day."
        raise Invalid("before_sent", said, field="received_on")
    lines = _lines_here(row, came)
    # All of them first and in key order, as two receipts would wait for each other else; an offer before its material,
    # as whoever changes it.
    offers = {lines[one.line].offer_id for one in came if one.changes_offer}
    lock_rows(Offer.objects.within(actor.workshop), offers)
    lock_rows(Material.objects.within(actor.workshop), [line.material_id for line in lines.values()])
    step = write_step(actor=actor, order=row, kind=OrderStep.Kind.RECEIVED, at=at, day=received_on)
    lots, priced = [], []
    for one in came:
        try:
            booked = _Booking(actor, step, lines[one.line], one, at, source)
            lots += booked.write()
            priced += booked.priced()
        except DomainError as error:
            error.data.setdefault("line", one.line)
            raise
    keep_state(row)
    _renew(row, {line.material_id for line in lines.values()}, at=at)
    still_open = tuple(line for line in lines_of(row) if line.open_packs)
    return Received(row, tuple(lots), still_open, tuple(priced))


def _renew(order: Order, materials: set[int], *, at: datetime) -> None:
    """Make the notices true of what an order brought, of itself, and of what its supplier sells otherwise now."""
    renew_stock(workshop=order.workshop, at=at, material_ids=materials)
    renew_orders(workshop=order.workshop, at=at, orders=[order.pk])
    written = Order.objects.within(order.workshop).written().filter(supplier=order.supplier_id)
    renew_proposals(workshop=order.workshop, at=at, orders=written.values_list("pk", flat=True))


def _to_come(order: Order) -> str:
    still = [f"{line.open_packs} × {line.material}" for line in lines_of(order) if line.open_packs]
    return f"{', '.join(still)} still to come" if still else "nothing of it is still to come"


def _lines_here(order: Order, came: Iterable[LineCame]) -> Mapping[int, OrderLine]:
    lines, asked = {line.pk: line for line in lines_of(order)}, list(came)
    if not lines.keys() >= {one.line for one in asked}:
        raise NotHere("not_here", "There is no such line on this order.", field="lines")
    if len({one.line for one in asked}) != len(asked):
        raise Invalid("line_twice", "A line of the order is named twice: put what came of it together.", field="lines")
    if not any(one.lots or one.refused_packs for one in asked):
        said = "Nothing came by this: say how many packs came, or call off what will not come."
        raise Invalid("nothing_came", said, field="lines")
    return {one.line: lines[one.line] for one in asked}


@dataclass(frozen=True, slots=True)
class _Booking:
    """One line of a receipt, being booked."""

    actor: Actor
    step: OrderStep
    line: OrderLine
    came: LineCame
    at: datetime
    source: str

    @property
    def paid(self) -> Decimal:
        """Return what a pack cost."""
        if self.came.price is None:
            return self.line.price
        return clean_money(self.came.price, field="price", what="The price of a pack", step=PRICE_STEP)

    def write(self) -> list[Lot]:
        """Write the lots, and what became of all packs."""
        lots, steps, paid = [], [], self.paid
        for number, one in enumerate(self.came.lots):
            try:
                lot = self._take_in(one, paid)
            except DomainError as error:
                error.data |= {"line": self.line.pk, "lot": number}
                raise
            kind = _Kind.DAMAGED if one.is_damaged else _Kind.CAME
            steps.append(LineStep(self.line, kind, one.packs, lot, paid, one.why))
            lots.append(lot)
        if self.came.refused_packs:
            steps.append(self._refused())
        rest = self.line.open_packs - sum(one.packs for one in self.came.lots)
        if self.came.ends_rest and rest > 0:
            why = clean_reason(self.came.rest_why, ask="Say why the rest will not come.", field="rest_why")
            steps.append(LineStep(self.line, _Kind.ENDED, rest, said=why))
        write_line_steps(self.step, steps)
        return lots

    def _take_in(self, one: LotCame, paid: Decimal) -> Lot:
        packs = clean_packs(one.packs, field="packs", what="Packs that came")
        amount = packs * self.line.pack if one.amount is None else one.amount
        amount = clean_amount(amount, self.line.material)
        why = one.why
        if one.is_damaged:
            why = clean_reason(why, ask="Say what is wrong with the damaged packs.", field="why")
            if one.standing == Lot.Standing.RELEASED:
                said = "Damaged packs wait in quarantine: release the lot once it was looked at."
                raise Invalid("damaged_released", said, field="standing")
        entry = ReceiptEntry(
            material=self.line.material, amount=amount, received_on=self.step.day, supplier=self.line.order.supplier,
            supplier_lot=one.supplier_lot, best_before=one.best_before, unit_cost=packs * paid / amount,
            standing=one.standing, why=why,
        )  # fmt: skip
        return receive(actor=self.actor, entry=entry, at=self.at, source=self.source)

    def _refused(self) -> LineStep:
        packs = clean_packs(self.came.refused_packs, field="refused_packs", what="Damaged packs that were not taken")
        ask = "Say what was wrong with the packs that were not taken."
        why = clean_reason(self.came.refused_why, ask=ask, field="refused_why")
        return LineStep(self.line, _Kind.DAMAGED, packs, said=why)

    def priced(self) -> list[Priced]:
        """Return what cost other than ordered, its offer changed where that is wished."""
        paid = self.paid
        if paid == self.line.price or not self.came.lots:
            return []
        offer = _at_this_price(self.actor, self.line, paid, at=self.at) if self.came.changes_offer else None
        return [Priced(self.line, paid, offer)]


def _at_this_price(actor: Actor, line: OrderLine, paid: Decimal, *, at: datetime) -> Offer | None:
    """Let the offer of a line cost what was paid from now on; None where it has ended meanwhile."""
    offer = Offer.objects.within(actor.workshop).named().get(pk=line.offer_id)
    if offer.ended_at is not None:
        return None
    breaks = {one.from_packs: one.price for one in offer.breaks.all()}
    reached = max((packs for packs in breaks if packs <= line.packs), default=0)
    price = offer.price if reached else paid
    if reached:
        breaks[reached] = paid
    entry = OfferEntry(
        supplier=offer.supplier, material=offer.material, pack=offer.pack, price=price,
        breaks=_still_cheaper(price, breaks), min_packs=offer.min_packs, article=offer.article,
        is_hazardous=offer.is_hazardous, shelf_days=offer.shelf_days, lead_days=offer.lead_days,
    )  # fmt: skip
    return sell_otherwise(actor=actor, offer=offer, entry=entry, at=at)[0]


def _still_cheaper(price: Decimal, breaks: Mapping[int, Decimal]) -> list[tuple[int, Decimal]]:
    """Return the prices that are still cheaper than what fewer packs cost."""
    kept: list[tuple[int, Decimal]] = []
    for packs, lower in sorted(breaks.items()):
        if lower < (kept[-1][1] if kept else price):
            kept.append((packs, lower))
    return kept
