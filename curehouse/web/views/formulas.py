"""Formulas: listed, looked at, written down, changed."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from curehouse.common.errors import DomainError
from curehouse.flows.change_formula import change_formula
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.reading import kept, newest_version, version_here
from curehouse.making.formulas.settings import setting_wanted
from curehouse.making.formulas.sizes import as_weighed
from curehouse.making.models import Formula, FormulaVersion
from curehouse.making.services.formulas import (
    judged,
    plan,
    retire_formula,
    take_up_formula,
    unread_values,
    write_formula,
)
from curehouse.making.services.pours import lye_today_said
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.formula import Begin, Bench, FormulaForm, begin_again, begin_like
from curehouse.web.forms.formula_lines import ROWS
from curehouse.web.forms.formula_size import WantedForm
from curehouse.web.once import once
from curehouse.web.reading.formulas import batches_of, fats_of, formula_page, read_planned, setting_said, version_lines
from curehouse.workshops.models import Scale
from curehouse.workshops.roles import Right
from inventory.models import Material

_LONGEST_SEARCH = 120
_LONGEST_PK = 18
_FORM_METHODS = ["GET", "HEAD", "POST"]


@require_safe
@for_members(needs=Right.SEE)
def formulas(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the formulas."""
    request.room = "bench"
    search = " ".join(request.GET.get("q", "").replace("\x00", " ").split())[:_LONGEST_SEARCH]
    page, lines = formula_page(visit, search=search, number=request.GET.get("page"))
    return render(request, "web/formulas/formulas.html", {"page": page, "formulas": lines, "search": search})


def _formula(visit: Visit, pk: int) -> Formula:
    return Formula.objects.within(visit.workshop).get_here(pk, what="formula")


@require_safe
@for_members(needs=Right.SEE)
def formula(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a formula, in its newest version."""
    row = _formula(visit, pk)
    version = newest_version(row)
    if version is None:
        request.room = "bench"
        page = {"formula": row, "batches": batches_of(visit, row)}
        return render(request, "web/formulas/formula.html", page)
    return _show(request, visit, version)


@require_safe
@for_members(needs=Right.SEE)
def formula_version(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a version of a formula."""
    return _show(request, visit, version_here(visit.workshop, pk))


def _show(request: HttpRequest, visit: Visit, version: FormulaVersion) -> HttpResponse:
    request.room = "bench"
    page = {
        "formula": version.formula,
        "version": version,
        **_worked_out(request, visit, version),
        "versions": version_lines(visit, version.formula, version),
        "batches": batches_of(visit, version.formula),
    }
    return render(request, "web/formulas/formula.html", page)


def _worked_out(request: HttpRequest, visit: Visit, version: FormulaVersion) -> dict[str, Any]:
    """Return a version worked out today; or what is in the way, as where the lot that told a fat's figure is used up."""
    try:
        one = as_weighed(plan(workshop=visit.workshop, entry=kept(version).entry, at=visit.at))
        found = judged(one)
        is_hidden = found.is_refused or found.figures is None or unread_values(found, one.entry.confirmed)
        lye = () if is_hidden else found.figures.lye
        today = lye_today_said(version, one, lye, fats_of(one), at=visit.at)
        return {"view": read_planned(one, found, visit, in_own_size=True), "lots_of_today": today, **_wanted(request, one)}
    except DomainError as error:
        return {"view": None, "in_the_way": error.message}


def _wanted(request: HttpRequest, one: Planned) -> dict[str, Any]:
    """Return the question for a superfat with the milk's fat, where there is some, and its answer once it is asked."""
    if not any(liquid.made_of.fat.high > 0 for liquid in one.formula.liquids):
        return {}
    asked = "effective" in request.GET
    form = WantedForm(request.GET if asked else None, initial={"effective": "5"})
    said = setting_said(setting_wanted(one, form.cleaned_data["effective"] / 100)) if asked and form.is_valid() else ""
    return {"wanted": form, "setting": said}


def _bench(visit: Visit) -> Bench:
    materials = Material.objects.within(visit.workshop).in_use().order_by("name")
    return Bench(visit.workshop, list(materials), list(Scale.objects.within(visit.workshop).in_use()))


def _form(request: HttpRequest, visit: Visit, begin: Begin | None) -> FormulaForm:
    if request.method == "POST" and request.POST.get("more", "") in ROWS:
        return FormulaForm(bench=_bench(visit), begin=begin_again(request.POST.dict(), request.POST["more"]))
    return FormulaForm(request.POST if request.method == "POST" else None, bench=_bench(visit), begin=begin)


def _like(request: HttpRequest, visit: Visit) -> Begin | None:
    """Return how a new formula begins: empty, or as a copy of a version."""
    like = request.GET.get("like", "")
    if not (like.isascii() and like.isdecimal() and len(like) <= _LONGEST_PK):
        return None
    begin = begin_like(kept(version_here(visit.workshop, int(like))).entry, unit=visit.workshop.unit)
    return Begin({**begin.fields, "name": ""}, begin.rows)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def formula_new(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Write a formula down, from nothing or as a copy of another."""
    request.room = "bench"
    form = _form(request, visit, _like(request, visit))

    def work() -> str:
        version = write_formula(actor=visit.actor, entry=form.entry(), at=visit.at)
        messages.success(request, f"{version.formula} is among your formulas.")
        return reverse("web:formula", args=[version.formula_id])

    page: dict[str, Any] = {"form": form, "heading": "A new formula", "button": "Keep the formula"}
    answer = done_once(request, visit, form, work) if form.is_bound else None
    return answer or render(request, "web/formulas/formula_form.html", page)


@require_POST
@for_members(needs=Right.MAKE)
def formula_retire(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Take a formula out of use, or put it into use again."""
    row = _formula(visit, pk)

    def work() -> str:
        if row.retired_at is None:
            retire_formula(formula=row, at=visit.at)
            messages.success(request, f"{row} is out of use; its versions and batches stay.")
        else:
            take_up_formula(formula=row)
            messages.success(request, f"{row} is in use again.")
        return reverse("web:formula", args=[row.pk])

    return once(request, visit, work)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def formula_change(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Change a formula: what was poured stays as it was, and the change is a version of its own."""
    request.room = "bench"
    row = _formula(visit, pk)
    version = newest_version(row)
    if version is None and request.method != "POST":
        begin = Begin({**Begin().fields, "name": row.name}, Begin().rows)
    elif version is not None:
        begin = begin_like(kept(version).entry, unit=visit.workshop.unit, over=version.pk)
    else:
        begin = None
    form = _form(request, visit, begin)

    def work() -> str:
        entry = form.entry()
        written = change_formula(actor=visit.actor, formula=row, entry=entry, over=form.over_key, at=visit.at)
        messages.success(request, f"{written} is kept.")
        return reverse("web:formula", args=[row.pk])

    becomes = ""
    if version is not None and version.is_poured:
        becomes = f"It was poured, so your change becomes version {version.number + 1}."
    page = {"form": form, "heading": f"Change {row}", "button": "Keep it", "formula": row, "becomes": becomes}
    answer = done_once(request, visit, form, work) if form.is_bound else None
    return answer or render(request, "web/formulas/formula_form.html", page)
