"""The round: one sample bar after another, in the order one walks past them."""

import uuid
from dataclasses import replace

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from curehouse.common.errors import Conflict, DomainError
from curehouse.curing.models import Reading, SampleBar
from curehouse.flows.end_bar import end_bar
from curehouse.flows.weigh_on_round import WEIGHED_TODAY, weigh_again_on_round, weigh_on_round
from curehouse.web.access import Visit, for_members
from curehouse.web.deeds import noted_if_new
from curehouse.web.errors import add_to_form
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.weighing import GoneForm, WeighForm
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.round import Written, next_round_words, read_bar, read_end, written
from curehouse.web.walking import AFTER, Path, number_in, path_of
from curehouse.workshops.models import Scale
from curehouse.workshops.roles import Right

# Remembered while the person is signed in: a round is weighed on one scale, with one needle.
SCALE, TOOL = "round_scale", "round_tool"
# A verdict takes a second or two; a page left lying open does not ask for it for ever.
MOST_LOOKS = 20


def _bar_here(visit: Visit, pk: int) -> SampleBar:
    bars = SampleBar.objects.within(visit.workshop)
    return bars.select_related("batch__formula", "batch__cure__assessment", "batch__workshop").get_here(pk, what="sample bar")


def _just_weighed(request: HttpRequest, visit: Visit) -> Reading | None:
    """Return the weighing the address says was written just now, if it is one of this workshop."""
    pk = number_in(request, AFTER)
    rows = Reading.objects.within(visit.workshop).select_related("bar", "by_user", "by_device")
    return rows.filter(pk=pk).first() if pk else None


def _written(reading: Reading | None, visit: Visit, path: Path) -> Written | None:
    unit, calendar = visit.workshop.unit, Calendar(visit.workshop, visit.at)
    return written(reading, path, unit=unit, calendar=calendar) if reading else None


@for_members(needs=Right.WEIGH)
def round_start(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Go to the first bar still to be weighed; without one, say what comes next."""
    request.room = "today"
    path = path_of(request, visit)
    if path.walk.left:
        return redirect(path.bar(path.walk.left[0].bar))
    if path.walk.stops:
        return redirect(path.end)
    coming = next_round_words(visit, Calendar(visit.workshop, visit.at))
    return render(request, "web/round/nothing_due.html", {"next_round": coming, "batch": path.walk.batch})


def _scales(visit: Visit) -> list[Scale]:
    return list(Scale.objects.within(visit.workshop).in_use().with_last_check())


def _scale_at_hand(request: HttpRequest, scales: list[Scale]) -> Scale | None:
    """Return the scale of the last weighing in this session, or the first there is."""
    remembered = request.session.get(SCALE)
    return next((scale for scale in scales if scale.pk == remembered), scales[0] if scales else None)


def _record(visit: Visit, bar: SampleBar, form: WeighForm) -> Reading:
    """Write what was typed: a first look at the bar today, or a second at a weight in doubt."""
    entry, again = form.entry(at=visit.at), form.cleaned_data["again"]
    if again is None:
        return weigh_on_round(actor=visit.actor, bar=bar, entry=entry, seen=form.cleaned_data["seen"], at=visit.at)
    rows = Reading.objects.within(visit.workshop).filter(bar=bar).select_related("bar__batch")
    reading = rows.get_here(again, what="weighing")
    if not entry.firmness:
        entry = replace(entry, firmness=reading.firmness, dent_mm=reading.dent_mm, dent_tool=reading.dent_tool)
    return weigh_again_on_round(actor=visit.actor, reading=reading, entry=entry, at=visit.at)


def _weighed(request: HttpRequest, visit: Visit, bar: SampleBar, form: WeighForm) -> str | None:
    """Return where to go after the weighing was written; None if it was not, and *form* says why."""
    try:
        reading = noted_if_new(request, visit, lambda: _record(visit, bar, form))
    except DomainError as error:
        form.overtaken = isinstance(error, Conflict) and error.code == WEIGHED_TODAY
        add_to_form(form, error)
        return None
    request.session[SCALE] = reading.scale_id
    request.session[TOOL] = reading.dent_tool or request.session.get(TOOL, "")
    path = path_of(request, visit)
    return path.bar(bar) if reading.doubt else path.onwards(bar, after=reading)


def _weigh_form(request: HttpRequest, visit: Visit, scales: list[Scale], scale: Scale | None) -> WeighForm:
    return WeighForm(
        request.POST if request.method == "POST" else None,
        initial={"scale": scale.pk if scale else "", "firmness": "", "dent_tool": request.session.get(TOOL, "")},
        workshop=visit.workshop,
        scales=scales,
        calendar=Calendar(visit.workshop, visit.at),
    )


@for_members(needs=Right.WEIGH)
def round_bar(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Weigh one bar, then go on; a doubtful weight is written, and asked about on this very page."""
    request.room = "today"
    bar, scales = _bar_here(visit, pk), _scales(visit)
    scale = _scale_at_hand(request, scales)
    form = _weigh_form(request, visit, scales, scale)
    if form.is_bound and form.is_valid() and (onwards := _weighed(request, visit, bar, form)):
        return redirect(onwards)
    path, after = path_of(request, visit), _just_weighed(request, visit)
    if bar.ended_at is not None and not form.is_bound:
        messages.info(request, f"{bar.batch}, bar {bar.letter} is not weighed any more: {bar.ended_why}.")
        return redirect(path.onwards(bar))
    page = read_bar(bar, path, visit, scale, after=after)
    shown = {"page": page, "form": form, "path": path, "client_id": uuid.uuid4()}
    shown |= {"written": _written(after, visit, path), "onwards": path.onwards(bar), "gone": path.gone(bar)}
    return render(request, "web/round/bar.html", shown)


@for_members(needs=Right.WEIGH)
def round_gone(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Say what became of a sample bar: it is not weighed any more."""
    request.room = "today"
    bar, path = _bar_here(visit, pk), path_of(request, visit)
    form = GoneForm(request.POST or None)

    def work() -> str:
        end_bar(actor=visit.actor, bar=bar, why=form.cleaned_data["why"], at=visit.at)
        messages.success(request, f"{bar.batch}, bar {bar.letter} is not weighed any more.")
        return path.onwards(bar)

    answer = done_once(request, visit, form, work)
    return answer or render(request, "web/round/gone.html", {"form": form, "bar": bar, "back": path.bar(bar)})


@for_members(needs=Right.WEIGH)
def round_end(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Say what the round did, what is open, and what changed by it."""
    request.room = "today"
    path = path_of(request, visit)
    looks = (number_in(request, "looks") or 0) + 1
    shown = {"page": read_end(path, visit), "path": path, "written": _written(_just_weighed(request, visit), visit, path)}
    return render(request, "web/round/end.html", {**shown, "looks": looks, "look_again": looks < MOST_LOOKS})
