"""A batch takes from the storeroom; what holds a batch is lifted by a person."""

from collections.abc import Iterable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.flows.superfats import superfat_said, what_next
from curehouse.flows.use_stock import Proposal, book_use, propose
from curehouse.making.models import Batch, BatchHold
from curehouse.making.services import lift_hold
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.batch_use import AskForm, BookForm, first_lines, number_said
from curehouse.web.forms.lot import LiftForm
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.batch_stock import short_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.lot import already_words
from curehouse.web.reading.offered_lots import OfferedLots, offered_lots
from curehouse.web.views.placing import batch_here
from curehouse.web.walking import number_in
from curehouse.workshops.roles import Right
from inventory.models import Material

_FORM_METHODS = ["GET", "HEAD", "POST"]
_SPARE_LINES = 3
_MOST_LINES = 60
_LONGEST_NUMBER = 10


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.POUR)
def batch_use(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Ask what went in, propose lots for it, and book what was really taken."""
    request.room = "racks"
    batch = batch_here(visit, pk)
    if request.method == "POST":
        return _book(request, visit, batch, [], lines=min(number_in(request, "lines") or _SPARE_LINES, _MOST_LINES))
    materials = list(Material.objects.within(visit.workshop).in_use())
    asked = any(name.startswith("material_") for name in request.GET)
    form = AskForm(request.GET if asked else None, workshop=visit.workshop, materials=materials)
    if not asked or not form.is_valid():
        page = {"batch": batch, "form": form, "has_materials": bool(materials)}
        return render(request, "web/storeroom/batch_ask.html", page)
    today = Calendar(visit.workshop, visit.at).today
    proposals = [
        propose(workshop=visit.workshop, material=material, amount=amount, day=today) for material, amount in form.asked()
    ]
    words = [
        short_words(material, amount, proposal, visit.workshop.unit)
        for (material, amount), proposal in zip(form.asked(), proposals, strict=True)
    ]
    lines = sum(len(one.takes) for one in proposals) + _SPARE_LINES
    return _book(request, visit, batch, proposals, lines=lines, words=[one for one in words if one])


def _whole(words: Iterable[str]) -> list[int]:
    """Return those of *words* that are keys or numbers."""
    return [int(word) for word in words if word.isascii() and word.isdigit() and len(word) < _LONGEST_NUMBER]


def _offered(request: HttpRequest, visit: Visit, proposals: list[Proposal]) -> OfferedLots:
    """Return the lots to choose from: some of each material that is asked for, what is proposed and what was sent."""
    materials = [int(key) for key in _whole(request.GET.getlist("of"))][:_MOST_LINES]
    if request.method != "POST":
        materials = [int(key) for name, key in request.GET.items() if name.startswith("material_") and _whole([key])]
    keys = _whole(value for name, value in request.POST.items() if name.startswith("lot_"))
    numbers = _whole(number_said(value) for name, value in request.POST.items() if name.startswith("number_"))
    proposed = [lot.pk for one in proposals for lot, _amount in one.takes]
    return offered_lots(visit.workshop, materials, keys=[*keys[:_MOST_LINES], *proposed], numbers=numbers[:_MOST_LINES])


def _book(
    request: HttpRequest, visit: Visit, batch: Batch, proposals: list[Proposal], *, lines: int, words: list[str] | None = None
) -> HttpResponse:
    """Show the lines of a proposal, or book what was sent."""
    offered = _offered(request, visit, proposals)
    form = BookForm(
        request.POST if request.method == "POST" else None,
        workshop=visit.workshop,
        lots=offered,
        lines=lines,
        today=Calendar(visit.workshop, visit.at).today,
        now=first_lines(proposals, visit.workshop.unit),
    )

    def work() -> str:
        used_at = form.cleaned_data["used_at"] or visit.at
        uses = book_use(actor=visit.actor, batch=batch, lines=form.lines(), used_at=used_at, at=visit.at)
        unit = visit.workshop.unit
        said = ", ".join(
            f"{amount_words(-use.movement.amount, use.movement.lot.material, unit)} of {use.movement.lot}" for use in uses
        )
        messages.success(request, f"{batch} took {said}.")
        if any(use.irregular for use in uses):
            messages.warning(
                request, f"{batch} is held: a lot was not in order. Its bars go to nobody until you lift the hold."
            )
        tell_of_superfat(request, uses[0].batch, needed_check=batch.needs_check)
        if any(hasattr(use.movement, "found") for use in uses):
            messages.info(request, "More was taken than was booked: the rest was counted in as found at the pour.")
        for use in uses:
            if already := already_words(visit, use.movement):
                messages.info(request, f"{use.movement.lot}: {already}")
        return reverse("web:batch", args=[batch.pk])

    page = {"batch": batch, "form": form, "lines": lines, "words": words or [], "materials": list(offered.of_material)}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/batch_book.html", page)


def tell_of_superfat(request: HttpRequest, batch: Batch, *, needed_check: bool) -> None:
    """Say what the superfat of *batch* is by the lots it took, and whether its check is a condition since now."""
    said = superfat_said(batch)
    if batch.needs_check and not needed_check:
        messages.warning(request, f"{batch} may be caustic. {said} {what_next(batch)}")
    elif said and (batch.superfat_by_lots or needed_check):
        messages.info(request, said)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def hold_lift(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Lift what holds a batch, with a reason."""
    request.room = "racks"
    holds = BatchHold.objects.within(visit.workshop).select_related("batch__formula")
    hold = holds.get_here(pk, what="hold")
    form = LiftForm(request.POST or None)

    def work() -> str:
        lift_hold(actor=visit.actor, hold=hold, why=form.cleaned_data["why"], at=visit.at)
        messages.success(request, f"{hold.batch} is held no more by this: {hold.cause}.")
        return reverse("web:batch", args=[hold.batch_id])

    page = {"form": form, "hold": hold, "batch": hold.batch}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/hold_lift.html", page)
