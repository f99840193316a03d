"""A batch's page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curehouse.web.access import Visit, for_members
from curehouse.web.drawing.curve import curve_figure
from curehouse.web.reading.batch import read_batch, read_verdict
from curehouse.web.reading.batch_record import read_record
from curehouse.web.reading.days import Calendar
from curehouse.web.views.placing import batch_here
from curehouse.web.walking import number_in
from curehouse.workshops.roles import Right

# A verdict takes a second or two; a page left lying open does not ask for it for ever.
MOST_LOOKS = 20


@require_safe
@for_members(needs=Right.SEE)
def batch(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show everything on record of a batch."""
    request.room = "racks"
    view = read_batch(batch_here(visit, pk), visit.workshop, Calendar(visit.workshop, visit.at))
    context = {"view": view, "verdict": view.verdict, "batch": view.batch, "looks": 1, "look_again": True}
    context["curve"] = curve_figure(view.curve) if view.curve else ""
    return render(request, "web/batch/batch.html", context)


@require_safe
@for_members(needs=Right.SEE)
def batch_record(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a batch on one sheet to print."""
    request.room = "racks"
    sheet = read_record(visit, batch_here(visit, pk))
    return render(request, "web/batch/record.html", {"sheet": sheet, "view": sheet.view, "batch": sheet.view.batch})


@require_safe
@for_members(needs=Right.SEE)
def batch_verdict(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show where a batch stands, for the page that waits until its newest weighing is looked at."""
    verdict = read_verdict(batch_here(visit, pk), Calendar(visit.workshop, visit.at))
    looks = (number_in(request, "looks") or 0) + 1
    context = {"verdict": verdict, "batch": verdict.batch, "looks": looks, "look_again": looks < MOST_LOOKS, "fragment": True}
    return render(request, "web/batch/_verdict.html", context)
