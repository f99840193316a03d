"""Places for runs: looked for before one is planned, and kept anew."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from curehouse.common.errors import DomainError
from curehouse.flows.run_places import look_for_places
from curehouse.flows.runs import keep_places_anew
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import FormulaVersion
from curehouse.web.access import Visit, for_members
from curehouse.web.errors import add_to_form
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.runs import RunForm, RunPlacesForm
from curehouse.web.reading.run_places import PlacesView, kept_words, read_places
from curehouse.web.views.runs import asked_run, over_page, run_here, run_page
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def version_places(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say where the bars of a run would stand for the whole of their cure; nothing is kept."""
    request.room = "bench"
    version = version_here(visit.workshop, pk)
    form = asked_run(request, visit, version)
    page = {"form": form, "version": version, "formula": version.formula, "view": _found(visit, version, form)}
    return render(request, "web/runs/places.html", page)


def _found(visit: Visit, version: FormulaVersion, form: RunForm) -> PlacesView | None:
    if not form.is_bound or not form.is_valid():
        return None
    values = form.cleaned_data
    try:
        found = look_for_places(
            version=version, fats_g=form.fats_g, pour_on=values["pour_on"], bars=values["bars"], at=visit.at
        )
    except DomainError as error:
        add_to_form(form, error)
        return None
    return read_places(visit, found)


@require_POST
@for_members(needs=Right.MAKE)
def run_places(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Keep places for the bars of a run anew."""
    request.room = "bench"
    row = run_here(visit, pk)
    form = RunPlacesForm(request.POST)

    def work() -> str:
        done = keep_places_anew(actor=visit.actor, run=row, bars=form.cleaned_data["bars"], at=visit.at)
        messages.success(request, kept_words(done))
        return f"{reverse('web:run', args=[row.pk])}#its-places"

    answer = done_once(request, visit, form, work) or over_page(request, visit, row, form, heading="Keep its places anew")
    return answer or run_page(request, visit, row, bars=form)
