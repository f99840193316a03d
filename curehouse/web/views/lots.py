"""A lot: its whole story, and what is done about it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from curehouse.common import uploads
from curehouse.common.upload_quota import takes_files, uploaded_too_much
from curehouse.flows.rule_lot import rule_and_hold
from curehouse.flows.stock import correct_lot, give_back, receive_more, record_value, take_back_count, write_off
from curehouse.flows.stock import reverse as take_back
from curehouse.making.models import BatchUse
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.counting import REASONS
from curehouse.web.forms.fields import HouseForm
from curehouse.web.forms.lot import (
    GiveBackForm,
    MoreForm,
    PaperForm,
    PapersForm,
    RulingForm,
    TakeBackForm,
    ValueForm,
    WriteOffForm,
)
from curehouse.web.reading.amounts import held_words, moved_words
from curehouse.web.reading.lot import already_words, counted_words, read_lot
from curehouse.web.views.batch_use import tell_of_superfat
from curehouse.web.views.store_count import count_form, counted_by, counted_said
from curehouse.workshops.roles import Right
from curehouse.workshops.services.rights import refusal
from inventory.models import Count, Lot, LotFile, Movement
from inventory.services.papers import MOST_BYTES, attach_file, content_of, may_open, too_large

_FORM_METHODS = ["GET", "HEAD", "POST"]


_LEADS = {
    "count": "What is there now, weighed or counted without looking at the book. Nothing left is 0.",
    "more": "Only of the very same lot: another supplier’s lot number is another lot.",
    "value": "As the certificate or your own measurement says; the newest of a name counts.",
    "take_back_count": "{count}: nobody counted that. The row stays, and the one that takes it back points at it.",
    "take_back": "{movement}: it never happened. The row stays, and the one that takes it back points at it.",
}


def lot_here(visit: Visit, pk: int) -> Lot:
    """Return a lot of the workshop with its names, or answer that it is not here."""
    return Lot.objects.within(visit.workshop).named().get_here(pk, what="lot")


@require_safe
@for_members(needs=Right.SEE)
def lot(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show a lot's whole story."""
    request.room = "storeroom"
    view = read_lot(visit, lot_here(visit, pk), request.GET.get("page"))
    return render(request, "web/storeroom/lot.html", {"view": view, "lot": view.lot})


def _act(
    request: HttpRequest,
    visit: Visit,
    row: Lot,
    form: HouseForm,
    work: Callable[[], str],
    *,
    about: str | Callable[[], str] = "",
    **page: Any,
) -> HttpResponse:
    """Do what a form about a lot says, and go back to the lot; or show the form."""
    request.room = "storeroom"

    def done() -> str:
        messages.success(request, work())
        return reverse("web:lot", args=[row.pk])

    answer = done_once(request, visit, form, done, about=about)
    return answer or render(request, "web/storeroom/lot_act.html", {"form": form, "lot": row, **page})


def _said(visit: Visit, row: Lot, moved: Movement) -> str:
    """Return what a movement did, and what is left."""
    return f"{row}: {moved_words(moved.amount, row.material, visit.workshop.unit)}. {_left(visit, row, moved)}"


