"""Places for a run that is planned, kept anew."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_POST

from curehouse.flows.runs import keep_places_anew
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.runs import RunPlacesForm
from curehouse.web.reading.run_places import kept_words
from curehouse.web.views.runs import over_page, run_here, run_page
from curehouse.workshops.roles import Right


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
