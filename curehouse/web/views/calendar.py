"""The calendar: pours, cures and markets over how full the racks are."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curehouse.flows.calendar import calendar_ahead
from curehouse.web.access import Visit, for_members
from curehouse.web.reading.calendar import read_calendar
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def calendar(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show what is to come, week by week."""
    request.room = "bench"
    view = read_calendar(visit, calendar_ahead(workshop=visit.workshop, at=visit.at))
    return render(request, "web/runs/calendar.html", {"view": view})
