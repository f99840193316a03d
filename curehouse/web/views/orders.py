"""Orders: written, sent, named for another day, called off, received."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_safe

from curehouse.common import uploads
from curehouse.common.errors import Conflict, DomainError
from curehouse.common.time import day_words
from curehouse.flows.orders import call_off, promise, send_order
from curehouse.flows.receive_order import Received, receive_order
from curehouse.web.access import Visit, for_members
from curehouse.web.drawing.order_pdf import letters_missing, order_pdf
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.fields import HouseForm
from curehouse.web.forms.order_receipt import OrderReceiptForm
from curehouse.web.forms.orders import CallOffForm, OrderForm, PromiseForm, SendForm
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.offers import offer_lines
from curehouse.web.reading.order_sheet import Sheet, mail_address, mail_text, read_sheet
from curehouse.web.reading.orders import other_price_words, read_order, read_orders, terms_of, totals_rows
from curehouse.web.reading.planning_worth import read_planning_worth
from curehouse.web.reading.proposals import read_proposal
from curehouse.web.reading.storeroom import over_words
from curehouse.web.reading.words import count
from curehouse.web.views.offers import supplier_here
from curehouse.workshops.roles import Right
from inventory.models import Offer, Order
from inventory.order_totals import totals_of
from inventory.services.orders import lines_of, newest_step, write_order
from inventory.services.proposals import is_by_the_house
from inventory.to_order import CALLED_OFF_FOR_DAYS

_FORM_METHODS = ["GET", "HEAD", "POST"]


def order_here(visit: Visit, pk: int) -> Order:
    """Return an order of the workshop, or answer that it is not here."""
    return Order.objects.within(visit.workshop).named().get_here(pk, what="order")


@require_safe
@for_members(needs=Right.SEE)
def orders(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the orders, what is on its way first."""
    request.room = "storeroom"
    return render(request, "web/orders/orders.html", {"view": read_orders(visit, request.GET.get("page"))})


