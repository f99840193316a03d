"""A pour at the table: one step a screen, on whichever device is at hand."""

from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_POST

from curehouse.common.errors import Invalid
from curehouse.common.units import show_at_most
from curehouse.core.chemistry.words import CAUTIONS
from curehouse.flows.pour import Stopped, begin, finish, say, stop
from curehouse.flows.superfats import superfat_said
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import Batch, Pour
from curehouse.making.pouring.saying import Said
from curehouse.making.pouring.table import Kind, Table, read_table
from curehouse.making.pouring.words import over_words
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.fields import exactly
from curehouse.web.forms.pours import PART, STANDS, BeginPourForm, StepForm, StopPourForm, lot_said
from curehouse.web.reading.pour_table import PLACES, Asked, PourScreen, name_of, notes_of, open_pour_of, read_screen
from curehouse.web.views.batch_use import tell_of_superfat
from curehouse.web.views.runs import run_here
from curehouse.web.walking import number_in
from curehouse.workshops.roles import Right
from inventory.models import Lot

_FORM_METHODS = ["GET", "HEAD", "POST"]
_LONGEST_NUMBER = 10


def _pour_here(visit: Visit, pk: int) -> Pour:
    row = Pour.objects.within(visit.workshop).named().get_here(pk, what="pour")
    row.workshop = visit.workshop
    return row


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.POUR)
def version_pour(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Begin a pour of a version: of the run that the address names, or of so many oils."""
    request.room = "bench"
    version = version_here(visit.workshop, pk)
    key = number_in(request, "run")
    run = None if key is None else run_here(visit, key)
    start = {"fats_g": exactly(version.fats_g if run is None else run.fats_g, visit.workshop.unit), "run": key or ""}
    form = BeginPourForm(request.POST or None, workshop=visit.workshop, initial=start)

    def work() -> str:
        sent = form.cleaned_data["run"]
        of = run_here(visit, int(sent)) if sent.isascii() and sent.isdecimal() and len(sent) < _LONGEST_NUMBER else None
        fats_g = form.cleaned_data["fats_g"] if of is None else of.fats_g
        row = begin(actor=visit.actor, version=version if of is None else of.version, fats_g=fats_g, run=of, at=visit.at)
        return reverse("web:pour", args=[row.pk])

    answer = done_once(request, visit, form, work)
    going_on = form.refusal.data.get("pour") if form.refusal is not None else None
    page = {"form": form, "version": version, "run": run, "going_on": going_on or (open_pour_of(visit, run) if run else None)}
    return answer or render(request, "web/pours/begin.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.SEE, to_write=Right.POUR)
def pour(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Show the step of a pour that is next by its rows, or the one asked for; write down what is said of it."""
    request.room = "bench"
    row = _pour_here(visit, pk)
    sent = request.POST if request.method == "POST" else None
    table = read_table(row)
    asked = _asked(visit, request)
    if sent is not None and "look" in sent:
        query = {"step": asked.step, "lot": asked.lot.pk if asked.lot else "", "mend": "1" if asked.is_mend else ""}
        return redirect(f"{reverse('web:pour', args=[pk])}?{urlencode({key: one for key, one in query.items() if one})}")
    screen = read_screen(visit, table, asked)
    start = {"lot": screen.lot, "scale": screen.scale, "corrects": asked.corrects or ""}
    form = StepForm(sent, workshop=visit.workshop, lots=screen.lots, scales=table.scales, initial=start)

    def work() -> str:
        said = _said(visit, form, table)
        say(actor=visit.actor, pour=row, said=said, at=visit.at)
        return reverse("web:pour", args=[pk])

    answer = done_once(request, visit, form, work, about=lambda: f"{row}: {_about(visit, form, table)}")
    return answer or _page(request, visit, table, screen, form)


def _page(request: HttpRequest, visit: Visit, table: Table, screen: PourScreen, form: StepForm) -> HttpResponse:
    if table.pour.state != Pour.State.OPEN:
        said = over_words(table.pour, at=visit.at)
        return render(request, "web/pours/over.html", {"pour": table.pour, "said": said, "notes": notes_of(visit, table)})
    page: dict[str, Any] = {
        "pour": table.pour, "screen": screen, "form": form, "notes": notes_of(visit, table), "places": PLACES,
        "cautions": CAUTIONS, "unit": visit.workshop.unit, "question": _question(form),
        "wants_number": screen.is_kept and not screen.lots, "many_scales": len(table.scales) > 1,
        "corrects": form["corrects"].value() or "", "is_mend": bool(request.GET.get("mend") or form["mend"].value()),
    }  # fmt: skip
    return render(request, "web/pours/pour.html", page)


def _question(form: StepForm) -> dict[str, Any] | None:
    """Return what is asked of a step that was not written: whether it stands, or more of it comes."""
    codes = ("off_target", "off_band", "other_material", "no_purity", "no_lot")
    if form.refusal is None or form.refusal.code not in codes:
        return None
    is_short = form.refusal.code == "off_target" and not form.refusal.data["is_over"]
    return {"says": form.refusal.message, "is_short": is_short, "is_weight": form.refusal.code == "off_target"}


def _asked(visit: Visit, request: HttpRequest) -> Asked:
    sent = request.POST if request.method == "POST" else request.GET
    corrects = sent.get("corrects", "")
    return Asked(
        step=sent.get("step", ""),
        lot=_lot_here(visit, sent.get("number", "").strip().lstrip("#"), sent.get("lot", "")),
        is_mend=bool(sent.get("mend")),
        corrects=int(corrects) if corrects.isascii() and corrects.isdecimal() and len(corrects) < _LONGEST_NUMBER else None,
    )


def _lot_here(visit: Visit, number: str, key: str) -> Lot | None:
    """Return the lot of this number, or else of this key; None of none."""
    asked = [one for one in (number, key) if one.isascii() and one.isdecimal() and len(one) < _LONGEST_NUMBER]
    if not asked:
        return None
    which = Q(number=int(number)) if number and number in asked else Q(pk=int(asked[-1]))
    return Lot.objects.within(visit.workshop).named().filter(which).first()


def _said(visit: Visit, form: StepForm, table: Table) -> Said:
    values, step = form.cleaned_data, form.cleaned_data["step"]
    is_weighing = step in table.lines
    number = values["number"].lstrip("#")
    lot = _lot_here(visit, number, values["lot"]) if is_weighing else None
    if is_weighing and number and lot_said(form, [lot] if lot else []) is None:
        raise Invalid("lot", f"There is no lot {number} in this workshop: look at its label again.", field="number")
    scale = next((one for one in table.scales if f"{one.pk}" == values["scale"]), None)
    return Said(
        kind=Kind.WEIGHED if is_weighing else step,
        client_id=values["step_id"],
        slot=step if is_weighing else "",
        lot=lot,
        amount_g=form.amount_g if is_weighing else None,
        scale=scale if is_weighing else None,
        celsius=values["celsius"],
        words=values["words"],
        stands=values["answer"] == STANDS,
        is_part=values["answer"] == PART,
        is_mend=bool(values["mend"]),
        corrects=values["corrects"],
    )


def _about(visit: Visit, form: StepForm, table: Table) -> str:
    step = form.cleaned_data["step"]
    if step in table.lines:
        return f"{name_of(table, step)} {show_at_most(form.amount_g or 0, visit.workshop.unit)}"
    return Kind(step).label


@require_POST
@for_members(needs=Right.POUR)
def pour_finish(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """End a pour: its batch, what its lots gave, and its run."""
    request.room = "bench"
    row = _pour_here(visit, pk)
    table = read_table(row)
    form = StepForm(request.POST, workshop=visit.workshop)

    def work() -> str:
        batch = finish(actor=visit.actor, pour=row, at=visit.at)
        messages.success(request, f"{batch} is written, and what it took is booked.")
        _tell(request, batch)
        return reverse("web:batch", args=[batch.pk])

    answer = done_once(request, visit, form, work)
    return answer or _page(request, visit, read_table(_pour_here(visit, pk)), read_screen(visit, table, Asked()), form)


def _tell(request: HttpRequest, batch: Batch) -> None:
    """Say what the superfat of a batch is; by its formula it may need its check though what was weighed is safe."""
    if batch.needs_check and batch.superfat_low is not None and batch.superfat_low >= 0:
        said = "By its formula its safety check is a condition all the same: more lye went in than that has, or it asks for it."
        messages.warning(request, f"{superfat_said(batch)} {said}")
    else:
        tell_of_superfat(request, batch, needed_check=False)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.POUR)
def pour_stop(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Stop a pour, and say what became of what was weighed."""
    request.room = "bench"
    row = _pour_here(visit, pk)
    table = read_table(row)
    unit = visit.workshop.unit
    weighed = [
        (f"{step.pk}", f"{line.slot.name}, {show_at_most(step.amount_g, unit)} of lot {step.lot.number}")
        for line in table.lines.values()
        for step in line.rows
        if step.lot is not None and step.amount_g > 0
    ]
    form = StopPourForm(request.POST or None, weighed=weighed, is_past_trace=table.is_past_trace)

    def work() -> str:
        values = form.cleaned_data
        is_apart = values["outcome"] == "apart"
        stopped = Stopped(
            why=values["why"],
            met=values["outcome"] == "met",
            into_batch=values["outcome"] == "batch",
            spoilt=[int(key) for key in values.get("spoilt", [])] if is_apart else [],
        )
        ended = stop(actor=visit.actor, pour=row, stopped=stopped, at=visit.at)
        return _stopped(request, visit, ended)

    page = {"form": form, "pour": row, "is_over": row.state != Pour.State.OPEN}
    return done_once(request, visit, form, work) or render(request, "web/pours/stop.html", page)


def _stopped(request: HttpRequest, visit: Visit, ended: Pour) -> str:
    if ended.batch_id is not None:
        batch = Batch.objects.within(visit.workshop).select_related("formula").get(pk=ended.batch_id)
        messages.warning(request, f"The pour is stopped. {batch} is held: its bars go to nobody until a person lifts the hold.")
        return reverse("web:batch", args=[batch.pk])
    messages.success(request, "The pour is stopped. What is spoilt is written off, and nothing else moved.")
    return reverse("web:bench") if ended.run_id is None else reverse("web:run", args=[ended.run_id])
