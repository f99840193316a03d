"""The label weight of a batch: worked out, and kept."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.common.errors import Conflict, DomainError
from curehouse.curing.labels import find_label
from curehouse.curing.models import Cure, LabelWeight
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.services.labels import keep_label
from curehouse.making.leaving import GO_TO_NOBODY
from curehouse.making.models import Batch
from curehouse.web.access import Visit, for_members
from curehouse.web.errors import add_to_form
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.label import LabelForm
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.label import chosen_label, first_asked, label_said, read_label
from curehouse.web.views.placing import batch_on_the_racks
from curehouse.workshops.roles import Right


def _cure_of(batch: Batch) -> Cure:
    at_hand = ("batch__formula", "forecast", "label")
    cure = Cure.objects.within(batch.workshop).filter(batch=batch).select_related(*at_hand).with_obstacles().get()
    if cure.forecast is None:
        raise Conflict("no_forecast", f"{batch} has no forecast yet: weigh its sample bars, and its label follows from it.")
    return cure


def _asked(request: HttpRequest, visit: Visit, cure: Cure, calendar: Calendar) -> LabelForm:
    """Return the form as it was sent or asked for, or else as it is at first."""
    if request.method == "POST":
        return LabelForm(request.POST, workshop=visit.workshop)
    if "rule" in request.GET:
        return LabelForm(request.GET, workshop=visit.workshop)
    last = LabelWeight.objects.within(visit.workshop).newest_first().first()
    return LabelForm(first_asked(cure, calendar, last), workshop=visit.workshop)


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def batch_label(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show the largest label weight that does, and how it was got; keep it where that is sent."""
    request.room = "racks"
    batch, calendar = batch_on_the_racks(visit, pk), Calendar(visit.workshop, visit.at)
    cure = _cure_of(batch)
    form = _asked(request, visit, cure, calendar)

    def keep() -> str:
        seen = form.cleaned_data["seen"]
        label = keep_label(actor=visit.actor, batch=batch, asked=form.asked(), seen=seen, at=visit.at)
        messages.success(request, f"{batch}: its label says {label_said(label.weight_g, visit.workshop.unit)}.")
        return reverse("web:batch", args=[pk])

    answer = done_once(request, visit, form, keep)
    if answer is not None:
        return answer
    kept = LabelWeight.objects.within(visit.workshop).filter(batch=batch).newest_first()
    chosen = [chosen_label(row, visit.workshop, calendar) for row in kept.select_related("forecast", "by_user", "by_device")]
    stays = obstacles_of(cure)
    can_be_labelled = GO_TO_NOBODY.isdisjoint(one.code for one in stays)
    page = {"batch": batch, "form": form, "chosen": chosen, "obstacles": stays, "can_be_labelled": can_be_labelled}
    page |= _worked_out(visit, cure, form, calendar)
    return render(request, "web/batch/label.html", page)


def _worked_out(visit: Visit, cure: Cure, form: LabelForm, calendar: Calendar) -> dict[str, Any]:
    if not form.is_valid() and form.refusal is None:
        return {}
    try:
        found = find_label(batch=cure.batch, workshop=visit.workshop, forecast=cure.forecast, asked=form.asked())
    except DomainError as error:
        if form.refusal is None:
            add_to_form(form, error)
        return {}
    view = read_label(found, visit.workshop, calendar.today, wanted_g=form.wanted_g)
    return {"view": view, "basis": found.basis}
