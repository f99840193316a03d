"""What is done to a batch besides weighing and placing: checked, marked, taken out."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.common.errors import Conflict
from curehouse.curing.models import Cure, SampleBar
from curehouse.curing.models.verdicts import State
from curehouse.flows.check import check
from curehouse.flows.end_bar import end_bar
from curehouse.flows.mark_bars import mark_bars
from curehouse.flows.take_out import take_out
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry, last_check_passed
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.cure import PASSED, BarGoneForm, CheckForm, MarkBarsForm, TakeOutForm
from curehouse.web.marks import mark_of
from curehouse.web.next_page import address_with_way_back
from curehouse.web.reading.words import count
from curehouse.web.views.placing import batch_here, batch_on_the_racks
from curehouse.workshops.roles import Right

_FORM_METHODS = ["GET", "HEAD", "POST"]


def _page(request: HttpRequest, template: str, batch: Batch, **context: object) -> HttpResponse:
    request.room = "racks"
    return render(request, f"web/batch/{template}.html", {"batch": batch, **context})


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.POUR)
def batch_check(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Record a safety check."""
    batch = batch_here(visit, pk)
    if batch.cut_at is None:
        raise Conflict("not_cut", f"{batch} is not cut yet: a check is made on a cut bar.")
    if batch.state == Batch.State.CLOSED:
        raise Conflict("not_curing", f"{batch} has no bars left to check.")
    form, limit = CheckForm(request.POST or None, workshop=visit.workshop), visit.workshop.check_limit

    def record() -> str:
        values = form.cleaned_data
        row = check(
            actor=visit.actor,
            batch=batch,
            method=values["method"],
            value=values["value"],
            passed=values["passed"] == PASSED,
            note=values["note"],
            checked_at=values["checked_at"] or visit.at,
            at=visit.at,
        )
        messages.success(request, f"Safety check of {batch}: {'passed' if row.passed else 'failed'}.")
        return reverse("web:batch", args=[pk])

    shown = {"form": form, "limit": limit, "rule_url": address_with_way_back("web:check_rule", back=request.path)}
    return done_once(request, visit, form, record) or _page(request, "check", batch, **shown)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def batch_take_out(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Take bars out of the cure."""
    batch = batch_on_the_racks(visit, pk)
    cure = Cure.objects.within(visit.workshop).get(batch=batch)
    passed = last_check_passed(batch)
    bars = SampleBar.objects.within(visit.workshop).filter(batch=batch).on_the_rack().order_by("letter")
    letters = list(bars.values_list("letter", flat=True))
    stands = {"is_ready": cure.state == State.READY, "is_refused": passed is False}
    first = {"bars": batch.bars_left}
    form = TakeOutForm(request.POST or None, workshop=visit.workshop, letters=letters, initial=first, **stands)

    def take() -> str:
        values = form.cleaned_data
        reason = values.get("forced_reason", "")
        entry = TakeOutEntry(values["bars"], values["purpose"], values["taken_at"] or visit.at, reason)
        going = values.get("sample_bars", [])
        row = take_out(actor=visit.actor, batch=batch, entry=entry, at=visit.at, letters=going)
        messages.success(request, f"{count(row.bars, 'bar')} of {batch} taken out {row.get_purpose_display()}.")
        return reverse("web:batch", args=[pk])

    context = {"form": form, "mark": mark_of(cure.shown_as), "letters": letters, "is_unchecked": passed is None, **stands}
    return done_once(request, visit, form, take) or _page(request, "take_out", batch, **context)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.WEIGH)
def batch_mark(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Mark more sample bars."""
    batch = batch_on_the_racks(visit, pk)
    form = MarkBarsForm(request.POST or None)

    def mark() -> str:
        bars = mark_bars(actor=visit.actor, batch=batch, count=form.cleaned_data["sample_bars"], at=visit.at)
        letters = ", ".join(bar.letter for bar in bars)
        messages.success(request, f"{batch}: mark {count(len(bars), 'bar')} with {letters} and weigh them.")
        return reverse("web:batch", args=[pk])

    return done_once(request, visit, form, mark) or _page(request, "mark_bars", batch, form=form)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.WEIGH)
def bar_gone(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Note that a sample bar is gone."""
    bars = SampleBar.objects.within(visit.workshop).select_related("batch__formula", "batch__workshop")
    bar = bars.get_here(pk, what="sample bar")
    form = BarGoneForm(request.POST or None)

    def gone() -> str:
        end_bar(actor=visit.actor, bar=bar, why=form.cleaned_data["why"], at=visit.at)
        messages.success(request, f"Bar {bar.letter} of {bar.batch} is not weighed any more.")
        return reverse("web:batch", args=[bar.batch_id])

    return done_once(request, visit, form, gone) or _page(request, "bar_gone", bar.batch, form=form, bar=bar)
