"""A scale is called otherwise, or shows finer or coarser steps."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from curehouse.common.errors import Conflict
from curehouse.common.units import from_grams
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.fields import trimmed
from curehouse.web.forms.workshop import ScaleChangeForm
from curehouse.workshops.changes import change_scale
from curehouse.workshops.models import Scale
from curehouse.workshops.roles import Right


@for_members(needs=Right.MAKE)
def scale_change(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Change a scale's name, or its step."""
    row, unit = Scale.objects.within(visit.workshop).select_related("workshop").get_here(pk, what="scale"), visit.workshop.unit
    if row.retired_at is not None and request.method != "POST":
        raise Conflict("retired", f"{row.name} is out of use: add a scale instead.")
    form = ScaleChangeForm(request.POST or None, unit=unit, scale=row)

    def work() -> str:
        changed = change_scale(scale=row, at=visit.at, **form.cleaned_data)
        if changed.pk == row.pk:
            messages.success(request, f"The scale is called {changed.name}.")
        else:
            messages.success(request, f"{changed.name} now has its new step: check it with a test weight.")
        return reverse("web:scale", args=[changed.pk])

    page = {"form": form, "scale": row, "step": f"{trimmed(from_grams(row.step_g, unit))} {unit}"}
    return done_once(request, visit, form, work) or render(request, "web/workshop/scale_change.html", page)
