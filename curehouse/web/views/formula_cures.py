"""A formula's batches, laid over each other."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curehouse.making.models import Formula
from curehouse.web.access import Visit, for_members
from curehouse.web.drawing.overlay import overlay_figure
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.formula_cures import LONGEST_GAP_DAYS, read_formula_cures
from curehouse.web.reading.words import UNKNOWN
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def formula_cures(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show how a formula's batches dry, beside what is expected of them."""
    request.room = "bench"
    row = Formula.objects.within(visit.workshop).get_here(pk, what="formula")
    cures = read_formula_cures(row, visit.workshop, Calendar(visit.workshop, visit.at))
    figure = overlay_figure(cures.overlay) if cures.overlay else ""
    page = {"formula": row, "cures": cures, "figure": figure, "gap": LONGEST_GAP_DAYS, "unknown": UNKNOWN}
    return render(request, "web/formulas/cures.html", page)
