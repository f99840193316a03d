"""What a material is made of: the list that ships, and the workshop's own figures."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from curehouse.flows.know import know_material
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.known import key_by_name
from curehouse.making.liquids import liquid_kinds
from curehouse.making.services.facts import WITH_FACTS, facts_entry
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.facts import FactsForm, facts_start
from curehouse.workshops.roles import Right
from inventory.models import Material


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.MAKE)
def material_facts(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Write down what a material is made of."""
    request.room = "storeroom"
    row = Material.objects.within(visit.workshop).select_related("facts").get_here(pk, what="material")
    now = facts_entry(row)
    form = FactsForm(request.POST or None, material=row, initial=facts_start(now))

    told: list[str] = []

    def work() -> str:
        read = request.POST.get("lye_confirmed", "")
        key = request.POST.get("key_confirmed", "")
        know_material(material=row, entry=form.entry(), at=visit.at, lye_confirmed=read, key_confirmed=key, tell=told.append)
        messages.success(request, f"What {row} is made of is written down.")
        return reverse("web:material", args=[row.pk])

    key = now.key or key_by_name(row)
    listed = {"fat": fat_kinds(), "liquid": liquid_kinds()}.get(row.kind, {}).get(key)
    page = {"form": form, "material": row, "listed": listed, "has_facts": row.kind in WITH_FACTS}
    answer = done_once(request, visit, form, work, about=lambda: "".join(told))
    return answer or render(request, "web/storeroom/material_facts.html", page)


@require_safe
@for_members(needs=Right.SEE)
def catalogue(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show the fats and liquids that ship with the house, with where each figure is from."""
    request.room = "storeroom"
    page = {"fats": fat_kinds().values(), "liquids": liquid_kinds().values()}
    return render(request, "web/storeroom/catalogue.html", page)
