"""What the house would order: asked for now, and put off."""

from datetime import timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from curehouse.common.time import day_words
from curehouse.flows.propose import propose_now, want_again
from curehouse.flows.take_off import put_off
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.orders import PutOffForm
from curehouse.web.once import once
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.to_order import decide_words, left_out_words, names_of
from curehouse.web.reading.words import count
from curehouse.workshops.roles import Right
from inventory.models import Material
from inventory.to_order import read_to_order

# Long enough not to be asked each morning, short enough to be asked again in time.
_PUT_OFF_DAYS = 14


@require_POST
@for_members(needs=Right.MAKE)
def orders_propose(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Look now what to order, as each morning does."""

    def work() -> str:
        found = propose_now(actor=visit.actor, at=visit.at)
        said = f"{count(len(found), 'order')} to decide." if found else "Nothing needs to be ordered now."
        today = Calendar(visit.workshop, visit.at).today
        known = read_to_order(workshop=visit.workshop, on=today)
        names = names_of(Material.objects.within(visit.workshop).in_use().filter(pk__in=known.put_off))
        messages.success(request, " ".join(one for one in (said, left_out_words(known, names, today)) if one))
        return reverse("web:orders")

    return once(request, visit, work)


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.MAKE)
def material_put_off(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say that a material is not to be ordered now, until when, and why."""
    request.room = "storeroom"
    row = Material.objects.within(visit.workshop).get_here(pk, what="material")
    today = Calendar(visit.workshop, visit.at).today
    form = PutOffForm(request.POST or None, initial={"until": today + timedelta(days=_PUT_OFF_DAYS)})

    def work() -> str:
        kept = put_off(actor=visit.actor, material=row, at=visit.at, **form.cleaned_data)
        messages.success(request, f"{row} is not proposed before {day_words(kept.until, today=today)}.")
        return reverse("web:orders")

    answer = done_once(request, visit, form, work)
    return answer or render(request, "web/orders/put_off.html", {"form": form, "material": row})


@require_POST
@for_members(needs=Right.MAKE)
def material_wanted(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say that a material is wanted again that was put off, and look at once."""
    row = Material.objects.within(visit.workshop).get_here(pk, what="material")

    def work() -> str:
        _noted, found = want_again(actor=visit.actor, material=row, at=visit.at)
        today = Calendar(visit.workshop, visit.at).today
        now = "nothing of it needs to be ordered now" if found is None else f"{found.order}, {decide_words(found, today)}"
        messages.success(request, f"{row} is not put off any more: {now}.")
        return reverse("web:material", args=[row.pk])

    return once(request, visit, work)
