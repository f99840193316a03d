"""Markets: days on which bars are wanted."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from curehouse.common.errors import Conflict
from curehouse.common.time import day_words
from curehouse.selling.models import Market
from curehouse.selling.services import add_market, call_off_market, change_market
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.markets import MarketForm
from curehouse.web.once import once
from curehouse.web.reading.days import Calendar
from curehouse.workshops.roles import Right

_FORM_METHODS = ["GET", "HEAD", "POST"]


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def markets(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the markets to come; write one down."""
    request.room = "bench"
    form = MarketForm(request.POST or None)
    today = Calendar(visit.workshop, visit.at).today

    def work() -> str:
        row = add_market(actor=visit.actor, at=visit.at, **form.cleaned_data)
        messages.success(request, f"{row}, {day_words(row.held_on, today=today)}, stands in the calendar.")
        return reverse("web:calendar")

    rows = Market.objects.within(visit.workshop).to_come(on=today)
    lines = [(row, day_words(row.held_on, today=today)) for row in rows]
    return done_once(request, visit, form, work) or render(request, "web/runs/markets.html", {"form": form, "lines": lines})


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def market(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Put a market on another day, or call it otherwise."""
    request.room = "bench"
    row = Market.objects.within(visit.workshop).get_here(pk, what="market")
    if row.called_off_at is not None and request.method != "POST":
        raise Conflict("called_off", f"{row} is called off already: add a market instead.")
    form = MarketForm(request.POST or None, initial={"name": row.name, "held_on": row.held_on, "note": row.note})

    def work() -> str:
        changed = change_market(actor=visit.actor, market=row, at=visit.at, **form.cleaned_data)
        today = Calendar(visit.workshop, visit.at).today
        messages.success(request, f"{changed} is on {day_words(changed.held_on, today=today)}.")
        return reverse("web:calendar")

    return done_once(request, visit, form, work) or render(request, "web/runs/market.html", {"form": form, "market": row})


@require_POST
@for_members(needs=Right.MAKE)
def market_call_off(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say that a market is not held."""
    row = Market.objects.within(visit.workshop).get_here(pk, what="market")

    def work() -> str:
        call_off_market(market=row, at=visit.at)
        messages.success(request, f"{row} is called off.")
        return reverse("web:calendar")

    return once(request, visit, work)
