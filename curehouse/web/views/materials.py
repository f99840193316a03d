"""Materials and who sells them."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from curehouse.flows.stock import edit_material
from curehouse.flows.take_off import retire_material, retire_supplier
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.storeroom import MaterialForm, SupplierForm
from curehouse.web.once import once
from curehouse.web.reading.blends import read_recipe
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.lot import read_material
from curehouse.web.reading.offers import offer_lines, terms_facts
from curehouse.web.reading.stock_ahead import read_ahead
from curehouse.web.reading.storeroom import lot_line
from curehouse.workshops.roles import Right
from inventory.models import Lot, Material, Offer, Supplier
from inventory.services.things import (
    edit_supplier,
    take_up_material,
    take_up_supplier,
    write_material,
    write_supplier,
)

_FORM_METHODS = ["GET", "HEAD", "POST"]
_MOST_LOTS = 100


def _material(visit: Visit, pk: int) -> Material:
    return Material.objects.within(visit.workshop).get_here(pk, what="material")


def _supplier(visit: Visit, pk: int) -> Supplier:
    return Supplier.objects.within(visit.workshop).get_here(pk, what="supplier")


@require_safe
@for_members(needs=Right.SEE)
def material(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a material with its lots."""
    request.room = "storeroom"
    view = read_material(visit, _material(visit, pk), request.GET.get("page"))
    offers = Offer.objects.within(visit.workshop).filter(material=view.material).named().standing_first()[:_MOST_LOTS]
    page = {"view": view, "material": view.material, "offers": offer_lines(visit, offers)}
    page["recipe"] = read_recipe(visit, view.material)
    # Lye that is dissolved here is bought from nobody.
    page["is_only_made"] = page["recipe"].is_made and view.material.kind == Material.Kind.LYE
    # What is out of use has no stock, and is not wanted any more.
    page["ahead"] = None if view.material.retired_at else read_ahead(visit, view.material)
    return render(request, "web/storeroom/material.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def material_new(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Write a material."""
    request.room = "storeroom"
    form = MaterialForm(request.POST or None)

    def work() -> str:
        row = write_material(workshop=visit.workshop, entry=form.entry())
        messages.success(request, f"{row} is among your materials.")
        return reverse("web:material", args=[row.pk])

    page = {"form": form, "heading": "A new material", "button": "Write it down"}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/material_form.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def material_edit(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Change a material."""
    request.room = "storeroom"
    row = _material(visit, pk)
    form = MaterialForm(request.POST or None, initial={"name": row.name, "kind": row.kind, "measure": row.measure})

    told: list[str] = []

    def work() -> str:
        read = request.POST.get("lye_confirmed", "")
        changed = edit_material(material=row, entry=form.entry(), at=visit.at, lye_confirmed=read, tell=told.append)
        messages.success(request, f"{changed} is changed.")
        return reverse("web:material", args=[row.pk])

    page = {"form": form, "heading": f"Change {row}", "button": "Keep it", "material": row}
    answer = done_once(request, visit, form, work, about=lambda: "".join(told))
    return answer or render(request, "web/storeroom/material_form.html", page)


@require_POST
@for_members(needs=Right.MAKE)
def material_retire(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Take a material out of use, or put it into use again."""
    row = _material(visit, pk)

    def work() -> str:
        if row.retired_at is None:
            retire_material(actor=visit.actor, material=row, at=visit.at)
            messages.success(request, f"{row} is out of use; what was booked stays.")
        else:
            take_up_material(material=row)
            messages.success(request, f"{row} is in use again.")
        return reverse("web:material", args=[row.pk])

    return once(request, visit, work)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def suppliers(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the suppliers; write one."""
    request.room = "storeroom"
    form = SupplierForm(request.POST or None)

    def work() -> str:
        row = write_supplier(workshop=visit.workshop, entry=form.entry())
        messages.success(request, f"{row} is among your suppliers.")
        return reverse("web:suppliers")

    page = {"form": form, "suppliers": Supplier.objects.within(visit.workshop).in_use_first()}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/suppliers.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def supplier(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a supplier with the lots that came from there; change it."""
    request.room = "storeroom"
    row = _supplier(visit, pk)
    now = {"name": row.name, "contact": row.contact, "note": row.note}
    form = SupplierForm(request.POST or None, initial=now)

    def work() -> str:
        changed = edit_supplier(supplier=row, entry=form.entry())
        messages.success(request, f"{changed} is changed.")
        return reverse("web:supplier", args=[row.pk])

    calendar = Calendar(visit.workshop, visit.at)
    lots = Lot.objects.within(visit.workshop).filter(supplier=row).named().newest_first()[:_MOST_LOTS]
    lines = [lot_line(lot, calendar, visit.workshop.unit) for lot in lots]
    offers = Offer.objects.within(visit.workshop).filter(supplier=row).named().standing_first()[:_MOST_LOTS]
    page = {"form": form, "supplier": row, "lots": lines, "offers": offer_lines(visit, offers)}
    page["terms"] = terms_facts(visit, row)
    return done_once(request, visit, form, work) or render(request, "web/storeroom/supplier.html", page)


@require_POST
@for_members(needs=Right.MAKE)
def supplier_retire(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Take a supplier out of use, or put them into use again."""
    row = _supplier(visit, pk)

    def work() -> str:
        if row.retired_at is None:
            retire_supplier(actor=visit.actor, supplier=row, at=visit.at)
            messages.success(request, f"{row} is out of use; their lots stay theirs.")
        else:
            take_up_supplier(supplier=row)
            messages.success(request, f"{row} is in use again.")
        return reverse("web:supplier", args=[row.pk])

    return once(request, visit, work)
