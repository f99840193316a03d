"""A run that may be planned: looked at from every side, then announced."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.common.errors import DomainError
from curehouse.flows.plan_ahead import plan_ahead
from curehouse.flows.pour_ahead import pour_ahead
from curehouse.flows.runs import plan_run
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import FormulaVersion
from curehouse.web.access import Visit, for_members
from curehouse.web.errors import add_to_form
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.fields import exactly
from curehouse.web.forms.formula_lines import one_way
from curehouse.web.forms.runs import RunForm
from curehouse.web.reading.plan import AskedPlan, PlanView, read_backwards, read_plan
from curehouse.web.reading.run_places import kept_words
from curehouse.workshops.roles import Right


@require_http_methods(["GET", "HEAD", "POST"])
@for_members(needs=Right.SEE, to_write=Right.MAKE)
def version_run(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Look at a run of a formula on a day, or for bars by one; announce it where that is sent."""
    request.room = "bench"
    version = version_here(visit.workshop, pk)
    form = _asked(request, visit, version)

    def work() -> str:
        values = form.cleaned_data
        row = plan_run(
            actor=visit.actor, version=version, fats_g=form.fats_g, pour_on=values["pour_on"], bars=values["bars"],
            note=values["note"], at=visit.at,
        )  # fmt: skip
        messages.success(request, f"{row.formula} is planned, and what it takes is reserved. {kept_words(row)}")
        return reverse("web:run", args=[row.pk])

    answer = done_once(request, visit, form, work)
    page = {"form": form, "version": version, "formula": version.formula}
    return answer or render(request, "web/runs/plan.html", page | {"view": _view(visit, version, form)})


def _asked(request: HttpRequest, visit: Visit, version: FormulaVersion) -> RunForm:
    """Return the form as it was sent or asked for, or else as it is at first: the formula's own size."""
    start = {"fats_g": one_way(exactly(version.fats_g, visit.workshop.unit))}
    if request.method == "POST":
        return RunForm(request.POST, workshop=visit.workshop, initial=start, is_planned=True)
    is_asked = "pour_on" in request.GET or "wanted_on" in request.GET
    # A link that names a day alone means the formula's own size.
    return RunForm(start | request.GET.dict() if is_asked else None, workshop=visit.workshop, initial=start)


def _view(visit: Visit, version: FormulaVersion, form: RunForm) -> PlanView | None:
    if not form.is_bound or not form.is_valid():
        return None
    values = form.cleaned_data
    days = {"pour_on": values["pour_on"], "wanted_on": values["wanted_on"]}
    asked = AskedPlan(version, form["fats_g"].value(), str(values["bars"] or ""), **days)
    try:
        if asked.pour_on is None:
            return read_backwards(visit, pour_ahead(version=version, at=visit.at, **days), asked)
        found = plan_ahead(version=version, fats_g=form.fats_g, bars=values["bars"], at=visit.at, **days)
    except DomainError as error:
        if form.refusal is None:
            add_to_form(form, error)
        return None
    return read_plan(visit, found, asked)
