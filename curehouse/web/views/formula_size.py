"""A formula in another size: what to weigh, and whether the scales can do it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curehouse.common.errors import DomainError
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.reading import kept, version_here
from curehouse.making.formulas.sizes import in_size, scales_can
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import judged, plan
from curehouse.web.access import Visit, for_members
from curehouse.web.errors import add_to_form
from curehouse.web.forms.fields import exactly
from curehouse.web.forms.formula_lines import one_way
from curehouse.web.forms.formula_size import SizeForm
from curehouse.web.reading.formulas import fats_of, read_planned, scale_lines
from curehouse.workshops.models import Scale
from curehouse.workshops.roles import Right


@require_safe
@for_members(needs=Right.SEE)
def version_scale(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a version in the size asked for; writes nothing."""
    request.room = "bench"
    version = version_here(visit.workshop, pk)
    one = plan(workshop=visit.workshop, entry=kept(version).entry, at=visit.at)
    unit = visit.workshop.unit
    asked = "by" in request.GET
    form = SizeForm(
        request.GET if asked else None, unit=unit, initial={"by": "fats", "fats_g": one_way(exactly(version.fats_g, unit))}
    )
    page: dict[str, Any] = {"version": version, "formula": version.formula, "form": form}
    page["scales"] = scale_lines(scales_can(one, list(Scale.objects.within(visit.workshop).in_use())), unit)
    if asked and form.is_valid():
        page |= _in_size(visit, version, one, form)
    return render(request, "web/formulas/scale.html", page)


def _in_size(visit: Visit, version: FormulaVersion, one: Planned, form: SizeForm) -> dict[str, Any]:
    try:
        larger = in_size(one, form.size())
        view = read_planned(larger, judged(larger), visit)
    except DomainError as error:
        add_to_form(form, error)
        return {}
    start = f"{reverse('web:batch_new')}?version={version.pk}&fats_g={fats_of(larger).normalize():f}"
    return {"view": view, "start": start if version.formula_id else ""}
