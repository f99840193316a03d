"""The scales: added, checked with a test weight, retired; and what can be forgotten on them."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST

from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.workshop import ScaleCheckForm, ScaleForm, TareForm
from curehouse.web.once import once
from curehouse.web.reading.workshop import check_lines, off_words, scale_lines, tare_lines
from curehouse.workshops.models import Scale, ScaleTare
from curehouse.workshops.roles import Right
from curehouse.workshops.services import add_scale, add_tare, check_scale, retire_scale, retire_tare


def _scale(visit: Visit, pk: int) -> Scale:
    return Scale.objects.within(visit.workshop).get_here(pk, what="scale")


@for_members(needs=Right.SEE, to_write=Right.MAKE)
def scales(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the scales; add one."""
    form = ScaleForm(request.POST or None, unit=visit.workshop.unit)

    def work() -> str:
        added = add_scale(workshop=visit.workshop, **form.cleaned_data)
        messages.success(request, f"{added.name} is among your scales.")
        return reverse("web:scales")

    page = {"form": form, "scales": scale_lines(visit)}
    return done_once(request, visit, form, work) or render(request, "web/workshop/scales.html", page)


@for_members(needs=Right.SEE, to_write=Right.MAKE)
def scale(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a scale with its checks; record one."""
    row = _scale(visit, pk)
    form = ScaleCheckForm(request.POST or None, unit=visit.workshop.unit)

    def work() -> str:
        check = check_scale(actor=visit.actor, scale=row, at=visit.at, **form.cleaned_data)
        words = off_words(check.shown_g - check.test_weight_g, visit.workshop.unit)
        messages.success(request, f"Check kept: {words}.")
        return reverse("web:scale", args=[row.pk])

    answer = done_once(request, visit, form, work)
    line = next(line for line in scale_lines(visit) if line.pk == row.pk)
    page = {"form": form, "scale": line, "checks": check_lines(visit, row), "tares": tare_lines(visit, row)}
    return answer or render(request, "web/workshop/scale.html", page)


@require_POST
@for_members(needs=Right.MAKE)
def scale_retire(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Take a scale out of use."""
    row = _scale(visit, pk)

    def work() -> str:
        retire_scale(scale=row, at=visit.at)
        messages.success(request, f"{row.name} is out of use; what was weighed on it stays on record.")
        return reverse("web:scales")

    return once(request, visit, work)


@for_members(needs=Right.SEE, to_write=Right.MAKE)
def scale_tares(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show what stands on a scale and can be forgotten; add to it."""
    row = _scale(visit, pk)
    form = TareForm(request.POST or None, unit=visit.workshop.unit)

    def work() -> str:
        tare = add_tare(scale=row, **form.cleaned_data)
        messages.success(request, f"A weight that is off by the {tare.name} will be asked about.")
        return reverse("web:scale_tares", args=[row.pk])

    answer = done_once(request, visit, form, work)
    page = {"form": form, "scale": row, "tares": tare_lines(visit, row)}
    return answer or render(request, "web/workshop/tares.html", page)


@require_POST
@for_members(needs=Right.MAKE)
def tare_retire(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say that something stands on its scale no more."""
    tare = ScaleTare.objects.within(visit.workshop).get_here(pk, what="tare")

    def work() -> str:
        retire_tare(tare=tare, at=visit.at)
        messages.success(request, f"The {tare.name} is asked about no more.")
        return reverse("web:scale_tares", args=[tare.scale_id])

    return once(request, visit, work)
