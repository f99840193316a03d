"""The Storeroom: what is here, and what comes in."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from curehouse.flows.receive import Receipt, receive_lot
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.storeroom import ReceiveForm
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.storeroom import over_words, read_storeroom
from curehouse.workshops.roles import Right
from inventory.models import Material, Supplier

_SHOWS = {"": "", "order": "order", "retired": "retired"}


@require_safe
@for_members(needs=Right.SEE)
def storeroom(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show what is here, what expires, and what waits for a word."""
    request.room = "storeroom"
    view = read_storeroom(
        visit,
        search=request.GET.get("q", "").strip()[:120],
        show=_SHOWS.get(request.GET.get("show", ""), ""),
        number=request.GET.get("page"),
    )
    return render(request, "web/storeroom/storeroom.html", {"view": view})


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.MAKE)
def receive(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Enter a lot that came in."""
    request.room = "storeroom"
    materials = list(Material.objects.within(visit.workshop).in_use())
    suppliers = list(Supplier.objects.within(visit.workshop).in_use())
    first = {"received_on": Calendar(visit.workshop, visit.at).today, "material": request.GET.get("material", "")}
    form = ReceiveForm(
        request.POST or None, workshop=visit.workshop, materials=materials, suppliers=suppliers, initial=first
    )  # fmt: skip

    def work() -> str:
        values = form.cleaned_data
        lot = receive_lot(
            actor=visit.actor,
            receipt=Receipt(
                material=form.material,
                new_name=values["new_name"],
                new_kind=values["new_kind"],
                supplier=form.supplier,
                new_supplier=values["new_supplier"] if values["supplier"] == "new" else "",
                amount=form.amount,
                received_on=values["received_on"],
                supplier_lot=values["supplier_lot"],
                best_before=values["best_before"],
                unit_cost=form.unit_cost,
                standing=values["standing"],
                why=values["why"],
            ),
            at=visit.at,
        )
        came = amount_words(lot.on_hand, lot.material, visit.workshop.unit)
        messages.success(request, f"{lot}: {came} came in. Add its certificate here, and mark the sack with lot {lot.number}.")
        if said := over_words(lot, Calendar(visit.workshop, visit.at).today):
            messages.warning(request, said)
        return reverse("web:lot", args=[lot.pk])

    is_lye = any(one.kind == Material.Kind.LYE for one in materials) or form["new_kind"].value() == Material.Kind.LYE
    page = {"form": form, "shows_lye": is_lye, "has_materials": bool(materials)}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/receive.html", page)
