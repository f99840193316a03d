"""One position: what stands there, how much it holds, what is put there."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from curehouse.curing.models import Position
from curehouse.flows.placing import place, set_capacity
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.places import CapacityForm, PlaceHereForm
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.position import PositionView, read_position
from curehouse.web.reading.words import count
from curehouse.web.views.placing import placed_once, where_to
from curehouse.workshops.roles import Right


def _position(visit: Visit, pk: int) -> Position:
    places = Position.objects.within(visit.workshop).select_related("rack", "workshop")
    return places.get_here(pk, what="place")


def _view(visit: Visit, position: Position) -> PositionView:
    return read_position(visit.workshop, position, today=Calendar(visit.workshop, visit.at).today)


def _page(
    request: HttpRequest,
    visit: Visit,
    position: Position,
    *,
    capacity: CapacityForm | None = None,
    placing: PlaceHereForm | None = None,
) -> HttpResponse:
    """Show a position; a form that was refused is shown as it was sent."""
    request.room = "racks"
    view = _view(visit, position)
    context = {
        "view": view,
        "position": position,
        "capacity": capacity or CapacityForm(initial={"capacity_bars": position.capacity_bars}),
        "placing": placing or PlaceHereForm(workshop=visit.workshop, waiting=view.waiting, initial=_first_guess(view.waiting)),
    }
    return render(request, "web/racks/position.html", context)


def _first_guess(waiting: tuple) -> dict[str, int]:
    """Return what is filled in where only one batch waits for a place."""
    return {"batch": waiting[0].batch.pk, "bars": waiting[0].bars} if len(waiting) == 1 else {}


@require_safe
@for_members(needs=Right.SEE)
def position(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show what stands at a position."""
    return _page(request, visit, _position(visit, pk))


@require_POST
@for_members(needs=Right.MAKE)
def position_capacity(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say how many bars a position holds."""
    row = _position(visit, pk)
    form = CapacityForm(request.POST)

    def hold() -> str:
        set_capacity(actor=visit.actor, position=row, capacity_bars=form.cleaned_data["capacity_bars"], at=visit.at)
        messages.success(request, f"{row} holds {count(row.capacity_bars, 'bar')} now.")
        return reverse("web:position", args=[pk])

    answer = done_once(request, visit, form, hold)
    return answer or _page(request, visit, _position(visit, pk), capacity=form)


@require_POST
@for_members(needs=Right.POUR)
def position_place(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Put bars of a batch at a position."""
    row = _position(visit, pk)
    form = PlaceHereForm(
        request.POST,
        workshop=visit.workshop,
        waiting=_view(visit, row).waiting,
    )

    def put() -> str:
        values = form.cleaned_data
        written = place(
            actor=visit.actor,
            batch=values["batch"],
            position=row,
            bars=values["bars"],
            moved_at=values["moved_at"] or visit.at,
            at=visit.at,
            when_full=form.way,
        )
        messages.success(request, f"{values['batch']}: {where_to(written)}.")
        return reverse("web:position", args=[pk])

    answer = placed_once(request, visit, form, put)
    return answer or _page(request, visit, _position(visit, pk), placing=form)
