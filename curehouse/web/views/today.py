"""Today: what needs a hand now."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curehouse.web.access import Visit, for_members
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.today import read_today
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def today(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show what is due, what asks for a look, and what to begin with in an empty workshop."""
    request.room = "today"
    view = read_today(visit.workshop, Calendar(visit.workshop, visit.at), at=visit.at)
    return render(request, "web/today/today.html", {"today": view})
