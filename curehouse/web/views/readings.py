"""One weighing: put right, kept as it is, or struck out."""

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from curehouse.common.errors import Conflict, DomainError
from curehouse.curing.models import Reading
from curehouse.curing.services.readings import ReadingEntry
from curehouse.flows.weigh import correct, keep, strike
from curehouse.web.access import Visit, for_members
from curehouse.web.deeds import noted_if_new
from curehouse.web.errors import add_to_form
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.weighing import CorrectForm, StrikeForm, TakeForm, corrected
from curehouse.web.once import once
from curehouse.web.reading.weighing import read_weighing
from curehouse.web.walking import ON_ROUND, Path, path_of
from curehouse.workshops.roles import Right


def _reading_here(visit: Visit, pk: int) -> Reading:
    rows = Reading.objects.within(visit.workshop).with_standing()
    beside = ("bar__batch__formula", "scale", "by_user", "by_device", "corrected_by")
    return rows.select_related(*beside).get_here(pk, what="weighing")


def _path(request: HttpRequest, visit: Visit) -> Path | None:
    """Return the walk this visit came from, or None where it came from the batch."""
    return path_of(request, visit) if ON_ROUND in request.GET else None


def _onwards(path: Path | None, reading: Reading, *, after: Reading | None = None) -> str:
    """Return where to go once *reading* is settled: on with the round, or back to its batch."""
    if path is not None:
        return path.onwards(reading.bar, after=after)
    return reverse("web:batch", args=[reading.bar.batch_id])


def _corrected(request: HttpRequest, visit: Visit, reading: Reading, entry: ReadingEntry) -> Reading:
    return noted_if_new(
        request, visit, lambda: correct(actor=visit.actor, reading=reading, entry=entry, at=visit.at)[0]
    )  # fmt: skip


def _after_correction(request: HttpRequest, visit: Visit, row: Reading) -> HttpResponse:
    """Go on; a corrected weight that is doubtful in its turn is asked about at once."""
    if row.doubt:
        query = f"?{request.GET.urlencode()}" if request.GET else ""
        return redirect(reverse("web:reading_correct", args=[row.pk]) + query)
    return redirect(_onwards(_path(request, visit), row, after=row))


def _page(
    request: HttpRequest,
    visit: Visit,
    reading: Reading,
    *,
    form: CorrectForm | None = None,
    strike_form: StrikeForm | None = None,
) -> HttpResponse:
    shown = {
        "page": read_weighing(reading, visit),
        "form": form or CorrectForm(workshop=visit.workshop, reading=reading),
        "strike_form": strike_form or StrikeForm(),
        "client_id": uuid.uuid4(),
        "query": f"?{request.GET.urlencode()}" if request.GET else "",
        "back": _onwards(_path(request, visit), reading),
    }
    return render(request, "web/round/reading.html", shown)


@for_members(needs=Right.WEIGH)
def reading_correct(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Write the weight a weighing should have had; the old row stays on record."""
    request.room = "today" if ON_ROUND in request.GET else "racks"
    reading = _reading_here(visit, pk)
    if request.method != "POST":
        return _page(request, visit, reading)
    form = CorrectForm(request.POST, workshop=visit.workshop, reading=reading)
    if form.is_valid():
        try:
            row = _corrected(request, visit, reading, form.entry())
            return _after_correction(request, visit, row)
        except DomainError as error:
            add_to_form(form, error)
    # As it is on record now: it may have been corrected meanwhile.
    return _page(request, visit, _reading_here(visit, pk), form=form)


@require_POST
@for_members(needs=Right.WEIGH)
def reading_take(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Take the weight the house guessed: a correction with that very figure."""
    reading, form = _reading_here(visit, pk), TakeForm(request.POST)
    if reading.doubt_guess_g is None or not form.is_valid():
        raise Conflict("no_guess", "There is no weight to take here: load the page again and type the weight.")
    entry = corrected(reading, weight_g=reading.doubt_guess_g, client_id=form.cleaned_data["client_id"])
    row = _corrected(request, visit, reading, entry)
    return _after_correction(request, visit, row)


@require_POST
@for_members(needs=Right.WEIGH)
def reading_keep(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Keep a doubtful weighing as it is."""
    reading = _reading_here(visit, pk)

    def work() -> str:
        keep(actor=visit.actor, reading=reading, at=visit.at)
        return _onwards(_path(request, visit), reading, after=reading)

    return once(request, visit, work)


@require_POST
@for_members(needs=Right.WEIGH)
def reading_strike(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Strike a weighing out, with a reason."""
    request.room = "today" if ON_ROUND in request.GET else "racks"
    reading, form = _reading_here(visit, pk), StrikeForm(request.POST)

    def work() -> str:
        strike(actor=visit.actor, reading=reading, reason=form.cleaned_data["reason"], at=visit.at)
        messages.success(request, f"Bar {reading.bar.letter}: the weighing is struck out and counts no more.")
        return _onwards(_path(request, visit), reading)

    return done_once(request, visit, form, work) or _page(request, visit, reading, strike_form=form)
