"""Who did what: the trail, for the owner."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curehouse.web.access import Visit, for_members
from curehouse.web.forms.trail import TrailForm
from curehouse.web.reading.trail import trail_page
from curehouse.workshops.roles import Right

_FILTERS = ("who", "day", "q")


@require_safe
@for_members(needs=Right.KEEP_HOUSE)
def trail(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List what was done, newest first; find it by who, day and words."""
    asked = request.GET.copy()
    asked.pop("page", None)
    is_asked = any(asked.get(name) for name in _FILTERS)
    form = TrailForm(asked if is_asked else None, workshop=visit.workshop)
    page, lines = trail_page(visit, form.found(), request.GET.get("page"))
    query = asked.urlencode() if is_asked else ""
    shown = {"form": form, "page": page, "lines": lines, "query": query, "is_asked": is_asked}
    return render(request, "web/workshop/trail.html", shown)
