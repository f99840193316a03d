"""Runs that are planned: listed, shown, moved, called off."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from curehouse.common.errors import Conflict, DomainError
from curehouse.flows.check_run import hold_move, share_out
from curehouse.flows.enter_batch import link_run
from curehouse.flows.runs import call_off_run, move_run, reserve_run
from curehouse.making.formulas.reading import newest_version
from curehouse.making.models import Batch, Run
from curehouse.web.access import Visit, for_members
from curehouse.web.errors import add_to_form
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.fields import HouseForm
from curehouse.web.forms.runs import CallOffRunForm, MoveForm, PouredForm, RunPlacesForm
from curehouse.web.once import once
from curehouse.web.reading.pour_table import open_pour_of
from curehouse.web.reading.run_over import read_over
from curehouse.web.reading.run_places import read_run_places
from curehouse.web.reading.runs import MOST_OVER, MovedView, read_moved, read_run, run_lines
from curehouse.workshops.roles import Right

_FORM_METHODS = ["GET", "HEAD", "POST"]
# So many batches a run is looked for among: the newest.
MOST_BATCHES = 20


def run_here(visit: Visit, pk: int) -> Run:
    """Return a run of the workshop, or answer that it is not here."""
    return Run.objects.within(visit.workshop).named().get_here(pk, what="run")


@require_safe
@for_members(needs=Right.SEE)
def runs(request: HttpRequest, visit: Visit) -> HttpResponse:
    """List the runs: those that are planned by their day, then the last of those that are over."""
    request.room = "bench"
    rows = Run.objects.within(visit.workshop).named()
    planned = list(rows.planned())
    shares = share_out(workshop=visit.workshop, at=visit.at)
    over = rows.exclude(state=Run.State.PLANNED).soonest_first()[:MOST_OVER]
    page = {"planned": run_lines(visit, planned, shares), "over": run_lines(visit, over, shares)}
    return render(request, "web/runs/runs.html", page)


@require_safe
@for_members(needs=Right.SEE)
def run(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a run: what is there for it, and what was said of it."""
    request.room = "bench"
    return run_page(request, visit, run_here(visit, pk))


def run_page(
    request: HttpRequest, visit: Visit, row: Run, *, poured: PouredForm | None = None, bars: RunPlacesForm | None = None
) -> HttpResponse:
    """Return the page of a run, with a form of it that was refused."""
    is_planned = row.state == Run.State.PLANNED
    newest = newest_version(row.formula) if is_planned else None
    shares = share_out(workshop=visit.workshop, at=visit.at, of=row) if is_planned else None
    view = read_run(visit, row, shares, is_old_version=newest is not None and newest.pk != row.version_id)
    page = {
        "run": row,
        "view": view,
        "poured": poured or _poured_form(visit, row),
        "places": read_run_places(visit, row),
        "at_table": open_pour_of(visit, row),
        "bars": bars or RunPlacesForm(initial={"bars": row.bars}),
    }
    return render(request, "web/runs/run.html", page)


def _poured_form(visit: Visit, row: Run, sent: QueryDict | None = None) -> PouredForm | None:
    """Return the form that says which batch came of a run, if it is planned and there is one it can be."""
    if row.state != Run.State.PLANNED:
        return None
    batches = Batch.objects.within(visit.workshop).select_related("formula").filter(formula=row.formula_id)
    found = list(batches.without_run().newest_first()[:MOST_BATCHES])
    return PouredForm(sent, batches=found) if found else None


@require_POST
@for_members(needs=Right.POUR)
def run_pour(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say which batch, entered before, came of a run."""
    request.room = "bench"
    row = run_here(visit, pk)
    form = _poured_form(visit, row, request.POST)
    if form is None:
        raise Conflict("no_batch", f"There is no batch that can have come of {row}: look at the run again.")

    def work() -> str:
        batch = Batch.objects.within(visit.workshop).get_here(int(form.cleaned_data["batch"]), what="batch")
        link_run(actor=visit.actor, run=row, batch=batch, at=visit.at)
        messages.success(request, f"{batch} came of this run.")
        return reverse("web:run", args=[row.pk])

    return done_once(request, visit, form, work) or run_page(request, visit, row, poured=form)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def run_move(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Hold a run against the storeroom as on another day; put it there where that is sent."""
    request.room = "bench"
    row = run_here(visit, pk)
    sent = request.POST if request.method == "POST" else request.GET if "pour_on" in request.GET else None
    form = MoveForm(sent, initial={"pour_on": row.pour_on})

    def work() -> str:
        values = form.cleaned_data
        move_run(actor=visit.actor, run=row, pour_on=values["pour_on"], why=values["why"], at=visit.at)
        messages.success(request, f"{row.formula} is moved, and what it takes is reserved for its new day.")
        return reverse("web:run", args=[row.pk])

    answer = done_once(request, visit, form, work) or over_page(request, visit, row, form, heading="Move a run")
    return answer or render(request, "web/runs/move.html", {"form": form, "run": row, "view": _moved(visit, row, form)})


def over_page(request: HttpRequest, visit: Visit, row: Run, form: HouseForm, *, heading: str) -> HttpResponse | None:
    """Return the page that says what became of a run that is not planned any more; None while it is."""
    over = read_over(visit, row)
    if over is None:
        return None
    # What was typed meets a run that is over: that alone is said.
    shown = form if form.refusal is not None else HouseForm()
    return render(request, "web/runs/over.html", {"run": row, "over": over, "form": shown, "heading": heading})


def _moved(visit: Visit, row: Run, form: MoveForm) -> MovedView | None:
    """Return how the run would stand on the day that was asked for, if that is another one it can have."""
    if not form.is_bound or not form.is_valid() or row.state != Run.State.PLANNED:
        return None
    day = form.cleaned_data["pour_on"]
    try:
        return read_moved(visit, row, hold_move(run=row, pour_on=day, at=visit.at), day=day)
    except DomainError as error:
        if form.refusal is None:
            add_to_form(form, error)
        return None


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def run_call_off(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Call a run off."""
    request.room = "bench"
    row = run_here(visit, pk)
    form = CallOffRunForm(request.POST or None)

    def work() -> str:
        call_off_run(actor=visit.actor, run=row, why=form.cleaned_data["why"], at=visit.at)
        messages.success(request, f"{row.formula} is called off, and what was reserved for it is free.")
        return reverse("web:run", args=[row.pk])

    answer = done_once(request, visit, form, work) or over_page(request, visit, row, form, heading="Call a run off")
    return answer or render(request, "web/runs/call_off.html", {"form": form, "run": row})


@require_POST
@for_members(needs=Right.MAKE)
def run_reserve(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Reserve anew what a run takes, by its formula as it stands."""
    row = run_here(visit, pk)

    def work() -> str:
        reserve_run(actor=visit.actor, run=row, at=visit.at)
        messages.success(request, f"What {row.formula} takes today is reserved.")
        return reverse("web:run", args=[row.pk])

    return once(request, visit, work)
