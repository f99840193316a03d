"""A pour that is still to come: when its bars are dry enough, and when to pour for bars by a day."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curehouse.common.errors import DomainError
from curehouse.flows.pour_ahead import pour_ahead
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import FormulaVersion
from curehouse.web.access import Visit, for_members
from curehouse.web.errors import add_to_form
from curehouse.web.forms.pour_ahead import PourAheadForm
from curehouse.web.reading.pour_ahead import PourAheadView, read_pour_ahead
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def version_ready(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say when bars of a pour are dry enough, or when to pour for bars by a day; nothing is kept."""
    request.room = "bench"
    version = version_here(visit.workshop, pk)
    is_asked = "pour_on" in request.GET or "wanted_on" in request.GET
    form = PourAheadForm(request.GET if is_asked else None)
    page = {"form": form, "version": version, "formula": version.formula, "view": _found(visit, version, form)}
    return render(request, "web/runs/ready.html", page)


def _found(visit: Visit, version: FormulaVersion, form: PourAheadForm) -> PourAheadView | None:
    if not form.is_bound or not form.is_valid():
        return None
    days = {"pour_on": form.cleaned_data["pour_on"], "wanted_on": form.cleaned_data["wanted_on"]}
    try:
        found = pour_ahead(version=version, at=visit.at, **days)
    except DomainError as error:
        add_to_form(form, error)
        return None
    return read_pour_ahead(visit, found, **days)
