"""What is seen at a cut, said after it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.common.errors import Conflict
from curehouse.making.models import CutNote
from curehouse.making.services import note_cut
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.cut_seen import CutSeenForm, seen_in
from curehouse.web.reading.cut_seen import seen_words
from curehouse.web.views.placing import batch_here
from curehouse.workshops.roles import Right


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.POUR)
def batch_cut_note(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say what was seen at the cut of a batch."""
    request.room = "racks"
    batch = batch_here(visit, pk)
    if batch.cut_at is None:
        raise Conflict("not_cut", f"{batch} is not cut yet: say what is seen at its cut once it is cut.")
    newest = CutNote.objects.within(visit.workshop).filter(batch=batch).newest_first().first()
    form = CutSeenForm(request.POST or None, workshop=visit.workshop, newest=newest)

    def note() -> str:
        row = note_cut(actor=visit.actor, batch=batch, seen=seen_in(form.cleaned_data), at=visit.at)
        messages.success(request, f"{batch}, at the cut: {seen_words(row, visit.workshop.unit)}")
        return reverse("web:batch", args=[pk])

    page = {"batch": batch, "form": form}
    return done_once(request, visit, form, note) or render(request, "web/batch/cut_note.html", page)
