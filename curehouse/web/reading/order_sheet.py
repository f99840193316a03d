"""What a supplier gets to read of an order: as lines of a sheet, and as a text for a mail."""

import re
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from curehouse.common.time import day_words
from curehouse.web.access import Visit
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.offers import money_words
from curehouse.web.reading.orders import terms_of, totals_rows
from curehouse.web.reading.words import count
from curehouse.workshops.roles import Right
from inventory.models import Order
from inventory.order_totals import line_total, totals_of
from inventory.services.orders import lines_of

_MAIL = re.compile(r"[^\s<>,;:]+@[^\s<>,;:]+\.[^\s<>,;:]+")


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line: what, their number of it, packs of what, a pack's price and that of all; prices may be empty."""

    name: str
    article: str
    packs: str
    price: str
    total: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """An order as its supplier reads it."""

    title: str
    workshop: str
    supplier: str
    contact: str
    day: str
    lines: tuple[SheetLine, ...]
    totals: tuple[tuple[str, str], ...]
    note: str


def read_sheet(visit: Visit, order: Order, *, with_prices: bool) -> Sheet:
    """Read an order for its supplier; prices only for whoever sees costs, and where they are wanted."""
    workshop, lines = visit.workshop, lines_of(order)
    shows = with_prices and visit.may(Right.SEE_COSTS)
    today = Calendar(workshop, visit.at).today
    totals = totals_rows(visit, totals_of(lines, terms_of(order))) if shows else ()
    return Sheet(
        title=f"Order {order.number}" + (", called off" if order.state == Order.State.CALLED_OFF else ""),
        workshop=workshop.name,
        supplier=order.supplier.name,
        contact=order.supplier.contact,
        day=_day_words(order.sent_on or today),
        lines=tuple(
            SheetLine(
                name=line.material.name,
                article=line.article,
                packs=f"{count(line.packs, 'pack')} of {amount_words(line.pack, line.material, workshop.unit)}",
                price=money_words(line.price, workshop) if shows else "",
                total=money_words(line_total(line), workshop) if shows else "",
            )
            for line in lines
        ),
        totals=tuple(row for row in totals if row[0] != "to free freight"),
        note=order.note,
    )


def _day_words(day: date) -> str:
    # A sheet is read for years, so its day has its year.
    return f"{day_words(day, today=day)} {day.year}"


def mail_text(sheet: Sheet) -> str:
    """Return an order as a plain text."""
    parts = [f"{sheet.title} of {sheet.workshop}, {sheet.day}", ""]
    for one in sheet.lines:
        number = f" (your number {one.article})" if one.article else ""
        price = f", {one.price} each: {one.total}" if one.price else ""
        parts.append(f"- {one.packs}: {one.name}{number}{price}")
    if sheet.totals:
        parts += ["", *(f"{name}: {money}" for name, money in sheet.totals)]
    if sheet.note:
        parts += ["", sheet.note]
    return "\n".join(parts)


def mail_address(sheet: Sheet) -> str:
    """Return where a mail with the order begins (RFC 6068), or nothing where no address is in the contact."""
    found = _MAIL.search(sheet.contact)
    if found is None:
        return ""
    subject, body = quote(f"{sheet.title}, {sheet.workshop}"), quote(mail_text(sheet).replace("\n", "\r\n"))
    return f"mailto:{quote(found[0], safe='@+')}?subject={subject}&body={body}"
