"""Which bars are to be turned, and that they were."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.curing.turning import to_turn
from curehouse.flows.turn import turn_batches
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.turning import TurningForm
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.turning import turn_rows
from curehouse.web.reading.words import count
from curehouse.workshops.roles import Right


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.SEE, to_write=Right.POUR)
def turning(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show the batches whose bars are to be turned, and note that they were."""
    request.room = "racks"
    form = TurningForm(request.POST or None, workshop=visit.workshop)
    named: list[str] = []

    def note() -> str:
        values = form.cleaned_data
        rows = turn_batches(
            actor=visit.actor, batch_ids=values["batches"], turned_at=values["turned_at"] or visit.at, at=visit.at
        )
        named.extend(form.names_of(values["batches"]))
        messages.success(request, f"The bars of {count(len(rows), 'batch', 'batches')} are turned.")
        return reverse("web:turning")

    answer = done_once(request, visit, form, note, about=lambda: ", ".join(named))
    if answer is not None:
        return answer
    due = to_turn(workshop=visit.workshop, at=visit.at)
    ticked = form.ticked() if form.is_bound else {one.batch.pk for one in due}
    page = {"form": form, "rows": turn_rows(due, ticked, Calendar(visit.workshop, visit.at)), "workshop": visit.workshop}
    return render(request, "web/racks/turning.html", page)