def _left(visit: Visit, row: Lot, moved: Movement) -> str:
    row.refresh_from_db(fields=["on_hand", "is_estimated"])
    moved.lot = row
    return already_words(visit, moved) or f"On hand now: {held_words(row, visit.workshop.unit)}."


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.COUNT)
def lot_count(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Record what was found of a lot; what is booked is not shown before that."""
    row = lot_here(visit, pk)
    form = count_form(request, visit, row)

    def work() -> str:
        found = counted_by(visit, row, form)
        said = counted_said(visit, row, found)
        return said if found.moved is None else f"{said} {_left(visit, row, found.moved)}"

    page = {"heading": "Count it", "button": "Keep the count", "lead": _LEADS["count"], "reasons": REASONS}
    return _act(request, visit, row, form, work, **page)


def _moved(verb: Callable[..., Movement], visit: Visit, row: Lot, form: HouseForm) -> Callable[[], str]:
    def work() -> str:
        values = form.cleaned_data
        moved = verb(
            actor=visit.actor,
            lot=row,
            amount=values["amount"],
            reason=values["reason"],
            moment=values["moment"] or visit.at,
            at=visit.at,
        )
        return _said(visit, row, moved)

    return work


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def lot_write_off(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Book what was spilt, spoilt or thrown away."""
    row = lot_here(visit, pk)
    form = WriteOffForm(request.POST or None, workshop=visit.workshop, material=row.material)
    work = _moved(write_off, visit, row, form)
    return _act(request, visit, row, form, work, heading="Write some off", button="Write it off")


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def lot_give_back(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Book what went back to the supplier."""
    row = lot_here(visit, pk)
    form = GiveBackForm(request.POST or None, workshop=visit.workshop, material=row.material)
    work = _moved(give_back, visit, row, form)
    return _act(request, visit, row, form, work, heading="Return some to the supplier", button="Book the return")


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def lot_more(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Book more of the same lot."""
    row = lot_here(visit, pk)
    form = MoreForm(request.POST or None, workshop=visit.workshop, material=row.material)
    work = _moved(receive_more, visit, row, form)
    return _act(request, visit, row, form, work, heading="More of it came in", button="Book it in", lead=_LEADS["more"])


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def lot_rule(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Release or reject a lot, or put it in quarantine."""
    row = lot_here(visit, pk)
    form = RulingForm(request.POST or None, lot=row)

    def work() -> str:
        ruling, held = rule_and_hold(actor=visit.actor, lot=row, at=visit.at, **form.cleaned_data)
        said = f"{row} is {ruling.get_standing_display()} now."
        names = ", ".join(map(str, held))
        return f"{said} Held, because it went into them: {names}." if held else said

    return _act(
        request,
        visit,
        row,
        form,
        work,
        heading="Your word on it",
        button="Keep it",
        view=read_lot(visit, row, None),
        is_ruling=True,
    )


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def lot_correct(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Correct what was entered wrongly of a lot's papers."""
    row = lot_here(visit, pk)
    form = PapersForm(request.POST or None, lot=row, workshop=visit.workshop)

    def work() -> str:
        changed = correct_lot(actor=visit.actor, lot=row, papers=form.papers(), why=form.cleaned_data["why"], at=visit.at)
        return f"{row}: {'; '.join(map(str, changed))}." if changed else f"{row}: nothing was changed."

    return _act(request, visit, row, form, work, heading="Correct its papers", button="Correct it")


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def lot_value(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Record a figure of a lot's certificate."""
    row = lot_here(visit, pk)
    form, told = ValueForm(request.POST or None), []

    def work() -> str:
        read = request.POST.get("lye_confirmed", "")
        value = record_value(actor=visit.actor, lot=row, at=visit.at, **form.given(), lye_confirmed=read, tell=told.append)
        return f"{row}: {value}."

    page = {"heading": "A figure of its certificate", "button": "Keep it", "lead": _LEADS["value"]}
    return _act(request, visit, row, form, work, about=lambda: "".join(told), **page)


@takes_files(most_bytes=MOST_BYTES)
@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def lot_paper(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Attach a paper to a lot."""
    row = lot_here(visit, pk)
    too_much = uploaded_too_much(request) if request.method == "POST" else 0
    if too_much:
        raise too_large(too_much)
    form = PaperForm(request.POST, request.FILES) if request.method == "POST" else PaperForm()

    def work() -> str:
        given = form.cleaned_data
        kept = attach_file(
            actor=visit.actor, lot=row, paper=given["file"], at=visit.at, without_prices=given["without_prices"]
        )  # fmt: skip
        return f"{row}: {kept.name} is kept with it."

    return _act(request, visit, row, form, work, heading="Attach a paper", button="Attach it", is_upload=True)


@require_safe
@for_members(needs=Right.SEE)
def lot_file(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Hand out a paper, to be kept and not to be shown as a page of the house."""
    row = LotFile.objects.within(visit.workshop).get_here(pk, what="paper")
    if not may_open(row, visit.rights):
        raise refusal(visit.member, Right.SEE_COSTS)
    return HttpResponse(content_of(row), content_type=row.content_type, headers=uploads.handing_out(row.name))


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def movement_take_back(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Take back a movement that never happened."""
    moved = Movement.objects.within(visit.workshop).select_related("lot").get_here(pk, what="movement")
    row = lot_here(visit, moved.lot_id)
    form = TakeBackForm(request.POST or None)

    def work() -> str:
        use = BatchUse.objects.within(visit.workshop).filter(movement=moved).select_related("batch__formula").first()
        reversal = take_back(actor=visit.actor, movement=moved, reason=form.cleaned_data["reason"], at=visit.at)
        if use is not None:
            needed_check = use.batch.needs_check
            use.batch.refresh_from_db()
            tell_of_superfat(request, use.batch, needed_check=needed_check)
        return _said(visit, row, reversal)

    words = f"{moved.get_kind_display()}, {moved_words(moved.amount, row.material, visit.workshop.unit)}"
    return _act(
        request,
        visit,
        row,
        form,
        work,
        heading="Take a movement back",
        button="Take it back",
        lead=_LEADS["take_back"].format(movement=words),
    )


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def count_take_back(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Take back a count that never happened."""
    counted = Count.objects.within(visit.workshop).select_related("lot").get_here(pk, what="count")
    row = lot_here(visit, counted.lot_id)
    form = TakeBackForm(request.POST or None)

    def work() -> str:
        take_back_count(actor=visit.actor, count=counted, reason=form.cleaned_data["reason"], at=visit.at)
        row.refresh_from_db(fields=["on_hand", "is_estimated"])
        return f"{row}: the count is taken back. On hand now: {held_words(row, visit.workshop.unit)}."

    lead = _LEADS["take_back_count"].format(count=counted_words(counted, row, visit.workshop.unit))
    return _act(request, visit, row, form, work, heading="Take a count back", button="Take it back", lead=lead)
