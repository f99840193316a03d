"""What orders that are not sent would bring of a material, if they were sent: no arrival that anybody can count on."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from inventory.models import Material, Offer, Order, OrderLine, OrderLineStep, Proposal
from inventory.queries.orders import EVEN


@dataclass(frozen=True, slots=True)
class Draft:
    """So many packs (each ``pack`` grams or pieces) that an order would bring if it were sent by a day.

    ``day`` is when they would likely be here then, None where nobody knows how long they take. What is not
    ``is_written`` the house would order, and the order as a person wrote it does not say so.
    """

    order: Order
    packs: int
    pack: Decimal
    send_by: date
    day: date | None
    is_written: bool

    @property
    def amount(self) -> float:
        """Return grams or pieces."""
        return float(self.packs * self.pack)


def drafts_of(*, material: Material, today: date) -> list[Draft]:
    """Return what would come by orders that are not sent, the soonest first; four queries, two where there is none."""
    workshop = material.workshop
    proposals = list(Proposal.objects.within(workshop).undecided())
    by_order = {one.order_id: max(one.decide_by, today) for one in proposals}
    written = list(OrderLine.objects.within(workshop).filter(material=material, order__state=Order.State.WRITTEN).named())
    stands = {(line.order_id, line.offer_id, line.packs) for line in written}
    proposed = [(one.order, line) for one in proposals for line in one.lines if line["material"] == material.pk]
    missing = [(order, line) for order, line in proposed if (order.pk, line["offer"], line["packs"]) not in stands]
    if not written and not missing:
        return []
    offers = Offer.objects.within(workshop).in_bulk([line["offer"] for _order, line in missing])
    found = list(_packs(written, missing, offers))
    took = OrderLineStep.objects.within(workshop).lead_days(suppliers={order.supplier_id for order, *_rest in found})
    drafts = []
    for order, packs, pack, said, is_written in found:
        send_by = by_order.get(order.pk, today)
        takes = took.lead_time(order.supplier_id, material.pk, said=order.supplier.lead_days if said is None else said)
        day = None if takes is None else send_by + timedelta(days=takes.within(EVEN))
        drafts.append(Draft(order, packs, pack, send_by, day, is_written))
    return sorted(drafts, key=lambda one: (one.day or date.max, one.order.number, not one.is_written))


def _packs(
    written: list[OrderLine], missing: list[tuple[Order, dict[str, Any]]], offers: dict[int, Offer]
) -> Iterator[tuple[Order, int, Decimal, int | None, bool]]:
    """Yield order, packs, what is in a pack, in how many days they say it comes, and whether the order says it."""
    for line in written:
        yield line.order, line.packs, line.pack, line.lead_days, True
    for order, line in missing:
        offer = offers[line["offer"]]
        yield order, line["packs"], offer.pack, offer.lead_days, False
