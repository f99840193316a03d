"""Orders as pages show them: what is on its way and when it comes, what an order holds, what was done with it."""

from dataclasses import dataclass
from decimal import Decimal

from django.core.paginator import Page, Paginator
from django.urls import reverse

from curehouse.common.time import day_words
from curehouse.flows.order_notices import late_orders
from curehouse.web.access import Visit
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.offers import money_words
from curehouse.web.reading.rows import Row
from curehouse.web.reading.to_order import names_of, put_off_rows
from curehouse.web.reading.words import count
from curehouse.workshops.models import Workshop
from curehouse.workshops.roles import Right
from inventory.models import Material, Offer, Order, OrderLine, OrderLineStep, OrderStep, Supplier
from inventory.order_totals import Totals, line_total, totals_of
from inventory.queries.orders import Arrival
from inventory.to_order import read_to_order

PAGE_OF_ORDERS = 40


@dataclass(frozen=True, slots=True)
class OrderRow:
    """An order in the list."""

    name: str
    href: str
    note: str
    when: str
    mark: Mark
    late: Mark | None


@dataclass(frozen=True, slots=True)
class LineRow:
    """A line of an order: what was asked for, what came of it."""

    name: str
    asked: str
    note: str
    cost: str
    when: str


@dataclass(frozen=True, slots=True)
class StepRow:
    """Something that was done with an order."""

    when: str
    what: str
    note: str
    by: str
    lots: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class OrderView:
    """Everything on an order's page."""

    order: Order
    mark: Mark
    late: Mark | None
    facts: tuple[tuple[str, str], ...]
    lines: tuple[LineRow, ...]
    totals: tuple[tuple[str, str], ...]
    steps: tuple[StepRow, ...]
    is_open: bool


@dataclass(frozen=True, slots=True)
class Orders:
    """Everything on the page of the orders."""

    rows: tuple[OrderRow, ...]
    page: Page
    sellers: tuple[tuple[str, str], ...]
    put_off: tuple[Row, ...]


def read_orders(visit: Visit, number: str | None) -> Orders:
    """Read the list: what is on its way first (a constant number of queries)."""
    calendar = Calendar(visit.workshop, visit.at)
    orders = Order.objects.within(visit.workshop).named().open_first()
    page = Paginator(orders, PAGE_OF_ORDERS).get_page(number)
    shown = list(page)
    lines = OrderLine.objects.within(visit.workshop).filter(order__in=[row.pk for row in shown])
    names: dict[int, list[str]] = {}
    for order, name in lines.in_order().values_list("order", "material__name"):
        names.setdefault(order, []).append(name)
    coming = _by_order(lines.arrivals(on=calendar.today))
    offered = Offer.objects.within(visit.workshop).standing().values("supplier")
    sellers = Supplier.objects.within(visit.workshop).in_use().filter(pk__in=offered)
    known = read_to_order(workshop=visit.workshop, on=calendar.today)
    to_order_names = names_of(Material.objects.within(visit.workshop).in_use().filter(pk__in=known.put_off))
    return Orders(
        rows=tuple(_row(row, names.get(row.pk, []), coming.get(row.pk, []), calendar) for row in shown),
        page=page,
        sellers=tuple((one.name, reverse("web:order_write", args=[one.pk])) for one in sellers),
        put_off=tuple(put_off_rows(known, to_order_names, calendar.today)),
    )


def _by_order(arrivals: list[Arrival]) -> dict[int, list[Arrival]]:
    found: dict[int, list[Arrival]] = {}
    for one in arrivals:
        found.setdefault(one.line.order_id, []).append(one)
    return found


def _row(order: Order, names: list[str], coming: list[Arrival], calendar: Calendar) -> OrderRow:
    is_late = bool(late_orders(coming, today=calendar.today))
    sent = "" if order.sent_on is None else f"sent {day_words(order.sent_on, today=calendar.today)}"
    more = f" and {len(names) - 4} more" if len(names) > 4 else ""
    return OrderRow(
        name=str(order),
        href=reverse("web:order", args=[order.pk]),
        note=", ".join(one for one in (f"{', '.join(names[:4])}{more}", sent) if one),
        when=when_words(coming[0], calendar) if coming else "",
        mark=mark_of(order.state),
        late=mark_of("order_late") if is_late else None,
    )


def when_words(arrival: Arrival, calendar: Calendar) -> str:
    """Return when something is to come: ``likely Tue 10 Mar, safe Fri 13 Mar``."""
    if arrival.likely_on is None:
        return "no day known"
    today = calendar.today
    likely, safe = day_words(arrival.likely_on, today=today), day_words(arrival.safe_on, today=today)
    if arrival.likely_on <= today and arrival.is_late:
        return f"expected {day_words(arrival.expected_on, today=today)}"
    return f"likely {likely}" + ("" if likely == safe else f", safe {safe}")


def read_order(visit: Visit, order: Order) -> OrderView:
    """Read an order's page (a constant number of queries)."""
    calendar = Calendar(visit.workshop, visit.at)
    within = OrderLine.objects.within(visit.workshop).filter(order=order)
    lines = list(within.named().with_packs().in_order())
    coming = within.arrivals(on=calendar.today)
    by_line = {one.line.pk: one for one in coming}
    is_late = bool(late_orders(coming, today=calendar.today))
    sees_costs = visit.may(Right.SEE_COSTS)
    return OrderView(
        order=order,
        mark=mark_of(order.state),
        late=mark_of("order_late") if is_late else None,
        facts=tuple(_facts(visit, order, coming, calendar)),
        lines=tuple(_line_row(visit, line, by_line.get(line.pk), calendar) for line in lines),
        totals=tuple(totals_rows(visit, totals_of(lines, terms_of(order)))) if sees_costs else (),
        steps=tuple(_step_rows(visit, order, calendar)),
        is_open=any(line.open_packs for line in lines),
    )


