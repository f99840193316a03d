"""How far this workshop's forecasts were right."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curehouse.web.access import Visit, for_members
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.past_forecasts import read_past_forecasts
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def past_forecasts(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show what was foretold beside what came."""
    request.room = "racks"
    page = read_past_forecasts(visit.workshop, Calendar(visit.workshop, visit.at))
    return render(request, "web/past/past_forecasts.html", {"page": page})
