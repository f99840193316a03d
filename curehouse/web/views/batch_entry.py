"""A batch comes in: entered in a minute, cut when it is firm enough."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST

from curehouse.common.errors import Invalid
from curehouse.flows.enter_batch import cut, enter_batch, kept_places_of
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import Batch, Run
from curehouse.making.services import computed_water_share
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.batch import BatchForm, CutForm
from curehouse.web.forms.liquids import typed_rows
from curehouse.web.reading.bench import (
    entered_words,
    formula_names,
    last_ones,
    lye_question,
    positions,
    proposed_bars,
    start_like,
)
from curehouse.web.reading.pour import grams_of, start_from
from curehouse.web.reading.runs import run_words
from curehouse.web.views.runs import run_here
from curehouse.workshops.roles import Right

_LONGEST_PK = 18


def _batch(visit: Visit, pk: int) -> Batch:
    return Batch.objects.within(visit.workshop).select_related("formula").get_here(pk, what="batch")


def _first_shown(request: HttpRequest, visit: Visit) -> dict[str, Any]:
    """Return how an entry begins: empty, or like an earlier batch."""
    start, rows = {"poured_at": visit.at}, None
    if (like := _key(request.GET.get("like", ""))) is not None:
        before = Batch.objects.within(visit.workshop).select_related("formula", "version__formula")
        shared, rows = start_like(visit, before.get_here(like, what="batch"))
        start |= shared
    elif (key := _key(request.GET.get("version", ""))) is not None:
        version = version_here(visit.workshop, key)
        try:
            shared, rows = start_from(visit, version, grams_of(request.GET.get("fats_g", "")))
        except Invalid as error:
            # Who poured it must be able to say so: it begins without lye, and with why there is none.
            shared = {"formula_name": version.formula.name, "version": str(version.pk), "lots_of_today": error.message}
        start |= shared
    if (run := _key(request.GET.get("run", ""))) is not None:
        start["run"] = str(run_here(visit, run).pk)
    return {"start": start, "rows": rows}


def _key(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= _LONGEST_PK else None


def _with_one_more_row(request: HttpRequest) -> dict[str, Any]:
    """Return what was typed so far, unread, and room for another liquid."""
    return {"start": request.POST.dict(), "rows": typed_rows(request.POST), "more_rows": 1}


def _offer_runs(visit: Visit, form: BatchForm) -> None:
    """Offer the planned runs of the formula whose version the batch is begun from."""
    key = _key(str(form["version"].value() or ""))
    if key is None:
        return
    formula = version_here(visit.workshop, key).formula_id
    runs = list(Run.objects.within(visit.workshop).named().planned().filter(formula=formula))
    if runs:
        form.offer_runs((str(run.pk), run_words(visit, run)) for run in runs)


@for_members(needs=Right.POUR)
def batch_new(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Enter a batch."""
    request.room = "bench"
    places = positions(visit)
    if request.method == "POST" and "more" not in request.POST:
        form = BatchForm(request.POST, workshop=visit.workshop, positions=places)
    else:
        begin = _with_one_more_row(request) if request.method == "POST" else _first_shown(request, visit)
        form = BatchForm(workshop=visit.workshop, positions=places, **begin)

    _offer_runs(visit, form)

    def work() -> str:
        key, run_key = form.cleaned_data["version"], form.cleaned_data["run"]
        version = None if key is None else version_here(visit.workshop, key)
        run = None if run_key is None else run_here(visit, run_key)
        batch = enter_batch(actor=visit.actor, entry=form.entry(version), rack=form.rack(), run=run, at=visit.at)
        messages.success(request, entered_words(batch))
        return reverse("web:batch", args=[batch.pk])

    page: dict[str, Any] = {"form": form, "formulas": formula_names(visit), "last_ones": last_ones(visit)}
    answer = done_once(request, visit, form, work) if form.is_bound else None
    page["lye_question"] = lye_question(form.refusal, visit.workshop.unit)
    return answer or render(request, "web/bench/batch_new.html", page)


@require_POST
@for_members(needs=Right.POUR)
def water_share(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Answer with the water share of what is typed so far; writes nothing."""
    form = BatchForm(request.POST, workshop=visit.workshop, positions=[])
    form.is_valid()
    share = computed_water_share(form.entry_so_far(visit.at)) if form.has_masses() else None
    return render(request, "web/bench/water_share.html", {"share_pct": None if share is None else share * 100})


@for_members(needs=Right.POUR)
def batch_cut(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Cut a batch that was poured."""
    request.room = "bench"
    batch = _batch(visit, pk)
    bars, by_what = proposed_bars(visit, batch)
    start = {"cut_at": visit.at, "bars": bars}
    form = CutForm(request.POST or None, workshop=visit.workshop, positions=positions(visit), initial=start)
    form.offer_kept(kept_places_of(batch))

    def work() -> str:
        values = form.cleaned_data
        done = cut(actor=visit.actor, batch=batch, cut_at=values["cut_at"], bars=values["bars"], rack=form.rack(), at=visit.at)
        messages.success(request, entered_words(done))
        return reverse("web:batch", args=[batch.pk])

    page = {"form": form, "batch": batch, "by_what": by_what}
    return done_once(request, visit, form, work) or render(request, "web/bench/batch_cut.html", page)