def terms_of(order: Order) -> Order | Supplier:
    """Return whose terms an order goes by: the supplier's now while it is written, then its own."""
    return order.supplier if order.sent_on is None else order


def _facts(visit: Visit, order: Order, coming: list[Arrival], calendar: Calendar) -> list[tuple[str, str]]:
    found = []
    if order.sent_on is not None:
        found.append(("sent", day_words(order.sent_on, today=calendar.today)))
    if order.promised_on is not None:
        found.append(("they named", day_words(order.promised_on, today=calendar.today)))
    if coming:
        found.append(("comes", when_words(coming[0], calendar)))
    took = OrderLineStep.objects.within(visit.workshop).lead_days(suppliers=[order.supplier_id]).by(order.supplier_id)
    if took:
        least, most = count(min(took), "day"), count(max(took), "day")
        said = least if least == most else f"{least} to {most}"
        found.append(("they took so far", f"{said} ({count(len(took), 'thing')} that came)"))
    return found


def _line_row(visit: Visit, line: OrderLine, arrival: Arrival | None, calendar: Calendar) -> LineRow:
    unit, workshop = visit.workshop.unit, visit.workshop
    note = [f"their number {line.article}"] if line.article else []
    if line.order.sent_on is not None:
        note += [f"{count(line.came, 'pack')} came"] if line.came else []
        note += [f"{count(line.damaged, 'damaged pack')} not taken"] if line.damaged else []
        note += [f"{count(line.ended, 'pack')} will not come"] if line.ended else []
        note += [f"{count(line.open_packs, 'pack')} to come"] if line.open_packs else []
    cost = ""
    if visit.may(Right.SEE_COSTS):
        note.insert(0, f"{money_words(line.price, workshop)} a pack")
        cost = money_words(line_total(line), workshop)
    pack = amount_words(line.pack, line.material, unit)
    when = when_words(arrival, calendar) if arrival else ""
    if line.order.state == Order.State.WRITTEN and line.offer.ended_at is not None:
        when = "It is not sold so any more: ask for what is sold now, or for none."
    return LineRow(line.material.name, f"{line.packs} × {pack}", ", ".join(note), cost, when)


def totals_rows(visit: Visit, totals: Totals) -> list[tuple[str, str]]:
    """Return what an order comes to, and how far it is to free freight."""
    workshop = visit.workshop
    rows = [("goods", money_words(totals.goods, workshop))]
    rows += [("hazard surcharge", money_words(totals.surcharge, workshop))] if totals.surcharge else []
    rows += [("freight", money_words(totals.freight, workshop))] if totals.freight else []
    if totals.to_free_freight:
        rows.append(("to free freight", money_words(totals.to_free_freight, workshop)))
    elif totals.to_free_freight is not None:
        rows.append(("freight", "free"))
    return [*rows, ("in all", money_words(totals.all, workshop))]


def _step_rows(visit: Visit, order: Order, calendar: Calendar) -> list[StepRow]:
    steps = OrderStep.objects.within(visit.workshop).filter(order=order).in_order()
    beside = ("by_user", "by_device")
    rows = steps.select_related(*beside).prefetch_related("lines__line__material", "lines__lot__material")
    return [_step_row(visit, step, calendar) for step in rows]


def _step_row(visit: Visit, step: OrderStep, calendar: Calendar) -> StepRow:
    day = f", {day_words(step.day, today=calendar.today)}" if step.day else ""
    said = [step.said] if step.said else []
    said += [_packs_words(visit, one) for one in step.lines.all() if one.kind != OrderLineStep.Kind.CAME or one.takes_back_id]
    said += _price_words(visit, step)
    lots = [(str(one.lot), reverse("web:lot", args=[one.lot_id])) for one in step.lines.all() if one.lot_id]
    return StepRow(
        calendar.moment(step.at), f"{step.get_kind_display().capitalize()}{day}", "; ".join(said), step.signed_by, tuple(lots)
    )


def _packs_words(visit: Visit, one: OrderLineStep) -> str:
    name = one.line.material.name
    if one.takes_back_id:
        return f"{name}: {count(one.packs, 'pack')} never came"
    what = {"damaged": "came damaged", "ended": "will not come"}[one.kind]
    return f"{name}: {count(one.packs, 'pack')} {what} ({one.said})"


def _price_words(visit: Visit, step: OrderStep) -> list[str]:
    """Return what packs cost that cost other than they were ordered for, to whoever sees costs."""
    if not visit.may(Right.SEE_COSTS):
        return []
    paid = {one.line: one.price for one in step.lines.all() if one.price is not None and one.price != one.line.price}
    return [other_price_words(line, price, visit.workshop) for line, price in paid.items()]


def other_price_words(line: OrderLine, paid: Decimal, workshop: Workshop) -> str:
    """Return that a pack cost other than it was ordered for."""
    return f"{line.material} cost {money_words(paid, workshop)} a pack, ordered for {money_words(line.price, workshop)}"
