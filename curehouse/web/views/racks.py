"""The racks: drawn, put up, renamed."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from curehouse.curing.models import Position, Rack
from curehouse.curing.services.racks import add_rack, rename_rack
from curehouse.web.access import Visit, for_members
from curehouse.web.drawing.racks import rack_figure
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.places import RackForm, RackNameForm
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.racks import read_racks
from curehouse.web.reading.racks_ahead import MOST_DAYS
from curehouse.web.walking import number_in
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def racks(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show the cure, drawn from its racks: as it is, or as it likely is so many days ahead."""
    request.room = "racks"
    days = min(number_in(request, "ahead") or 0, MOST_DAYS)
    view = read_racks(visit.workshop, Calendar(visit.workshop, visit.at), days)
    figures = [rack_figure(drawing) for drawing in view.drawings]
    return render(request, "web/racks/racks.html", {"racks": view, "figures": figures, "most_days": MOST_DAYS})


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.MAKE)
def rack_new(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Put a rack up."""
    request.room = "racks"
    form = RackForm(request.POST or None)

    def put_up() -> str:
        rack = add_rack(workshop=visit.workshop, **form.cleaned_data)
        messages.success(request, f"{rack} is up.")
        return reverse("web:racks")

    answer = done_once(request, visit, form, put_up)
    return answer or render(request, "web/racks/rack_new.html", {"form": form})


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def rack(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a rack's positions, and give it another name."""
    request.room = "racks"
    row = Rack.objects.within(visit.workshop).get_here(pk, what="rack")
    name = row.name
    form = RackNameForm(request.POST or None, initial={"name": name})

    def rename() -> str:
        messages.success(request, f"{name} is called {rename_rack(rack=row, name=form.cleaned_data['name'])} now.")
        return reverse("web:rack", args=[pk])

    answer = done_once(request, visit, form, rename)
    places = Position.objects.within(visit.workshop).filter(rack=row).in_walking_order()
    return answer or render(request, "web/racks/rack.html", {"form": form, "rack_pk": pk, "rack_name": name, "places": places})
