"""What suppliers sell, and what is ordered from them; without costs to whoever may not know them."""

from django.http import QueryDict

from curehouse.flows.order_notices import late_orders
from curehouse.web.access import Visit
from curehouse.web.lists.table import ListOut, TableOut, amount, measured_in, wall
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.orders import terms_of
from curehouse.workshops.roles import Right
from inventory.models import Material, Offer, Order, OrderLine, Supplier
from inventory.order_totals import line_total, totals_of
from inventory.queries.offers import OfferQuerySet
from inventory.queries.orders import OrderLineQuerySet, OrderQuerySet

_OFFER = (
    "Supplier", "Material", "Their number", "Pack", "Unit", "Sold from packs", "Keeps days as it comes in",
    "Comes after days, they say", "Hazard surcharge", "Ended",
)  # fmt: skip
_OFFER_COSTS = ("Price of a pack", "From packs on", "Price then", "Currency")


def _offer_rows(visit: Visit, rows: OfferQuerySet) -> TableOut:
    with_costs = visit.may(Right.SEE_COSTS)

    def lines(offer: Offer) -> list[list[object]]:
        said = [
            offer.supplier.name, offer.material.name, offer.article, amount(offer.pack, offer.material, visit),
            measured_in(offer.material, visit), offer.min_packs, offer.shelf_days, offer.lead_days,
            "yes" if offer.is_hazardous else "", wall(offer.ended_at, visit),
        ]  # fmt: skip
        if not with_costs:
            return [said]
        breaks = sorted(offer.breaks.all(), key=lambda one: one.from_packs)
        costs = [(one.from_packs, one.price) for one in breaks] or [(None, None)]
        return [[*said, offer.price, packs, price, visit.workshop.currency] for packs, price in costs]

    headers = (*_OFFER, *_OFFER_COSTS) if with_costs else _OFFER
    return TableOut(headers, (line for offer in rows.named() for line in lines(offer)))


def _offers(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    return _offer_rows(visit, Offer.objects.within(visit.workshop).standing_first())


def _offers_of_supplier(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    supplier = Supplier.objects.within(visit.workshop).get_here(pk or 0, what="supplier")
    return _offer_rows(visit, Offer.objects.within(visit.workshop).filter(supplier=supplier).standing_first())


def _offers_of_material(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    material = Material.objects.within(visit.workshop).get_here(pk or 0, what="material")
    return _offer_rows(visit, Offer.objects.within(visit.workshop).filter(material=material).standing_first())


def _order_rows(visit: Visit, orders: OrderQuerySet) -> TableOut:
    today, with_costs = Calendar(visit.workshop, visit.at).today, visit.may(Right.SEE_COSTS)
    rows = list(orders.named())
    within = OrderLine.objects.within(visit.workshop)
    held: dict[int, list[OrderLine]] = {}
    for line in within.named().in_order():
        held.setdefault(line.order_id, []).append(line)
    coming = within.arrivals(on=today)
    late = late_orders(coming, today=today)
    first = {one.line.order_id: one for one in reversed(coming)}

    def line(order: Order) -> list[object]:
        lines, arrival = held.get(order.pk, []), first.get(order.pk)
        said = [
            order.number, order.supplier.name, order.get_state_display(), "late" if order.pk in late else "",
            ", ".join(one.material.name for one in lines), order.sent_on, order.promised_on,
            arrival and arrival.likely_on, arrival and arrival.safe_on, order.note, wall(order.written_at, visit),
        ]  # fmt: skip
        if not with_costs:
            return said
        totals = totals_of(lines, terms_of(order))
        return [*said, totals.goods, totals.surcharge, totals.freight, totals.all, visit.workshop.currency]

    headers = (
        "Order", "Supplier", "It is", "Late", "Materials", "Sent", "They named", "Likely in", "Safely in", "Note", "Written",
    )  # fmt: skip
    costs = ("Goods", "Hazard surcharge", "Freight", "In all", "Currency")
    return TableOut((*headers, *costs) if with_costs else headers, (line(order) for order in rows))


def _orders(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    return _order_rows(visit, Order.objects.within(visit.workshop).open_first())


def _line_rows(visit: Visit, rows: OrderLineQuerySet) -> TableOut:
    with_costs = visit.may(Right.SEE_COSTS)

    def line(one: OrderLine) -> list[object]:
        said = [
            one.order.number, one.order.supplier.name, one.material.name, one.article, one.packs,
            amount(one.pack, one.material, visit), measured_in(one.material, visit), one.came, one.damaged, one.ended,
            one.open_packs, one.expected_on,
        ]  # fmt: skip
        return [*said, one.price, line_total(one), visit.workshop.currency] if with_costs else said

    headers = (
        "Order", "Supplier", "Material", "Their number", "Packs", "Pack", "Unit", "Packs came", "Damaged, not taken",
        "Will not come", "Still to come", "Expected when sent",
    )  # fmt: skip
    costs = ("Price of a pack", "Price", "Currency")
    return TableOut((*headers, *costs) if with_costs else headers, (line(one) for one in rows.named().with_packs()))


def _lines_of_order(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    order = Order.objects.within(visit.workshop).get_here(pk or 0, what="order")
    return _line_rows(visit, OrderLine.objects.within(visit.workshop).filter(order=order).in_order())


LISTS = (
    ListOut("offers", "storeroom/offers", "What suppliers sell", _offers, Right.SEE),
    ListOut("supplier_offers", "suppliers/<int:pk>/offers", "What they sell", _offers_of_supplier, Right.SEE),
    ListOut("material_offers", "materials/<int:pk>/offers", "Who sells it", _offers_of_material, Right.SEE),
    ListOut("orders", "orders", "Orders", _orders, Right.SEE),
    ListOut("order_lines", "orders/<int:pk>/lines", "What was ordered", _lines_of_order, Right.SEE),
)
