"""Where a batch's bars stand: placed, moved, turned."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.curing.models import Occupancy, Position
from curehouse.curing.services.places import bars_without_place
from curehouse.flows.placing import move, place
from curehouse.flows.turn import turn_at_place
from curehouse.making.models import Batch
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.places import MoveForm, PlaceForm, TurnForm
from curehouse.web.reading.words import count
from curehouse.web.views.placing import batch_on_the_racks, placed_once, where_to
from curehouse.workshops.roles import Right

_FORM_METHODS = ["GET", "HEAD", "POST"]


def _here(visit: Visit, pk: int) -> Position:
    return Position.objects.within(visit.workshop).select_related("rack", "workshop").get_here(pk, what="place")


def _stands(visit: Visit, batch: Batch) -> list[tuple[int, str]]:
    """Return where the batch's bars stand, as choices."""
    rows = Occupancy.objects.within(visit.workshop).filter(batch=batch).standing()
    return [(row.position_id, f"{row.position}: {count(row.bars, 'bar')}") for row in rows]


def _page(request: HttpRequest, template: str, batch: Batch, **context: object) -> HttpResponse:
    request.room = "racks"
    return render(request, f"web/batch/{template}.html", {"batch": batch, **context})


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.POUR)
def batch_place(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Put bars that stand nowhere at a position."""
    batch = batch_on_the_racks(visit, pk)
    loose = bars_without_place(batch)
    form = PlaceForm(request.POST or None, workshop=visit.workshop, initial={"bars": loose})

    def put() -> str:
        values = form.cleaned_data
        written = place(
            actor=visit.actor,
            batch=batch,
            position=values["position"],
            bars=values["bars"],
            moved_at=values["moved_at"] or visit.at,
            at=visit.at,
            when_full=form.way,
        )
        messages.success(request, f"{batch}: {where_to(written)}.")
        return reverse("web:batch", args=[pk])

    return placed_once(request, visit, form, put) or _page(request, "place", batch, form=form, loose=loose)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.POUR)
def batch_move(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Carry bars from one position to another."""
    batch = batch_on_the_racks(visit, pk)
    stands = _stands(visit, batch)
    first = {"origin": request.GET.get("from")}
    form = MoveForm(request.POST or None, workshop=visit.workshop, stands=stands, initial=first)

    def carry() -> str:
        values = form.cleaned_data
        written = move(
            actor=visit.actor,
            batch=batch,
            origin=_here(visit, values["origin"]),
            target=values["position"],
            bars=values["bars"],
            moved_at=values["moved_at"] or visit.at,
            at=visit.at,
            when_full=form.way,
        )
        messages.success(request, f"{batch}: {where_to(written)}.")
        return reverse("web:batch", args=[pk])

    return placed_once(request, visit, form, carry) or _page(request, "move", batch, form=form, stands=stands)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.POUR)
def batch_turn(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Note that bars were turned where they stand."""
    batch = batch_on_the_racks(visit, pk)
    stands = _stands(visit, batch)
    form = TurnForm(request.POST or None, workshop=visit.workshop, stands=stands)

    def note() -> str:
        values = form.cleaned_data
        where = _here(visit, values["position"])
        row = turn_at_place(
            actor=visit.actor, batch=batch, position=where, moved_at=values["moved_at"] or visit.at, at=visit.at
        )
        messages.success(request, f"{batch}: {count(row.bars, 'bar')} turned at {where}.")
        return reverse("web:batch", args=[pk])

    return done_once(request, visit, form, note) or _page(request, "turn", batch, form=form, stands=stands)