@require_safe
@for_members(needs=Right.SEE_COSTS)
def planning_earlier(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Say what it would be worth to plan runs earlier."""
    request.room = "storeroom"
    return render(request, "web/orders/planning_earlier.html", {"worth": read_planning_worth(visit)})


@require_safe
@for_members(needs=Right.SEE)
def order_sheet(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Hand out the sheet of an order as PDF, with prices unless they are not wanted."""
    row = order_here(visit, pk)
    sheet = read_sheet(visit, row, with_prices="without-prices" not in request.GET)
    missing = letters_missing("".join(_texts(sheet)))
    if missing:
        said = f"The sheet has no letters for {missing[:20]}: send the order as text instead, from its page."
        raise Conflict("letters", said)
    name = f"{slugify(visit.workshop.name) or 'workshop'}-order-{row.number}.pdf"
    return HttpResponse(order_pdf(sheet), content_type="application/pdf", headers=uploads.handing_out(name))


def _texts(sheet: Sheet) -> Iterator[str]:
    yield from (sheet.workshop, sheet.supplier, sheet.contact, sheet.note)
    yield from (text for line in sheet.lines for text in (line.name, line.article, line.price))


@require_safe
@for_members(needs=Right.SEE)
def order(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show an order with what came of it."""
    request.room = "storeroom"
    view = read_order(visit, order_here(visit, pk))
    sheet = read_sheet(visit, view.order, with_prices=False)
    page = {
        "view": view,
        "order": view.order,
        "mail": mail_text(sheet),
        "mail_to": mail_address(sheet),
        "proposal": read_proposal(visit, view.order),
        "is_own": is_by_the_house(view.order),
    }
    return render(request, "web/orders/order.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def order_write(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Write an order with a supplier, or change the one that is not sent."""
    request.room = "storeroom"
    supplier = supplier_here(visit, pk)
    written = Order.objects.within(visit.workshop).filter(supplier=supplier).written().first()
    offers = list(Offer.objects.within(visit.workshop).standing().named().filter(supplier=supplier).by_material())
    lines = [] if written is None else lines_of(written)
    # What is written stays on the page though its offer has ended.
    known = {offer.pk for offer in offers}
    gone = [line.offer_id for line in lines if line.offer_id not in known]
    offers += list(Offer.objects.within(visit.workshop).named().filter(pk__in=gone))
    shown = {
        "offers": offers, "packs": {line.offer_id: line.packs for line in lines},
        "note": written.note if written else "", "order": written and written.pk,
    }  # fmt: skip
    form = OrderForm(request.POST or None, **shown)

    def work() -> str:
        meant = {"packs": form.wanted(), "note": form.note(), "of": form.cleaned_data["order"]}
        row = write_order(actor=visit.actor, supplier=supplier, at=visit.at, **meant)
        messages.success(request, f"{row} is written. Send it to {supplier}, then say here on which day.")
        return reverse("web:order", args=[row.pk])

    answer = done_once(request, visit, form, work)
    if answer:
        return answer
    moved_on = form.refusal if form.refusal is not None and form.refusal.code == "moved_on" else None
    if moved_on is not None:
        # The page was older than its order's sending: what was added stands there as an order of its own.
        typed, form = form, OrderForm(None, more=form.more(), **shown)
        form.initial["note"] = typed.note() or shown["note"]
    rows = [(line, form[f"packs_{line.pk}"], form[f"was_{line.pk}"]) for line in offer_lines(visit, offers)]
    totals = totals_rows(visit, totals_of(lines, supplier if written is None else terms_of(written)))
    page = {"form": form, "supplier": supplier, "rows": rows, "order": written, "totals": totals if lines else ()}
    return render(request, "web/orders/write.html", page | {"moved_on": moved_on})


def _act(
    request: HttpRequest, visit: Visit, row: Order, form: HouseForm, work: Callable[[], str], **page: Any
) -> HttpResponse:  # fmt: skip
    """Do what a form about an order says, and go back to the order; or show the form."""
    request.room = "storeroom"

    def done() -> str:
        messages.success(request, work())
        return reverse("web:order", args=[row.pk])

    answer = done_once(request, visit, form, done)
    return answer or render(request, "web/orders/act.html", {"form": form, "order": row, **page})


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def order_send(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say that an order was sent."""
    row = order_here(visit, pk)
    form = SendForm(request.POST or None, today=Calendar(visit.workshop, visit.at).today)

    def work() -> str:
        send_order(actor=visit.actor, order=row, at=visit.at, **form.cleaned_data)
        return f"{row} is sent: what it holds stays as it is now."

    lead = "From then on it stays as it was sent, with its prices. What comes in is booked against it."
    return _act(request, visit, row, form, work, heading="It was sent", button="It was sent", lead=lead)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def order_promise(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Note the day that the supplier names now."""
    row = order_here(visit, pk)
    form = PromiseForm(request.POST or None, initial={"promised_on": row.promised_on})

    def work() -> str:
        promise(actor=visit.actor, order=row, at=visit.at, **form.cleaned_data)
        return f"{row}: the day is noted."

    return _act(request, visit, row, form, work, heading="They name a day", button="Keep it")


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def order_call_off(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Call off an order, or what is still to come of it."""
    row = order_here(visit, pk)
    # Of what is only written a line is changed, not called off.
    is_written = row.state == Order.State.WRITTEN
    lines = [] if is_written else [line for line in lines_of(row) if line.open_packs]
    form = CallOffForm(request.POST or None, lines=lines)

    def work() -> str:
        now = call_off(actor=visit.actor, order=row, why=form.cleaned_data["why"], lines=form.lines(), at=visit.at)
        return f"{row} is {now.get_state_display()} now."

    again = Calendar(visit.workshop, visit.at).today + timedelta(days=CALLED_OFF_FOR_DAYS)
    lead = (
        f"All of it: what is on it is not proposed again before {day_words(again, today=again)}. "
        "To leave out one thing, change the order: 0 packs of it."
    )
    if not is_written:
        lead = "Tell the supplier too: this is the house’s own note of it."
    return _act(request, visit, row, form, work, heading="Call it off", button="Call it off", lead=lead)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def order_receive(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Book what came in of an order."""
    request.room = "storeroom"
    row = order_here(visit, pk)
    lines, today = lines_of(row), Calendar(visit.workshop, visit.at).today
    newest = newest_step(row)
    form = OrderReceiptForm(request.POST or None, workshop=visit.workshop, lines=lines, today=today, newest=newest)

    def work() -> str:
        day, seen = form.cleaned_data["received_on"], form.cleaned_data["seen"]
        try:
            found = receive_order(actor=visit.actor, order=row, received_on=day, came=form.came(), seen=seen, at=visit.at)
        except DomainError as error:
            raise form.place(error) from error
        for said in _received_words(visit, found):
            messages.success(request, said)
        for lot in found.lots:
            if said := over_words(lot, today):
                messages.warning(request, said)
        return reverse("web:order", args=[row.pk])

    page = {"form": form, "order": row, "shows_lye": any(line.material.kind == "lye" for line in lines)}
    return done_once(request, visit, form, work) or render(request, "web/orders/receive.html", page)


def _received_words(visit: Visit, found: Received) -> list[str]:
    """Return what a receipt came to."""
    said = []
    if found.lots:
        named = ", ".join(str(lot) for lot in found.lots)
        said.append(
            f"{count(len(found.lots), 'lot')} came in: {named}. Mark the packs with these numbers, add certificates there."
        )
    if found.still_open:
        owed = ", ".join(f"{line.material} ({count(line.open_packs, 'pack')})" for line in found.still_open)
        said.append(f"Still to come: {owed}.")
    for one in found.priced:
        now = " It is sold so from now on." if one.offer else ""
        said.append(f"{other_price_words(one.line, one.paid, visit.workshop)}.{now}")
    return said
