"""What suppliers sell, and what they ask beside it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from curehouse.flows.take_off import change_offer, end_offer
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.offers import OfferForm, TermsForm
from curehouse.web.once import once
from curehouse.web.reading.offers import costs_over_time, offer_lines
from curehouse.workshops.roles import Right
from inventory.models import Material, Offer, Supplier
from inventory.services.offers import write_offer, write_terms

_FORM_METHODS = ["GET", "HEAD", "POST"]


def supplier_here(visit: Visit, pk: int) -> Supplier:
    """Return a supplier of the workshop, or answer that they are not here."""
    return Supplier.objects.within(visit.workshop).get_here(pk, what="supplier")


def _offer(visit: Visit, pk: int) -> Offer:
    return Offer.objects.within(visit.workshop).named().get_here(pk, what="offer")


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def supplier_terms(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Write what a supplier asks beside the goods."""
    request.room = "storeroom"
    supplier = supplier_here(visit, pk)
    form = TermsForm(request.POST or None, workshop=visit.workshop, supplier=supplier)

    def work() -> str:
        write_terms(actor=visit.actor, supplier=supplier, terms=form.terms())
        messages.success(request, f"{supplier}: kept, for what is not sent yet.")
        return reverse("web:supplier", args=[supplier.pk])

    page = {"form": form, "supplier": supplier, "heading": "What they ask beside the goods", "button": "Keep it"}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/supplier_act.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def offer_new(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Write what a supplier sells."""
    request.room = "storeroom"
    supplier = supplier_here(visit, pk)
    materials = list(Material.objects.within(visit.workshop).in_use())
    chosen = request.GET.get("material", "")
    form = OfferForm(request.POST or None, workshop=visit.workshop, materials=materials, chosen=chosen)

    def work() -> str:
        offer = write_offer(actor=visit.actor, entry=form.entry(supplier), at=visit.at)
        messages.success(request, f"{offer} can be ordered.")
        return reverse("web:supplier", args=[supplier.pk])

    page = {"form": form, "supplier": supplier, "heading": "What they sell", "button": "Write it down"}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/offer.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def offer(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show an offer; write what is sold instead of it."""
    request.room = "storeroom"
    row = _offer(visit, pk)
    form = OfferForm(request.POST or None, workshop=visit.workshop, materials=[], offer=row)

    def work() -> str:
        now = change_offer(actor=visit.actor, offer=row, entry=form.entry(row.supplier), at=visit.at)
        messages.success(request, f"{now}: sold so from now on; what was ordered stays as it was.")
        return reverse("web:supplier", args=[row.supplier_id])

    page = {"form": form, "supplier": row.supplier, "offer": row, "heading": str(row), "button": "It is sold so from now on"}
    page |= {"line": offer_lines(visit, [row])[0], "costs": costs_over_time(visit, row)}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/offer.html", page)


@require_POST
@for_members(needs=Right.MAKE)
def offer_end(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """End an offer; it stays on record."""
    row = _offer(visit, pk)

    def work() -> str:
        end_offer(actor=visit.actor, offer=row, at=visit.at)
        messages.success(request, f"{row} has ended; what was ordered stays as it was.")
        return reverse("web:supplier", args=[row.supplier_id])

    return once(request, visit, work)
